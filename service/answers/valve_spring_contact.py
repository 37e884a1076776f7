"""The nose of the cam by speed: load, Hertz pressure and oil film; why the first minutes run fast."""

from math import cbrt, pi
from typing import Any

from service.answers.envelope import Answer, Rule, Severity
from service.answers.valve_spring_request import ValveSpringRequest
from service.answers.valve_train import RebuiltLobe, lobe_needs, rocker_ratio_of
from service.calculations import contact
from service.calculations.cam_lobe import lobe_radius
from service.calculations.valve_spring import nose_load
from service.quantities import DYNAMIC_VISCOSITY, FORCE, ROUGHNESS, SPEED, STRESS, VELOCITY, text_of
from service.reference.dataset import Dataset

SPEEDS = tuple(rpm * pi / 30 for rpm in (800, 1000, 1500, 2000, 2500, 3000))
CHECK_SPEED = 1000 * pi / 30
OIL_VISCOSITY = 0.012
PRESSURE_VISCOSITY = 2.0e-8
COMPOSITE_ROUGHNESS = 2.8e-7
MASSES = ("valve_mass", "retainer_mass", "spring_mass", "push_rod_mass", "tappet_mass")
CAUTION_PRESSURE, FIX_PRESSURE = 1000e6, 1300e6

NOSE_STRESS = Rule(
    code="nose-stress",
    severity="caution",
    stage="valve-train",
    rule="Hertz pressure under a crowned tappet above 1000 MPa on the nose at 1000 rpm (fix above 1300 MPa)",
    reason="Chilled iron pits and scuffs in this range.",
    remedy="Fit softer springs or tappets with a flatter crown, and run the cam in with single springs.",
    source="johnson-1985",
    evidence="common-practice",
)
NOSE_RUNS_BOUNDARY = Rule(
    code="nose-runs-boundary",
    severity="note",
    stage="first-fire",
    rule="film ratio on the nose below 1 up to 3000 rpm",
    reason="No speed of a run-in floats the tappet: additive film, the turning tappet and the assembly paste carry the nose. "
    "Speed helps: the film grows, the nose load falls, and more oil splashes.",
    remedy="Paste on every lobe, an oil with enough phosphorus, no idling, and 2000 rpm or more from the first minute.",
    source="hamrock-dowson-1981",
    evidence="from-memory",
)


def add_contact(
    found: Answer,
    request: ValveSpringRequest,
    lobe: RebuiltLobe | None,
    mass: float | None,
    open_load: float | None,
    dataset: Dataset,
) -> None:
    """Rows by crank speed, or what they need. A roller has another contact and is left out."""
    base = request.base_circle_radius
    if request.tappet == "roller":
        return
    if lobe is None or mass is None or open_load is None or base is None:
        rest = {"valve_lift": open_load, "base_circle_radius": base}
        found.cannot_check(NOSE_STRESS.code, motion_needs(request) + [name for name, value in rest.items() if value is None])
        return
    nose = len(lobe.table.lift) // 2
    lift, bend = float(lobe.table.lift[nose]), float(lobe.table.acceleration[nose])
    radius = lobe_radius(base_circle_radius=base.si, lift=lift, acceleration=bend)
    if radius <= 0:
        found.cannot_check(NOSE_STRESS.code, [], "With this base circle the nose comes out pointed: no flat tappet follows it.")
        return
    modulus = _modulus(found, dataset)
    if modulus is None:
        return
    # Hertz pressure grows with the cube root of the load, so one ellipse serves every speed.
    at_one_newton = _crowned(found, request, radius, modulus)
    rows = []
    for speed in SPEEDS:
        load = nose_load(
            rocker_ratio=rocker_ratio_of(found, request),
            open_load=open_load,
            effective_mass=mass,
            nose_acceleration=bend,
            cam_speed=speed / 2,
        )
        if load > 0:
            entrainment = contact.entrainment_speed(
                cam_speed=speed / 2, base_circle_radius=base.si, lift=lift, acceleration=bend
            )
            row = _row(found, request, speed, load, radius, modulus, entrainment)
            if at_one_newton is not None:
                row["crowned_pressure"] = STRESS(at_one_newton * cbrt(load))
            rows.append(row)
    found.rests_on(nose_load, lobe_radius, contact.entrainment_speed)
    if rows:
        found.result["contact"] = rows
    _judge(found, request, rows)


def motion_needs(request: ValveSpringRequest) -> list[str]:
    """What is missing to know how the valve moves and how much the spring turns back."""
    needs = ["duration"] if request.duration is None else []
    return needs + lobe_needs(request) + [name for name in MASSES if getattr(request, name) is None]


