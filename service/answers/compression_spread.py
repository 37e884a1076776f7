"""How sure the ratio is, and how far the cylinders of one engine lie apart."""

from typing import Any

from service.answers import compression_rules as rules
from service.answers.compression_geometry import Cylinder
from service.answers.compression_request import CompressionRequest
from service.answers.envelope import Answer
from service.calculations import compression_uncertainty as uncertainty
from service.calculations.compression import RatioSensitivities
from service.quantities import CLEARANCE, SMALL_VOLUME

TOOL_FOR = {
    "bore": "a better bore gauge",
    "stroke": "a better measurement of the stroke",
    "chamber_volume": "a burette of better class, with a flat plate and the plug in",
    "deck_clearance": "a depth micrometer on a bridge, both sides of the pin averaged",
    "spacer_thickness": "a micrometer on the spacers",
    "crown_volume": "a burette on the crown",
    "gasket_bore": "a caliper on the ring",
    "gasket_thickness": "a used, crushed ring to measure",
    "crevice_volume": "top-land diameter and height, measured",
}
OWN_TO_A_CYLINDER = ("chamber_volume", "deck_clearance", "crown_volume")


def standard_uncertainties(request: CompressionRequest, cylinder: Cylinder) -> tuple[dict[str, float], float]:
    """Standard uncertainty of each measurement given, and that of what all chambers have in common."""
    given = request.uncertainties
    if given is None:
        return {}, 0.0
    standard = {
        name: getattr(given, name).si / uncertainty.COVERAGE
        for name in RatioSensitivities._fields
        if getattr(given, name) is not None
    }
    if cylinder.gasket_bore is None:
        standard.pop("gasket_bore", None)
    common = 0.0 if given.chamber_volume_common is None else given.chamber_volume_common.si / uncertainty.COVERAGE
    return standard, common


def add_uncertainty(found: Answer, request: CompressionRequest, cylinder: Cylinder) -> None:
    """Uncertainty of the ratio by the law of propagation, and the tool that would lower it most."""
    standard, common = standard_uncertainties(request, cylinder)
    if not standard and not common:
        found.cannot_check("uncertainty-of-the-ratio", ["uncertainties"], "No uncertainty of a tool was given.")
        return
    if common:
        own = standard.get("chamber_volume", 0.0)
        standard["chamber_volume"] = (own * own + common * common) ** 0.5
    total = uncertainty.ratio_uncertainty(sensitivities=cylinder.sensitivities(), standard_uncertainties=standard)
    found.rests_on(uncertainty.ratio_uncertainty)
    worst = total.budget[0]
    found.result["uncertainty"] = {
        "compression_ratio": total.expanded,
        "coverage": 2,
        "budget": [
            {"measurement": line.quantity, "contribution": uncertainty.COVERAGE * line.contribution, "share": line.share}
            for line in total.budget
        ],
        "improve": worst.quantity,
        "advice": f"{worst.share:.0%} of the variance is the {worst.quantity.replace('_', ' ')}: "
        f"{TOOL_FOR[worst.quantity]} helps most.",
    }


def add_spread(found: Answer, request: CompressionRequest, cylinders: list[Cylinder]) -> float:
    """Each cylinder with the spread and its findings; answers the highest ratio."""
    volumes = [cylinder.clearance().total for cylinder in cylinders]
    ratios = [cylinder.ratio() for cylinder in cylinders]
    spread = uncertainty.ratio_spread(ratios=ratios)
    found.rests_on(uncertainty.ratio_spread)
    rows = [
        {
            "cylinder": number,
            "compression_ratio": ratio,
            "clearance_volume": SMALL_VOLUME(volume),
            "squish_clearance": CLEARANCE(cylinder.squish()),
            "open_chamber_by": SMALL_VOLUME(max(volumes) - volume),
        }
        for number, (cylinder, ratio, volume) in enumerate(zip(cylinders, ratios, volumes, strict=True), start=1)
    ]
    result: dict[str, Any] = {"cylinders": rows, **spread._asdict()}
    sure = _of_spread(found, request, cylinders[0])
    if sure is not None:
        result["spread_uncertainty"] = sure
    found.result["per_cylinder"] = result
    found.table = rows
    rules.check_spread(
        found,
        ratios=ratios,
        chambers=[cylinder.chamber_volume for cylinder in cylinders],
        decks=[cylinder.deck_clearance for cylinder in cylinders],
        uncertainty=sure,
    )
    return max(ratios)


def _of_spread(found: Answer, request: CompressionRequest, cylinder: Cylinder) -> float | None:
    """Expanded uncertainty of the spread: only what differs from one reading to the next counts."""
    standard, _ = standard_uncertainties(request, cylinder)
    own = {name: value for name, value in standard.items() if name in OWN_TO_A_CYLINDER}
    if not own:
        return None
    one = uncertainty.ratio_uncertainty(sensitivities=cylinder.sensitivities(), standard_uncertainties=own)
    found.rests_on(uncertainty.spread_uncertainty)
    return uncertainty.spread_uncertainty(repeatability=one.standard)
