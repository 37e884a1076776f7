"""Clearance volume with its contributions kept apart, compression ratio, and the levers on it."""

from typing import NamedTuple

from service.calculations.displacement import piston_area
from service.errors import Contradiction, OutsideValidity
from service.methods import Example, method
from service.units import Area, Length, Ratio, Volume

CUBIC_CENTIMETRE = 1e-6


class ClearanceVolume(NamedTuple):
    """What is left above the piston at top dead centre, contribution by contribution, in m³."""

    chamber: Volume
    deck: Volume
    spacer: Volume
    crown: Volume
    gasket: Volume
    crevice: Volume
    total: Volume


class RatioSensitivities(NamedTuple):
    """Change of the compression ratio per unit of each measurement, in 1/m³ and 1/m."""

    bore: float
    stroke: float
    chamber_volume: float
    deck_clearance: float
    spacer_thickness: float
    crown_volume: float
    gasket_bore: float
    gasket_thickness: float
    crevice_volume: float


@method(
    id="crevice-volume",
    title="Crevice above the top ring",
    formula="V = π/4 · (B² − D²) · h",
    symbols={"V": "crevice volume [m³]", "B": "bore [m]", "D": "top-land diameter [m]", "h": "top-land height [m]"},
    source="geometry",
    locator="volume of a ring",
    evidence="standard",
    example=Example(
        {"bore": 0.086, "top_land_diameter": 0.0855, "top_land_height": 0.007},
        0.4714e-6,
        by="by hand: π/4·(8.60² − 8.55²)·0.7 cm",
        rel_tol=2e-4,
    ),
)
def top_land_crevice(*, bore: Length, top_land_diameter: Length, top_land_height: Length) -> Volume:
    """Volume in m³ between the top land and the barrel, down to the top ring.

    Raises:
        Contradiction: the top land is wider than the bore.
    """
    refuse_wide_land(bore=bore, top_land_diameter=top_land_diameter)
    return (piston_area(bore=bore) - piston_area(bore=top_land_diameter)) * top_land_height


def refuse_wide_land(*, bore: Length, top_land_diameter: Length) -> None:
    """Refuse a top land that does not enter the bore; both diameters in m.

    Raises:
        Contradiction: the top land is wider than the bore.
    """
    if top_land_diameter > bore:
        raise Contradiction(
            ("top_land_diameter", "bore"),
            "The top land is wider than the bore. Send the diameter of the piston above the top ring; it is smaller.",
        )


def deck_area(*, height: Length, bore: Length, top_land_diameter: Length | None) -> Area:
    """Area in m² that a deck height acts on: the bore below the barrel top, the top land above it.

    Raises:
        Contradiction: the top land is wider than the bore.
    """
    if height < 0 and top_land_diameter is not None:
        refuse_wide_land(bore=bore, top_land_diameter=top_land_diameter)
        return piston_area(bore=top_land_diameter)
    return piston_area(bore=bore)


