"""What a part must measure for a wanted compression ratio, in closed form, one function for each unknown."""

from service.calculations.compression import CUBIC_CENTIMETRE, deck_area
from service.calculations.displacement import piston_area
from service.errors import OutsideValidity
from service.methods import Example, method
from service.units import Length, Ratio, Volume

MILLIMETRE = 1e-3
# Rounding of a part that is already right may not read as "a negative spacer".
SMALLEST_VOLUME = 1e-12


@method(
    id="clearance-for-ratio",
    title="Clearance volume that gives a compression ratio",
    formula="V_c = V_s / (r − 1)",
    symbols={"V_c": "clearance volume [m³]", "V_s": "swept volume [m³]", "r": "compression ratio"},
    source="geometry",
    locator="definition of the compression ratio, solved for the clearance volume",
    evidence="standard",
    example=Example(
        {"swept_volume": 272.376e-6, "target_ratio": 8.0},
        38.91e-6,
        by="Mathur & Sharma, Internal Combustion Engine, example 1.1: 68 × 75 mm at 8:1",
        rel_tol=3e-4,
    ),
)
def clearance_for_ratio(*, swept_volume: Volume, target_ratio: Ratio) -> Volume:
    """Clearance volume in m³ that a ratio needs.

    Raises:
        OutsideValidity: the ratio is 1 or less.
    """
    if target_ratio <= 1:
        raise OutsideValidity(
            "target_ratio",
            "A compression ratio is (swept + clearance) / clearance and therefore always above 1. Send 7.5 for 7.5:1.",
            "> 1",
        )
    return swept_volume / (target_ratio - 1)


@method(
    id="chamber-for-ratio",
    title="Chamber volume that gives a compression ratio",
    formula="V_ch = V_s / (r − 1) − V_other",
    symbols={
        "V_ch": "chamber volume [m³]",
        "V_s": "swept volume [m³]",
        "r": "compression ratio",
        "V_other": "all other contributions to the clearance volume [m³]",
    },
    source="geometry",
    locator="clearance volume solved for the chamber",
    evidence="standard",
    example=Example(
        {"swept_volume": 552.49e-6, "target_ratio": 7.5, "other_volume": 8.9593e-6},
        76.04e-6,
        by="97.5 × 74 mm with 1.2 mm of deck at 7.5:1, by hand: 552.49/6.5 − 74.66·0.12 cm³",
    ),
)
def chamber_volume_for_ratio(*, swept_volume: Volume, target_ratio: Ratio, other_volume: Volume) -> Volume:
    """Chamber volume in m³; ``other_volume`` is the clearance volume without the chamber.

    Raises:
        OutsideValidity: the ratio is 1 or less, or the other volumes alone are too many.
    """
    wanted = clearance_for_ratio(swept_volume=swept_volume, target_ratio=target_ratio)
    if wanted <= other_volume:
        raise OutsideValidity(
            "target_ratio",
            f"No chamber gives this ratio: it leaves {wanted / CUBIC_CENTIMETRE:.1f} cm³ in all, and deck, crown, ring "
            f"and crevice already take {other_volume / CUBIC_CENTIMETRE:.1f} cm³. Reduce the deck clearance or the "
            "dish, or ask for a lower ratio.",
            f"< {1 + swept_volume / other_volume:.2f} with these parts",
        )
    return wanted - other_volume


@method(
    id="crown-for-ratio",
    title="Crown volume that gives a compression ratio",
    formula="V_crown = V_s / (r − 1) − V_other",
    symbols={
        "V_crown": "crown volume, + dish, − dome [m³]",
        "V_s": "swept volume [m³]",
        "r": "compression ratio",
        "V_other": "all other contributions to the clearance volume [m³]",
    },
    source="geometry",
    locator="clearance volume solved for the crown",
    evidence="standard",
    example=Example(
        {"swept_volume": 424.04e-6, "target_ratio": 7.6, "other_volume": 59.47e-6},
        4.78e-6,
        by="by hand: 424.04/6.6 − 59.47 = 64.25 − 59.47 cm³",
        rel_tol=2e-3,
    ),
)
def crown_volume_for_ratio(*, swept_volume: Volume, target_ratio: Ratio, other_volume: Volume) -> Volume:
    """Crown volume in m³ (+ dish, − dome); ``other_volume`` is the clearance volume with a flat crown.

    Raises:
        OutsideValidity: the ratio is 1 or less.
    """
    return clearance_for_ratio(swept_volume=swept_volume, target_ratio=target_ratio) - other_volume


