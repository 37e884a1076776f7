"""The cylinder behind a question about compression, in SI, and what one of its parts must be for a wanted ratio."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from service.answers.compression_request import CompressionRequest, CylinderMeasured, Unknown
from service.answers.envelope import Answer
from service.calculations import compression as calculation
from service.calculations import compression_solve as solving
from service.calculations.compression import ClearanceVolume, RatioSensitivities
from service.calculations.displacement import displacement
from service.calculations.squish import squish_clearance
from service.errors import Missing, MissingInput, OutsideValidity
from service.quantities import CLEARANCE, SMALL_VOLUME, Kind, Quantity

EXAMPLES = {"chamber_volume": "52 cm3", "deck_clearance": "1.2 mm"}
KIND_OF: dict[str, Kind] = {
    "chamber_volume": SMALL_VOLUME,
    "deck_clearance": CLEARANCE,
    "spacer_thickness": CLEARANCE,
    "crown_volume": SMALL_VOLUME,
    "gasket_thickness": CLEARANCE,
}
METHOD_OF: dict[str, Callable[..., Any]] = {
    "chamber_volume": solving.chamber_volume_for_ratio,
    "deck_clearance": solving.deck_clearance_for_ratio,
    "spacer_thickness": solving.spacer_thickness_for_ratio,
    "crown_volume": solving.crown_volume_for_ratio,
    "gasket_thickness": solving.gasket_thickness_for_ratio,
}


@dataclass(frozen=True, slots=True)
class Cylinder:
    """One cylinder in SI; the field names are those of the question."""

    bore: float
    stroke: float
    chamber_volume: float
    deck_clearance: float
    crown_volume: float
    gasket_bore: float | None
    gasket_thickness: float
    spacer_thickness: float
    crevice_volume: float
    top_land_diameter: float | None
    step_height: float | None

    @property
    def swept_volume(self) -> float:
        """Volume swept by the piston."""
        return displacement(bore=self.bore, stroke=self.stroke, cylinders=1)

    @property
    def height(self) -> float:
        """Deck clearance and spacer together; negative where the piston stands proud."""
        return self.deck_clearance + self.spacer_thickness

    def _parts(self) -> dict[str, Any]:
        return {
            "bore": self.bore,
            "chamber_volume": self.chamber_volume,
            "deck_clearance": self.deck_clearance,
            "crown_volume": self.crown_volume,
            "gasket_bore": self.gasket_bore,
            "gasket_thickness": self.gasket_thickness,
            "spacer_thickness": self.spacer_thickness,
            "crevice_volume": self.crevice_volume,
            "top_land_diameter": self.top_land_diameter,
        }

    def clearance(self) -> ClearanceVolume:
        """The clearance volume with its contributions; raises as the calculation does."""
        return calculation.clearance_volume(**self._parts())

    def ratio(self) -> float:
        """The compression ratio; raises as the calculation does."""
        return calculation.compression_ratio(swept_volume=self.swept_volume, clearance_volume=self.clearance().total)

    def sensitivities(self) -> RatioSensitivities:
        """Change of the ratio with each measurement."""
        return calculation.ratio_sensitivities(
            bore=self.bore,
            stroke=self.stroke,
            clearance_volume=self.clearance().total,
            height=self.height,
            gasket_bore=self.gasket_bore,
            gasket_thickness=self.gasket_thickness,
            top_land_diameter=self.top_land_diameter,
        )

    def squish(self) -> float:
        """Cold squish clearance; raises as the calculation does."""
        return squish_clearance(
            deck_clearance=self.deck_clearance,
            spacer_thickness=self.spacer_thickness,
            gasket_thickness=self.gasket_thickness,
            step_height=self.step_height,
        )

    def room_without(self, *unknown: str) -> float:
        """What all parts but the unknown ones take of the clearance volume."""
        parts = {**self._parts(), **dict.fromkeys(unknown, 0.0)}
        return calculation.contributions(**parts).total


def solved(cylinder: Cylinder, *, unknown: Unknown, target_ratio: float) -> float:
    """What the unknown part must measure, in SI.

    Raises:
        OutsideValidity: no such part makes this ratio; says what would.
        Contradiction: the top land is wider than the bore.
    """
    wanted = {"swept_volume": cylinder.swept_volume, "target_ratio": target_ratio}
    if unknown == "chamber_volume":
        return solving.chamber_volume_for_ratio(**wanted, other_volume=cylinder.room_without(unknown))
    if unknown == "crown_volume":
        return solving.crown_volume_for_ratio(**wanted, other_volume=cylinder.room_without(unknown))
    if unknown == "gasket_thickness":
        ring = cylinder.bore if cylinder.gasket_bore is None else cylinder.gasket_bore
        return solving.gasket_thickness_for_ratio(**wanted, gasket_bore=ring, other_volume=cylinder.room_without(unknown))
    other = cylinder.room_without("deck_clearance", "spacer_thickness")
    if unknown == "deck_clearance":
        return solving.deck_clearance_for_ratio(
            **wanted,
            bore=cylinder.bore,
            other_volume=other,
            spacer_thickness=cylinder.spacer_thickness,
            top_land_diameter=cylinder.top_land_diameter,
        )
    return solving.spacer_thickness_for_ratio(
        **wanted,
        bore=cylinder.bore,
        other_volume=other,
        deck_clearance=cylinder.deck_clearance,
        top_land_diameter=cylinder.top_land_diameter,
    )


def with_part(cylinder: Cylinder, part: str, value: float) -> Cylinder:
    """The cylinder with one part changed."""
    return replace(cylinder, **{part: value})


def cylinder_of(request: CompressionRequest, found: Answer) -> Cylinder:
    """The cylinder of a question; where only single cylinders were measured, their mean.

    Raises:
        MissingInput: chamber volume or deck clearance is neither given nor what is asked.
        OutsideValidity: the ring does not fit the bore.
    """
    gasket = request.gasket
    if gasket is not None and gasket.bore is not None:
        _refuse_strange_ring(gasket.bore.si, request.bore.si)
    if gasket is not None and gasket.bore is None:
        reason = "The ring is taken to have the bore of the barrel; measure it, it is often 1 to 3 mm wider."
        found.assume("gasket.bore", CLEARANCE(request.bore.si), reason, "common-practice", "common-practice")
    if request.crevice_volume is None:
        reason = "No crevice was given, so none is counted. The usual 0.5 cm³ above the top ring lowers 8:1 by 0.06."
        found.assume("crevice_volume", SMALL_VOLUME(0.0), reason, "common-practice", "common-practice")
    chamber, deck = measured(request, "chamber_volume"), measured(request, "deck_clearance")
    needed = {"chamber_volume": chamber, "deck_clearance": deck}
    missing = [name for name, value in needed.items() if value is None and request.solve_for != name]
    if missing:
        raise MissingInput.of([_missing(name) for name in missing])
    return Cylinder(
        bore=request.bore.si,
        stroke=request.stroke.si,
        chamber_volume=chamber or 0.0,
        deck_clearance=deck or 0.0,
        crown_volume=measured(request, "crown_volume") or 0.0,
        gasket_bore=None if gasket is None or gasket.bore is None else gasket.bore.si,
        gasket_thickness=0.0 if gasket is None else gasket.thickness.si,
        spacer_thickness=_si(request.spacer_thickness),
        crevice_volume=_si(request.crevice_volume),
        top_land_diameter=None if request.top_land_diameter is None else request.top_land_diameter.si,
        step_height=None if request.step_height is None else request.step_height.si,
    )


def each_cylinder(request: CompressionRequest, nominal: Cylinder) -> list[Cylinder]:
    """The cylinders as measured one by one."""
    return [_own(own, nominal) for own in request.per_cylinder or []]


def _own(own: CylinderMeasured, nominal: Cylinder) -> Cylinder:
    given = {name: getattr(own, name) for name in ("chamber_volume", "deck_clearance", "crown_volume")}
    return replace(nominal, **{name: value.si for name, value in given.items() if value is not None})


def _si(quantity: Quantity | None) -> float:
    return 0.0 if quantity is None else quantity.si


def _missing(name: str) -> Missing:
    words = name.replace("_", " ")
    return Missing(name, f"The {words} is needed; leave it out only to solve for it.", EXAMPLES[name])


def measured(request: CompressionRequest, name: str) -> float | None:
    """A measurement of the nominal cylinder, or the mean of all single ones, or ``None``."""
    own: Quantity | None = getattr(request, name)
    if own is not None:
        return own.si
    each = [getattr(cylinder, name) for cylinder in request.per_cylinder or []]
    if each and all(value is not None for value in each):
        return float(sum(value.si for value in each) / len(each))
    return None


def _refuse_strange_ring(ring: float, bore: float) -> None:
    if not bore - 1.001e-3 <= ring <= bore + 10.001e-3:
        raise OutsideValidity(
            "gasket/bore",
            "The ring's bore must lie between 1 mm less and 10 mm more than the cylinder's. Send its inside diameter.",
            "bore − 1 mm to bore + 10 mm",
        )