@method(
    id="clearance-volume",
    title="Clearance volume from its contributions",
    formula="V_c = V_ch + A · (h + t_s) + π/4 · B_g² · t_g + V_crown + V_crevice",
    symbols={
        "V_c": "clearance volume [m³]",
        "V_ch": "chamber volume to the sealing face, with the plug in [m³]",
        "A": "area of the bore; of the top land where the piston stands proud [m²]",
        "h": "deck clearance, + piston below the barrel top, − above [m]",
        "t_s": "spacer under the barrel [m]",
        "B_g": "bore of the ring between barrel and head [m]",
        "t_g": "its compressed thickness [m]",
        "V_crown": "crown volume, + dish, − dome [m³]",
        "V_crevice": "crevice above the top ring [m³]",
    },
    source="geometry",
    locator="sum of the volumes above the piston at top dead centre",
    evidence="standard",
    example=Example(
        {"bore": 0.086, "chamber_volume": 52e-6, "deck_clearance": 1.2e-3, "crevice_volume": 0.5e-6},
        {"deck": 6.9706e-6, "total": 59.4706e-6},
        by="by hand: 52 + π/4·8.6²·0.12 + 0.5 cm³",
    ),
)
def clearance_volume(
    *,
    bore: Length,
    chamber_volume: Volume,
    deck_clearance: Length,
    crown_volume: Volume = 0.0,
    gasket_bore: Length | None = None,
    gasket_thickness: Length = 0.0,
    spacer_thickness: Length = 0.0,
    crevice_volume: Volume = 0.0,
    top_land_diameter: Length | None = None,
) -> ClearanceVolume:
    """Volume in m³ above the piston at top dead centre.

    Three areas act here: the bore (deck, spacer), the ring's own bore (``gasket_bore``, by default that of the barrel)
    and, where the piston stands proud, its top land (``top_land_diameter``, by default the bore).

    Raises:
        Contradiction: nothing is left above the piston, or the top land is wider than the bore.
    """
    parts = contributions(
        bore=bore,
        chamber_volume=chamber_volume,
        deck_clearance=deck_clearance,
        crown_volume=crown_volume,
        gasket_bore=gasket_bore,
        gasket_thickness=gasket_thickness,
        spacer_thickness=spacer_thickness,
        crevice_volume=crevice_volume,
        top_land_diameter=top_land_diameter,
    )
    if parts.total <= 0:
        raise Contradiction(
            ("chamber_volume", "deck_clearance", "crown_volume"),
            f"These parts leave no room above the piston ({parts.total / CUBIC_CENTIMETRE:.1f} cm³). Check the signs: deck "
            "clearance is positive with the piston below the barrel top, crown volume positive for a dish.",
        )
    return parts


def contributions(
    *,
    bore: Length,
    chamber_volume: Volume,
    deck_clearance: Length,
    crown_volume: Volume = 0.0,
    gasket_bore: Length | None = None,
    gasket_thickness: Length = 0.0,
    spacer_thickness: Length = 0.0,
    crevice_volume: Volume = 0.0,
    top_land_diameter: Length | None = None,
) -> ClearanceVolume:
    """The contributions without the judgement whether they leave room; with one of them zero, what the others take."""
    height = deck_clearance + spacer_thickness
    deck = deck_clearance * deck_area(height=deck_clearance, bore=bore, top_land_diameter=top_land_diameter)
    spacer = height * deck_area(height=height, bore=bore, top_land_diameter=top_land_diameter) - deck
    gasket = piston_area(bore=bore if gasket_bore is None else gasket_bore) * gasket_thickness
    total = chamber_volume + deck + spacer + crown_volume + gasket + crevice_volume
    return ClearanceVolume(chamber_volume, deck, spacer, crown_volume, gasket, crevice_volume, total)


@method(
    id="compression-ratio",
    title="Compression ratio",
    formula="r = (V_s + V_c) / V_c",
    symbols={"r": "compression ratio", "V_s": "swept volume [m³]", "V_c": "clearance volume [m³]"},
    source="geometry",
    locator="definition of the ratio of the largest to the smallest volume",
    evidence="standard",
    example=Example(
        {"swept_volume": 502.65e-6, "clearance_volume": 65e-6},
        8.733,
        by="H N Gupta, Fundamentals of Internal Combustion Engines, example 16.6: 80 × 100 mm over 65 cm³",
    ),
)
def compression_ratio(*, swept_volume: Volume, clearance_volume: Volume) -> Ratio:
    """Geometric (static) compression ratio of a cylinder.

    Raises:
        OutsideValidity: there is no clearance volume, or no swept volume.
    """
    if clearance_volume <= 0:
        raise OutsideValidity("clearance_volume", "The clearance volume must be above zero.", "> 0")
    if swept_volume <= 0:
        raise OutsideValidity("swept_volume", "The swept volume must be above zero.", "> 0")
    return 1 + swept_volume / clearance_volume


