"""Threads, strengths, friction, tools and printed torques."""

from service.reference.schema import Table
from service.reference.tables.kinds import (
    SAID,
    SHARE,
    STRESS,
    TEXT,
    TORQUE,
    YES_NO,
    choice,
    dimension,
    integer,
    length,
    number,
    reference,
)

FASTENING: dict[str, Table] = {
    "threads": Table(
        "Screw threads: ISO metric, unified and Whitworth",
        {
            "form": choice("iso-metric", "unified", "whitworth", required=True),
            "series": choice("coarse", "fine", "constant-pitch", "bsw", "bsf", required=True),
            "diameter": length(0.001, 0.05, required=True),
            "pitch": length(0.0002, 0.005),
            "threads_per_inch": number(4, 80),
            "pitch_diameter": length(0.001, 0.05),
            "minor_diameter": length(0.001, 0.05),
            "stress_area": dimension("mm2 in2", 1e-6, 1e-3, required=True),
            "head_bearing_diameter": length(0.002, 0.1),
            "hole_diameter": length(0.001, 0.06),
            "use": TEXT,
        },
    ),
    "property-classes": Table(
        "Strength of bolts, studs and nuts by their mark",
        {
            "standard": SAID,
            "part": choice("bolt", "stud", "nut", required=True),
            "base": reference("property-classes"),
            "diameter_above": length(0, 0.1),
            "diameter_up_to": length(0, 0.1),
            "tensile_strength": STRESS,
            "yield_strength": STRESS,
            "proof_stress": STRESS,
            "hardness": TEXT,
            "mark": TEXT,
        },
    ),
    "conditions": Table(
        "Friction of threads and under heads by surface and lubricant",
        {
            "title": SAID,
            "lubricated": YES_NO,
            "friction_low": number(0.02, 0.6),
            "friction": number(0.02, 0.6),
            "friction_high": number(0.02, 0.8),
            "nut_factor": number(0.05, 0.6),
            "increment_low": number(0, 0.2),
            "increment": number(0, 0.2),
            "increment_high": number(0, 0.2),
            "advice": TEXT,
        },
    ),
    "tightening-methods": Table(
        "Scatter of preload by tightening method",
        {"title": SAID, "scatter_low": SHARE, "scatter": dimension("%", 0.01, 0.9, required=True), "advice": TEXT},
    ),
    "wrench-classes": Table(
        "Permissible deviation of hand torque tools",
        {
            "title": SAID,
            "tolerance": dimension("%", 0.001, 0.5, required=True),
            "torque_above": TORQUE,
            "torque_up_to": TORQUE,
            "least_share_of_range": SHARE,
            "recalibration_months": integer(1, 60),
            "recalibration_cycles": integer(100, 100000),
        },
    ),
    "printed-torques": Table(
        "Torques and preloads that others have printed, to compare with",
        {
            "thread": reference("threads", required=True),
            "property_class": reference("property-classes"),
            "friction": number(0.02, 0.6),
            "preload": dimension("kN N lbf", 100, 1e6),
            "stress": STRESS,
            "torque": TORQUE,
            "torque_low": TORQUE,
            "torque_high": TORQUE,
            "torque_limit": TORQUE,
        },
    ),
}
