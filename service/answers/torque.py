"""Tightening torque: from the book or computed, with preload, scatter, wrench setting, order of tightening and checks."""

from service.answers import torque_wrench
from service.answers.engine_kind import check_certificate
from service.answers.envelope import Answer, band
from service.answers.fasteners import (
    DEFAULT_CONDITION,
    Bolt,
    Friction,
    Strength,
    Tightening,
    bolt_of,
    friction_of,
    scatter_of,
    strength_of,
    weakest_strength,
)
from service.answers.topic import Example, Topic
from service.answers.torque_basis import Listed, applied_torque, listed_of
from service.answers.torque_joint import join
from service.answers.torque_request import TorqueRequest, TorqueResult
from service.answers.torque_rules import (
    BOLT_OVER_YIELD,
    check_limit,
    check_reuse,
    check_unit,
    check_yield,
    is_alloy,
)
from service.answers.torque_sequence import sequence_of
from service.calculations.bolt_stress import bolt_stress, load_from_stress, preload_from_utilisation
from service.calculations.tightening import (
    Band,
    clamping_torque,
    preload_envelope,
    symmetric_band,
    with_prevailing_torque,
)
from service.calculations.torque import nut_factor, preload_from_torque, tightening_torque
from service.errors import Contradiction, Missing, MissingInput
from service.quantities import AREA, FORCE, STRESS, TORQUE
from service.reference.dataset import Dataset

NO_LOAD = Missing("torque", "Send one of torque, preload and utilisation (0.7 is usual).", "25 N*m")


def answer(request: TorqueRequest, dataset: Dataset) -> Answer:
    """The torque of a fastener and what follows from it.

    Raises:
        MissingInput: neither a fastener nor a thread is named, or nothing says how hard to tighten.
        Contradiction: more than one of torque, preload and utilisation.
        NotInDataset: an id is not held.
        OutsideValidity: the prevailing torque eats up the torque, or the adapter leaves no lever.
    """
    found = Answer(result={})
    check_certificate(found, dataset, request.engine)
    listed = listed_of(found, request, dataset)
    thread = request.thread or (listed.thread if listed else None)
    if thread is None:
        if listed is None or listed.torque is None:
            reason = "Send engine and fastener, or a thread with its property class and condition."
            load = [] if request.torque or request.preload or request.utilisation else [NO_LOAD]
            raise MissingInput("thread", reason, "M8x1.25", *load)
        _say_torque(found, request, dataset, listed.torque, listed)
        needs = ["thread"] if request.property_class else ["thread", "property_class"]
        found.cannot_check(BOLT_OVER_YIELD.code, needs, "Preload and stress of the bolt.")
        return found
    tightening = _tightening(found, request, dataset, thread, listed)
    clamp = _clamp(found, request, tightening, listed)
    prevailing = request.prevailing_torque.si if request.prevailing_torque else 0.0
    total = clamp if prevailing == 0 else with_prevailing_torque(torque=clamp, prevailing=prevailing)
    if prevailing:
        found.rests_on(with_prevailing_torque)
    tolerance = _say_torque(found, request, dataset, total, listed)
    preload = _say_preload(found, request, dataset, tightening, clamp, tolerance)
    _say_stress(found, request, tightening, preload, as_listed=_as_listed(request, listed, total))
    join(found, request, dataset, tightening.bolt, tightening.strength, preload)
    return found


def _tightening(found: Answer, request: TorqueRequest, dataset: Dataset, thread: str, listed: Listed | None) -> Tightening:
    """Bolt, friction and strength, as given, as listed or as assumed."""
    entity = dataset.entity("threads", thread, "thread")
    bolt = bolt_of(found, entity, head_diameter=request.head_diameter, hole_diameter=request.hole_diameter)
    friction = _friction(found, request, dataset, listed)
    return Tightening(bolt, friction, _strength(found, request, dataset, bolt, listed))


def _friction(found: Answer, request: TorqueRequest, dataset: Dataset, listed: Listed | None) -> Friction:
    """Friction as measured, or that of the condition: the thread's own, as the torque is listed, or as it came."""
    name = request.condition or (listed.condition if listed else None)
    measured = request.thread_friction or request.bearing_friction
    if name is not None and request.condition is None and listed is not None:
        found.assume("condition", name, "as the torque is listed", listed.source, "common-practice")
    if measured is None:
        if name is None:
            name = DEFAULT_CONDITION
            found.assume("condition", name, "not given", "common-practice", "common-practice")
        return friction_of(found, dataset, name, reused_nut=bool(request.reused_nut))
    for field, other in (("thread_friction", "under the head"), ("bearing_friction", "in the thread")):
        if getattr(request, field) is None:
            found.assume(field, measured, f"taken equal to that {other}", "common-practice", "common-practice")
    # Of the condition only whether it is oiled is left to matter: it decides how far a torque wrench scatters.
    lubricated = name is not None and friction_of(found, dataset, name).lubricated
    return Friction(request.thread_friction or measured, request.bearing_friction or measured, 0.0, 0.0, lubricated)


