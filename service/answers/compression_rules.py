"""What a good builder says about ratio, squish and spread, each rule beside the predicate that raises it."""

from collections.abc import Sequence

from service.answers.envelope import Answer, Rule
from service.answers.limits import above, below
from service.quantities import CLEARANCE, SMALL_VOLUME, text_of
from service.reference.dataset import Entity

MM = 1e-3
CM3 = 1e-6

RATIO_ABOVE_FUEL = Rule(
    code="ratio-above-fuel",
    severity="stop",
    stage="combination",
    rule="static ratio more than 0.3 above the guide ratio of the fuel for air-cooled heads",
    reason="Knock of the end gas breaks ring lands, and air-cooled heads run 50 to 80 K hotter than liquid-cooled ones.",
    remedy="Lower the ratio (chamber, spacer, dished piston) or use a fuel of higher octane number.",
    source="common-practice",
    evidence="common-practice",
)
RATIO_SPREAD = Rule(
    code="ratio-spread",
    severity="fix",
    stage="trial-assembly",
    rule="ratios of the cylinders differ by more than 0.25 (a note from 0.15)",
    reason="Cylinders of unequal ratio do unequal work; the highest knocks first and sets the timing of all.",
    remedy="Open the smaller chambers to match the largest, or swap barrels and pistons about.",
    source="common-practice",
    evidence="common-practice",
)
CHAMBER_SPREAD = Rule(
    code="chamber-spread",
    severity="fix",
    stage="trial-assembly",
    rule="chamber volumes differ by more than 1.0 cm³",
    reason="It makes unequal ratios, and the chamber is the cheapest place to correct them.",
    remedy="Take metal out of the smaller chambers until all agree, and measure again with the plug in.",
    source="common-practice",
    evidence="common-practice",
)
DECK_SPREAD = Rule(
    code="deck-spread",
    severity="fix",
    stage="trial-assembly",
    rule="deck clearances differ by more than 0.10 mm",
    reason="Barrel seats or case are not flat or parallel, and a head across two barrels will not seal evenly.",
    remedy="Clean and measure again; swap barrels; have the seats cut, or use spacers of different thickness.",
    source="common-practice",
    evidence="common-practice",
)
QUENCH_BELOW_MINIMUM = Rule(
    code="quench-below-minimum",
    severity="stop",
    stage="trial-assembly",
    rule="piston to head less than 0.90 mm cold, or less than 0.50 mm running",
    reason="Stretch of the rod, play, rocking and carbon use it up; then the piston strikes the head.",
    remedy="Add a spacer under the barrel or a thicker ring, then find the ratio again.",
    source="common-practice",
    evidence="common-practice",
)
QUENCH_WIDE_HIGH_RATIO = Rule(
    code="quench-wide-high-ratio",
    severity="caution",
    stage="trial-assembly",
    rule="squish clearance above 2.0 mm with a ratio above 8.5",
    reason="Without squish the charge is not stirred; it burns slowly and knocks.",
    remedy="Close the squish (deck, barrel) and open the chamber by as much volume: same ratio, quicker burn.",
    source="common-practice",
    evidence="common-practice",
)
PISTON_PROUD_UNSUPPORTED = Rule(
    code="piston-proud-unsupported",
    severity="stop",
    stage="trial-assembly",
    rule="piston above the barrel top, and ring, step and deck together leave less than 0.90 mm",
    reason="Nothing holds the head away from the crown: it is struck at every revolution.",
    remedy="Use a spacer under the barrel, or a ring or stepped head that leaves 0.90 mm above the crown.",
    source="common-practice",
    evidence="common-practice",
)
SPACER_STACK = Rule(
    code="spacer-stack",
    severity="caution",
    stage="trial-assembly",
    rule="more than one spacer under a barrel, or more than 2.5 mm of them",
    reason="Stacks leak and lose the spigot's support; push rods, tinware and manifold no longer fit.",
    remedy="Use one spacer of the right thickness; take the rest of the volume from the chamber or the piston.",
    source="common-practice",
    evidence="common-practice",
)
CAM_TOO_BIG_FOR_RATIO = Rule(
    code="cam-too-big-for-ratio",
    severity="note",
    stage="combination",
    rule="effective ratio at the advertised intake closing below 6.0",
    reason="The late closing pushes charge back out at low speed: a soft low end and hard starting.",
    remedy="Choose a shorter cam, advance it, or raise the ratio if the fuel allows.",
    source="common-practice",
    evidence="common-practice",
)
CAM_TOO_SMALL_FOR_RATIO = Rule(
    code="cam-too-small-for-ratio",
    severity="caution",
    stage="combination",
    rule="effective ratio at the advertised intake closing above 8.2 on fuel of 95 RON or less",
    reason="The early closing traps so much that the engine knocks at low speed under load.",
    remedy="Lower the ratio, choose a longer cam, or use a fuel of higher octane number.",
    source="common-practice",
    evidence="common-practice",
)

