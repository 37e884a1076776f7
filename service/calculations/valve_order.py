"""Which valves may be set at which position of the crank, and the fewest positions that do them all.

Crank angles run over 720° from the firing top dead centre of the first cylinder of the firing order, in the engine's
direction of rotation. A valve may be set where its tappet rests on the base circle, clear of the quieting ramps.
"""

from collections.abc import Sequence
from itertools import pairwise
from math import degrees, pi
from typing import Literal, NamedTuple, TypeAlias

from service.calculations.limits import require_not_negative
from service.calculations.set_cover import smallest_cover
from service.calculations.valve_events import TimingCard
from service.errors import Contradiction, OutsideValidity
from service.methods import Example, method
from service.units import Angle

Valve: TypeAlias = Literal["intake", "exhaust"]
CYCLE: Angle = 4 * pi
MOST_CYLINDERS, MOST_POSITIONS = 16, 72
_SLIP: Angle = 1e-9  # a valve this close to its ramp is still free: the last bits of an angle decide nothing


class ValveSetting(NamedTuple):
    """A valve that may be set, and how far the crank may be off before its tappet meets a ramp."""

    cylinder: int
    valve: Valve
    room: Angle


class CrankPosition(NamedTuple):
    """One position of the crank with the valves that may be set there."""

    crank_angle: Angle
    """After the firing top dead centre of the first cylinder, 0 to 4π."""
    mark: Angle
    """Where the position lies on the pulley, 0 to 2π from the first cylinder's mark, against the rotation."""
    firing: int | None
    """The cylinder at its firing top dead centre, if one is."""
    settings: tuple[ValveSetting, ...]


class ValveOrder(NamedTuple):
    """Every position asked for, and the fewest of them (as indices) that cover every valve that any covers."""

    positions: tuple[CrankPosition, ...]
    fewest: tuple[int, ...]
    least_number: int
    unreached: tuple[tuple[int, Valve], ...]
    """Valves that no position leaves free: more positions are needed."""


def firing_angles(*, firing_order: Sequence[int]) -> tuple[Angle, ...]:
    """Firing top dead centres of an even-fire engine in firing order: 720° shared equally.

    Raises:
        OutsideValidity: the firing order is not a permutation of 1 to n, or n is over 16.
    """
    count = len(firing_order)
    if not 1 <= count <= MOST_CYLINDERS or sorted(firing_order) != list(range(1, count + 1)):
        raise OutsideValidity(
            "firing_order",
            "A firing order names every cylinder from 1 on exactly once, 1 to 16 of them; send it such as 1-4-3-2.",
            "each of 1 to n once",
        )
    return tuple(CYCLE * place / count for place in range(count))