def _strength(found: Answer, request: TorqueRequest, dataset: Dataset, bolt: Bolt, listed: Listed | None) -> Strength | None:
    """Strength of the class given or listed; the weakest is assumed only where nothing but a computation is asked."""
    diameter = bolt.thread.diameter
    if request.property_class is not None:
        return strength_of(found, dataset, request.property_class, diameter)
    if listed is not None and listed.property_class is not None:
        found.assume("property_class", listed.property_class, "usual for this fastener", listed.source, "common-practice")
        return strength_of(found, dataset, listed.property_class, diameter, "fastener")
    if listed is None:
        return weakest_strength(found, dataset, diameter)
    return None


def _clamp(found: Answer, request: TorqueRequest, tightening: Tightening, listed: Listed | None) -> float:
    """The part of the torque in N·m that clamps."""
    given = [name for name in ("torque", "preload", "utilisation") if getattr(request, name) is not None]
    if len(given) > 1:
        raise Contradiction(given, "Send one of torque, preload and utilisation; the others follow from it.")
    if request.preload is not None:
        found.rests_on(tightening_torque)
        return tightening_torque(preload=request.preload.si, **tightening.arguments())
    if request.utilisation is not None:
        if tightening.strength is None:
            raise MissingInput("property_class", "A utilisation needs the property class of the bolt.", "8.8")
        found.rests_on(preload_from_utilisation, tightening_torque)
        preload = preload_from_utilisation(utilisation=request.utilisation, **tightening.stress_arguments(tightening.strength))
        return tightening_torque(preload=preload, **tightening.arguments())
    prevailing = request.prevailing_torque.si if request.prevailing_torque else 0.0
    torque = applied_torque(found, request, tightening.arguments(), listed)
    if torque is None:
        raise MissingInput(*NO_LOAD)
    return clamping_torque(torque=torque, prevailing=prevailing) if request.torque is not None else torque


def _say_torque(found: Answer, request: TorqueRequest, dataset: Dataset, torque: float, listed: Listed | None) -> float:
    """Put torque, band, wrench setting and sequence into the answer and check them; the wrench's tolerance."""
    wrench = torque_wrench.wrench_of(found, request, dataset, torque)
    setting = torque_wrench.setting_of(found, request, torque)
    found.rests_on(symmetric_band)
    ends = symmetric_band(nominal=torque, half_width=wrench.tolerance)
    found.result["torque"] = TORQUE(torque)
    found.result["torque_band"] = band(*(TORQUE(end) for end in ends))
    found.result["wrench_setting"] = TORQUE(setting)
    found.result["advice"] = _advice(found, request, dataset, listed)
    if listed is not None and listed.torque is not None:
        found.result["listed"] = listed.shown
    torque_wrench.check(found, request, wrench, setting)
    if listed is not None and listed.limit is not None:
        check_limit(found, torque=torque, limit=listed.limit)
    if listed is not None and listed.torque is not None and request.torque is not None:
        check_unit(found, torque=request.torque.si, listed=listed.torque)
    sequence = sequence_of(found, request, listed.entity if listed else None, torque)
    if sequence is not None:
        found.result["sequence"] = sequence
    return wrench.tolerance


def _say_preload(
    found: Answer, request: TorqueRequest, dataset: Dataset, tightening: Tightening, clamp: float, tolerance: float
) -> Band:
    """Put the preload, its bands and the nut factor into the answer; the band in N."""
    found.rests_on(preload_from_torque, nut_factor)
    nominal = preload_from_torque(torque=clamp, **tightening.arguments())
    method, scatter = scatter_of(found, dataset, request.method, lubricated=tightening.friction.lubricated)
    by_method = symmetric_band(nominal=nominal, half_width=scatter)
    found.result["preload_band_of_method"] = band(*(FORCE(end) for end in by_method))
    friction = tightening.friction
    by_friction = Band(nominal, nominal, nominal)
    if friction.low > 0:
        low, high = (
            preload_from_torque(torque=clamp, **tightening.arguments(value, value)) for value in (friction.high, friction.low)
        )
        by_friction = Band(low, nominal, high)
        found.result["preload_band_of_friction"] = band(*(FORCE(end) for end in by_friction))
    preload = by_method
    if method.startswith(("torque-wrench", "by-feel", "impact")):
        found.rests_on(preload_envelope)
        preload = preload_envelope(
            nominal=nominal,
            at_high_friction=by_friction.low,
            at_low_friction=by_friction.high,
            wrench=tolerance,
            scatter=scatter,
        )
    found.result["preload"] = band(*(FORCE(end) for end in preload))
    found.result["nut_factor"] = nut_factor(torque=clamp, preload=nominal, diameter=tightening.bolt.thread.diameter)
    found.result["stress_area"] = AREA(tightening.bolt.thread.stress_area)
    return preload


