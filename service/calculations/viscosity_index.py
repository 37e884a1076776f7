"""Viscosity index of an oil, and the viscosity at 40 °C that an index implies (ASTM D2270)."""

from math import log10
from typing import NamedTuple

from service.errors import Contradiction, OutsideValidity
from service.methods import Example, method
from service.units import KinematicViscosity, Ratio

# From this viscosity at 100 °C on, the coefficients of L = a Y² + b Y + c and of H = d Y² + e Y + f, in mm²/s.
_REFERENCE_OILS = (
    (70.0, (0.8353, 14.67, -216.0), (0.1684, 11.85, -97.0)),
    (55.0, (0.85921, 11.1009, -83.190), (0.17130, 11.3680, -76.940)),
    (40.0, (0.84703, 12.6752, -133.310), (0.17029, 11.4866, -80.620)),
    (28.0, (0.87031, 9.7157, -50.770), (0.18411, 10.1015, -46.750)),
    (22.0, (0.91413, 7.4759, -21.820), (0.20323, 9.1267, -34.230)),
    (18.0, (0.97256, 5.2500, -0.980), (0.24504, 7.4160, -16.730)),
    (15.0, (0.97305, 5.3135, -2.200), (0.28889, 5.9741, -4.930)),
    (12.0, (0.76720, 10.7972, -38.180), (0.20073, 8.4658, -22.490)),
    (9.0, (0.88779, 7.5527, -16.600), (0.26665, 6.7015, -10.810)),
    (7.7, (0.41858, 16.1558, -56.040), (0.05794, 10.5156, -28.240)),
    (7.0, (0.01191, 21.4750, -72.870), (0.79762, -0.7321, 14.610)),
    (6.4, (3.35714, -23.5643, 78.466), (0.22619, 7.7369, -16.656)),
    (5.0, (0.10100, 16.6350, -45.469), (0.04985, 9.1613, -18.557)),
    (4.4, (2.50000, -7.2143, 13.812), (0.82143, 1.5679, 0.119)),
    (3.8, (3.38095, -15.4952, 33.196), (0.78571, 1.7929, -0.183)),
    (2.0, (1.14673, 1.7576, -0.109), (0.84155, 1.5521, -0.077)),
)


class ReferenceOils(NamedTuple):
    """Viscosity at 40 °C of the two reference oils that agree with the sample at 100 °C."""

    index_0: KinematicViscosity
    index_100: KinematicViscosity


@method(
    id="viscosity-index-reference-oils",
    title="Reference oils of the viscosity index",
    formula="L = a Y² + b Y + c; H = d Y² + e Y + f, with coefficients by range of Y",
    symbols={
        "L": "viscosity at 40 °C of an oil of index 0 [mm²/s]",
        "H": "viscosity at 40 °C of an oil of index 100 [mm²/s]",
        "Y": "viscosity of the sample at 100 °C [mm²/s]",
    },
    source="astm-d2270-2010",
    locator="appendix X1, fits of table 1; the coefficients are recalled and agree with a library's copy of table 1",
    evidence="from-memory",
    valid="Y from 2 mm²/s",
    example=Example(
        {"viscosity_100": 8.86e-6},
        {"index_0": 119.94e-6, "index_100": 69.48e-6},
        by="ASTM D2270, 5.1.4 example",
        rel_tol=3e-4,
    ),
)
def reference_oils(*, viscosity_100: KinematicViscosity) -> ReferenceOils:
    """Viscosity at 40 °C in m²/s of the reference oils of index 0 and 100.

    Raises:
        OutsideValidity: the oil is thinner than 2 mm²/s at 100 °C, or not a finite number.
    """
    y = viscosity_100 * 1e6
    # The decimal form of a limit may land one bit under it: 2 mm²/s is still 2 mm²/s.
    if not 2.0 * (1 - 1e-12) <= y <= 1e4:
        raise OutsideValidity(
            "viscosity_100",
            "The viscosity index is defined from 2 mm²/s at 100 °C upward; send the viscosity of the oil sheet.",
            "2 to 10000 mm²/s",
        )
    index_0, index_100 = next(
        (low, high) for start, low, high in _REFERENCE_OILS if y >= start or start == _REFERENCE_OILS[-1][0]
    )
    return ReferenceOils(_quadratic(index_0, y) * 1e-6, _quadratic(index_100, y) * 1e-6)


