"""The question about a clearance, and the shape of its answer."""

from typing import Annotated, Literal

from pydantic import Field

from service.answers.envelope import QuantityOut, Result
from service.answers.inputs import Bore, Id, Measured, Request
from service.quantities import Quantity

_CLEARANCE = ("length", "0 .. 5 mm", "0.005 .. 1.5 mm", "0.10 mm")
_WARM = ("temperature", "-60 .. 400 degC", "-20 .. 300 degC", "90 degC")
_SHOP = ("temperature", "-40 .. 100 degC", "5 .. 40 degC", "21 degC")


class ClearanceRequest(Request):
    """A reading with its uncertainty, and its limits: ``low``, ``high`` or both, or ``engine`` with ``fit``.

    ``fit`` also says which clearance it is, and so which further checks are made: see the table ``fits``. The outer part is
    the housing or barrel; the inner one the journal, piston or ring.
    """

    measured: Annotated[Quantity, Measured(*_CLEARANCE, "What the gauge reads.")]
    uncertainty: (
        Annotated[
            Quantity,
            Measured(
                "length",
                "0 .. 0.5 mm",
                "0.001 .. 0.05 mm",
                "0.010 mm",
                "Expanded uncertainty of the reading, coverage factor 2. Or send gauge.",
            ),
        ]
        | None
    ) = None
    gauge: (
        Annotated[Id, Field(description="Kind of gauge, where its uncertainty is not known.", examples=["feeler"])] | None
    ) = None
    low: Annotated[Quantity, Measured(*_CLEARANCE, "Lower limit.")] | None = None
    high: Annotated[Quantity, Measured(*_CLEARANCE, "Upper limit.")] | None = None
    engine: Annotated[Id, Field(description="Engine family.", examples=["air-cooled-flat-four"])] | None = None
    fit: Annotated[Id, Field(description="Which clearance it is.", examples=["crank-end-play"])] | None = None
    bore: Bore | None = None
    diameter: (
        Annotated[Quantity, Measured("length", "5 .. 200 mm", "10 .. 120 mm", "55 mm", "Diameter of the inner part.")] | None
    ) = None
    outer_material: Annotated[Id, Field(description="Housing or barrel.", examples=["magnesium-az91d"])] | None = None
    inner_material: Annotated[Id, Field(description="Journal, piston or ring.", examples=["steel-1040"])] | None = None
    outer_temperature: Annotated[Quantity, Measured(*_WARM, "Of the outer part when running.")] | None = None
    inner_temperature: Annotated[Quantity, Measured(*_WARM, "Of the inner part when running.")] | None = None
    part_temperature: Annotated[Quantity, Measured(*_SHOP, "Of the part when measured.")] | None = None
    gauge_temperature: Annotated[Quantity, Measured(*_SHOP, "Of the gauge when measured.")] | None = None
    maker_minimum: Annotated[Quantity, Measured(*_CLEARANCE, "Least clearance that the piston's maker allows.")] | None = None
    known_clearance: (
        Annotated[Quantity, Measured(*_CLEARANCE, "Cold clearance known to be right for the known piston.")] | None
    ) = None
    known_material: Annotated[Id, Field(description="Material of the known piston.", examples=["piston-strutted"])] | None = (
        None
    )


class Wear(Result):
    """The reading against the wear limit."""

    limit: QuantityOut
    decision: Literal["accept", "reject", "undecided"]


class RingGap(Result):
    """What a ring of this bore needs."""

    rule_low: QuantityOut
    rule_high: QuantityOut
    minimum: QuantityOut | None = None


class ClearanceResult(Result):
    """The decision with its margins, and the clearance when hot where the inputs allow.

    Without limits or uncertainty there is no decision, but the rules that need neither still speak.
    """

    decision: Literal["accept", "reject", "undecided"] | None = None
    measured: QuantityOut
    guard_band: QuantityOut | None = None
    conformance_probability: float | None = None
    gauge_capable: bool | None = None
    low: QuantityOut | None = None
    high: QuantityOut | None = None
    margin_low: QuantityOut | None = None
    margin_high: QuantityOut | None = None
    accept_low: QuantityOut | None = None
    accept_high: QuantityOut | None = None
    capable_uncertainty: QuantityOut | None = None
    wear: Wear | None = None
    hot_clearance: QuantityOut | None = None
    ring_gap: RingGap | None = None
    piston_cold_clearance: QuantityOut | None = None
    diameter_at_20_degrees: QuantityOut | None = None
    advice: list[str]
