"""Every method says where it comes from and reproduces its worked example, whose figure is from elsewhere."""

import importlib
import pkgutil
from typing import Any

import pytest

import service.calculations
from service.methods import FUNCTIONS, METHODS
from service.reference.dataset import Library

for module in pkgutil.iter_modules(service.calculations.__path__):
    importlib.import_module(f"service.calculations.{module.name}")

EXAMPLES = [pytest.param(entry.id, id=entry.id) for entry in METHODS.values() if entry.example]


@pytest.mark.parametrize("method_id", EXAMPLES)
def test_a_method_reproduces_its_worked_example(method_id: str) -> None:
    """The expected figure comes from a printed source or from arithmetic by hand; ``by`` names it."""
    example = METHODS[method_id].example
    assert example is not None
    result: Any = FUNCTIONS[method_id](**example.given)
    if isinstance(example.expected, float | int):
        assert result == pytest.approx(example.expected, rel=example.rel_tol), example.by
    else:
        for name, expected in example.expected.items():
            assert getattr(result, name) == pytest.approx(expected, rel=example.rel_tol), f"{name}, {example.by}"


@pytest.mark.parametrize("method_id", sorted(METHODS))
def test_a_method_cites_a_source_of_the_bibliography(method_id: str, library: Library) -> None:
    entry = METHODS[method_id]
    assert entry.source in {source.id for source in library.newest.sources}
    assert entry.title
    assert entry.formula
    assert entry.locator


def test_most_methods_have_a_worked_example() -> None:
    without = sorted(entry.id for entry in METHODS.values() if entry.example is None)
    assert not without
