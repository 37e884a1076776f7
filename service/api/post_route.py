"""A question that is only ever sent as a body: the route that batch and verify share."""

from abc import abstractmethod
from typing import ClassVar, TypeVar, cast

from pydantic import ValidationError
from starlette.routing import BaseRoute, Match
from starlette.types import Receive, Scope
from starlette.types import Send as StarletteSend

from service.answers.inputs import Request
from service.api.body import read_body, require_content_type
from service.api.calculators import Calculators, ProblemFound
from service.api.negotiation import face_for
from service.api.problems import problem_of
from service.api.refusal import Refusal
from service.api.responses import Headers, Send, header_map, respond, respond_problem
from service.api.strict_json import JsonLimits, UnreadableJson, read_json
from service.api.translation import invalid, unreadable

ALLOW = b"POST, QUERY, OPTIONS"
Model = TypeVar("Model", bound=Request)


class PostRoute(BaseRoute):
    """One path that takes POST (and QUERY) with a JSON body."""

    path: ClassVar[str]
    face: ClassVar[str] = "json"
    body_limit: ClassVar[int] = 262_144
    json_limits: ClassVar[JsonLimits]

    def __init__(self, calculators: Calculators) -> None:
        self.calculators = calculators

    def matches(self, scope: Scope) -> tuple[Match, Scope]:
        """Starlette's question: the path alone decides, so that a wrong method gets a true ``Allow``."""
        if scope["type"] == "http" and scope["path"] == self.path:
            return Match.FULL, {"route": self}
        return Match.NONE, {}

    async def handle(self, scope: Scope, receive: Receive, send: StarletteSend) -> None:
        """Read one body and answer it."""
        sender = cast("Send", send)
        if scope["method"] == "OPTIONS":
            await respond(sender, 204, [(b"allow", ALLOW)])
            return
        try:
            if scope["method"] not in ("POST", "QUERY"):
                raise Refusal("method-not-allowed", "", [(b"allow", ALLOW)])
            require_content_type(scope)
            face_for(None, header_map(scope["headers"]).get(b"accept") or None, (self.face,))
            body = await read_body(scope, receive, limit=self.body_limit, deadline=self.calculators.body_deadline)
            await self.reply(scope["query_string"], body, receive, sender)
        except ProblemFound as found:
            slug, detail, errors, more = found.problem
            await respond_problem(sender, *problem_of(slug, detail, errors, route=self.path, **more))
        except Refusal as refusal:
            refusal.route = self.path
            raise

    async def reply(self, query_string: bytes, body: bytes, receive: Receive, send: Send) -> None:  # noqa: ARG002
        """Answer a body that was read; a route that streams does it in pieces.

        Raises:
            ProblemFound: the body is refused, before anything was sent.
        """
        headers, answer = self.answer(query_string, body)
        await respond(send, 200, headers, answer)

    @abstractmethod
    def answer(self, query_string: bytes, body: bytes) -> tuple[Headers, bytes]:
        """Header fields and body of the answer.

        Raises:
            ProblemFound: the body is refused.
        """

    def read(self, body: bytes, model: type[Model]) -> Model:
        """The body as a request.

        Raises:
            ProblemFound: it is none.
        """
        try:
            return model.model_validate(read_json(body, self.json_limits))
        except UnreadableJson as error:
            raise ProblemFound(unreadable(error)) from None
        except ValidationError as error:
            raise ProblemFound(invalid(error, model, from_query=False)) from None