def _say_stress(found: Answer, request: TorqueRequest, tightening: Tightening, preload: Band, *, as_listed: bool) -> None:
    """Put stress, utilisation and the limit at 90 % of yield into the answer, and check the bolt."""
    strength = tightening.strength
    if strength is None:
        found.cannot_check(BOLT_OVER_YIELD.code, ["property_class"])
        return
    found.rests_on(bolt_stress, preload_from_utilisation)
    arguments = tightening.stress_arguments(strength)
    nominal, high = (bolt_stress(preload=force, **arguments) for force in (preload.nominal, preload.high))
    limit = preload_from_utilisation(utilisation=0.9, **arguments)
    found.result["utilisation"] = nominal.utilisation
    found.result["utilisation_high"] = high.utilisation
    found.result["equivalent_stress"] = STRESS(nominal.equivalent)
    found.result["limit"] = {
        "preload": FORCE(limit),
        "torque": TORQUE(tightening_torque(preload=limit, **tightening.arguments())),
    }
    if strength.proof_stress is not None:
        found.rests_on(load_from_stress)
        proof = load_from_stress(stress_area=tightening.bolt.thread.stress_area, stress=strength.proof_stress)
        found.result["proof_utilisation"] = preload.nominal / proof
    in_alloy = request.parent_material is not None and is_alloy(request.parent_material)
    check_yield(found, nominal=nominal.utilisation, high=high.utilisation, in_alloy=in_alloy, as_listed=as_listed)


def _as_listed(request: TorqueRequest, listed: Listed | None, torque: float) -> bool:
    """Whether everything that stretches the bolt is as the dataset lists it: torque in N·m, condition, class, thread."""
    if listed is None or listed.entity is None or listed.torque is None or abs(torque - listed.torque) > 1e-9 * listed.torque:
        return False
    own = (
        request.thread,
        request.head_diameter,
        request.hole_diameter,
        request.thread_friction,
        request.bearing_friction,
        request.listed_torque,
        request.listed_condition,
        request.prevailing_torque,
        request.method,
    )
    return (
        all(value is None for value in own)
        and listed.condition is not None
        and request.condition in (None, listed.condition)
        and request.property_class in (None, listed.property_class)
    )


def _advice(found: Answer, request: TorqueRequest, dataset: Dataset, listed: Listed | None) -> list[str]:
    """What the dataset says besides the numbers."""
    advice: list[str] = []
    if listed is not None and listed.entity is not None and listed.entity.has("advice"):
        advice.append(listed.entity.text("advice"))
        check_reuse(found, reused=bool(request.reused_nut), advice=advice[0])
        found.uses(listed.entity.fact("advice"))
    name = request.condition or (listed.condition if listed else None)
    condition = dataset.find("conditions", name) if name else None
    if condition is not None and condition.has("advice"):
        advice.append(condition.text("advice"))
        found.uses(condition.fact("advice"))
    return advice


TOPIC = Topic(
    name="torque",
    path="/v1/torque",
    title="Tightening torque",
    summary="The torque of a fastener from the book, or torque, preload and utilisation from thread, class and lubrication, "
    "with scatter, wrench setting and order of tightening.",
    request=TorqueRequest,
    result=TorqueResult,
    answer=answer,
    examples=(
        Example("What does the book say?", {"engine": "air-cooled-flat-four", "fastener": "rocker-shaft-nut"}),
        Example(
            "What preload does 25 N·m give oiled?",
            {"thread": "M8x1.25", "property_class": "8.8", "condition": "engine-oil", "torque": "25 N*m"},
        ),
        Example(
            "Which torque uses 70 % of the bolt?",
            {"thread": "3/8-24 UNF", "property_class": "grade-8", "condition": "moly-paste", "utilisation": 0.7},
        ),
        Example(
            "The book says dry 34, the thread is oiled",
            {
                "thread": "M10x1.5",
                "property_class": "8.8",
                "condition": "engine-oil",
                "listed_torque": "34 N*m",
                "listed_condition": "dry",
            },
        ),
        Example(
            "Head studs in a magnesium case, hot, with a crow-foot",
            {
                "engine": "air-cooled-flat-four",
                "fastener": "cylinder-head-nut",
                "engaged_length": "20 mm",
                "parent_material": "magnesium-az91d",
                "bolt_temperature": "120 degC",
                "parts": [
                    {"material": "grey-iron", "length": "130 mm", "temperature": "160 degC", "area": "400 mm2"},
                    {"material": "aluminium-356", "length": "30 mm", "temperature": "150 degC", "area": "400 mm2"},
                ],
                "adapter": {"length": "50 mm", "wrench_length": "300 mm"},
                "wrench": {"full_scale": "100 N*m", "months_since_check": 8},
            },
        ),
    ),
    cautions=("assembly",),
    stage="closing-up",
    in_sheet="list",
)