@method(
    id="ratio-sensitivities",
    title="Change of the compression ratio with each measurement",
    formula="∂r/∂V_c = −V_s/V_c²; ∂r/∂h = −V_s·A/V_c²; ∂r/∂S = A/V_c; ∂r/∂B = (π·B/2)·(S/V_c − V_s·h/V_c²)",
    symbols={
        "r": "compression ratio",
        "V_s": "swept volume [m³]",
        "V_c": "clearance volume [m³]",
        "A": "area of the bore [m²]",
        "B": "bore [m]",
        "S": "stroke [m]",
        "h": "deck clearance with the spacer [m]",
    },
    source="geometry",
    locator="derivatives of the compression ratio",
    evidence="derived",
    example=Example(
        {"bore": 0.0975, "stroke": 0.074, "clearance_volume": 84.999e-6, "height": 1.2e-3},
        {"deck_clearance": -571.0, "chamber_volume": -76473.0},
        by="97.5 × 74 mm at 7.5:1 loses 0.0571 per 0.1 mm of deck (central difference of the ratio)",
        rel_tol=1e-3,
    ),
)
def ratio_sensitivities(
    *,
    bore: Length,
    stroke: Length,
    clearance_volume: Volume,
    height: Length,
    gasket_bore: Length | None = None,
    gasket_thickness: Length = 0.0,
    top_land_diameter: Length | None = None,
) -> RatioSensitivities:
    """First derivatives of the ratio; ``height`` is deck clearance and spacer together.

    A ring whose own bore is not given follows the bore of the barrel.
    """
    area = piston_area(bore=bore)
    per_volume = -area * stroke / (clearance_volume * clearance_volume)
    per_height = per_volume * deck_area(height=height, bore=bore, top_land_diameter=top_land_diameter)
    area_per_bore = 2 * area / bore  # dA/dB
    follows_bore = 0.0 if height < 0 and top_land_diameter is not None else height
    if gasket_bore is None:
        follows_bore += gasket_thickness
    ring = bore if gasket_bore is None else gasket_bore
    ring_area = piston_area(bore=ring)
    return RatioSensitivities(
        bore=area_per_bore * (stroke / clearance_volume + per_volume * follows_bore),
        stroke=area / clearance_volume,
        chamber_volume=per_volume,
        deck_clearance=per_height,
        spacer_thickness=per_height,
        crown_volume=per_volume,
        gasket_bore=0.0 if gasket_bore is None else per_volume * 2 * ring_area / ring * gasket_thickness,
        gasket_thickness=per_volume * ring_area,
        crevice_volume=per_volume,
    )


@method(
    id="air-standard-efficiency",
    title="Ideal efficiency of the constant-volume cycle",
    formula="η = 1 − r^(1 − γ)",
    symbols={"η": "ideal efficiency", "r": "compression ratio", "γ": "ratio of specific heats"},
    source="heywood-1988",
    locator="ch. 5, constant-volume ideal gas cycle",
    evidence="textbook",
    valid="a comparison of ratios, not the efficiency of an engine: about half of it reaches the crankshaft",
    example=Example(
        {"compression_ratio": 6.0, "specific_heat_ratio": 1.4},
        0.5117,
        by="H N Gupta, Fundamentals of Internal Combustion Engines, example 2.1",
        rel_tol=2e-4,
    ),
)
def air_standard_efficiency(*, compression_ratio: Ratio, specific_heat_ratio: Ratio = 1.4) -> Ratio:
    """Ideal efficiency of the Otto cycle, to compare two ratios.

    Raises:
        OutsideValidity: the ratio is not above 1.
    """
    if compression_ratio <= 1:
        raise OutsideValidity("compression_ratio", "A compression ratio is above 1.", "> 1")
    return float(1 - compression_ratio ** (1 - specific_heat_ratio))
