"""Compression: ratio, clearance volume and squish of one cylinder or of all, and what a part must be for a ratio."""

from typing import Any

from service.answers import compression_rules as rules
from service.answers.compression_geometry import (
    KIND_OF,
    METHOD_OF,
    Cylinder,
    cylinder_of,
    each_cylinder,
    measured,
    solved,
    with_part,
)
from service.answers.compression_request import CompressionRequest, Unknown
from service.answers.compression_result import CompressionResult
from service.answers.compression_running import add_effective, add_octane, add_running_squish
from service.answers.compression_spread import OWN_TO_A_CYLINDER, add_spread, add_uncertainty
from service.answers.envelope import Answer
from service.answers.topic import Example, Topic
from service.calculations import compression as calculation
from service.calculations.squish import squish_clearance
from service.errors import MissingInput
from service.quantities import CLEARANCE, SMALL_VOLUME, VOLUME
from service.reference.dataset import Dataset


def answer(request: CompressionRequest, dataset: Dataset) -> Answer:
    """The ratio and all that follows from the same measurements.

    Raises:
        MissingInput: a measurement is missing, or one of target ratio and unknown.
        OutsideValidity: no part makes the wanted ratio, or a value makes no sense.
        Contradiction: the parts leave no room above the piston, or contradict each other.
        NotInDataset: fuel or material is not held.
    """
    found = Answer(result={})
    fuel = None if request.fuel is None else dataset.entity("fuels", request.fuel, field="fuel")
    as_measured = cylinder_of(request, found)
    final, unknown = as_measured, request.solve_for
    target = _target(request)
    if unknown is not None and target is not None:
        value = solved(as_measured, unknown=unknown, target_ratio=target)
        final = with_part(as_measured, unknown, value)
        found.rests_on(METHOD_OF[unknown])
    known = unknown not in ("chamber_volume", "deck_clearance") or measured(request, unknown) is not None
    shown = as_measured if known else final
    found.result.update(_figures(found, shown))
    if unknown is not None:
        found.result.update(_solution(unknown, final, as_measured if known else None))
    add_uncertainty(found, request, shown)
    changed = unknown in OWN_TO_A_CYLINDER and known
    cylinders = each_cylinder(request, shown if changed else final)
    highest = add_spread(found, request, cylinders) if cylinders else 0.0
    if not cylinders:
        found.cannot_check(rules.RATIO_SPREAD.code, ["per_cylinder"], "One cylinder says nothing of the others.")
    built = [final] if changed or not cylinders else cylinders
    tightest = min(built, key=lambda cylinder: cylinder.squish())
    rules.check_ratio(found, ratio=final.ratio() if changed else max(final.ratio(), highest), fuel=fuel)
    rules.check_squish(found, squish=tightest.squish(), height=tightest.height, ratio=tightest.ratio())
    rules.check_spacer(found, thickness=final.spacer_thickness, pieces=request.spacer_pieces)
    add_effective(found, request, final, final.clearance().total, fuel)
    if request.running is None:
        found.cannot_check("running-squish", ["running"], "At speed some 0.2 mm of the cold clearance is gone.")
    else:
        add_running_squish(found, request.running, tightest, request, dataset)
    if request.octane is not None:
        add_octane(found, request.octane, request, final, final.ratio())
    return found


def _target(request: CompressionRequest) -> float | None:
    if request.target_ratio is not None and request.solve_for is None:
        raise MissingInput("solve_for", "Say which part shall make the target ratio.", "spacer_thickness")
    if request.solve_for is not None and request.target_ratio is None:
        raise MissingInput("target_ratio", "To solve for a part, send the ratio that it shall make.", "7.5")
    return request.target_ratio


