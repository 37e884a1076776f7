"""Which valves to set at which position of the crank, as the builder turns it, and the fewest positions for all of them."""

from typing import Annotated, Any, cast

from pydantic import Field

from service.answers.envelope import Answer, QuantityOut, Result, Rule
from service.answers.inputs import FiringOrder, Id, Measured, Number, Request, Rotation
from service.answers.topic import Example, Topic
from service.answers.valve_events_request import event
from service.calculations import valve_order as calculation
from service.calculations.valve_events import TimingCard
from service.errors import Missing, MissingInput
from service.methods import Evidence
from service.quantities import ANGLE, Quantity, text_of
from service.reference.dataset import Dataset

RAMP_MARGIN = 0.2617993877991494  # 15 degrees in rad
TYPICAL_CARD = "tm-5-4310-389-14"
CARD_PROPERTIES = {
    "intake_opening": "intake_opens",
    "intake_closing": "intake_closes",
    "exhaust_opening": "exhaust_opens",
    "exhaust_closing": "exhaust_closes",
}

VALVES_OUT_OF_REACH = Rule(
    code="valves-out-of-reach",
    severity="fix",
    stage="valve-train",
    rule="a valve that stands off its base circle, ramps included, at every position asked for",
    reason="Set there, its lash would be wide open once the cam has turned on.",
    remedy="Leave the number of positions out, or ask for more of them.",
    source="derived",
    evidence="derived",
)


class ValveOrderRequest(Request):
    """The firing order; the engine's own timing card and ramps make the answer sharper."""

    firing_order: FiringOrder | None = None
    engine: Annotated[Id, Field(description="Engine family.", examples=["air-cooled-flat-four"])] | None = None
    rotation: Rotation | None = None
    positions: (
        Annotated[int, Number(1, 72, (1, 36), integer=True, example=8, meaning="Crank positions over the two turns.")] | None
    ) = None
    firing_angles: (
        Annotated[
            list[Annotated[Quantity, Measured("angle", "0 .. 720 deg", "", "450 deg", "Firing top dead centre.")]],
            Field(min_length=1, max_length=16, description="Of an odd-fire engine: all firing top dead centres, from 0 deg."),
        ]
        | None
    ) = None
    intake_opening: Annotated[Quantity, event("Before top dead centre.", "34 deg")] | None = None
    intake_closing: Annotated[Quantity, event("After bottom dead centre.", "62 deg", "-40 .. 110 deg")] | None = None
    exhaust_opening: Annotated[Quantity, event("Before bottom dead centre.", "70 deg")] | None = None
    exhaust_closing: Annotated[Quantity, event("After top dead centre.", "26 deg")] | None = None
    ramp_margin: (
        Annotated[
            Quantity, Measured("angle", "0 .. 60 deg", "10 .. 30 deg", "15 deg", "Quieting ramp beyond the card's events.")
        ]
        | None
    ) = None


class PositionOut(Result):
    """One position: the valves that may be set there, by cylinder, and how far the crank may be off."""

    crank_angle: QuantityOut
    pulley_mark: QuantityOut
    firing: int | None = None
    intake: list[int]
    exhaust: list[int]
    room: QuantityOut | None = None


class TurnOut(Result):
    """One stop of the shortest way round: how far to turn, and the valves to set there."""

    crank_angle: QuantityOut
    pulley_mark: QuantityOut
    turn: QuantityOut
    intake: list[int]
    exhaust: list[int]
    instruction: str


class ValveOut(Result):
    """A valve by its cylinder."""

    cylinder: int
    valve: str


class ValveOrderResult(Result):
    """Every position, and the fewest that do all valves."""

    positions: list[PositionOut]
    fewest_positions: list[TurnOut]
    number_of_positions: int
    mark_side: str
    unreached: list[ValveOut]


