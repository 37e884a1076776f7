"""What a method is and what it cites: every formula says where it comes from, as data that the API can return.

A calculation is registered where it is defined::

    @method(
        id="swept-volume",
        title="Swept volume of one cylinder",
        formula="V = π/4 · B² · S",
        symbols={"V": "swept volume [m³]", "B": "bore [m]", "S": "stroke [m]"},
        source="geometry",
        locator="volume of a cylinder",
        evidence="standard",
        example=Example({"bore": 0.1, "stroke": 0.12}, 942.5e-6, by="TM 5-4310-389-14: half of 1885 cm³"),
    )
    def swept_volume(*, bore: Length, stroke: Length) -> Volume: ...
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal, TypeAlias, TypeVar

Evidence: TypeAlias = Literal[
    "standard", "handbook", "government", "textbook", "common-practice", "derived", "from-memory", "invented"
]
Function = TypeVar("Function", bound=Callable[..., Any])


@dataclass(frozen=True, slots=True)
class Example:
    """A worked example: arguments in SI, the expected value (or one per attribute of the result) and who worked it.

    ``expected`` comes from a printed source or from arithmetic by hand, never from the function itself.
    """

    given: Mapping[str, Any]
    expected: float | Mapping[str, float]
    by: str
    rel_tol: float = 1e-4


@dataclass(frozen=True, slots=True)
class Method:
    """A formula or procedure with its citation.

    ``source`` is an id of the bibliography, ``locator`` says where in it, ``evidence`` how well it is known here.
    """

    id: str
    title: str
    formula: str
    source: str
    locator: str
    evidence: Evidence
    symbols: Mapping[str, str] = field(default_factory=dict)
    valid: str = ""
    example: Example | None = None


METHODS: dict[str, Method] = {}
FUNCTIONS: dict[str, Callable[..., Any]] = {}
_METHOD_OF: dict[Callable[..., Any], Method] = {}


def method(
    *,
    id: str,
    title: str,
    formula: str,
    source: str,
    locator: str,
    evidence: Evidence,
    symbols: Mapping[str, str] | None = None,
    valid: str = "",
    example: Example | None = None,
) -> Callable[[Function], Function]:
    """Register the decorated calculation as the method ``id``. The function itself is returned unchanged."""
    entry = Method(id, title, formula, source, locator, evidence, symbols or {}, valid, example)

    def register(function: Function) -> Function:
        if id in METHODS:
            raise ValueError(f"two methods are called {id}")
        METHODS[id] = entry
        FUNCTIONS[id] = function
        _METHOD_OF[function] = entry
        return function

    return register


def method_of(function: Callable[..., Any]) -> Method:
    """The method that a registered calculation implements."""
    return _METHOD_OF[function]
