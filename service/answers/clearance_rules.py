"""What can be wrong with a clearance: the rules of the clearance topic with the predicates that raise them."""

from service.answers.envelope import Answer, Rule
from service.answers.limits import above, below
from service.calculations.clearance import Decision
from service.quantities import FINE_CLEARANCE, TEMPERATURE_DIFFERENCE, text_of

CLEARANCE_OUT = Rule(
    code="clearance-out",
    severity="fix",
    stage="measuring",
    rule="a measured clearance is proved to be outside its limits",
    reason="Too tight seizes or butts when hot; too wide hammers, leaks or loses oil pressure.",
    remedy="Measure once more, then change the part that decides it.",
    source="iso-14253-1-2017",
    evidence="standard",
)
CLEARANCE_UNDECIDED = Rule(
    code="clearance-undecided",
    severity="ask",
    stage="measuring",
    rule="a measured clearance lies so near a limit that the uncertainty allows neither accept nor reject",
    reason="The uncertainty counts against whoever must prove something.",
    remedy="Measure again with a better gauge, several times, with part and gauge at one temperature.",
    source="iso-14253-1-2017",
    evidence="standard",
)
GAUGE_NOT_CAPABLE = Rule(
    code="gauge-not-capable",
    severity="ask",
    stage="measuring",
    rule="measurement uncertainty U above half of the tolerance width",
    reason="No reading could prove that the part is good, however well it lies.",
    remedy="Use a better gauge.",
    source="iso-14253-1-2017",
    evidence="derived",
)
END_PLAY_OUT = Rule(
    code="end-play-out",
    severity="stop",
    stage="trial-assembly",
    rule="crankshaft end play outside its limits, with the uncertainty taken off",
    reason="Too tight seizes when hot, too wide hammers the thrust face.",
    remedy="Choose other shims and measure again with the gland nut at full torque; see shims.",
    source="common-practice",
    evidence="common-practice",
)
MAIN_CLEARANCE_HOT = Rule(
    code="main-clearance-hot",
    severity="caution",
    stage="measuring",
    rule="main bearing clearance at running temperature above 0.12 mm in a magnesium case",
    reason="The case grows about 0.9 µm per millimetre of diameter and 60 K more than the journal: idle pressure is lost.",
    remedy="Fit bearings at the tight end of the cold range, and plan on oil that is thick enough hot.",
    source="derived",
    evidence="common-practice",
)
ROD_SIDE_SMALL = Rule(
    code="rod-side-small",
    severity="stop",
    stage="measuring",
    rule="side clearance of a connecting rod below 0.10 mm",
    reason="Oil cannot leave the bearing; the cheeks scuff.",
    remedy="Find what binds: wrong rod, burr, cap on the wrong way round; dress the cheek only as the maker allows.",
    source="common-practice",
    evidence="common-practice",
)
RING_GAP_SMALL = Rule(
    code="ring-gap-small",
    severity="stop",
    stage="measuring",
    rule="ring gap below the thermal minimum or below 0.0035 of the bore",
    reason="The ends butt when hot and the ring breaks its land.",
    remedy="File the ring to its gap in its own barrel, square, from the outside inwards; too wide costs little.",
    source="common-practice",
    evidence="common-practice",
)
PISTON_FIT_TIGHT = Rule(
    code="piston-fit-tight",
    severity="stop",
    stage="measuring",
    rule="piston clearance below the minimum of the piston's maker",
    reason="The maker's figure rules: skirt profile and struts are in no formula.",
    remedy="Hone the barrel or change the piston; measure at the maker's height on the skirt.",
    source="common-practice",
    evidence="common-practice",
)
TEMPERATURES_DIFFER = Rule(
    code="temperatures-differ",
    severity="ask",
    stage="measuring",
    rule="part and gauge differ by more than 3 K when measured",
    reason="A warm part reads long on a cold gauge; 55 mm of steel gain 6 µm in 10 K.",
    remedy="Let part and gauge lie side by side for some hours and measure again.",
    source="iso-1-2022",
    evidence="common-practice",
)

