"""Break-in, what comes after it, gauges and safety."""

from service.reference.schema import Property, Table
from service.reference.tables.kinds import (
    SAID,
    SHARE,
    SPEED,
    TEMPERATURE,
    TEXT,
    TIME,
    YES_NO,
    band,
    choice,
    dimension,
    integer,
    number,
)

RUNNING: dict[str, Table] = {
    "break-in-procedures": Table(
        "Break-in by tappet, spring and history",
        {
            "title": SAID,
            "tappet": choice("flat", "hydraulic", "mushroom", "roller", required=True),
            "spring": choice("single", "stiff-single", "dual", "any", required=True),
            "new_cam": YES_NO,
            "habit": choice("narrow-band", "wide-band", required=True),
            "floor": dimension("rpm", 80, 500, required=True),
            "speed_low": dimension("rpm", 80, 500, required=True),
            "speed_high": dimension("rpm", 80, 500, required=True),
            "duration": dimension("min", 300, 7200, required=True),
            "duration_high": TIME,
            "dwell_max": dimension("s", 5, 600, required=True),
            "advice": SAID,
        },
    ),
    "ring-bedding": Table(
        "Bedding of rings by ring and bore",
        {"title": SAID, "hone": TEXT, "duration_low": TIME, "duration_high": TIME, "advice": SAID},
    ),
    "published-run-ins": Table(
        "Run-in tests printed in government manuals, step by step",
        {
            "order": integer(1, 40),
            "duration": dimension("min", 30, 36000, required=True),
            "speed": SPEED,
            "load": TEXT,
        },
    ),
    "road-phases": Table(
        "Bedding on the road by distance",
        {
            "order": integer(1, 20, required=True),
            "distance_from": dimension("km", 0, 1e8, required=True),
            "distance_to": dimension("km", 0, 1e8, required=True),
            **band("speed", SPEED),
            "share_of_speed_limit": SHARE,
            "advice": SAID,
        },
    ),
    "after-run-tasks": Table(
        "Tasks after the first run, by time and distance",
        {
            "order": integer(1, 100, required=True),
            "stage": choice("while-warm", "hot-oil", "stone-cold", "before-the-road", "road", required=True),
            "due_time": TIME,
            "due_distance": dimension("km", 0, 1e8),
            "task": SAID,
            "reason": SAID,
        },
    ),
    "cautions": Table(
        "Safety cautions by stage",
        {
            "stage": choice(
                "choosing-parts",
                "cleaning",
                "machining",
                "assembly",
                "priming",
                "fuel",
                "first-fire",
                "running",
                "after-run",
                "hand-over",
                required=True,
            ),
            "order": integer(1, 100, required=True),
            "text": SAID,
        },
    ),
    "gauges": Table(
        "Expanded uncertainty (k = 2) of shop gauges when the user gives none",
        {
            "title": SAID,
            "uncertainty": Property("dimension", ("mm", "cm3", "deg", "bar", "K", "%"), 1e-8, 1e6, required=True),
            "advice": TEXT,
        },
    ),
    "safety-limits": Table(
        "Limits of hazards at the run stand",
        {
            "title": SAID,
            "limit": Property("dimension", ("ppm", "%", "degC", "s", "ft/min"), 1e-6, 2000),
            "limit_high": Property("dimension", ("ppm", "%", "degC", "s", "ft/min"), 1e-6, 2000),
            "sound_level": number(0, 200),
            "over": TIME,
            "meaning": SAID,
        },
    ),
    "credit-rules": Table(
        "What a stretch of running counts for in the break-in log",
        {
            "order": integer(1, 40, required=True),
            "event": SAID,
            "credit": choice("counts", "does-not-count", "carried", "frozen", "stop", required=True),
            "time_limit": TIME,
            "temperature_limit": TEMPERATURE,
            "rule": SAID,
        },
    ),
}
