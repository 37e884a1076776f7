"""What a builder says to a valve spring: bind, retainer, float and surge."""

from math import pi

from service.answers.envelope import Answer, Rule, Severity
from service.answers.limits import below
from service.quantities import CLEARANCE, FREQUENCY, SPEED, text_of

LEAST_BIND, SOUND_BIND = 0.0010, 0.0015
LEAST_RETAINER_GAP = 0.0010
FLOAT_FACTOR = 1.15
LEAST_SURGE_RATIO = 8.0

COIL_BIND = Rule(
    code="coil-bind",
    severity="stop",
    stage="valve-train",
    rule="less than 1.0 mm left before the coils touch at full lift (caution below 1.5 mm)",
    reason="A spring that goes solid destroys cam, push rod or stud at once; a higher rocker ratio raises the lift.",
    remedy="Shim less, cut the spring seat deeper, or fit a spring with a shorter solid length.",
    source="common-practice",
    evidence="common-practice",
)
RETAINER_TO_GUIDE = Rule(
    code="retainer-to-guide",
    severity="stop",
    stage="valve-train",
    rule="less than 1.0 mm between retainer and guide or seal at full lift",
    reason="A retainer that strikes the guide destroys cam, push rod or locks at once.",
    remedy="Shorten the guide, or fit a retainer that sits higher.",
    source="common-practice",
    evidence="common-practice",
)
FLOAT_MARGIN = Rule(
    code="float-margin",
    severity="fix",
    stage="valve-train",
    rule="computed float speed below 1.15 times the rev limit",
    reason="The model has no surge and no bending of stem and rocker, so it is optimistic.",
    remedy="Fit a stiffer spring or lighter parts, or lower the rev limit.",
    source="common-practice",
    evidence="common-practice",
)
SPRING_SURGE = Rule(
    code="spring-surge",
    severity="note",
    stage="valve-train",
    rule="surge frequency of the spring below 8 times the cam's frequency at the rev limit",
    reason="The low harmonics of the cam then excite the coils, and the load at the valve falls now and then.",
    remedy="Fit a lighter spring of the same rate, or one with a damper or an interference inner spring.",
    source="common-practice",
    evidence="common-practice",
)
SPRING_RATE_DISAGREES = Rule(
    code="spring-rate-disagrees",
    severity="ask",
    stage="valve-train",
    rule="the stated rate is more than 5 % off what the two loads give",
    reason="One of loads, lengths or rate is misread or in another unit.",
    remedy="Measure both loads again at their lengths; leave the rate out if they are right.",
    source="derived",
    evidence="derived",
)


def check_coil_bind(found: Answer, *, margin: float) -> None:
    """Room to coil bind at full lift."""
    if not below(margin, SOUND_BIND):
        return
    severity: Severity = "stop" if below(margin, LEAST_BIND) else "caution"
    found.find(
        COIL_BIND,
        ("installed_length", "solid_length", "valve_lift"),
        f"{text_of(CLEARANCE(margin))} left at full lift; {text_of(CLEARANCE(LEAST_BIND))} is the least, "
        f"{text_of(CLEARANCE(SOUND_BIND))} is sound.",
        severity,
    )


def check_retainer(found: Answer, *, gap: float) -> None:
    """Retainer to guide at full lift."""
    if below(gap, LEAST_RETAINER_GAP):
        found.find(
            RETAINER_TO_GUIDE,
            ("retainer_gap", "valve_lift"),
            f"{text_of(CLEARANCE(gap))} left at full lift; {text_of(CLEARANCE(LEAST_RETAINER_GAP))} is the least.",
        )


def check_float(found: Answer, *, float_speed: float, rev_limit: float | None) -> None:
    """Float speed against the rev limit."""
    if rev_limit is None:
        found.cannot_check(FLOAT_MARGIN.code, ["rev_limit"])
    elif below(float_speed, FLOAT_FACTOR * rev_limit):
        found.find(
            FLOAT_MARGIN,
            ("rev_limit", "seat_load", "valve_mass"),
            f"The valves float at {text_of(SPEED(float_speed))}, {float_speed / rev_limit:.2f} times the rev limit of "
            f"{text_of(SPEED(rev_limit))}; {FLOAT_FACTOR} times is the least.",
        )


def check_surge(found: Answer, *, frequency: float, rev_limit: float) -> float:
    """Surge frequency over the cam's at the rev limit."""
    ratio = frequency / (rev_limit / (4 * pi))
    if below(ratio, LEAST_SURGE_RATIO):
        found.find(
            SPRING_SURGE,
            ("spring_mass", "rev_limit"),
            f"The spring surges at {text_of(FREQUENCY(frequency))}, {ratio:.1f} times the cam at "
            f"{text_of(SPEED(rev_limit))}; {LEAST_SURGE_RATIO:g} times keeps clear of the strong harmonics.",
        )
    return ratio
