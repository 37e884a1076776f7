"""Where the spark goes: marks on the pulley, the advance curve, dwell, the timing light and the leads of the cap."""

from service.answers.envelope import Answer, BandOut, QuantityOut, Result
from service.answers.ignition_advance import check_advance, check_static, curve, find_total
from service.answers.ignition_leads import leads
from service.answers.ignition_marks import found_mark, light, mark, side
from service.answers.ignition_points import after_gap_change, dwell, lobes_of, plug_gap, timing_shift
from service.answers.ignition_request import IgnitionRequest
from service.answers.topic import Example, Topic
from service.calculations.dead_centre import rim_arc, rim_chord
from service.quantities import ANGLE
from service.reference.dataset import Dataset


class MarkOut(Result):
    """A mark on the rim: by tape round it, by caliper straight across."""

    angle: QuantityOut
    arc: QuantityOut
    chord: QuantityOut


class MarksOut(Result):
    """The marks to make. Advance lies ahead of the top-dead-centre mark: on the side to which the pulley turns."""

    side: str
    total: MarkOut
    static: MarkOut | None = None


class CurveRow(Result):
    """Advance at a crank speed, with the distance of its mark."""

    speed: QuantityOut
    advance: QuantityOut
    arc: QuantityOut


class DwellOut(Result):
    """Dwell in its three forms."""

    angle: QuantityOut
    percent: QuantityOut
    time: QuantityOut | None = None


class GapChangeOut(Result):
    """Dwell and change of timing to expect at another gap; negative is later."""

    dwell: BandOut
    timing_shift: BandOut


class PlugGapOut(Result):
    """Plug gap to set."""

    low: QuantityOut
    high: QuantityOut
    advice: str


class LightOut(Result):
    """How to set a dial-back light for the total, and what a reading really says."""

    dial_for_total: QuantityOut
    dial_for_total_wasted_spark: QuantityOut
    advance: QuantityOut | None = None
    shown_speed_times: float | None = None


class LeadsOut(Result):
    """The cap, read clockwise from above."""

    in_order: bool
    fault: str
    expected: list[int]
    misplaced: list[int]


class IgnitionResult(Result):
    """Every part that the inputs allow; a part that they do not is null and stands under ``unchecked``."""

    total_advance: QuantityOut
    static_advance: QuantityOut | None = None
    weight_advance: QuantityOut | None = None
    marks: MarksOut
    curve: list[CurveRow] | None = None
    dwell: DwellOut | None = None
    dwell_timing_shift: QuantityOut | None = None
    after_gap_change: GapChangeOut | None = None
    plug_gap: PlugGapOut | None = None
    timing_light: LightOut
    found_mark: QuantityOut | None = None
    leads: LeadsOut | None = None


def answer(request: IgnitionRequest, dataset: Dataset) -> Answer:
    """Everything about the ignition that the inputs allow.

    Raises:
        MissingInput: no total advance, or a figure without the one that gives it meaning.
        NotInDataset: an engine that is not held.
        OutsideValidity, Contradiction: figures that make no sense, each with its field.
    """
    if request.engine:
        dataset.entity("engines", request.engine, "engine")
    found = Answer(result={})
    static = request.static_advance.si if request.static_advance else None
    total = find_total(request, static, dataset, found)
    diameter = request.pulley_diameter.si
    lobes = lobes_of(request, dataset, found)
    found.result = {
        "total_advance": ANGLE(total),
        "static_advance": None if static is None else ANGLE(static),
        "weight_advance": None if static is None else ANGLE(total - static),
        "marks": {
            "side": side(request, dataset, found),
            "total": mark(total, diameter),
            "static": None if static is None else mark(static, diameter),
        },
        "curve": curve(request, static, diameter, found),
        "dwell": dwell(request, lobes, found),
        "dwell_timing_shift": timing_shift(request, lobes, found),
        "after_gap_change": after_gap_change(request, lobes, found),
        "plug_gap": plug_gap(request, dataset, found),
        "timing_light": light(request, total, found),
        "found_mark": found_mark(request, found),
        "leads": leads(request, found),
    }
    found.rests_on(rim_arc, rim_chord)
    check_advance(found, total=total, ratio=request.compression_ratio)
    check_static(request, dataset, found)
    return found


TOPIC = Topic(
    name="ignition",
    path="/v1/ignition",
    title="Ignition",
    summary=(
        "Mark distances on the pulley by tape and caliper, advance curve, dwell in degrees, percent and time, "
        "the effect of points gap on dwell and timing, timing-light arithmetic, and the leads of the cap."
    ),
    request=IgnitionRequest,
    result=IgnitionResult,
    answer=answer,
    examples=(
        Example("How far is 28° on a 145 mm pulley?", {"pulley_diameter": "145 mm", "total_advance": "28 deg"}),
        Example(
            "Dwell of 50° on four lobes at 3000 rpm",
            {
                "pulley_diameter": "145 mm",
                "total_advance": "28 deg",
                "static_advance": "7.5 deg",
                "dwell": "50 deg",
                "lobes": 4,
                "speed": "3000 rpm",
                "compression_ratio": 7.5,
                "static_timing_set": True,
            },
        ),
        Example(
            "A distributor's curve, and a gap closed by 0.03 mm",
            {
                "pulley_diameter": "5 3/4 in",
                "static_advance": "7.5 deg",
                "curve": [{"speed": "500 rpm", "advance": "0 deg"}, {"speed": "1500 rpm", "advance": "11 deg"}],
                "curve_shaft": "distributor",
                "dwell": "50 deg",
                "lobes": 4,
                "points_gap": "0.40 mm",
                "points_gap_after": "0.37 mm",
            },
        ),
        Example(
            "Are these leads in order?",
            {
                "engine": "air-cooled-flat-four",
                "pulley_diameter": "145 mm",
                "ignition": "points",
                "firing_order": "1-4-3-2",
                "leads": [1, 4, 2, 3],
                "rotor_rotation": "clockwise",
            },
        ),
        Example(
            "A dial-back light on a wasted-spark coil",
            {
                "pulley_diameter": "145 mm",
                "total_advance": "28 deg",
                "light": {"mark": "0 deg", "dial": "56 deg", "wasted_spark": True},
            },
        ),
    ),
    cautions=("running",),
    stage="pre-start",
)
