"""The words of a break-in run: gates, steps, what to look at and when, what is normal, and when to stop."""

from service.answers.break_in_request import Gate

GATES: tuple[tuple[Gate, str], ...] = (
    ("oil-filled", "Oil filled, with cooler, filter and lines counted, and checked on the stick"),
    ("pressure-on-cranking", "Pressure seen on the gauge while cranking, plugs out, ignition dead"),
    ("oil-at-rockers", "Oil seen at the farthest rocker"),
    ("static-timing", "Static timing set and written down"),
    ("float-bowl", "Float bowl filled by syringe"),
    ("fuel-leaks", "Fuel lines and clamps looked at under pressure: dry"),
    ("fan-and-tinware", "Fan, belt and complete tinware fitted"),
    ("exhaust-outside", "Exhaust led outside, carbon monoxide alarm on"),
    ("extinguishers", "Class B extinguisher in reach; class D powder or dry sand where magnesium is about"),
    ("tappets-turn", "Every tappet seen to turn when the engine was turned over"),
    ("lash-cold", "Lash of every valve set cold and written down"),
    ("gauge-live", "Oil-pressure gauge live and in sight, not only a lamp"),
    ("log-running", "Log running: speed, oil pressure, oil and head temperature"),
    ("second-person", "A second person, who watches gauges and leaks"),
    ("kill-switch", "Ignition can be cut from where you stand"),
)

PRIMING_ROCKERS = ("Go on until oil shows at the farthest rocker.", "Rockers are last on the line.")
PRIMING = (
    ("Check the stand or the jack stands: level floor, wheels blocked, nothing loose near fan, belt and pulley.", ""),
    (
        "Fill the oil for sump, cooler, filter and lines; verify it on the stick.",
        "A cooler that fills itself empties the sump.",
    ),
    (
        "Plugs out, ignition dead: crank in bursts of at most 10 s with 60 s rest until the gauge moves.",
        "The starter's windings and the lobes both suffer from longer cranking.",
    ),
    PRIMING_ROCKERS,
    ("Plugs in, leads in firing order, float bowl filled by syringe.", "It has to fire at once."),
)
PRIMING_NONE = ("Nothing to prime after so short a stop; the pressure must be back within 10 s of firing.", "")
PRIMING_SHORT = (
    "Crank with the ignition off, in bursts of at most 10 s, until the gauge moves.",
    "Oil has drained from the lines.",
)

FIRST_FIRE = (
    (
        0.0,
        "Crank in bursts of at most 10 s. If it does not fire in the second, stop and look for spark and fuel.",
        "Long cranking wipes the paste off the lobes.",
    ),
    (
        0.0,
        "The moment it fires, bring it up to the lower speed within 3 to 5 s. Never let it idle.",
        "The lobes live on speed: film, splash and tappet spin all come from it.",
    ),
    (10.0, "Oil pressure at or above its floor within 10 s of firing, or kill it.", "Without pressure nothing lasts."),
)

LOOK_LIST = (
    (10.0, "oil-pressure gauge", "at or above the floor for the speed", "not there: kill"),
    (30.0, "charge lamp, belt and fan", "lamp out, belt runs true, air from the tinware", "belt off or fan still: kill"),
    (
        60.0,
        "oil leaks: strainer cover, drain plug, pump cover, cooler, lines, push-rod tubes, crank seals",
        "dry or a drop that stays",
        "a drip or spray: kill",
    ),
    (
        60.0,
        "fuel leaks: pump, hose clamps, carburettor inlet, bowl gasket",
        "dry",
        "any petrol: kill, ignition off, no tools that spark",
    ),
    (120.0, "smoke and sound", "paint smoke fades, even beat", "blue or white smoke for more than 2 min, a tick that grows"),
    (180.0, "every cylinder fires: exhaust ports by thermometer", "all hot alike", "one cold: stop, plug, lead, valve"),
    (300.0, "ignition timing at speed with a light", "total advance as planned", "more than planned: retard before going on"),
    (300.0, "head and oil temperature", "rising ever more slowly", "head over its limit or rising fast: kill"),
    (
        600.0,
        "oil pressure at the same speed as before",
        "a little lower as the oil warms",
        "falling while the temperature stands: stop",
    ),
    (600.0, "leaks again, all places, with a card and not a hand", "dry", "a drip or spray: kill"),
)

NORMAL = (
    "Smoke from paint, wrap and oily fingerprints on a new exhaust: fades within some minutes.",
    "A light oil mist from breather and filler while the rings are not bedded.",
    "A rough beat from a carburettor that has only been set on the bench; its idle is set after the run, not now.",
    "Oil pressure well above the floor at first: cold oil is thick, and it falls as the oil warms.",
    "Light tapping for the first seconds until hydraulic tappets have pumped up; steel push rods ticking while cold.",
    "A smell of paste and preservative from the first oil.",
)
NOT_NORMAL = (
    "A tick that grows, or any knock: kill, covers off, check every lash.",
    "A lash that opened is a lobe, tappet or rocker that wears; one that closed is a seat that sinks or a stem that stretches.",
    "Oil pressure under its floor for two seconds, or gone ten seconds after firing: kill.",
    "Petrol smell that does not go away, any fuel or oil that drips or sprays: kill.",
    "Belt off or fan still: kill; an air-cooled head is lost within a minute.",
    "Blue or white smoke for more than two minutes: note it, look at that cylinder's plug after the run.",
    "One exhaust port cold: stop; a wet cylinder washes its bore and thins the oil.",
    "Carbon monoxide alarm, headache or dizziness: ignition off, everybody out.",
)

COOL_DOWN = (
    ("Come down in steps, so that the heads give off their heat while the fan still turns.", ""),
    ("Ignition off; no blip of the throttle.", "It only washes the bores."),
    ("Write down time, oil pressure, oil and head temperature.", "The next run is compared with it."),
)

NARROW = "2000 to 2800 rpm for 20 to 30 minutes"
WIDE = "2000 to 4000 rpm for 15 minutes"
WHY_NARROW = "less heat and noise, lower forces on new springs, and 20 to 30 minutes for lobes and tappets to mate"
WHY_WIDE = "more oil splash and a lighter load of the nose on the tappet at speed, and the full advance can be set on the way"

CANNOT_SHOW = (
    "whether every tappet turned",
    "noises: a tick that grew, or a knock",
    "leaks, smoke, and what the plugs look like",
    "whether the sensors read true: a second gauge has to say so once",
    "wear: only lash, strainer and tappet faces show it",
)
