"""The reference data over HTTP: versions and their differences, tables and rows, sources, methods, units and rules.

One route looks the path up by its first words. Everything is read-only and answered from memory; a row below a pinned
version never changes and says so to caches.
"""

from collections.abc import Callable, Mapping
from dataclasses import replace
from difflib import get_close_matches
from typing import Any, cast
from urllib.parse import quote

import orjson
from starlette.routing import BaseRoute, Match
from starlette.types import Receive, Scope
from starlette.types import Send as StarletteSend

from service.api import reference_catalogue as catalogue
from service.api import reference_query
from service.api.calculators import ProblemFound
from service.api.negotiation import face_for
from service.api.problems import problem_of
from service.api.reference_filters import FILTERS, OF_ENGINE, chosen, goes_by_engine
from service.api.reference_query import CONTROLS, Asked
from service.api.reference_rows import Known, Page, Ready, Rows, csv_page, stamp
from service.api.refusal import Refusal
from service.api.responses import (
    IMMUTABLE,
    PINNED,
    UNPINNED,
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
SHAPE = b"2"  # raised when the form of a list changes, so that no cache keeps the old one
ANY_FORM = (None, b"*/*", b"application/json")
CHANGE_COLUMNS = ("change", "table", "id", "property", "source", "before", "after", "cause")


class Reference(BaseRoute):
    """Everything below ``/v1`` that is looked up and not computed."""

    def __init__(self, library: Library, methods: Mapping[str, Method]) -> None:
        self.library = library
        self.methods = methods
        self.rows = Rows()
        self._made: dict[tuple[str, str], Any] = {}
        self._known: dict[tuple[str, bytes], Known] = {}

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
        try:
            await self._answer(scope, sender)
        except ProblemFound as found:
            slug, detail, errors, extra = found.problem
            await respond_problem(sender, *problem_of(slug, detail, errors, route=self._known_part(scope["path"]), **extra))
        except Refusal as refusal:
            refusal.route = self._known_part(scope["path"])
            raise

    async def _answer(self, scope: Scope, sender: Send) -> None:
        """Answer what is there.

        Raises:
            ProblemFound: see :meth:`page`.
            Refusal: see :meth:`page`, or the method is not GET or HEAD.
        """
        if scope["method"] not in ("GET", "HEAD"):
            raise Refusal("method-not-allowed", "", [ALLOW])
        fields = header_map(scope["headers"])
        plain = fields.get(b"accept") in ANY_FORM
        known = self._known.get((scope["path"], scope["query_string"])) if plain else None
        if known is None:
            page = self.page(scope)
            headers = [*answer_headers(page.face, page.dataset.version), (b"etag", page.tag), page.cache, *page.extra]
            known = Known(headers, page.tag, page.body)
            # Only without a query and with the plain pin, so that there are no more of them than rows.
            if plain and page.lasting and scope["query_string"] in (b"", b"dataset=%b" % page.dataset.version.encode()):
                self._known[scope["path"], scope["query_string"]] = known
        if matches(fields.get(b"if-none-match"), known.tag):
            await respond(sender, 304, known.headers[1:])  # all but the content type
        else:
            await respond(sender, 200, known.headers.copy(), known.body())

    def _known_part(self, path: str) -> str:
        """The address as far as it names what there is; what was made up by the caller is not repeated."""
        word, first, second = [*path[4:].split("/", 2), "", ""][:3]
        newest = self.library.newest
        if word == "reference":
            known = [word, *([first] if first in TABLES else [])]
            if first in newest.tables and second in newest.ids(first):
                known.append(second)
        elif word == "datasets":
            known = [word, *([first] if first in self.library.versions else [])]
            if len(known) > 1 and second == "changes":
                known.append(second)
        else:
            listed = word in ("sources", "methods", "findings") and first in self._listed_entries(word, newest)
            known = [word, first] if listed and not second else [word]
        return quote("/v1/" + "/".join(known))

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
        if rest and not id:
            return self._table(rest, scope)
        asked = reference_query.read(scope["query_string"], ("dataset", "format"), ())
        held = self.library.get(asked.dataset)
        if not rest:
            return self._document(asked, held, scope, "tables", lambda: catalogue.tables(held))
        entity = held.entity(table, id, "id" if table in held.tables else "table")
        _only_json(asked, scope)
        ready = self.rows.entity(held, entity)
        page = Page(held, lambda: ready.body, ready.tag, "json", IMMUTABLE if asked.dataset else UNPINNED)
        page.extra = [(b"content-location", ready.location)]
        page.lasting = True
        return page

    def _table(self, table: str, scope: Scope) -> Page:
        if table not in TABLES:
            raise NotInDataset("table", "table", table, TABLES)
        properties = tuple(name for name in TABLES[table].properties if name not in CONTROLS)
        by_engine = (OF_ENGINE,) if goes_by_engine(table) else ()
        asked = reference_query.read(scope["query_string"], CONTROLS, (*FILTERS, *by_engine, *properties))
        held = self.library.get(asked.dataset)
        found = chosen(self.rows.lines(held, table), held, table, asked.filters)
        if face_for(asked.format, _accept(scope), ("json", "csv")) == "csv" and b"limit=" not in scope["query_string"]:
            asked = replace(asked, limit=max(len(found), 1))  # a spreadsheet has no next page: it takes the table whole
        lines = found[asked.start : asked.start + asked.limit]
        head = {"table": table, "title": TABLES[table].title}
        return self._paged(
            asked,
            held,
            scope,
            len(found),
            as_csv=lambda: csv_page(lines),
            as_json=lambda: {**head, "rows": [orjson.Fragment(line.json) for line in lines]},
        )

    def _datasets(self, rest: str, scope: Scope) -> Page:
        version, _, what = rest.partition("/")
        if what not in ("", "changes"):
            raise Refusal("not-found")
        if what:
            return self._changes(self.library.get(version), scope)
        asked = reference_query.read(scope["query_string"], ("format",), ())
        if not version:
            return self._document(asked, self.library.newest, scope, "datasets", lambda: catalogue.datasets(self.library))
        held = self.library.get(version)
        return self._document(asked, held, scope, "dataset", lambda: catalogue.dataset(held, self.library))

    def _changes(self, held: Dataset, scope: Scope) -> Page:
        asked = reference_query.read(scope["query_string"], ("format", "limit", "cursor"), ("since",))
        since = asked.filters.get("since") or _before(self.library, held)
        if asked.dataset not in (None, held.version):
            raise ProblemFound(("invalid-input", "", [reference_query.NOT_A_CURSOR], {}))
        before = self.library.get(since).version
        found = self._once(("changes", f"{before}-{held.version}"), lambda: self.library.diff(before, held.version))
        part = found[asked.start : asked.start + asked.limit]
        return self._paged(
            asked,
            held,
            scope,
            len(found),
            as_csv=lambda: encode([CHANGE_COLUMNS, *(_change_cells(it) for it in part)]),
            as_json=lambda: {"since": before, "until": held.version, "changes": [catalogue.change(it) for it in part]},
        )

    def _paged(
        self,
        asked: Asked,
        held: Dataset,
        scope: Scope,
        total: int,
        *,
        as_csv: Callable[[], bytes],
        as_json: Callable[[], dict[str, Any]],
    ) -> Page:
        """A page of a longer list, with the way to the next one in the body and in the Link field."""
        path = quote(scope["path"])
        pin = scope["path"].startswith("/v1/reference/")  # below /v1/datasets the path itself names the version
        face = face_for(asked.format, _accept(scope), ("json", "csv"))
        following = reference_query.next_query(asked, held.version, total, pin=pin)
        links = {"self": f"{path}?{reference_query.own_query(asked, held.version, pin=pin)}".rstrip("?")}
        if following:
            links["next"] = f"{path}?{following}"

        def body() -> bytes:
            if face == "csv":
                return as_csv()
            return orjson.dumps({**as_json(), "count": total, "dataset": stamp(held), "links": links})

        tag = entity_tag(SHAPE, scope["path"].encode(), scope["query_string"], face.encode(), held.sha256.encode())
        page = Page(held, body, tag, face, PINNED if asked.dataset or not pin else UNPINNED)
        if following:
            page.extra = [(b"link", f'<{links["next"]}>; rel="next"'.encode())]
        return page

    def _listed(self, word: str, rest: str, scope: Scope) -> Page:
        """Sources, methods, units, findings and versions: the list, or one of its entries."""
        asked = reference_query.read(scope["query_string"], ("dataset", "format") if word == "sources" else ("format",), ())
        held = self.library.get(asked.dataset)
        if word in ("units", "versions"):
            if rest:
                raise Refusal("not-found")
            make = catalogue.units if word == "units" else lambda: catalogue.versions(self.library)
            return self._document(asked, held, scope, word, make)
        entries = self._listed_entries(word, held)
        if rest and rest not in entries:
            if word == "sources":
                raise NotInDataset("id", "source", rest, entries)
            near = get_close_matches(rest[:80], entries, n=1, cutoff=0.5)
            raise ProblemFound(("not-found", f"GET /v1/{word} lists them.", [], {"did_you_mean": near[0]} if near else {}))

        def document() -> dict[str, Any]:
            if rest:
                return {**entries[rest], "dataset": stamp(held)}
            links = {"self": f"/v1/{word}"}
            return {word: list(entries.values()), "count": len(entries), "dataset": stamp(held), "links": links}

        return self._document(asked, held, scope, f"{word}/{rest}", document)

    def _listed_entries(self, word: str, held: Dataset) -> Mapping[str, Any]:
        entries: Mapping[str, Any] = self._once((f"{word} by id", held.version), lambda: self._entries(word, held))
        return entries

    def _entries(self, word: str, held: Dataset) -> Mapping[str, Any]:
        if word == "sources":
            return catalogue.sources(held, self.methods)
        return catalogue.methods(self.methods) if word == "methods" else catalogue.findings()

    def _document(self, asked: Asked, held: Dataset, scope: Scope, name: str, make: Callable[[], Any]) -> Page:
        """A document that is the same for everybody, made when it is asked for first."""
        _only_json(asked, scope)
        ready: Ready = self._once((name, held.version), lambda: _ready(make()))
        return Page(held, lambda: ready.body, ready.tag, "json", PINNED if asked.dataset else UNPINNED)

    def _once(self, key: tuple[str, str], make: Callable[[], Any]) -> Any:
        """What was made before under this key, which only ever names what is held."""
        if key not in self._made:
            self._made[key] = make()
        return self._made[key]


class _Label:
    """The name of a route in figures and log lines."""

    def __init__(self, word: str) -> None:
        self.path = f"/v1/{word}"


_LABELS: Mapping[str, _Label] = {word: _Label(word) for word in WORDS}


def _ready(document: Any) -> Ready:
    body = orjson.dumps(document)
    return Ready(body, entity_tag(body))


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