def answer(request: ValveOrderRequest, dataset: Dataset) -> Answer:
    """Positions and steps, as a table too.

    Raises:
        MissingInput: neither firing order nor an engine that has one; some but not all events of the card.
        OutsideValidity: no permutation; events that leave a valve never shut.
        Contradiction: firing angles that do not go with the firing order.
        NotInDataset: the engine is not held.
    """
    found = Answer(result={})
    if request.engine is not None:
        dataset.entity("engines", request.engine, field="engine")
    order = _firing_order(found, request, dataset)
    card = _card(found, request, dataset)
    margin = request.ramp_margin.si if request.ramp_margin else RAMP_MARGIN
    if request.ramp_margin is None:
        reason = "Ramps reach 10 to 20° beyond a card's events."
        found.assume("ramp_margin", ANGLE(RAMP_MARGIN), reason, "common-practice", "from-memory")
    if request.firing_angles is None:
        text = "Even firing: 720° shared by the cylinders."
        found.assume("firing_angles", "even", text, "common-practice", "common-practice")
    plan = calculation.valve_order(
        firing_order=order,
        card=card,
        margin=margin,
        positions=request.positions,
        firing=tuple(angle.si for angle in request.firing_angles) if request.firing_angles else None,
    )
    found.rests_on(calculation.valve_order)
    side = _mark_side(found, request, dataset)
    positions = [_position(position) for position in plan.positions]
    found.result = {
        "positions": positions,
        "fewest_positions": _steps([plan.positions[index] for index in plan.fewest]),
        "number_of_positions": plan.least_number,
        "mark_side": side,
        "unreached": [{"cylinder": cylinder, "valve": valve} for cylinder, valve in plan.unreached],
    }
    found.table = [
        {**position, "intake": _spoken(position["intake"]), "exhaust": _spoken(position["exhaust"])} for position in positions
    ]
    if plan.unreached:
        valves = ", ".join(f"{valve} of {cylinder}" for cylinder, valve in plan.unreached)
        found.find(VALVES_OUT_OF_REACH, ("positions",), f"Not reached at any of these positions: {valves}.")
    return found


def _firing_order(found: Answer, request: ValveOrderRequest, dataset: Dataset) -> tuple[int, ...]:
    text = request.firing_order
    if text is None:
        if request.engine is None:
            raise MissingInput("firing_order", "A firing order is needed, or an engine whose order is known.", "1-4-3-2")
        owner = _owner(dataset, request.engine, "firing_order")
        if owner is None:
            raise MissingInput("firing_order", "The dataset holds no firing order of this engine.", "1-4-3-2")
        entity = dataset.entity("engines", owner)
        text = entity.text("firing_order")
        fact = entity.fact("firing_order")
        found.uses(fact)
        found.assume("firing_order", text, "That of the engine family.", fact.source, cast("Evidence", fact.evidence))
    return tuple(int(number) for number in text.split("-"))


def _owner(dataset: Dataset, engine: str, *properties: str) -> str | None:
    """The engine, or the nearest family above it, that has all these properties."""
    return next(
        (id for id in dataset.lineage(engine) if all(dataset.entity("engines", id).has(name) for name in properties)), None
    )


def _open_events(request: ValveOrderRequest, reason: str) -> MissingInput:
    """The refusal of a card that is not whole: every event that is missing, with one that is usual."""
    usual = {"intake_opening": "34 deg", "intake_closing": "62 deg", "exhaust_opening": "70 deg", "exhaust_closing": "26 deg"}
    return MissingInput.of([Missing(name, reason, usual[name]) for name in usual if getattr(request, name) is None])


def _card(found: Answer, request: ValveOrderRequest, dataset: Dataset) -> TimingCard:
    """The card as given, or that of the engine, or a typical one that any road engine of the kind stays within."""
    given = [getattr(request, name) for name in CARD_PROPERTIES]
    if all(event is not None for event in given):
        return TimingCard(*(event.si for event in given))
    # The sheet shares the intake's closing among its sections; alone it says nothing about the other events.
    if [name for name in CARD_PROPERTIES if getattr(request, name) is not None] not in ([], ["intake_closing"]):
        raise _open_events(request, "Send all four events of the card, or none.")
    properties = tuple(CARD_PROPERTIES.values())
    owner = _owner(dataset, request.engine, *properties) if request.engine else None
    entity = dataset.find("engines", owner or TYPICAL_CARD)
    if entity is None or not all(entity.has(name) for name in properties):
        raise _open_events(request, "This dataset holds no typical timing card; send the four events.")
    card = TimingCard(*(entity.si(name) for name in properties))
    found.uses(*(entity.fact(name) for name in properties))
    whose = (
        "That of the engine."
        if owner
        else "A usual card; the room of a position says how much longer each flank of a cam may be."
    )
    for name, value in zip(CARD_PROPERTIES, card, strict=True):
        if getattr(request, name) is None:
            fact = entity.fact(CARD_PROPERTIES[name])
            found.assume(name, ANGLE(value), whose, fact.source, cast("Evidence", fact.evidence))
    if request.intake_closing is not None:
        return card._replace(intake_closing=request.intake_closing.si)
    return card