FUEL_MARGIN = 0.3
SPREAD_FIX, SPREAD_NOTE = 0.25, 0.15
CHAMBER_SPREAD_LIMIT, DECK_SPREAD_LIMIT = 1.0 * CM3, 0.10 * MM
LEAST_SQUISH, LEAST_RUNNING_SQUISH, WIDE_SQUISH = 0.90 * MM, 0.50 * MM, 2.0 * MM
WIDE_SQUISH_RATIO = 8.5
THICK_SPACER = 2.5 * MM
SMALL_EFFECTIVE, LARGE_EFFECTIVE, LARGE_EFFECTIVE_RON = 6.0, 8.2, 95.0


def check_ratio(found: Answer, *, ratio: float, fuel: Entity | None) -> None:
    """The ratio against the guide of the fuel."""
    if fuel is None:
        found.cannot_check(RATIO_ABOVE_FUEL.code, ["fuel"], "Which ratio is too much depends on the fuel.")
        return
    if not fuel.has("ratio_guide"):
        found.cannot_check(RATIO_ABOVE_FUEL.code, [], "This dataset gives no guide ratio for this fuel.")
        return
    guide = fuel.number("ratio_guide")
    found.uses(fuel.fact("ratio_guide"))
    if above(ratio, guide + FUEL_MARGIN):
        found.find(
            RATIO_ABOVE_FUEL,
            ("fuel", "chamber_volume", "deck_clearance"),
            f"{ratio:.2f}:1 is {ratio - guide:.1f} above the guide of {guide:.1f}:1 for {fuel.text('title')}.",
        )


def check_spread(
    found: Answer, *, ratios: Sequence[float], chambers: Sequence[float], decks: Sequence[float], uncertainty: float | None
) -> None:
    """Ratios, chambers and decks of the cylinders against each other."""
    spread = max(ratios) - min(ratios)
    if above(spread, SPREAD_NOTE):
        sure = "" if uncertainty is None else f" ± {uncertainty:.2f}"
        found.find(
            RATIO_SPREAD,
            ("per_cylinder",),
            f"The ratios run from {min(ratios):.2f} to {max(ratios):.2f}: {spread:.2f}{sure} apart; {SPREAD_FIX:g} is the "
            f"most, {SPREAD_NOTE:g} is good work.",
            severity="fix" if above(spread, SPREAD_FIX) else "note",
        )
    if above(max(chambers) - min(chambers), CHAMBER_SPREAD_LIMIT):
        apart = text_of(SMALL_VOLUME(max(chambers) - min(chambers)))
        found.find(
            CHAMBER_SPREAD,
            ("per_cylinder",),
            f"The chambers are {apart} apart; {text_of(SMALL_VOLUME(CHAMBER_SPREAD_LIMIT))} is the most.",
        )
    if above(max(decks) - min(decks), DECK_SPREAD_LIMIT):
        apart = text_of(CLEARANCE(max(decks) - min(decks)))
        found.find(
            DECK_SPREAD,
            ("per_cylinder",),
            f"The deck clearances are {apart} apart; {text_of(CLEARANCE(DECK_SPREAD_LIMIT))} is the most.",
        )


