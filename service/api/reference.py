"""The reference data over HTTP: versions and their differences, tables and rows, sources, methods, units and rules.

One route looks the path up by its first words. Everything is read-only and answered from memory; a row below a pinned
version never changes and says so to caches.
"""

from collections.abc import Callable, Mapping
from typing import Any, cast

import orjson
from starlette.routing import BaseRoute, Match
from starlette.types import Receive, Scope
from starlette.types import Send as StarletteSend

from service.api import reference_catalogue as catalogue
from service.api import reference_query
from service.api.calculators import ProblemFound
from service.api.negotiation import face_for
from service.api.problems import problem_of
from service.api.reference_query import CONTROLS, Asked
from service.api.reference_rows import FILTERS, Rows, address, chosen, csv_page, stamp
from service.api.refusal import Refusal
from service.api.responses import (
    IMMUTABLE,
    PINNED,
    UNPINNED,
    Headers,
    Send,
    answer_headers,
    entity_tag,
    header_map,
    matches,
    respond,
    respond_problem,
)
from service.api.translation import refused
from service.errors import NotInDataset, RunstandError
from service.faces.csv_face import encode
from service.methods import Method
from service.reference.dataset import Change, Dataset, Library
from service.reference.tables import TABLES

ALLOW = (b"allow", b"GET, HEAD, OPTIONS")
WORDS = ("datasets", "reference", "sources", "methods", "units", "findings", "versions")
CHANGE_COLUMNS = ("change", "table", "id", "property", "source", "before", "after", "cause")


class Page:
    """What an address answers: the bytes, what decides them, and how long they hold."""

    def __init__(self, dataset: Dataset, body: Callable[[], bytes], *, face: str = "json", pinned: bool = False) -> None:
        self.dataset = dataset
        self.body = body
        self.face = face
        self.cache = PINNED if pinned else UNPINNED
        self.extra: Headers = []


def reference_routes(library: Library, methods: Mapping[str, Method]) -> list[BaseRoute]:
    """The routes of the reference data."""
    return [Reference(library, methods)]


