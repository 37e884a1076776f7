"""An answer as JSON: the envelope that every calculator shares."""

from typing import Any

import orjson

from service.answers.asking import Asked
from service.answers.envelope import CALCULATION
from service.quantities import UnitSystem, shown


def envelope(asked: Asked, system: UnitSystem = "metric", links: dict[str, str] | None = None) -> dict[str, Any]:
    """The envelope of an answer; ``inputs`` and ``result`` are ready JSON fragments."""
    answer = asked.answer
    result = asked.result_json if system == "metric" else orjson.dumps(asked.result_in(system))
    return {
        "answer_id": asked.answer_id,
        "inputs": orjson.Fragment(asked.inputs_json),
        "result": orjson.Fragment(result),
        "findings": [finding.as_dict() for finding in answer.findings],
        "basis": list(answer.basis.values()),
        "assumptions": shown(answer.assumptions, system),
        "unchecked": answer.unchecked,
        "cautions": answer.cautions,
        "dataset": {"version": asked.dataset.version, "sha256": asked.dataset.sha256},
        "calculation": CALCULATION,
        "links": links or {},
    }


def write(asked: Asked, system: UnitSystem = "metric", links: dict[str, str] | None = None) -> bytes:
    """The envelope as bytes."""
    return orjson.dumps(envelope(asked, system, links))
