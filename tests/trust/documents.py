"""Documents that a question's model allows: every quantity within its hard range, every id from the dataset.

They reach the calculations behind the checks, where random text never comes.
"""

import types
from collections.abc import Mapping
from functools import cache
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from hypothesis import strategies as st
from pydantic import BaseModel, StringConstraints
from pydantic.fields import FieldInfo

from service.answers.inputs import Measured, Number
from service.answers.topic import Topic
from service.quantities import resolved
from service.reference.dataset import Dataset

_ORDERS = ("1-4-3-2", "1-3-4-2", "1-2", "1", "1-3-2", "1-5-3-6-2-4", "1-8-4-3-6-5-7-2", "1-2-3-4-5-6-7-8-9", "4-3-2-1")
_LOG_HEAD = "time (s),speed (rpm),oil_pressure (kPa),oil_temperature (degC),head_temperature (degC)"
_LOG_ROWS = st.builds(
    "{},{},{},{},{}".format,
    st.integers(0, 3000),
    st.integers(0, 6000) | st.just(""),
    st.integers(0, 700),
    st.integers(-20, 180) | st.just("x"),
    st.floats(-20, 400).map(lambda figure: round(figure, 1)),
)
_WORDS = ("flat four", "<script>alert(1)</script>", "=1+1", "Ø 86 × 73", 'a "b" & c', "–", "@x", "  lead  ")


def documents(topic: Topic, dataset: Dataset) -> st.SearchStrategy[Any]:
    """Documents for one question: free ones, and its examples with some fields drawn anew."""
    free = _model(topic.request, dataset)
    examples = st.sampled_from([example.request for example in topic.examples])
    mixed = st.builds(_mixed, examples, free, st.randoms(use_true_random=False))
    return free | mixed | mixed


def _mixed(example: dict[str, Any], drawn: dict[str, Any], dice: Any) -> dict[str, Any]:
    """The example with about a third of the drawn fields in place of its own or added."""
    return {**example, **{name: value for name, value in drawn.items() if dice.random() < 0.3}}


def _model(model: type[BaseModel], dataset: Dataset) -> st.SearchStrategy[dict[str, Any]]:
    required: dict[str, st.SearchStrategy[Any]] = {}
    optional: dict[str, st.SearchStrategy[Any]] = {}
    for name, info in model.model_fields.items():
        value = _value(info.annotation, info.metadata, name, dataset)
        (required if info.is_required() else optional)[name] = value
    return st.fixed_dictionaries(required, optional=optional)


def _value(annotation: Any, metadata: Any, name: str, dataset: Dataset) -> st.SearchStrategy[Any]:
    for spec in metadata:
        if isinstance(spec, Measured):
            return _quantity(spec)
        if isinstance(spec, Number):
            return _number(spec)
    origin, arguments = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        return _value(arguments[0], (*arguments[1:], *metadata), name, dataset)
    if origin in (Union, types.UnionType):
        return st.one_of([_value(part, metadata, name, dataset) for part in arguments if part is not types.NoneType])
    if origin is Literal:
        return st.sampled_from(arguments)
    if origin in (list, tuple):
        most = min(_length(metadata, "max_length", 6), 6)
        return st.lists(
            _value(arguments[0], (), name, dataset), min_size=min(_length(metadata, "min_length", 0), most), max_size=most
        )
    if origin is dict or (isinstance(origin, type) and issubclass(origin, Mapping)):
        keys = st.sampled_from(["0.34 mm", "0.36 mm", "0.38 mm", "0.014 in", "1/64 in", "2"])
        return st.dictionaries(keys, _value(arguments[1], (), name, dataset), max_size=4)
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return _model(annotation, dataset)
    if annotation is bool:
        return st.booleans()
    if annotation in (int, float):
        return st.integers(0, 100)
    return _text(metadata, name, dataset)


def _length(metadata: Any, bound: str, default: int) -> int:
    for spec in metadata:
        for inner in (spec, *(spec.metadata if isinstance(spec, FieldInfo) else ())):
            if getattr(inner, bound, None) is not None:
                return int(getattr(inner, bound))
    return default


def _quantity(spec: Measured) -> st.SearchStrategy[Any]:
    """Within the hard range, at its ends, at the usual values, at zero where that is allowed."""
    hard, usual = spec.hard_range, spec.plausible_range or spec.hard_range
    edges = [end for end in (hard.low, hard.high, usual.low, usual.high, 0.0) if hard.holds(end)]
    si = st.floats(usual.low, usual.high) | st.floats(hard.low, hard.high) | st.sampled_from(edges)
    units = list(resolved()[spec.dimension].values())

    def written(value: float, unit: Any) -> dict[str, Any]:
        return {"value": (value - unit.offset) / unit.factor, "unit": unit.code}

    return st.builds(written, si, st.sampled_from(units))


def _number(spec: Number) -> st.SearchStrategy[Any]:
    low, high = spec.plausible or (spec.low, spec.high)
    if spec.integer:
        return st.integers(int(low), int(high)) | st.integers(int(spec.low), int(spec.high))
    return st.floats(low, high) | st.floats(spec.low, spec.high) | st.sampled_from([spec.low, spec.high])


def _text(metadata: Any, name: str, dataset: Dataset) -> st.SearchStrategy[Any]:
    patterns = " ".join(str(getattr(spec, "pattern", "")) for spec in metadata if isinstance(spec, StringConstraints))
    if name == "log":
        return st.builds("\n".join, st.lists(_LOG_ROWS, min_size=1, max_size=30).map(lambda rows: [_LOG_HEAD, *rows]))
    if r"\d" in patterns:
        return st.sampled_from(_ORDERS)
    return st.sampled_from(ids(name, dataset))


@cache
def ids(name: str, dataset: Dataset) -> tuple[str, ...]:
    """Ids that a field of this name may mean: of the table whose name is nearest, and a few of every other."""
    near = [table for table in dataset.tables if name[:5] in table]
    meant = [id for table in near for id in list(dataset.entities_of[table])[:40]]
    others = [id for table in dataset.tables for id in list(dataset.entities_of[table])[:4]]
    return tuple(meant) * (1 + 8 * len(others) // (len(meant) or 1)) + tuple(others) + _WORDS
