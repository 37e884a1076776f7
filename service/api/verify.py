"""A stored answer asked again: is it still the same, and if not, what differs and why."""

from collections.abc import Iterator
from typing import Any
from urllib.parse import urlsplit

import orjson

from service.answers.asking import Asked
from service.answers.break_in_log import LOG_ECHO, LONGEST_CSV, LogGiven, LogTable
from service.answers.comparison import MOST_DIFFERENCES, causes, differences
from service.answers.envelope import CALCULATION
from service.answers.inputs import Id, Request
from service.api.calculators import ProblemFound, asked_or_problem
from service.api.post_route import PostRoute
from service.api.responses import Headers, answer_headers
from service.api.strict_json import JsonLimits
from service.faces import json_face
from service.quantities import UnitSystem

NOT_COMPARED = frozenset({"links", "compared", "findings", "answer_id", "calculation"})
"""Parts of an answer that are no statement about the engine, or that are compared on their own."""


class VerifyRequest(Request):
    """A stored answer, whole; ``path`` only where its links do not tell which question it answers.

    An answer to a log holds the log's sum, not the log: to ask it again, ``log`` is sent beside it as it was sent then.
    """

    answer: dict[str, Any]
    path: Id | None = None
    log: LogGiven | None = None


class Verify(PostRoute):
    """The route that asks again."""

    path = "/v1/verify"
    body_limit = 3_145_728  # a stored sheet, and the log of its break-in
    json_limits = JsonLimits(elements=400_000, string=LONGEST_CSV)

    def answer(self, query_string: bytes, body: bytes) -> tuple[Headers, bytes]:
        """What became of a stored answer."""
        if query_string:
            raise ProblemFound(("invalid-input", "The stored answer says all; the address takes nothing.", [], {}))
        found = self._verify(self.read(body, VerifyRequest))
        return answer_headers("json", self.calculators.library.newest.version), orjson.dumps(found)

    def _verify(self, request: VerifyRequest) -> dict[str, Any]:
        stored = request.answer
        served = self.calculators.by_path.get(request.path or _path(stored))
        if served is None:
            raise _wrong("/answer/links/self", "The stored answer does not say which question it answers; send its path too.")
        document = _document(_part(stored, "inputs"), request.log)
        library = self.calculators.library
        version = str(_part(stored, "dataset").get("version", ""))
        held = version if version in library.versions else None
        again = asked_or_problem(served.topic, document, library.get(held), from_query=False)
        _part(stored, "result")
        changed = [*_findings_altered(stored, again), *_altered(stored, _written_again(stored, again))]
        why = _why(stored, again, bool(changed)) if held else self._not_held(version)
        return {
            "verdict": "differs" if why else "same",
            "why": why or "Inputs, dataset, formulas and figures are the same.",
            "answer_id": again.answer_id,
            "dataset": {"version": again.dataset.version, "sha256": again.dataset.sha256},
            "calculation": CALCULATION,
            "differences": changed[:MOST_DIFFERENCES],
            "newest": self._newest(again, document),
        }

    def _not_held(self, version: str) -> str:
        """Why a version is not here: it was taken back, or was never known."""
        words = "The dataset version of the stored answer is not held here"
        gone = self.calculators.library.withdrawn.get(version)
        if gone is None:
            return f"{words}; the newest was used."
        return f"{words}: it was withdrawn ({gone.reason}). Its successor is {gone.successor}; the newest was used."

    def _newest(self, again: Asked, document: Any) -> dict[str, Any]:
        """What the newest dataset would answer, and the rows behind every difference."""
        library = self.calculators.library
        try:
            now = asked_or_problem(again.topic, document, library.newest, from_query=False)
        except ProblemFound:
            return {"version": library.newest.version, "same": False, "differences": [], "causes": []}
        changed = list(differences(_plain(again, "metric"), _plain(now, "metric")))
        return {
            "version": now.dataset.version,
            "same": not changed,
            "differences": changed[:MOST_DIFFERENCES],
            "causes": causes(library, again, now) if changed else [],
        }


