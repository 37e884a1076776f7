"""The torque list of a build sheet as CSV, one fastener a row with the units in the headings; without one, the work."""

from collections.abc import Iterator
from typing import Any

from service.answers.asking import Asked
from service.answers.envelope import CALCULATION
from service.faces.build_sheet_view import TorqueLine, View, view_of
from service.faces.csv_face import encode
from service.quantities import UnitSystem


def write(asked: Asked, system: UnitSystem) -> bytes:
    """The list as CSV in UTF-8."""
    view = view_of(asked, system)
    return encode(_torque_list(view) if view.torques else _work(view))


def _stamp(view: View) -> list[Any]:
    return [view.asked.dataset.version, CALCULATION, view.asked.answer_id]


_STAMP_HEADS = ["dataset", "calculation", "answer_id"]


def _torque_list(view: View) -> Iterator[list[Any]]:
    """A row a fastener; as many columns for passes as the longest order of tightening has."""
    lines = view.torques
    count = max(len(line.passes) for line in lines)
    torque = lines[0].setting["unit"]
    force = next((line.preload["low"]["unit"] for line in lines if line.preload), None)
    yield [
        *("fastener", "thread", "property class", "condition"),
        *(f"pass {number} [{torque}]" for number in range(1, count + 1)),
        *(f"wrench setting [{torque}]", "wrench setting as read out", "order"),
        *((f"preload {end} [{force}]" for end in ("low", "nominal", "high")) if force else ()),
        *("advice", *_STAMP_HEADS),
    ]
    stamp = _stamp(view)
    for line in lines:
        yield [*_fastener(line, count), *(_preload(line) if force else ()), "; ".join(line.advice), *stamp]


def _fastener(line: TorqueLine, count: int) -> list[Any]:
    passes = [one["value"] for one in line.passes]
    blanks = [None] * (count - len(passes))
    head = [line.fastener, line.thread, line.property_class, line.condition]
    return [*head, *passes, *blanks, line.setting["value"], line.setting["text"], line.order.replace("-", " ")]


def _preload(line: TorqueLine) -> list[float | None]:
    return [line.preload[end]["value"] if line.preload else None for end in ("low", "nominal", "high")]


def _work(view: View) -> Iterator[list[Any]]:
    """The lines of work, with the unit beside each value, since it differs from line to line."""
    yield ["stage", "task", "value", "unit", "as read out", "words", "tool", *_STAMP_HEADS]
    for line in view.result["work"]:
        value = line.get("value") or {"value": None, "unit": "", "text": ""}
        figures = [value["value"], value["unit"], value["text"]]
        yield [line["stage"], line["task"], *figures, line["words"], line["tool"], *_stamp(view)]