def _mark_side(found: Answer, request: ValveOrderRequest, dataset: Dataset) -> str:
    """Where the marks lie on the pulley, as the builder sees it: against the rotation."""
    rotation = request.rotation
    if rotation is None:
        owner = _owner(dataset, request.engine, "rotation") if request.engine else None
        text = dataset.entity("engines", owner).text("rotation") if owner else ""
        rotation = "anticlockwise" if text.startswith(("anti", "counter")) else "clockwise"
        if owner:
            fact = dataset.entity("engines", owner).fact("rotation")
            found.uses(fact)
            found.assume("rotation", rotation, "That of the engine family.", fact.source, cast("Evidence", fact.evidence))
        else:
            reason = "Most engines turn clockwise seen from the pulley; look before you mark."
            found.assume("rotation", rotation, reason, "common-practice", "common-practice")
    other = "anticlockwise" if rotation == "clockwise" else "clockwise"
    return f"{other} from the first cylinder's mark, on a pulley that turns {rotation}"


def _position(position: calculation.CrankPosition) -> dict[str, Any]:
    """One position as it is answered."""
    rooms = [setting.room for setting in position.settings]
    return {
        "crank_angle": ANGLE(position.crank_angle),
        "pulley_mark": ANGLE(position.mark),
        "firing": position.firing,
        **_by_valve([(setting.cylinder, setting.valve) for setting in position.settings]),
        "room": ANGLE(min(rooms)) if rooms else None,
    }


def _by_valve(settings: list[tuple[int, calculation.Valve]]) -> dict[str, list[int]]:
    return {valve: [cylinder for cylinder, which in settings if which == valve] for valve in ("intake", "exhaust")}


def _steps(chosen: list[calculation.CrankPosition]) -> list[dict[str, Any]]:
    """The chosen positions as a way round: each valve is set once, where it is first free."""
    steps: list[dict[str, Any]] = []
    done: set[tuple[int, str]] = set()
    before = 0.0
    for position in chosen:
        fresh = [(s.cylinder, s.valve) for s in position.settings if (s.cylinder, s.valve) not in done]
        done.update(fresh)
        valves = _by_valve(fresh)
        turn = position.crank_angle - before
        before = position.crank_angle
        where = f"cylinder {position.firing} at its firing top dead centre" if position.firing else "the position"
        degrees = text_of(ANGLE(turn)).replace(".0°", "°")
        how = f"Turn on by {degrees} to {where}" if turn else f"Begin with {where}"
        tasks = "; ".join(f"{name} {_spoken(numbers)}" for name, numbers in valves.items() if numbers)
        steps.append(
            {
                "crank_angle": ANGLE(position.crank_angle),
                "pulley_mark": ANGLE(position.mark),
                "turn": ANGLE(round(turn, 12)),
                **valves,
                "instruction": f"{how}; set {tasks}.",
            }
        )
    return steps


def _spoken(numbers: list[int]) -> str:
    return " ".join(str(number) for number in numbers)


TOPIC = Topic(
    name="valve_order",
    path="/v1/valve-order",
    title="Valve setting order",
    summary="Which valves may be set at each position of the crank, and the fewest positions that do them all.",
    request=ValveOrderRequest,
    result=ValveOrderResult,
    answer=answer,
    stage="closing-up",
    cautions=("assembly",),
    examples=(
        Example("The flat four in two positions", {"firing_order": "1-4-3-2", "rotation": "clockwise"}),
        Example("An in-line six", {"firing_order": "1-5-3-6-2-4"}),
        Example(
            "A long cam in eight positions",
            {
                "firing_order": "1-3-4-2",
                "positions": 8,
                "intake_opening": "40 deg",
                "intake_closing": "75 deg",
                "exhaust_opening": "80 deg",
                "exhaust_closing": "35 deg",
                "ramp_margin": "20 deg",
            },
        ),
        Example("An odd-fire twin", {"firing_order": "1-2", "firing_angles": ["0 deg", "450 deg"]}),
    ),
)
