"""The kinds of property that the tables are made of, with the ranges that several of them share."""

from service.reference.schema import Property


def length(low: float, high: float, *, required: bool = False) -> Property:
    """A length printed in millimetres or inches; the range is in metres."""
    return Property("dimension", ("mm", "in"), low, high, required)


def dimension(units: str, low: float, high: float, *, required: bool = False) -> Property:
    """A number with one of the units, given as words; the range is in SI."""
    return Property("dimension", tuple(units.split()), low, high, required)


def number(low: float, high: float, *, required: bool = False) -> Property:
    """A number without a unit."""
    return Property("number", low=low, high=high, required=required)


def integer(low: int, high: int, *, required: bool = False) -> Property:
    """A whole number."""
    return Property("integer", low=low, high=high, required=required)


def choice(*choices: str, required: bool = False) -> Property:
    """One of a closed list of words."""
    return Property("choice", choices=choices, required=required)


def reference(table: str, *, required: bool = False) -> Property:
    """The id of an entity in another table."""
    return Property("reference", table=table, required=required)


def band(name: str, low_to_high: Property) -> dict[str, Property]:
    """A band: ``<name>_low`` and ``<name>_high``."""
    return {f"{name}_low": low_to_high, f"{name}_high": low_to_high}


TEXT = Property("text")
SAID = Property("text", required=True)

STRESS = dimension("MPa psi", 10e6, 3e9)
MODULUS = dimension("GPa", 1e9, 1e12)
PRESSURE = dimension("bar kPa psi kgf/cm2", 1e3, 5e6)
TORQUE = dimension("N*m lbf*ft lbf*in", 0.1, 1000)
SPEED = dimension("rpm", 1, 1300)
ANGLE = dimension("deg", -3.2, 6.3)
TEMPERATURE = dimension("degC degF K", 150, 1500)
TIME = dimension("s min h", 0.1, 1e6)
VOLUME = dimension("L qt cm3 in3", 1e-6, 0.2)
SHARE = dimension("% ppm", 0, 1)
YES_NO = choice("yes", "no")
CLEARANCE = length(0, 0.01)
