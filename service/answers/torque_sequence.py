"""The order of tightening of one joint: the maker's where the dataset has it, else worked out from the pattern."""

from typing import Any

from service.answers.envelope import Answer
from service.answers.torque_request import TorqueRequest
from service.calculations.tightening_sequence import (
    Position,
    layout_positions,
    pass_torque,
    tightening_order,
    tightening_passes,
)
from service.errors import Contradiction
from service.quantities import TORQUE
from service.reference.dataset import Entity

STAGES = (0.4, 0.7, 1.0)


def sequence_of(found: Answer, request: TorqueRequest, fastener: Entity | None, torque: float) -> dict[str, Any] | None:
    """The sequence at a torque in N·m, or None where nothing tells how the fasteners lie.

    Raises:
        Contradiction: layout and positions are both given, or the ranks are not as many as the positions.
        OutsideValidity: the layout or the positions make no pattern.
    """
    if request.layout is not None and request.positions is not None:
        raise Contradiction(("layout", "positions"), "Send either the name of a layout or the positions, not both.")
    if request.positions is not None:
        positions: tuple[Position, ...] = tuple((place.x.si, place.y.si) for place in request.positions)
        by = "positions"
    else:
        layout = request.layout or _layout_of(found, fastener)
        if layout is None:
            return None
        positions, by = layout_positions(layout=layout), layout
    order = tightening_order(positions=positions, groups=request.groups or ()).numbers
    found.rests_on(tightening_order, pass_torque)
    shares = _shares(found, fastener)
    passes = tightening_passes(torque=torque, order=order, shares=shares)
    rows = [{"share": one.share, "torque": TORQUE(one.torque), "order": list(one.order)} for one in passes]
    found.table = [
        {"pass": number, "torque": TORQUE(one.torque), "order": " ".join(str(place) for place in one.order)}
        for number, one in enumerate(passes, 1)
    ]
    return {"order": list(order), "passes": rows, "by": by, "positions": [{"x": x, "y": y} for x, y in positions]}


def _layout_of(found: Answer, fastener: Entity | None) -> str | None:
    """The layout that the dataset gives for a fastener, or that follows from its count and pattern."""
    if fastener is None:
        return None
    if fastener.has("layout"):
        found.uses(fastener.fact("layout"))
        return fastener.text("layout")
    if not fastener.has("count"):
        return None
    count = fastener.integer("count")
    found.uses(fastener.fact("count"))
    pattern = "single" if count == 1 else ""
    if fastener.has("pattern"):
        pattern = fastener.text("pattern")
        found.uses(fastener.fact("pattern"))
    if pattern == "cross":
        return f"circle-{count}"
    if pattern == "centre-outwards" and count % 2 == 0:
        return f"grid-2x{count // 2}"
    if pattern in ("centre-outwards", "even-steps"):
        return f"row-{count}"
    return "circle-1" if pattern == "single" else None


def _shares(found: Answer, fastener: Entity | None) -> tuple[float, ...]:
    """The stages as shares of the listed torque, as the dataset lists them, else 40, 70 and 100 %."""
    if fastener is None or not fastener.has("stage_1"):
        return STAGES
    full = fastener.si("torque")
    stages = [name for name in ("stage_1", "stage_2") if fastener.has(name) and fastener.si(name) < full]
    found.uses(*(fastener.fact(name) for name in stages))
    return (*(fastener.si(name) / full for name in stages), 1.0)