def _figures(found: Answer, cylinder: Cylinder) -> dict[str, Any]:
    """What the measurements make."""
    parts = cylinder.clearance()._asdict()
    total = parts.pop("total")
    ratio = cylinder.ratio()
    slopes = cylinder.sensitivities()
    found.rests_on(
        calculation.clearance_volume,
        calculation.compression_ratio,
        squish_clearance,
        calculation.ratio_sensitivities,
        calculation.air_standard_efficiency,
    )
    return {
        "compression_ratio": ratio,
        "swept_volume": VOLUME(cylinder.swept_volume),
        "clearance_volume": SMALL_VOLUME(total),
        "contributions": {name: SMALL_VOLUME(volume) for name, volume in parts.items()},
        "squish_clearance": CLEARANCE(cylinder.squish()),
        "levers": {
            "chamber_1_cm3_larger": slopes.chamber_volume * 1e-6,
            "deck_0_1_mm_more": slopes.deck_clearance * 1e-4,
            "bore_0_5_mm_larger": slopes.bore * 0.5e-3,
            "stroke_1_mm_longer": slopes.stroke * 1e-3,
        },
        "ideal_efficiency": calculation.air_standard_efficiency(compression_ratio=ratio),
    }


def _solution(unknown: Unknown, final: Cylinder, as_measured: Cylinder | None) -> dict[str, Any]:
    """The solved part, and the cylinder with it."""
    kind, value = KIND_OF[unknown], getattr(final, unknown)
    with_it: dict[str, Any] = {
        "compression_ratio": final.ratio(),
        "clearance_volume": SMALL_VOLUME(final.clearance().total),
        "squish_clearance": CLEARANCE(final.squish()),
    }
    if as_measured is not None:
        with_it["change"] = kind(value - getattr(as_measured, unknown))
    return {"solved_for": unknown, "solved": kind(value), "with_solved": with_it}


TOPIC = Topic(
    name="compression",
    path="/v1/compression",
    title="Compression",
    summary="Compression ratio with every contribution to the clearance volume, squish, spread over the cylinders, effective "
    "ratio and gauge pressure; or what a chamber, deck, spacer, crown or ring must be for a wanted ratio.",
    request=CompressionRequest,
    result=CompressionResult,
    answer=answer,
    examples=(
        Example(
            "Ratio of a cylinder",
            {
                "bore": "86 mm",
                "stroke": "73 mm",
                "chamber_volume": "52 cm3",
                "deck_clearance": "1.2 mm",
                "crevice_volume": "0.5 cm3",
                "fuel": "ron-95-e5",
            },
        ),
        Example(
            "Which spacer makes 7.6:1?",
            {
                "bore": "86 mm",
                "stroke": "73 mm",
                "chamber_volume": "52 cm3",
                "deck_clearance": "1.2 mm",
                "crevice_volume": "0.5 cm3",
                "target_ratio": 7.6,
                "solve_for": "spacer_thickness",
            },
        ),
        Example(
            "Four cylinders with the uncertainty of the tools",
            {
                "bore": "86 mm",
                "stroke": "73 mm",
                "deck_clearance": "1.2 mm",
                "crevice_volume": "0.5 cm3",
                "per_cylinder": [
                    {"chamber_volume": "52.0 cm3"},
                    {"chamber_volume": "51.3 cm3"},
                    {"chamber_volume": "52.6 cm3"},
                    {"chamber_volume": "51.8 cm3", "deck_clearance": "1.22 mm"},
                ],
                "uncertainties": {"chamber_volume": "0.5 cm3", "deck_clearance": "0.03 mm", "crevice_volume": "0.3 cm3"},
            },
        ),
        Example(
            "What the gauge shows at 1500 m, and the squish at 5500 rpm",
            {
                "bore": "86 mm",
                "stroke": "73 mm",
                "chamber_volume": "52 cm3",
                "deck_clearance": "1.2 mm",
                "rod_length": "136 mm",
                "intake_closing": "62 deg",
                "checking": {"lift": "0.050 in", "intake_closing": "42 deg"},
                "altitude": "1500 m",
                "running": {
                    "speed": "5500 rpm",
                    "reciprocating_mass": "0.62 kg",
                    "rod_section": "127 mm2",
                    "case_length": "75 mm",
                    "barrel_length": "130 mm",
                    "compression_height": "35 mm",
                    "lost_motion": "0.1 mm",
                    "piston_rock": "0.05 mm",
                },
            },
        ),
        Example(
            "Octane from a build that runs clean on 91",
            {
                "bore": "86 mm",
                "stroke": "73 mm",
                "chamber_volume": "52 cm3",
                "deck_clearance": "1.2 mm",
                "rod_length": "136 mm",
                "intake_closing": "62 deg",
                "octane": {"reference": {"octane": 91, "compression_ratio": 7.5}},
            },
        ),
    ),
    cautions=("choosing-parts",),
)