LEAST_ROD_SIDE = 0.10e-3
MOST_MAIN_HOT = 0.12e-3
LEAST_RING_SHARE = 0.0035


def check_decision(
    found: Answer, *, decision: Decision, measured: float, low: float | None, high: float | None, fit: str
) -> None:
    """Raise what the decision means: out, not decided, or a gauge that can prove nothing."""
    limits = " to ".join(text_of(FINE_CLEARANCE(limit)) for limit in (low, high) if limit is not None)
    if low is None or high is None:
        limits = f"{'at most' if low is None else 'at least'} {limits}"
    reading = text_of(FINE_CLEARANCE(measured))
    fields = ("measured", "low", "high")
    sure = f"it conforms with a probability {chance(decision.conformance_probability)}"
    end_play = fit == "crank-end-play"
    if decision.verdict == "reject":
        found.find(END_PLAY_OUT if end_play else CLEARANCE_OUT, fields, f"{reading} is out, {limits} is allowed; {sure}.")
    elif decision.verdict == "undecided":
        found.find(CLEARANCE_UNDECIDED, fields, f"{reading} was read, but {limits} is not proved; {sure}.")
        outside = any(margin is not None and margin < 0 for margin in (decision.margin_low, decision.margin_high))
        if end_play and outside:
            found.find(END_PLAY_OUT, fields, f"{reading} was read, {limits} is allowed; {sure}.")
    if not decision.gauge_capable:
        found.find(GAUGE_NOT_CAPABLE, ("uncertainty",), f"With this uncertainty no reading proves {limits}.")


def chance(probability: float) -> str:
    """A probability in whole percent; near 0 and 1 it is never called certain."""
    percent = 100 * probability
    if percent < 1:
        return "below 1 %"
    return "above 99 %" if percent > 99 else f"of {percent:.0f} %"


def check_rod_side(found: Answer, *, clearance: float) -> None:
    """Whether the side clearance of a rod in m lets the oil out."""
    if below(clearance, LEAST_ROD_SIDE):
        message = f"{text_of(FINE_CLEARANCE(clearance))} is below {text_of(FINE_CLEARANCE(LEAST_ROD_SIDE))}."
        found.find(ROD_SIDE_SMALL, ("measured",), message)


def check_main_hot(found: Answer, *, hot: float) -> None:
    """Whether the main clearance in m stays small enough when hot."""
    if above(hot, MOST_MAIN_HOT):
        message = f"It grows to {text_of(FINE_CLEARANCE(hot))} when hot; {text_of(FINE_CLEARANCE(MOST_MAIN_HOT))} is the most."
        found.find(MAIN_CLEARANCE_HOT, ("measured", "diameter"), message)


def check_ring_gap(found: Answer, *, gap: float, minimum: float, bore: float) -> None:
    """Whether a ring gap in m stays open when hot."""
    least = max(minimum, LEAST_RING_SHARE * bore)
    if below(gap, least):
        message = f"{text_of(FINE_CLEARANCE(gap))} is below the {text_of(FINE_CLEARANCE(least))} that this ring needs."
        found.find(RING_GAP_SMALL, ("measured", "bore"), message)


def check_piston(found: Answer, *, clearance: float, minimum: float) -> None:
    """Whether a piston clearance in m reaches the maker's minimum."""
    if below(clearance, minimum):
        message = f"{text_of(FINE_CLEARANCE(clearance))} is below the maker's {text_of(FINE_CLEARANCE(minimum))}."
        found.find(PISTON_FIT_TIGHT, ("measured", "maker_minimum"), message)


def check_temperatures(found: Answer, *, difference: float) -> None:
    """Whether part and gauge were as warm as each other, within 3 K."""
    if above(abs(difference), 3.0):
        message = f"Part and gauge differ by {text_of(TEMPERATURE_DIFFERENCE(abs(difference)))}; 3 K is the most."
        found.find(TEMPERATURES_DIFFER, ("part_temperature", "gauge_temperature"), message)
