"""What an answer about compression holds: for the documentation and as the tests' referee."""

from typing import Literal

from service.answers.compression_request import Unknown
from service.answers.envelope import BandOut, QuantityOut, Result


class Contributions(Result):
    """The clearance volume, part by part."""

    chamber: QuantityOut
    deck: QuantityOut
    spacer: QuantityOut
    crown: QuantityOut
    gasket: QuantityOut
    crevice: QuantityOut


class Levers(Result):
    """Change of the ratio by one step of each lever."""

    chamber_1_cm3_larger: float
    deck_0_1_mm_more: float
    bore_0_5_mm_larger: float
    stroke_1_mm_longer: float


class BudgetOut(Result):
    """One measurement in the variance budget; ``share`` is its part of the variance."""

    measurement: str
    contribution: float
    share: float


class UncertaintyOut(Result):
    """Expanded uncertainty of the ratio and the tool that would lower it most."""

    compression_ratio: float
    coverage: Literal[2]
    budget: list[BudgetOut]
    improve: str
    advice: str


class CylinderRatioOut(Result):
    """One cylinder; opening its chamber by the last figure makes its ratio that of the lowest."""

    cylinder: int
    compression_ratio: float
    clearance_volume: QuantityOut
    squish_clearance: QuantityOut
    open_chamber_by: QuantityOut


class PerCylinderOut(Result):
    """All cylinders with their spread."""

    cylinders: list[CylinderRatioOut]
    mean: float
    lowest: float
    highest: float
    spread: float
    spread_uncertainty: float | None = None


class WithSolved(Result):
    """The cylinder with the solved part in it."""

    compression_ratio: float
    clearance_volume: QuantityOut
    squish_clearance: QuantityOut
    change: QuantityOut | None = None


class AtCheckingLift(Result):
    """The cam at its checking lift; never mixed with the advertised closing."""

    lift: QuantityOut
    intake_closing: QuantityOut
    effective_ratio: float


class RunningSquishOut(Result):
    """Squish at speed and what it is made of; what takes from it is negative."""

    cold: QuantityOut
    thermal: QuantityOut
    stretch: QuantityOut
    play: QuantityOut
    rock: QuantityOut
    running: QuantityOut
    inertia_force: QuantityOut


class OctaneLevers(Result):
    """Change of the octane need by one step of each lever."""

    half_a_ratio_less: float
    two_degrees_less_advance: float
    rpm_500_more: float
    charge_20_kelvin_hotter: float


class OctaneOut(Result):
    """Octane need by difference, on the scale of the reference's number."""

    low: float
    nominal: float
    high: float
    difference: float
    levers: OctaneLevers
    why: str


class CompressionResult(Result):
    """Ratio, clearance and squish; and what else was asked."""

    compression_ratio: float
    swept_volume: QuantityOut
    clearance_volume: QuantityOut
    contributions: Contributions
    squish_clearance: QuantityOut
    levers: Levers
    ideal_efficiency: float
    uncertainty: UncertaintyOut | None = None
    per_cylinder: PerCylinderOut | None = None
    solved_for: Unknown | None = None
    solved: QuantityOut | None = None
    with_solved: WithSolved | None = None
    effective_ratio: float | None = None
    intake_closing: QuantityOut | None = None
    at_checking_lift: AtCheckingLift | None = None
    cranking_pressure: BandOut | None = None
    running_squish: RunningSquishOut | None = None
    octane: OctaneOut | None = None
