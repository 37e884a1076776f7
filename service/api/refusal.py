"""A request that the edge turns away before any answer is computed."""

from service.api.problems import problem_of

Headers = list[tuple[bytes, bytes]]


class Refusal(Exception):
    """A request turned away at the edge; the guard answers it as a problem.

    Attributes:
        slug: The kind of problem, one of ``service.api.problems.KINDS``.
        detail: What is wrong and what to do instead, for the caller.
        headers: Header fields that belong to this refusal, such as ``Retry-After``.
        route: The address of the route that refused, or an empty text where none was reached.
    """

    def __init__(self, slug: str, detail: str = "", headers: Headers | None = None) -> None:
        super().__init__(slug)
        self.slug = slug
        self.detail = detail
        self.headers: Headers = headers or []
        self.route = ""

    def answer(self, request_id: str | None = None) -> tuple[int, bytes]:
        """Status and body of the problem."""
        return problem_of(self.slug, self.detail, request_id=request_id, route=self.route)