@method(
    id="viscosity-index",
    title="Viscosity index from the viscosities at 40 °C and 100 °C",
    formula="VI = 100 (L - U)/(L - H) for U ≥ H, else VI = 100 + (10^N - 1)/0.00715 with N = log(H/U)/log(Y)",
    symbols={
        "U": "viscosity at 40 °C [mm²/s]",
        "Y": "viscosity at 100 °C [mm²/s]",
        "L": "reference oil of index 0 at 40 °C [mm²/s]",
        "H": "reference oil of index 100 at 40 °C [mm²/s]",
    },
    source="astm-d2270-2010",
    locator="procedures A and B",
    evidence="standard",
    valid="viscosity at 100 °C from 2 mm²/s, and thicker at 40 °C than at 100 °C",
    example=Example({"viscosity_40": 73.30e-6, "viscosity_100": 8.86e-6}, 92.43, by="ASTM D2270, 5.1.4 example", rel_tol=3e-4),
)
def viscosity_index(*, viscosity_40: KinematicViscosity, viscosity_100: KinematicViscosity) -> Ratio:
    """Viscosity index, not rounded; the higher, the less the oil thins as it warms.

    Raises:
        OutsideValidity: the oil is thinner than 2 mm²/s at 100 °C.
        Contradiction: the oil is not thicker at 40 °C than at 100 °C.
    """
    oils = reference_oils(viscosity_100=viscosity_100)
    if not viscosity_40 > viscosity_100:
        raise Contradiction(
            ("viscosity_40", "viscosity_100"),
            "An oil is thicker at 40 °C than at 100 °C; the two figures look swapped.",
        )
    if viscosity_40 >= oils.index_100:
        return 100 * (oils.index_0 - viscosity_40) / (oils.index_0 - oils.index_100)
    exponent = log10(oils.index_100 / viscosity_40) / log10(viscosity_100 * 1e6)
    return 100 + (10**exponent - 1) / 0.00715


@method(
    id="viscosity-from-index",
    title="Viscosity at 40 °C from the viscosity at 100 °C and the viscosity index",
    formula="U = L - VI (L - H)/100 for VI ≤ 100, else U = H/Y^N with N = log10(1 + 0.00715 (VI - 100))",
    symbols={"U": "viscosity at 40 °C [mm²/s]", "Y": "viscosity at 100 °C [mm²/s]", "VI": "viscosity index"},
    source="astm-d2270-2010",
    locator="procedures A and B, solved for U",
    evidence="standard",
    valid="index 0 to 400",
    example=Example({"viscosity_100": 8.86e-6, "index": 92.43}, 73.30e-6, by="ASTM D2270, 5.1.4 example, read backwards"),
)
def viscosity_from_index(*, viscosity_100: KinematicViscosity, index: Ratio) -> KinematicViscosity:
    """Kinematic viscosity at 40 °C in m²/s of an oil, from that at 100 °C and its viscosity index.

    Raises:
        OutsideValidity: the index is outside 0 to 400, or the oil is thinner than 2 mm²/s at 100 °C.
    """
    if not 0 <= index <= 400:
        raise OutsideValidity("index", "A viscosity index of an engine oil lies between 0 and 400.", "0 to 400")
    oils = reference_oils(viscosity_100=viscosity_100)
    if index <= 100:
        return oils.index_0 - index / 100 * (oils.index_0 - oils.index_100)
    exponent = log10(1 + 0.00715 * (index - 100))
    return float(oils.index_100 / (viscosity_100 * 1e6) ** exponent)


def _quadratic(coefficients: tuple[float, float, float], y: float) -> float:
    a, b, c = coefficients
    return (a * y + b) * y + c