def check_squish(found: Answer, *, squish: float, height: float, ratio: float) -> None:
    """Cold squish; ``height`` is deck and spacer together, negative where the piston stands proud."""
    shown = text_of(CLEARANCE(squish))
    if height < 0 and below(squish, LEAST_SQUISH):
        found.find(
            PISTON_PROUD_UNSUPPORTED,
            ("deck_clearance", "gasket", "step_height"),
            f"The piston stands {text_of(CLEARANCE(-height))} proud and ring and step leave {shown} to the head.",
        )
    if below(squish, LEAST_SQUISH):
        found.find(
            QUENCH_BELOW_MINIMUM,
            ("deck_clearance",),
            f"{shown} from piston to head, cold; {text_of(CLEARANCE(LEAST_SQUISH))} is the least.",
        )
    elif above(squish, WIDE_SQUISH) and above(ratio, WIDE_SQUISH_RATIO):
        found.find(
            QUENCH_WIDE_HIGH_RATIO,
            ("deck_clearance",),
            f"{shown} of squish at {ratio:.2f}:1; {text_of(CLEARANCE(WIDE_SQUISH))} is the most above {WIDE_SQUISH_RATIO:g}:1.",
        )


def check_running_squish(found: Answer, *, squish: float) -> None:
    """Squish at speed."""
    if below(squish, LEAST_RUNNING_SQUISH):
        found.find(
            QUENCH_BELOW_MINIMUM,
            ("running", "deck_clearance"),
            f"{text_of(CLEARANCE(squish))} from piston to head at speed; "
            f"{text_of(CLEARANCE(LEAST_RUNNING_SQUISH))} is the least.",
        )


def check_spacer(found: Answer, *, thickness: float, pieces: int | None) -> None:
    """Spacers under the barrel."""
    if (pieces or 0) > 1 or above(thickness, THICK_SPACER):
        count = f" in {pieces} pieces" if pieces else ""
        fields = ("spacer_thickness", "spacer_pieces") if pieces else ("spacer_thickness",)
        found.find(
            SPACER_STACK,
            fields,
            f"{text_of(CLEARANCE(thickness))}{count} under the barrel; one of up to {text_of(CLEARANCE(THICK_SPACER))} "
            "is sound.",
        )
    elif thickness > 0 and pieces is None:
        found.cannot_check(SPACER_STACK.code, ["spacer_pieces"], "Whether it is one spacer or a stack was not said.")


def check_cam(found: Answer, *, effective: float, fuel: Entity | None) -> None:
    """Effective ratio at the advertised closing against what low speed and fuel ask for."""
    if below(effective, SMALL_EFFECTIVE):
        found.find(
            CAM_TOO_BIG_FOR_RATIO,
            ("intake_closing",),
            f"The cam leaves {effective:.2f}:1 at its advertised intake closing; {SMALL_EFFECTIVE:g}:1 is the least.",
        )
    if not above(effective, LARGE_EFFECTIVE):
        return
    if fuel is None or not fuel.has("ron"):
        found.cannot_check(CAM_TOO_SMALL_FOR_RATIO.code, [] if fuel else ["fuel"], "It depends on the fuel's RON.")
    elif fuel.number("ron") <= LARGE_EFFECTIVE_RON:
        found.uses(fuel.fact("ron"))
        found.find(
            CAM_TOO_SMALL_FOR_RATIO,
            ("intake_closing", "fuel"),
            f"The cam leaves {effective:.2f}:1 at its advertised intake closing, on {fuel.number('ron'):g} RON.",
        )