@method(
    id="valve-setting-order",
    title="Positions of the crank at which valves may be set",
    formula="valve free where φ ∉ [open − m, close + m] (mod 720°), φ counted from its cylinder's firing top dead centre; "
    "exhaust 180° − EO … 360° + EC, intake 360° − IO … 540° + IC; fewest positions by exact set cover",
    symbols={"m": "ramp margin [crank angle]", "IO, IC, EO, EC": "events of the timing card [crank angle]"},
    source="derived",
    locator="four-stroke cycle laid over the firing order",
    evidence="derived",
    valid="four-stroke, one camshaft motion for all cylinders, even firing unless all firing angles are given",
    example=Example(
        {
            "firing_order": (1, 3, 4, 2),
            "card": TimingCard(32.5 * pi / 180, 60.5 * pi / 180, 70.5 * pi / 180, 32.5 * pi / 180),
            "margin": 15 * pi / 180,
        },
        {"least_number": 2},
        by="the trade's two-position table of the in-line four, from memory",
    ),
)
def valve_order(
    *,
    firing_order: Sequence[int],
    card: TimingCard,
    margin: Angle,
    positions: int | None = None,
    firing: Sequence[Angle] | None = None,
) -> ValveOrder:
    """Valves free at each of ``positions`` equally spaced crank positions, by default at every firing top dead centre.

    ``firing`` gives the firing top dead centres of an odd-fire engine in firing order, rising from 0 to below 4π.

    Raises:
        OutsideValidity: a firing order that is no permutation, 0 or over 72 positions, a negative margin, or a valve
            that would be open all the time.
        Contradiction: the firing angles do not go with the firing order.
    """
    tops = firing_angles(firing_order=firing_order)
    if firing is not None:
        tops = _checked_angles(firing, len(tops))
    require_not_negative(margin=margin)
    if positions is None:
        angles: tuple[Angle, ...] = tops
    elif 1 <= positions <= MOST_POSITIONS:
        angles = tuple(CYCLE * place / positions for place in range(positions))
    else:
        raise OutsideValidity("positions", "Send 1 to 72 crank positions over the two turns.", "1-72")
    shut = _shut_spans(card, margin)
    top_of = dict(zip(firing_order, tops, strict=True))
    found = tuple(_position(angle, top_of, shut) for angle in angles)
    valves: list[tuple[int, Valve]] = [(cylinder, valve) for cylinder in sorted(top_of) for valve in shut]
    bit = {wanted: 1 << place for place, wanted in enumerate(valves)}
    masks = [sum(bit[setting.cylinder, setting.valve] for setting in position.settings) for position in found]
    fewest = smallest_cover(masks)
    reached = {(setting.cylinder, setting.valve) for position in found for setting in position.settings}
    unreached = tuple(wanted for wanted in valves if wanted not in reached)
    return ValveOrder(found, fewest, len(fewest), unreached)


def _checked_angles(firing: Sequence[Angle], count: int) -> tuple[Angle, ...]:
    tops = tuple(firing)
    rising = all(early < late for early, late in pairwise(tops))
    if len(tops) != count or not rising or abs(tops[0]) > _SLIP or tops[-1] >= CYCLE:
        raise Contradiction(
            ("firing", "firing_order"),
            f"Send one firing angle for each of the {count} cylinders of the firing order, rising from 0 to below 720°.",
        )
    return tops


def _shut_spans(card: TimingCard, margin: Angle) -> dict[Valve, tuple[Angle, Angle]]:
    """Middle and half-width of the span in which each valve is shut, from its cylinder's firing top dead centre."""
    spans: dict[Valve, tuple[Angle, Angle]] = {}
    events: tuple[tuple[Valve, Angle, Angle], ...] = (
        ("intake", 2 * pi - card.intake_opening, 3 * pi + card.intake_closing),
        ("exhaust", pi - card.exhaust_opening, 2 * pi + card.exhaust_closing),
    )
    for valve, opens, shuts in events:
        half = (CYCLE - (shuts - opens)) / 2 - margin
        if shuts <= opens or half <= 0:
            raise OutsideValidity(
                f"{valve}_closing",
                f"These events and the ramp margin of {degrees(margin):.0f}° leave the {valve} valve never, or always, "
                "on its base circle. Send events in degrees of the crank, each from its own dead centre.",
                "0 to 720 deg open, ramps included",
            )
        spans[valve] = ((opens + shuts) / 2 - CYCLE / 2, half)
    return spans


def _position(angle: Angle, top_of: dict[int, Angle], shut: dict[Valve, tuple[Angle, Angle]]) -> CrankPosition:
    settings = []
    firing = None
    for cylinder in sorted(top_of):
        own = angle - top_of[cylinder]
        if abs(_wrapped(own)) < _SLIP:
            firing = cylinder
        for valve, (middle, half) in shut.items():
            room = half - abs(_wrapped(own - middle))
            if room > _SLIP:
                settings.append(ValveSetting(cylinder, valve, room))
    mark = angle % (2 * pi)
    return CrankPosition(angle, 0.0 if 2 * pi - mark < _SLIP else mark, firing, tuple(settings))


def _wrapped(angle: Angle) -> Angle:
    """The same angle of the cycle between −2π and 2π."""
    return (angle + CYCLE / 2) % CYCLE - CYCLE / 2