@method(
    id="deck-for-ratio",
    title="Deck clearance that gives a compression ratio",
    formula="h = (V_s / (r − 1) − V_other) / A − t_s",
    symbols={
        "h": "deck clearance, + piston below the barrel top, − above [m]",
        "V_s": "swept volume [m³]",
        "r": "compression ratio",
        "V_other": "clearance volume without deck and spacer [m³]",
        "A": "area of the bore; of the top land where the piston stands proud [m²]",
        "t_s": "spacer under the barrel [m]",
    },
    source="geometry",
    locator="clearance volume solved for the deck clearance",
    evidence="standard",
    example=Example(
        {"bore": 0.086, "swept_volume": 424.04e-6, "target_ratio": 7.6, "other_volume": 52.5e-6},
        2.0227e-3,
        by="by hand: (424.04/6.6 − 52.5) cm³ over 58.09 cm²",
        rel_tol=3e-4,
    ),
)
def deck_clearance_for_ratio(
    *,
    bore: Length,
    swept_volume: Volume,
    target_ratio: Ratio,
    other_volume: Volume,
    spacer_thickness: Length = 0.0,
    top_land_diameter: Length | None = None,
) -> Length:
    """Deck clearance in m; ``other_volume`` is the clearance volume without deck and spacer.

    A negative answer is a piston that stands proud of the barrel: whether it may is a question to the squish clearance.

    Raises:
        OutsideValidity: the ratio is 1 or less.
        Contradiction: the top land is wider than the bore.
    """
    room = clearance_for_ratio(swept_volume=swept_volume, target_ratio=target_ratio) - other_volume
    return room / deck_area(height=room, bore=bore, top_land_diameter=top_land_diameter) - spacer_thickness


@method(
    id="spacer-for-ratio",
    title="Spacer under the barrel that gives a compression ratio",
    formula="t_s = (V_s / (r − 1) − V_other) / A − h",
    symbols={
        "t_s": "spacer under the barrel [m]",
        "V_s": "swept volume [m³]",
        "r": "compression ratio",
        "V_other": "clearance volume without deck and spacer [m³]",
        "A": "area of the bore [m²]",
        "h": "deck clearance without the spacer [m]",
    },
    source="geometry",
    locator="clearance volume solved for the spacer",
    evidence="standard",
    example=Example(
        {
            "bore": 0.086,
            "swept_volume": 424.04e-6,
            "target_ratio": 7.6,
            "other_volume": 52.5e-6,
            "deck_clearance": 1.2e-3,
        },
        0.8227e-3,
        by="by hand: (424.04/6.6 − 52.5) cm³ over 58.09 cm², less 1.2 mm",
        rel_tol=6e-4,
    ),
)
def spacer_thickness_for_ratio(
    *,
    bore: Length,
    swept_volume: Volume,
    target_ratio: Ratio,
    other_volume: Volume,
    deck_clearance: Length,
    top_land_diameter: Length | None = None,
) -> Length:
    """Thickness in m of all spacers under the barrel; ``other_volume`` is without deck and spacer.

    Raises:
        OutsideValidity: the ratio is 1 or less, or higher than without any spacer.
        Contradiction: the top land is wider than the bore.
    """
    room = clearance_for_ratio(swept_volume=swept_volume, target_ratio=target_ratio) - other_volume
    height = room / deck_area(height=room, bore=bore, top_land_diameter=top_land_diameter)
    there = deck_clearance * deck_area(height=deck_clearance, bore=bore, top_land_diameter=top_land_diameter)
    if there - room > SMALLEST_VOLUME:
        raise OutsideValidity(
            "target_ratio",
            f"A spacer cannot raise the ratio: take {(there - room) / CUBIC_CENTIMETRE:.2f} cm³ out of the chamber or "
            f"{(deck_clearance - height) / MILLIMETRE:.2f} mm off the barrel.",
            "not above the ratio without a spacer",
        )
    return max(height - deck_clearance, 0.0)


@method(
    id="gasket-for-ratio",
    title="Ring between barrel and head that gives a compression ratio",
    formula="t_g = (V_s / (r − 1) − V_other) / (π/4 · B_g²)",
    symbols={
        "t_g": "compressed thickness of the ring [m]",
        "V_s": "swept volume [m³]",
        "r": "compression ratio",
        "V_other": "clearance volume without the ring [m³]",
        "B_g": "bore of the ring [m]",
    },
    source="geometry",
    locator="clearance volume solved for the ring",
    evidence="standard",
    example=Example(
        {"gasket_bore": 0.088, "swept_volume": 424.04e-6, "target_ratio": 7.6, "other_volume": 59.47e-6},
        0.7856e-3,
        by="by hand: (424.04/6.6 − 59.47) cm³ over π/4·8.8² cm²",
        rel_tol=2e-3,
    ),
)
def gasket_thickness_for_ratio(
    *, gasket_bore: Length, swept_volume: Volume, target_ratio: Ratio, other_volume: Volume
) -> Length:
    """Compressed thickness in m of the ring; ``other_volume`` is the clearance volume without it.

    Raises:
        OutsideValidity: the ratio is 1 or less, or higher than without any ring.
    """
    missing = clearance_for_ratio(swept_volume=swept_volume, target_ratio=target_ratio) - other_volume
    if missing < -SMALLEST_VOLUME:
        raise OutsideValidity(
            "target_ratio",
            f"A ring between barrel and head cannot raise the ratio: leave it out and take "
            f"{-missing / CUBIC_CENTIMETRE:.2f} cm³ out of the chamber.",
            "not above the ratio without a ring",
        )
    return max(missing, 0.0) / piston_area(bore=gasket_bore)