def _findings_altered(stored: dict[str, Any], again: Asked) -> list[dict[str, Any]]:
    """The findings as one difference, where a stored one was taken out, added or reworded: no receipt sums them."""
    was, now = stored.get("findings"), [finding.as_dict() for finding in again.answer.findings]
    if was == now:
        return []
    listed = was if isinstance(was, list) else []
    codes = [str(entry.get("code", ""))[:60] if isinstance(entry, dict) else "" for entry in listed[:MOST_DIFFERENCES]]
    return [{"field": "findings", "was": codes, "now": [finding["code"] for finding in now]}]


def _altered(stored: dict[str, Any], now: dict[str, Any]) -> Iterator[dict[str, Any]]:
    """Every other part of an answer that is not as it is written today; figures of the result by their own name."""
    for name in dict.fromkeys([*now, *stored]):
        if name not in NOT_COMPARED:
            yield from differences(stored.get(name), now.get(name), "" if name == "result" else name)


def _written_again(stored: dict[str, Any], again: Asked) -> dict[str, Any]:
    """The answer as it is written today, in the system of units in which the stored figures stand."""
    metric, us = (orjson.loads(orjson.dumps(json_face.envelope(again, system))) for system in _SYSTEMS)
    of_stored, of_metric, of_us = (frozenset(_units([it.get("result"), it.get("assumptions")])) for it in (stored, metric, us))
    found: dict[str, Any] = us if len(of_stored & (of_us - of_metric)) > len(of_stored & (of_metric - of_us)) else metric
    return found


_SYSTEMS: tuple[UnitSystem, UnitSystem] = ("metric", "us")


def _units(tree: Any) -> Iterator[str]:
    """The units of all quantities."""
    if isinstance(tree, dict) and isinstance(tree.get("unit"), str):
        yield tree["unit"]
    for part in tree.values() if isinstance(tree, dict) else tree if isinstance(tree, list) else ():
        yield from _units(part)


def _plain(asked: Asked, system: UnitSystem) -> Any:
    """The result as a caller has stored it."""
    return orjson.loads(orjson.dumps(asked.result_in(system)))


def _why(stored: dict[str, Any], again: Asked, changed: bool) -> str:
    """Why a stored answer differs, or an empty text."""
    if _part(stored, "dataset").get("sha256") != again.dataset.sha256:
        return "The stored answer names another sum for its dataset than the one held here."
    if stored.get("calculation") != CALCULATION:
        return f"The formulas have changed since: the stored answer has another calculation than {CALCULATION}."
    if changed:
        return "The stored answer is not the one that the same inputs give: it or its inputs were altered; see differences."
    if stored.get("answer_id") != again.answer_id:
        return "The stored receipt does not belong to these inputs and figures."
    return ""


def _part(stored: dict[str, Any], name: str) -> dict[str, Any]:
    part = stored.get(name)
    if not isinstance(part, dict):
        raise _wrong(f"/answer/{name}", f"A stored answer has an object called {name}.")
    return part


def _path(stored: dict[str, Any]) -> str:
    try:
        return urlsplit(_link(stored)).path
    except ValueError:  # a bracket that opens no address
        return ""


def _link(stored: dict[str, Any]) -> str:
    """The address that asks the same again or, where that was too long for one, the address of the question."""
    links = _part(stored, "links")
    return str(links.get("self") or links.get("question", ""))[:8000]


def _document(inputs: Any, log: LogTable | None) -> Any:
    """The echoed inputs as the document that was sent: each quantity as it was given, and the log in place of its sum."""
    if isinstance(inputs, dict):
        if set(inputs) == {"given", "si"}:
            return inputs["given"]
        if set(inputs) == LOG_ECHO:
            return _same_log(log, inputs["sha256"])
        return {name: _document(value, log) for name, value in inputs.items()}
    return [_document(item, log) for item in inputs] if isinstance(inputs, list) else inputs


def _same_log(log: LogTable | None, stored_sum: Any) -> LogTable:
    """The log that was sent beside the answer, if it is the one that was judged.

    Raises:
        ProblemFound: there is none, or it is another one.
    """
    if log is None:
        raise _wrong("/log", "The stored answer judged a log, of which it holds the sum alone; send the log again.", "missing")
    if log.sum != stored_sum:
        raise _wrong("/log", "This log is not the one that was judged: its sum differs from the stored one.", "another-log")
    return log


def _wrong(pointer: str, detail: str, code: str = "not-an-answer") -> ProblemFound:
    return ProblemFound(("invalid-input", "", [{"pointer": pointer, "code": code, "detail": detail}], {}))
