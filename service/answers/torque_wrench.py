"""The wrench: how far its click may be off, what it is set to, and whether it is fit for the torque."""

from typing import NamedTuple

from service.answers.envelope import Answer
from service.answers.torque_request import TorqueRequest
from service.answers.torque_rules import WRENCH_LOW_IN_RANGE, WRENCH_OVERDUE, check_wrench, check_wrench_age
from service.calculations.tightening import wrench_setting, wrench_tolerance
from service.quantities import PERCENT
from service.reference.dataset import Dataset

RECALIBRATION_MONTHS = 12


class Wrench(NamedTuple):
    """A torque wrench: permissible deviation as a fraction, and the months between two checks."""

    tolerance: float
    months: int


def wrench_of(found: Answer, request: TorqueRequest, dataset: Dataset, torque: float) -> Wrench:
    """The wrench that was named, or a click wrench in good order whose scale ends at this torque in N·m."""
    given = request.wrench
    full_scale = given.full_scale.si if given else torque
    certified = given.tolerance.si if given and given.tolerance else None
    slack = 1e-9 * full_scale
    for entity in dataset.entities("wrench-classes"):
        above = entity.si("torque_above") if entity.has("torque_above") else 0.0
        up_to = entity.si("torque_up_to") if entity.has("torque_up_to") else float("inf")
        if entity.id.startswith("type-ii-a") and above + slack < full_scale <= up_to + slack:
            fact = entity.fact("tolerance")
            found.uses(fact)
            tolerance = entity.si("tolerance")
            if certified is None:
                reason = "a click wrench of type II class A in good order"
                found.assume("wrench.tolerance", PERCENT(tolerance), reason, fact.source, "common-practice")
            held = entity.has("recalibration_months")
            months = entity.integer("recalibration_months") if held else RECALIBRATION_MONTHS
            return Wrench(tolerance if certified is None else certified, months)
    # An older dataset may hold no wrench classes; the two figures of the standard are in the calculation too.
    found.rests_on(wrench_tolerance)
    return Wrench(wrench_tolerance(full_scale=full_scale) if certified is None else certified, RECALIBRATION_MONTHS)


def setting_of(found: Answer, request: TorqueRequest, torque: float) -> float:
    """What to set the wrench to for a torque in N·m at the fastener: less or more with an adapter, else the torque."""
    adapter = request.adapter
    if adapter is None:
        return torque
    found.rests_on(wrench_setting)
    return wrench_setting(
        torque=torque,
        wrench_length=adapter.wrench_length.si,
        adapter_length=adapter.length.si,
        adapter_angle=adapter.angle.si if adapter.angle else 0.0,
    )


def check(found: Answer, request: TorqueRequest, wrench: Wrench, setting: float) -> None:
    """Whether the setting in N·m lies well within the wrench's scale, and the wrench was checked of late."""
    given = request.wrench
    if given is None:
        found.cannot_check(WRENCH_LOW_IN_RANGE.code, ["wrench.full_scale"])
    else:
        check_wrench(found, setting=setting, full_scale=given.full_scale.si)
    if given is None or given.months_since_check is None:
        found.cannot_check(WRENCH_OVERDUE.code, ["wrench.months_since_check"])
    else:
        check_wrench_age(found, months=given.months_since_check, allowed=wrench.months)
