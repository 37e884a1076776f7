"""Cross-checks over the whole build that no single question can make: the answers to yes and no, and one part against another.

Each check names what it needs. A missing answer is listed as not checked; it is never a pass.
"""

from service.answers.envelope import Rule, Severity, Stage
from service.methods import Evidence
from service.sheet.cross_check import CrossCheck


def _rule(
    code: str,
    severity: Severity,
    stage: Stage,
    rule: str,
    reason: str,
    remedy: str,
    source: str = "common-practice",
    evidence: Evidence = "common-practice",
) -> Rule:
    return Rule(code, severity, stage, rule, reason, remedy, source, evidence)


def _must_be_yes(path: str, rule: Rule, message: str) -> CrossCheck:
    return CrossCheck(rule, (f"checks.{path}",), lambda answer: None if answer else message)


def _must_be_no(path: str, rule: Rule, message: str) -> CrossCheck:
    return CrossCheck(rule, (f"checks.{path}",), lambda answer: message if answer else None)


CROSS_CHECKS: tuple[CrossCheck, ...] = (
    CrossCheck(
        _rule(
            "used-tappets-on-new-cam",
            "stop",
            "valve-train",
            "a new cam with tappets that have run before or were mixed between lobes",
            "A worn crown mates with one lobe only; on another it wipes the lobe in minutes.",
            "Fit new tappets, or have them refaced to the crown that the cam's maker gives.",
        ),
        ("checks.new_cam", "checks.used_tappets"),
        lambda new_cam, used: "Used tappets are on a new cam." if new_cam and used else None,
    ),
    _must_be_yes(
        "tappets_turn",
        _rule(
            "tappets-do-not-turn",
            "stop",
            "valve-train",
            "not every tappet turns when the engine is turned over",
            "Without the drive of crown and taper a lobe is wiped in minutes.",
            "Find the tappet that stands still: bore, crown, lobe taper, or the wrong place along the cam.",
        ),
        "Not every tappet turns.",
    ),
    _must_be_yes(
        "lash_set_cold",
        _rule(
            "lash-not-set-cold",
            "fix",
            "valve-train",
            "the lash of some valve was not set stone cold, or not written down",
            "Without lash a valve hangs open and burns on the first run; with too much the train hammers the new lobes.",
            "Set every valve stone cold at its own position of the crankshaft and write it down.",
        ),
        "The lash of every valve was not set cold.",
    ),
    _must_be_yes(
        "turned_over_by_hand",
        _rule(
            "not-turned-over-by-hand",
            "stop",
            "trial-assembly",
            "the engine was not turned over twice by hand",
            "What touches by hand breaks by power.",
            "Turn it over twice by hand, plugs out, and feel for every tight place.",
        ),
        "The engine was not turned over by hand.",
    ),
    _must_be_yes(
        "rocker_sweep_recorded",
        _rule(
            "rocker-change-geometry",
            "fix",
            "valve-train",
            "rocker ratio or push-rod length changed and the sweep at half lift not recorded",
            "Side load on the stem, a wrong effective ratio, and an adjuster that runs out of thread.",
            "Set push-rod length so that the sweep across the stem is even about half lift, and write it down.",
        ),
        "The rocker sweep at half lift was not recorded.",
    ),
    _must_be_yes(
        "oil_filled_with_external",
        _rule(
            "external-oil-not-counted",
            "fix",
            "pre-start",
            "the fill does not count cooler, filter and lines, or was not checked on the stick",
            "The level drops by the volume of the lines at the first start, and the pump draws air.",
            "Fill cooler, filter and lines by hand, count them, and look at the stick again.",
        ),
        "The oil in cooler, filter and lines was not counted, or not checked on the stick.",
    ),
    _must_be_yes(
        "pressure_seen_on_cranking",
        _rule(
            "not-primed",
            "stop",
            "pre-start",
            "no oil pressure seen on cranking with the plugs out",
            "Bearings and lobes would run their first seconds dry.",
            "Prime until the gauge moves; see the priming plan.",
        ),
        "No oil pressure was seen on cranking.",
    ),
    _must_be_yes(
        "oil_seen_at_rockers",
        _rule(
            "no-oil-at-rockers",
            "stop",
            "pre-start",
            "no oil seen at the farthest rocker while priming",
            "The gauge can stand while a gallery is shut; the rockers are the far end.",
            "Go on priming, within the starter's duty, or find the blocked way.",
        ),
        "No oil was seen at the farthest rocker.",
    ),
    _must_be_yes(
        "breather_free",
        _rule(
            "breather-plugged",
            "stop",
            "pre-start",
            "the crankcase breather is plugged, or was not blown through",
            "New rings blow by: without a way out the pressure in the case pushes oil past the seals and onto the exhaust.",
            "Clear breather, hose and valve until air passes freely, and lead the end where it cannot freeze or kink.",
        ),
        "The crankcase breather is not free.",
    ),
    _must_be_yes(
        "float_bowl_filled",
        _rule(
            "float-bowl-empty",
            "fix",
            "pre-start",
            "the float bowl was not filled by hand",
            "Cranking until the pump has filled it costs the lobes their lubricant.",
            "Fill it with a syringe through the vent; wipe up what is spilt.",
        ),
        "The float bowl is empty.",
    ),
    _must_be_yes(
        "fuel_leak_checked",
        _rule(
            "fuel-leak-unchecked",
            "stop",
            "pre-start",
            "fuel lines and clamps not looked at under pressure, or not dry",
            "Fuel on a hot exhaust is the commonest fire on a stand.",
            "Raise the pressure with ignition off and look at every joint with a lamp.",
        ),
        "The fuel lines were not looked at under pressure, or are not dry.",
    ),
    _must_be_yes(
        "fan_and_shroud_fitted",
        _rule(
            "fan-or-shroud-missing",
            "stop",
            "first-fire",
            "an air-cooled engine on the stand without fan, belt and complete tinware",
            "Heads pass 200 °C in two to three minutes.",
            "Fit fan, belt and tinware before the first start.",
        ),
        "Fan, belt or tinware are missing.",
    ),
    _must_be_yes(
        "exhaust_led_outside",
        _rule(
            "exhaust-indoors",
            "stop",
            "first-fire",
            "the exhaust is not led outside",
            "A cold rich engine makes several per cent of carbon monoxide, which kills within minutes.",
            "Lead the exhaust outside, or run the engine in the open.",
            "niosh-pocket-guide",
            "government",
        ),
        "The exhaust is not led outside.",
    ),
    _must_be_yes(
        "carbon_monoxide_alarm",
        _rule(
            "no-carbon-monoxide-alarm",
            "stop",
            "first-fire",
            "no carbon monoxide alarm is on",
            "It has no smell; 1,200 ppm is an immediate danger.",
            "Hang an alarm at breathing height between exhaust and people.",
            "niosh-pocket-guide",
            "government",
        ),
        "There is no carbon monoxide alarm.",
    ),
    _must_be_yes(
        "extinguisher_in_reach",
        _rule(
            "no-extinguisher",
            "stop",
            "first-fire",
            "no class B extinguisher in reach",
            "Petrol burns faster than anyone fetches one.",
            "Put it where the second person stands, not behind the engine.",
        ),
        "No extinguisher is in reach.",
    ),
    CrossCheck(
        _rule(
            "no-class-d-for-magnesium",
            "stop",
            "first-fire",
            "magnesium swarf about and neither class D powder nor dry sand in reach",
            "Burning magnesium must get no water, foam or carbon dioxide.",
            "Clear the swarf away, and put class D powder or dry sand in reach.",
            "to-1-1a-9",
            "government",
        ),
        ("checks.magnesium_chips_about", "checks.class_d_or_sand_in_reach"),
        lambda chips, sand: "Magnesium swarf lies about without powder or sand in reach." if chips and not sand else None,
    ),
    _must_be_yes(
        "second_person",
        _rule(
            "alone-at-first-fire",
            "stop",
            "first-fire",
            "nobody else is there at the first start",
            "One watches the gauges, one watches the engine and holds the switch.",
            "Wait for a second person.",
        ),
        "There is no second person.",
    ),
    _must_be_yes(
        "kill_switch_in_reach",
        _rule(
            "no-kill-switch",
            "stop",
            "first-fire",
            "the ignition cannot be cut from where you stand",
            "Every abort starts with the switch.",
            "Wire a switch that reaches the place of the gauges.",
        ),
        "No kill switch is in reach.",
    ),
    _must_be_yes(
        "log_running",
        _rule(
            "run-not-logged",
            "caution",
            "first-fire",
            "speed, oil pressure and temperatures are not recorded",
            "Without a log nobody can say whether the run counted.",
            "Start the log before the engine.",
        ),
        "The run is not logged.",
    ),
    _must_be_yes(
        "lash_rechecked_cold",
        _rule(
            "lash-not-rechecked",
            "fix",
            "after-run",
            "no lash check after the first heat cycle",
            "New parts settle: a lash that closed burns a valve, one that opened shows wear.",
            "Check every valve stone cold, after six hours or more.",
        ),
        "Lash was not checked again after the run.",
    ),
    _must_be_yes(
        "oil_changed_after_run",
        _rule(
            "oil-not-changed",
            "fix",
            "hand-over",
            "hand-over without an oil change and a look into strainer or filter",
            "Moly paste, lint and cam debris are in the first oil.",
            "Drain hot, open strainer or filter, look at the magnet, refill.",
        ),
        "The oil was not changed after the run.",
    ),
    _must_be_no(
        "bright_flakes_found",
        _rule(
            "bright-flakes",
            "stop",
            "after-run",
            "bright flakes or needles in oil, strainer or on the magnet",
            "Fine grey paste is normal; flakes are a bearing, needles are a lobe or gear.",
            "Do not run it again; find where they come from.",
        ),
        "Bright flakes or needles were found.",
    ),
    _must_be_yes(
        "head_nuts_rechecked",
        _rule(
            "head-nuts-not-rechecked",
            "note",
            "after-run",
            "head nuts not checked after the run",
            "Some rings settle; where the maker or the rings ask for it, the clamp is lost otherwise.",
            "Stone cold, in sequence: loosen and tighten again, do not just listen for a click.",
        ),
        "The head nuts were not checked after the run.",
    ),
)
"""Applied in this order after the sections; the findings are then ordered by severity and stage."""
