"""From what is known of the engine to the limits of its break-in run, with the facts they rest on."""

from dataclasses import dataclass

from service.answers.break_in_request import BreakInScheduleRequest
from service.answers.engine_facts import engine_fact
from service.answers.engine_kind import refuse_other_engines
from service.answers.envelope import Answer
from service.answers.oil_floor import floor_of
from service.calculations.break_in_limits import RPM, CreditRules, StopThresholds
from service.calculations.break_in_schedule import (
    NARROWEST,
    SHARE_OF_REV_LIMIT,
    Body,
    break_in_body,
    check_band,
    remaining_time,
)
from service.errors import Contradiction, MissingInput
from service.quantities import DURATION, RUN_TIME, SPEED, SPEED_RAMP, Kind, Quantity
from service.reference.dataset import Dataset, Entity

WIDE_BAND_FROM = 3500 * RPM
STIFF_LOAD = 700.0
USUAL_RAMP = 50 * RPM
USUAL_WIDTH = 100 * RPM
USUAL_HOLD = 30.0
USUAL_DWELL = 60.0


@dataclass(frozen=True)
class Limits:
    """The run as it is to be: times in s, speeds in rad/s."""

    procedure: str
    tappet: str
    floor: float
    speed_low: float
    speed_high: float
    duration: float
    credited: float
    remaining: float
    longest_dwell: float
    ramp_rate: float
    band_width: float
    usual_hold: float

    @property
    def resumed(self) -> bool:
        """Whether something was run before."""
        return self.credited > 0

    def body(self) -> Body:
        """The set points of the time that is left."""
        return self._planned(self.remaining, self.resumed)

    def whole(self) -> Body:
        """The set points of the whole run, whose bands are those that the log is judged by."""
        return self._planned(self.duration, True)

    def _planned(self, duration: float, resumed: bool) -> Body:
        return break_in_body(
            speed_low=self.speed_low,
            speed_high=self.speed_high,
            duration=duration,
            longest_dwell=self.longest_dwell,
            ramp_rate=self.ramp_rate,
            band_width=self.band_width,
            usual_hold=self.usual_hold,
            resumed=resumed,
        )


def limits_of(request: BreakInScheduleRequest, dataset: Dataset, found: Answer) -> Limits:
    """The limits of the run: what was asked for, and the usual of the procedure where nothing was.

    Raises:
        MissingInput: neither tappets nor an engine are named.
        NotInDataset: an engine or procedure that is not held.
        OutsideValidity, Contradiction: a band that would harm the engine, or an engine that these tables are not for.
    """
    tappet = _tappet(request, dataset, found)
    refuse_other_engines(dataset, request.engine)
    entity = _procedure(request, tappet, dataset)
    found.uses(entity.fact("tappet"))
    if request.procedure is None:
        reason = f"usual for {entity.text('title')}"
        found.assume("procedure", entity.id, reason, entity.fact("title").source, "common-practice")
    speed_low = _usual(request.speed_low, entity, "speed_low", SPEED, found)
    usual_limit = _usual_rev_limit(request, dataset, found)
    limit = request.rev_limit.si if request.rev_limit else None
    speed_high = _upper(request, entity, speed_low, limit or usual_limit, found)
    check_band(speed_low=speed_low, speed_high=speed_high, flat_tappet=tappet != "roller", rev_limit=limit)
    duration = _duration(request, entity, speed_high, dataset, found)
    credited = request.credited.si if request.credited else 0.0
    return Limits(
        procedure=entity.id,
        tappet=tappet,
        floor=entity.si("floor") if entity.has("floor") else speed_low,
        speed_low=speed_low,
        speed_high=speed_high,
        duration=duration,
        credited=credited,
        remaining=remaining_time(required=duration, credited=credited),
        longest_dwell=_dwell(request, entity, found),
        ramp_rate=_given(request.ramp_rate, USUAL_RAMP, "ramp_rate", SPEED_RAMP, found),
        band_width=_given(request.band_width, USUAL_WIDTH, "band_width", SPEED, found),
        usual_hold=_given(request.usual_hold, USUAL_HOLD, "usual_hold", DURATION, found),
    )


def _tappet(request: BreakInScheduleRequest, dataset: Dataset, found: Answer) -> str:
    if request.engine:
        dataset.entity("engines", request.engine, "engine")
    if request.tappet:
        return request.tappet
    if request.procedure:
        return dataset.entity("break-in-procedures", request.procedure, "procedure").text("tappet")
    if request.engine:
        reason = "push-rod engines of this age have flat tappets; the strictest case is taken"
        found.assume("tappet", "flat", reason, "common-practice", "common-practice")
        return "flat"
    raise MissingInput("tappet", "The break-in depends on the tappets: send flat, hydraulic, mushroom or roller.", "flat")


def _procedure(request: BreakInScheduleRequest, tappet: str, dataset: Dataset) -> Entity:
    """The row of the table that fits: the sternest where several do."""
    if request.procedure:
        return dataset.entity("break-in-procedures", request.procedure, "procedure")
    stiff = request.spring == "stiff-single" or (request.open_load is not None and request.open_load.si > STIFF_LOAD)
    if tappet in ("roller", "mushroom"):
        id = tappet
    elif request.new_cam is False:
        id = "used-in-place"
    elif tappet == "hydraulic":
        id = "flat-hydraulic"
    elif request.spring == "dual":
        id = "flat-dual-spring"
    elif stiff:
        id = "flat-stiff-single"
    elif request.cam_surface in ("nitrided", "coated"):
        id = "nitrided"
    elif request.speed_high and request.speed_high.si >= WIDE_BAND_FROM:
        id = "flat-wide-band"
    else:
        id = "flat-single-spring"
    return dataset.entity("break-in-procedures", id, "procedure")