class Reference(BaseRoute):
    """Everything below ``/v1`` that is looked up and not computed."""

    def __init__(self, library: Library, methods: Mapping[str, Method]) -> None:
        self.library = library
        self.methods = methods
        self.rows = Rows()
        self._made: dict[tuple[str, str], Any] = {}

    def matches(self, scope: Scope) -> tuple[Match, Scope]:
        """Starlette's question: the first word of the path decides, so that a wrong method gets a true ``Allow``."""
        if scope["type"] != "http" or not scope["path"].startswith("/v1/"):
            return Match.NONE, {}
        word = scope["path"][4:].partition("/")[0]
        return (Match.FULL, {"route": _LABELS[word]}) if word in _LABELS else (Match.NONE, {})

    async def handle(self, scope: Scope, receive: Receive, send: StarletteSend) -> None:  # noqa: ARG002 - ASGI's own form
        """Answer one request."""
        sender = cast("Send", send)
        if scope["method"] == "OPTIONS":
            await respond(sender, 204, [ALLOW])
            return
        if scope["method"] not in ("GET", "HEAD"):
            raise Refusal("method-not-allowed", "", [ALLOW])
        try:
            page = self.page(scope)
        except ProblemFound as found:
            slug, detail, errors, extra = found.problem
            await respond_problem(sender, *problem_of(slug, detail, errors, **extra))
            return
        tag = entity_tag(scope["path"].encode(), scope["query_string"], page.face.encode(), page.dataset.sha256.encode())
        headers = [*answer_headers(page.face, page.dataset.version), (b"etag", tag), page.cache, *page.extra]
        if matches(header_map(scope["headers"]).get(b"if-none-match"), tag):
            await respond(sender, 304, [field for field in headers if field[0] != b"content-type"])
            return
        await respond(sender, 200, headers, page.body())

    def page(self, scope: Scope) -> Page:
        """What the address of a request answers.

        Raises:
            ProblemFound: It names what is not held, or its query is refused.
            Refusal: There is nothing at this address, or not in the form asked for.
        """
        word, _, rest = scope["path"][4:].partition("/")
        try:
            if word == "reference":
                return self._reference(rest, scope)
            if word == "datasets":
                return self._datasets(rest, scope)
            return self._listed(word, rest, scope)
        except RunstandError as error:
            raise ProblemFound(refused(error, from_query=True)) from None

    def _reference(self, rest: str, scope: Scope) -> Page:
        table, _, id = rest.partition("/")
        if not rest:
            asked = reference_query.read(scope["query_string"], ("dataset", "format"), ())
            return self._document(asked, scope, catalogue.tables)
        if id:
            asked = reference_query.read(scope["query_string"], ("dataset", "format"), ())
            held = self.library.get(asked.dataset)
            entity = held.entity(table, id, "id" if table in held.tables else "table")
            _only_json(asked, scope)
            page = Page(held, lambda: self.rows.entity(held, entity))
            page.cache = IMMUTABLE if asked.dataset else UNPINNED
            page.extra = [(b"content-location", address(table, entity.id, held.version).encode())]
            return page
        if rest.endswith("/") or table not in TABLES:
            raise NotInDataset("table", "table", table, TABLES)
        return self._table(table, scope)

    def _table(self, table: str, scope: Scope) -> Page:
        properties = tuple(name for name in TABLES[table].properties if name not in CONTROLS)
        asked = reference_query.read(scope["query_string"], CONTROLS, (*FILTERS, *properties))
        held = self.library.get(asked.dataset)
        face = face_for(asked.format, _accept(scope), ("json", "csv"))
        found = chosen(self.rows.lines(held, table), held, table, asked.filters)
        lines = found[asked.start : asked.start + asked.limit]

        def body() -> bytes:
            if face == "csv":
                return csv_page(lines)
            head = {"table": table, "title": TABLES[table].title, "count": len(found), "dataset": stamp(held), "links": links}
            return orjson.dumps({**head, "rows": [orjson.Fragment(line.json) for line in lines]})

        page, links = self._paged(asked, held, len(found), scope["path"], face, body)
        return page

    def _datasets(self, rest: str, scope: Scope) -> Page:
        if not rest:
            asked = reference_query.read(scope["query_string"], ("format",), ())
            _only_json(asked, scope)
            return Page(self.library.newest, lambda: orjson.dumps(catalogue.datasets(self.library)))
        version, _, what = rest.partition("/")
        if what not in ("", "changes"):
            raise Refusal("not-found")
        held = self.library.get(version)
        if what == "changes":
            return self._changes(held, scope)
        asked = reference_query.read(scope["query_string"], ("format",), ())
        _only_json(asked, scope)
        return Page(held, lambda: orjson.dumps(catalogue.dataset(held, self.library)), pinned=True)

    def _changes(self, held: Dataset, scope: Scope) -> Page:
        asked = reference_query.read(scope["query_string"], ("format", "limit", "cursor"), ("since",))
        since = asked.filters.get("since") or _before(self.library, held)
        if asked.dataset not in (None, held.version):
            detail = "This cursor belongs to another version; follow links.next, or start without a cursor."
            raise ProblemFound(("invalid-input", "", [{"parameter": "cursor", "code": "not-a-cursor", "detail": detail}], {}))
        face = face_for(asked.format, _accept(scope), ("json", "csv"))
        found = self._once(("changes", f"{since}-{held.version}"), lambda: self.library.diff(since, held.version))
        part = found[asked.start : asked.start + asked.limit]

        def body() -> bytes:
            if face == "csv":
                return encode([CHANGE_COLUMNS, *(_change_cells(it) for it in part)])
            head = {"since": since, "until": held.version, "count": len(found), "dataset": stamp(held), "links": links}
            return orjson.dumps({**head, "changes": [catalogue.change(it) for it in part]})

        page, links = self._paged(asked, held, len(found), scope["path"], face, body)
        page.cache = PINNED
        return page

    def _paged(
        self, asked: Asked, held: Dataset, total: int, path: str, face: str, body: Callable[[], bytes]
    ) -> tuple[Page, dict[str, str]]:
        """A page of a longer list, with the way to the next one in the body and in the Link field."""
        page = Page(held, body, face=face, pinned=asked.dataset is not None)
        links = {"self": path}
        following = reference_query.next_query(asked, held.version, total, pin=path.startswith("/v1/reference/"))
        if following:
            links["next"] = f"{path}?{following}"
            page.extra = [(b"link", f'<{links["next"]}>; rel="next"'.encode())]
        return page, links

    def _listed(self, word: str, rest: str, scope: Scope) -> Page:
        """Sources, methods, units, findings and versions: the list, or one of its entries."""
        pinnable = ("dataset", "format") if word == "sources" else ("format",)
        asked = reference_query.read(scope["query_string"], pinnable, ())
        held = self.library.get(asked.dataset)
        _only_json(asked, scope)
        if word in ("units", "versions"):
            if rest:
                raise Refusal("not-found")
            make = catalogue.units if word == "units" else lambda: catalogue.versions(self.library)
            return Page(held, lambda: self._once((word, ""), lambda: orjson.dumps(make())))
        entries: Mapping[str, Any] = self._once((word, held.version), lambda: self._entries(word, held))
        pinned = asked.dataset is not None
        if not rest:
            document = {word: list(entries.values()), "count": len(entries), "links": {"self": scope["path"]}}
            return Page(held, lambda: orjson.dumps(document | {"dataset": stamp(held)}), pinned=pinned)
        if rest not in entries:
            raise NotInDataset("id", word.removesuffix("s"), rest, entries)
        return Page(held, lambda: orjson.dumps(entries[rest] | {"dataset": stamp(held)}), pinned=pinned)

    def _entries(self, word: str, held: Dataset) -> Mapping[str, Any]:
        if word == "sources":
            return catalogue.sources(held, self.methods)
        return catalogue.methods(self.methods) if word == "methods" else catalogue.findings()

    def _document(self, asked: Asked, scope: Scope, make: Callable[[Dataset], Any]) -> Page:
        held = self.library.get(asked.dataset)
        _only_json(asked, scope)
        body = self._once((make.__name__, held.version), lambda: orjson.dumps(make(held)))
        return Page(held, lambda: body, pinned=asked.dataset is not None)

    def _once(self, key: tuple[str, str], make: Callable[[], Any]) -> Any:
        """What was made before under this key, which only ever names versions and tables that are held."""
        if key not in self._made:
            self._made[key] = make()
        return self._made[key]


class _Label:
    """The name of a route in figures and log lines."""

    def __init__(self, word: str) -> None:
        self.path = f"/v1/{word}"


_LABELS: Mapping[str, _Label] = {word: _Label(word) for word in WORDS}


def _accept(scope: Scope) -> bytes | None:
    return header_map(scope["headers"]).get(b"accept")


def _only_json(asked: Asked, scope: Scope) -> None:
    face_for(asked.format, _accept(scope), ("json",))


def _before(library: Library, held: Dataset) -> str:
    """The version before one, which ``since`` means when it is left out."""
    place = library.versions.index(held.version)
    if place == 0:
        detail = "This is the oldest version; name a version with since."
        errors = [{"parameter": "since", "code": "missing", "detail": detail, "allowed": list(library.versions)}]
        raise ProblemFound(("invalid-input", "", errors, {}))
    return library.versions[place - 1]


def _change_cells(it: Change) -> list[str]:
    fact = it.fact
    before, after = (side.printed if side else "" for side in (it.before, it.after))
    return [it.kind, fact.table, fact.id, fact.property, fact.source, before, after, it.cause]
