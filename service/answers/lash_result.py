"""What an answer about valve lash holds: for the documentation and as the tests' referee."""

from typing import Literal

from service.answers.envelope import QuantityOut, Result
from service.answers.lash_request import PushRod


class ByValve(Result):
    """One figure for each valve that was asked about."""

    intake: QuantityOut | None = None
    exhaust: QuantityOut | None = None


class SwapOut(Result):
    """What the change of push rods does; negative where zero lash leaves more than before."""

    reference_lash: QuantityOut
    reference_material: PushRod
    difference: QuantityOut
    computed: QuantityOut
    hot_clearance_against_reference: QuantityOut


class Modelled(Result):
    """The cold lash that the growth of the parts alone would ask for; ``computed`` may be below zero."""

    cold_lash: QuantityOut
    computed: QuantityOut


class ModelOut(Result):
    """The lash that leaves a wanted hot clearance, by the model alone, with its uncertainty."""

    hot_clearance: QuantityOut
    intake: Modelled | None = None
    exhaust: Modelled | None = None


class GrowthOut(Result):
    """How much one body opens the clearance of either valve as it warms up; negative closes it."""

    part: str
    opens_intake: QuantityOut | None = None
    opens_exhaust: QuantityOut | None = None


class FrostOut(Result):
    """What cold does to a clearance set in the shop."""

    change_per_10_kelvin_colder: ByValve
    change_at_start: ByValve | None = None
    cold_lash_in_frost: QuantityOut | None = None


class PreloadOut(Result):
    """How far hydraulic tappets are set past zero play, in turns of the adjuster: usual practice; the maker's figure rules."""

    turns_low: float
    turns_high: float


class LashResult(Result):
    """The lash, how to feel it, what it becomes, and why."""

    method: Literal["look-up", "swap", "growth", "preload"]
    cold_lash: ByValve | None = None
    hot_lash: ByValve | None = None
    preload: PreloadOut | None = None
    setting: str
    reason: str | None = None
    hot_clearance_change: ByValve | None = None
    hot_clearance: ByValve | None = None
    model: ModelOut | None = None
    swap: SwapOut | None = None
    growth: list[GrowthOut] | None = None
    frost: FrostOut | None = None
    notes: list[str] | None = None