def _usual(given: Quantity | None, entity: Entity, name: str, kind: Kind, found: Answer) -> float:
    """The caller's value, or the procedure's with its citation."""
    if given is not None:
        return given.si
    fact = entity.fact(name)
    found.uses(fact)
    value = entity.si(name)
    found.assume(name, kind(value), f"usual for {entity.text('title')}", fact.source, "common-practice")
    return value


def _upper(request: BreakInScheduleRequest, entity: Entity, low: float, limit: float | None, found: Answer) -> float:
    """The upper speed: the caller's, or the procedure's as far as 80 % of the rev limit go.

    Raises:
        Contradiction: the rev limit leaves no band above the lower speed.
    """
    if request.speed_high is not None or limit is None or entity.si("speed_high") <= SHARE_OF_REV_LIMIT * limit:
        return _usual(request.speed_high, entity, "speed_high", SPEED, found)
    most = SHARE_OF_REV_LIMIT * limit
    if most - low < NARROWEST:
        reason = "80 % of the rev limit leave no band above the lower speed; send a lower speed_low, or the right rev limit."
        raise Contradiction(("speed_low", "rev_limit"), reason)
    reason = f"80 % of the rev limit; usual for {entity.text('title')} is more"
    found.assume("speed_high", SPEED(most), reason, "common-practice", "common-practice")
    return most


def _given(given: Quantity | None, usual: float, name: str, kind: Kind, found: Answer) -> float:
    if given is not None:
        return given.si
    found.assume(name, kind(usual), "usual", "common-practice", "common-practice")
    return usual


def _dwell(request: BreakInScheduleRequest, entity: Entity, found: Answer) -> float:
    if request.longest_dwell is None and not entity.has("dwell_max"):
        return _given(None, USUAL_DWELL, "longest_dwell", DURATION, found)
    if request.longest_dwell is not None:
        return request.longest_dwell.si
    found.uses(entity.fact("dwell_max"))
    value = entity.si("dwell_max")
    reason = f"usual for {entity.text('title')}"
    found.assume("longest_dwell", DURATION(value), reason, entity.fact("dwell_max").source, "common-practice")
    return value


def _duration(request: BreakInScheduleRequest, entity: Entity, speed_high: float, dataset: Dataset, found: Answer) -> float:
    """The caller's time, or the procedure's; the trade's shorter time goes with its wider band."""
    wide = dataset.find("break-in-procedures", "flat-wide-band")
    if wide is not None and speed_high >= WIDE_BAND_FROM and entity.id == "flat-single-spring":
        entity = wide
    return _usual(request.duration, entity, "duration", RUN_TIME, found)


def _usual_rev_limit(request: BreakInScheduleRequest, dataset: Dataset, found: Answer) -> float | None:
    """The family's usual rev limit where the caller sent none: no fact about this build, so it warns and does not refuse."""
    if request.rev_limit:
        return None
    fact = engine_fact(dataset, "engines", request.engine, "speed_limit")
    if fact is None:
        why = "The upper speed must stay within 80 % of the rev limit."
        found.cannot_check("run-in-near-rev-limit", ["rev_limit"], why)
        return None
    found.uses(fact)
    return fact.si


def thresholds_of(dataset: Dataset, engine: str | None, found: Answer) -> StopThresholds:
    """When to stop, with the dataset's figures where it has them."""
    usual = StopThresholds()
    rows = {
        "pressure_grace": ("pressure-lost", "time_limit"),
        "head_stop": ("too-hot-head", "temperature_limit"),
        "oil_stop": ("too-hot-oil", "temperature_limit"),
    }
    known = _facts(dataset, rows, found)
    caution = engine_fact(dataset, "oil-facts", engine, "temperature_caution")
    if caution is not None and caution.si is not None:
        found.uses(caution)
        known["oil_caution"] = caution.si
    known["pressure_per_speed"], known["least_pressure"] = floor_of(dataset, engine, found)
    return StopThresholds(**{**{name: getattr(usual, name) for name in usual.__slots__}, **known})


def credit_rules_of(dataset: Dataset, found: Answer) -> CreditRules:
    """What counts, with the dataset's figures where it has them."""
    usual = CreditRules()
    rows = {
        "gap": ("gap", "time_limit"),
        "slow_allowed": ("below-floor", "time_limit"),
        "early": ("second-stall", "time_limit"),
        "short_stop": ("planned-stop", "time_limit"),
        "long_stop": ("long-stop", "time_limit"),
    }
    known = _facts(dataset, rows, found)
    return CreditRules(**{**{name: getattr(usual, name) for name in usual.__slots__}, **known})


def _facts(dataset: Dataset, rows: dict[str, tuple[str, str]], found: Answer) -> dict[str, float]:
    known: dict[str, float] = {}
    for name, (id, column) in rows.items():
        entity = dataset.find("credit-rules", id)
        if entity is not None and entity.has(column):
            found.uses(entity.fact(column))
            known[name] = entity.si(column)
    return known