def _modulus(found: Answer, dataset: Dataset) -> float | None:
    """Contact modulus of lobe and tappet, both of chilled iron."""
    iron = dataset.find("materials", "chilled-iron")
    if iron is None or not (iron.has("modulus") and iron.has("poisson")):
        found.cannot_check(NOSE_STRESS.code, [], "This dataset holds no elastic figures of chilled iron.")
        return None
    found.uses(iron.fact("modulus"), iron.fact("poisson"))
    found.rests_on(contact.contact_modulus)
    found.assume("cam_and_tappet_material", "chilled-iron", "The usual pair.", "common-practice", "common-practice")
    elastic, poisson = iron.si("modulus"), iron.si("poisson")
    return contact.contact_modulus(modulus=elastic, poisson=poisson, other_modulus=elastic, other_poisson=poisson)


def _crowned(found: Answer, request: ValveSpringRequest, radius: float, modulus: float) -> float | None:
    """Peak pressure under the crown for a load of 1 N, where the crown is known."""
    if request.crown_radius is None:
        return None
    found.rests_on(contact.crowned_pressure)
    return contact.crowned_pressure(
        load=1.0, cam_radius=radius, crown_radius=request.crown_radius.si, modulus=modulus
    ).peak_pressure


def _row(
    found: Answer,
    request: ValveSpringRequest,
    speed: float,
    load: float,
    radius: float,
    modulus: float,
    entrainment: float,
) -> dict[str, Any]:
    """One crank speed; pressure and film as far as the width is known."""
    row: dict[str, Any] = {"speed": SPEED(speed), "nose_load": FORCE(load), "entrainment_speed": VELOCITY(entrainment)}
    if request.lobe_width is not None:
        width = request.lobe_width.si
        flat = contact.line_pressure(load=load, width=width, radius=radius, modulus=modulus)
        film = contact.line_film(
            load=load,
            width=width,
            radius=radius,
            modulus=modulus,
            viscosity=request.oil_viscosity.si if request.oil_viscosity else OIL_VISCOSITY,
            pressure_viscosity=PRESSURE_VISCOSITY,
            speed=entrainment,
        )
        roughness = request.roughness.si if request.roughness else COMPOSITE_ROUGHNESS
        found.rests_on(contact.line_pressure, contact.line_film, contact.film_ratio)
        row |= {
            "line_pressure": STRESS(flat),
            "film": ROUGHNESS(film),
            "film_ratio": contact.film_ratio(film=film, roughness=roughness),
        }
    return row


def _judge(found: Answer, request: ValveSpringRequest, rows: list[dict[str, Any]]) -> None:
    """Nose pressure at 1000 rpm, and what the film says of the run-in."""
    if request.crown_radius is None:
        found.cannot_check(NOSE_STRESS.code, ["crown_radius"], "Tappet makers give 0.5 to 2 m.")
    at_check = [row for row in rows if row["speed"].si == CHECK_SPEED and "crowned_pressure" in row]
    if at_check and at_check[0]["crowned_pressure"].si > CAUTION_PRESSURE:
        pressure = at_check[0]["crowned_pressure"]
        severity: Severity = "fix" if pressure.si > FIX_PRESSURE else "caution"
        found.find(
            NOSE_STRESS,
            ("seat_load", "crown_radius", "rocker_ratio"),
            f"{text_of(pressure)} on the nose at {text_of(SPEED(CHECK_SPEED))}; chilled iron begins to pit above "
            f"{text_of(STRESS(CAUTION_PRESSURE))}.",
            severity,
        )
    ratios = [row["film_ratio"] for row in rows if "film_ratio" in row]
    if not ratios:
        return
    if request.oil_viscosity is None:
        reason = "An SAE 30 oil at about 90 °C."
        found.assume("oil_viscosity", DYNAMIC_VISCOSITY(OIL_VISCOSITY), reason, "common-practice", "from-memory")
    if request.roughness is None:
        reason = "Ground lobe and tappet."
        found.assume("roughness", ROUGHNESS(COMPOSITE_ROUGHNESS), reason, "common-practice", "from-memory")
    found.assume("pressure_viscosity", PRESSURE_VISCOSITY, "Mineral oil, in 1/Pa.", "hamrock-dowson-1981", "from-memory")
    if max(ratios) < 1:
        first, last = rows[0], rows[-1]
        found.find(
            NOSE_RUNS_BOUNDARY,
            ("base_circle_radius", "lobe_width"),
            f"From {text_of(first['speed'])} to {text_of(last['speed'])} the film grows from {text_of(first['film'])} to "
            f"{text_of(last['film'])} and the nose load falls from {text_of(first['nose_load'])} to "
            f"{text_of(last['nose_load'])}; the film ratio stays at {max(ratios):.2f} or less.",
        )
