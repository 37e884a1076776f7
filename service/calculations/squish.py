"""Squish: the gap between piston crown and head at top dead centre, cold and running."""

from typing import NamedTuple

from service.errors import Contradiction, OutsideValidity
from service.methods import Example, method
from service.units import Area, Force, Length, Mass, RotationalSpeed, Stress

MILLIMETRE = 1e-3


class RunningSquish(NamedTuple):
    """Squish clearance at speed and what it is made of, in m; what takes from it is negative."""

    cold: Length
    thermal: Length
    stretch: Length
    play: Length
    rock: Length
    running: Length


@method(
    id="squish-clearance",
    title="Squish clearance, cold",
    formula="c = h + t_s + t_g + s",
    symbols={
        "c": "squish clearance [m]",
        "h": "deck clearance, + piston below the barrel top, − above [m]",
        "t_s": "spacer under the barrel [m]",
        "t_g": "compressed ring between barrel and head [m]",
        "s": "depth of the head's squish land above its sealing face [m]",
    },
    source="geometry",
    locator="sum of the heights between crown and head",
    evidence="standard",
    example=Example(
        {"deck_clearance": 1.2e-3, "spacer_thickness": 0.5e-3, "gasket_thickness": 0.3e-3},
        2.0e-3,
        by="by hand: 1.2 + 0.5 + 0.3 mm",
    ),
)
def squish_clearance(
    *,
    deck_clearance: Length,
    spacer_thickness: Length = 0.0,
    gasket_thickness: Length = 0.0,
    step_height: Length | None = None,
) -> Length:
    """Distance in m from the flat of the crown to the head, parts cold and at rest.

    Without ``step_height`` the squish land is taken to lie level with the sealing face. A negative answer is a piston
    that stands above that face: only a head whose land lies deeper can take it.

    Raises:
        Contradiction: the step is known, and the piston would have to enter the head.
    """
    clearance = deck_clearance + spacer_thickness + gasket_thickness + (step_height or 0.0)
    if step_height is not None and clearance < 0:
        raise Contradiction(
            ("deck_clearance", "step_height"),
            f"The piston would stand {-clearance / MILLIMETRE:.2f} mm inside the head. Measure deck and step again, "
            "or use a spacer under the barrel.",
        )
    return clearance


@method(
    id="inertia-stretch-of-rod",
    title="Stretch of the connecting rod at top dead centre",
    formula="δ = F · l / (E · A)",
    symbols={
        "δ": "stretch [m]",
        "F": "inertia force of the reciprocating mass [N]",
        "l": "rod length [m]",
        "E": "elastic modulus of the rod [Pa]",
        "A": "cross-section of the rod's shank [m²]",
    },
    source="mechanics",
    locator="bar in tension; force at the top dead centre of the exhaust stroke, where no gas load opposes it",
    evidence="textbook",
    valid="shank of even section; the bending of crank and case is not in it",
    example=Example(
        {"force": 9500.0, "rod_length": 0.136, "elastic_modulus": 207e9, "section_area": 127e-6},
        4.9146e-5,
        by="by hand: 9500·0.136/(207e9·127e-6)",
    ),
)
def rod_stretch(*, force: Force, rod_length: Length, elastic_modulus: Stress, section_area: Area) -> Length:
    """How much longer in m the connecting rod is under a pulling force in N, taken as a bar of one section.

    Raises:
        OutsideValidity: the section or the modulus is not positive.
    """
    if section_area <= 0 or elastic_modulus <= 0:
        raise OutsideValidity("rod_section", "The rod's cross-section and elastic modulus must be above zero.", "> 0")
    return force * rod_length / (elastic_modulus * section_area)


@method(
    id="inertia-at-top-dead-centre",
    title="Inertia force of the reciprocating parts at top dead centre",
    formula="F = m · (S/2) · ω² · (1 + S / (2 l))",
    symbols={
        "F": "force [N]",
        "m": "piston, pin, rings and small end [kg]",
        "S": "stroke [m]",
        "ω": "crank speed [rad/s]",
        "l": "rod length [m]",
    },
    source="heywood-1988",
    locator="ch. 2 and 15, acceleration of the piston at top dead centre, exact without pin offset",
    evidence="textbook",
    example=Example(
        {"reciprocating_mass": 0.62, "stroke": 0.073, "rod_length": 0.136, "speed": 575.9587},
        9522.0,
        by="by hand: 0.62 kg at 15 358 m/s²",
        rel_tol=2e-4,
    ),
)
def inertia_at_top_dead_centre(
    *, reciprocating_mass: Mass, stroke: Length, rod_length: Length, speed: RotationalSpeed
) -> Force:
    """Force in N by which the piston pulls on the rod at top dead centre.

    Raises:
        Contradiction: the rod is not longer than the crank radius.
    """
    radius = stroke / 2
    if rod_length <= radius:
        raise Contradiction(
            ("rod_length", "stroke"),
            "The rod must be longer than half the stroke. Send the length from eye centre to eye centre.",
        )
    return reciprocating_mass * radius * speed * speed * (1 + radius / rod_length)


@method(
    id="running-squish",
    title="Squish clearance at running temperature and speed",
    formula="c_run = c + ΔL_case,barrel − ΔL_throw,rod,pin height − δ_rod − play − rock",
    symbols={
        "c": "cold squish clearance [m]",
        "ΔL": "thermal growth of the parts [m]",
        "δ_rod": "stretch of the rod [m]",
        "play": "main, rod and pin clearances, if the piston was pushed down to measure [m]",
        "rock": "rise of the crown's edge as the piston rocks [m]",
    },
    source="derived",
    locator="chain of the parts between crankshaft and head",
    evidence="derived",
    example=Example(
        {"cold": 1.2e-3, "thermal": 0.041e-3, "stretch": 0.049e-3, "play": 0.10e-3, "rock": 0.05e-3},
        {"running": 1.042e-3},
        by="by hand: 1.20 + 0.041 − 0.049 − 0.10 − 0.05 mm",
    ),
)
def running_squish(*, cold: Length, thermal: Length, stretch: Length, play: Length = 0.0, rock: Length = 0.0) -> RunningSquish:
    """Squish clearance in m at speed; ``thermal`` is the growth of case and barrel less that of throw, rod and piston.

    ``stretch``, ``play`` and ``rock`` are lengths taken away and not negative.

    Raises:
        OutsideValidity: one of them is negative.
    """
    for field, length in (("rod_stretch", stretch), ("lost_motion", play), ("piston_rock", rock)):
        if length < 0:
            raise OutsideValidity(field, "Send it as a positive length; it is taken off the clearance.", "≥ 0")
    return RunningSquish(cold, thermal, -stretch, -play, -rock, cold + thermal - stretch - play - rock)
