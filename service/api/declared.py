"""What a request model declares of the place where a fault stands: an example that would do, and the choices."""

import types
from collections.abc import Iterable, Iterator
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from service.answers.inputs import Measured, Number

Location = tuple[int | str, ...]


def example_at(model: type[BaseModel], location: Location) -> Any:
    """A value that would do at a place of a request, or None where nothing declares one."""
    try:
        return _example(_declaration(model, location))
    except LookupError:
        return None


def choices_at(model: type[BaseModel], location: Location) -> list[str]:
    """The words to choose from at a place of a request; none where it is no choice."""
    try:
        bare, _ = _bare(_declaration(model, location))
    except LookupError:
        return []
    return [str(word) for word in get_args(bare)] if get_origin(bare) is Literal else []


def _declaration(model: type[BaseModel], location: Location) -> Any:
    """The annotation at a place.

    Raises:
        LookupError: there is no such place.
    """
    found: Any = model
    for part in location:
        bare, _ = _bare(found)
        if isinstance(part, str) and isinstance(bare, type) and issubclass(bare, BaseModel):
            field = bare.model_fields[part]
            found = Annotated[field.annotation, field, *field.metadata]
        elif get_origin(bare) in (list, tuple):
            found = get_args(bare)[0]
        else:
            found = get_args(bare)[1]  # of a mapping, by name
    return found


def _bare(annotation: Any) -> tuple[Any, list[Any]]:
    """The type without what says that it may be absent, and all that is said about it, the nearest first."""
    said: list[Any] = []
    while True:
        origin, arguments = get_origin(annotation), get_args(annotation)
        if origin is Annotated:
            said += arguments[1:]
            annotation = arguments[0]
        elif origin in (Union, types.UnionType):
            annotation = next(it for it in arguments if it is not types.NoneType)
        else:
            return annotation, said


def _example(annotation: Any) -> Any:
    bare, said = _bare(annotation)
    declared = next(_declared(said), None)
    if declared is not None:
        return declared
    if get_origin(bare) is Literal:
        return get_args(bare)[0]
    if get_origin(bare) in (list, tuple):
        item = _example(get_args(bare)[0])
        return None if item is None else [item]
    if isinstance(bare, type) and issubclass(bare, BaseModel):
        needed = {name for name, field in bare.model_fields.items() if field.is_required()}
        parts = {name: _example(_declaration(bare, (name,))) for name in bare.model_fields if name in needed}
        return parts if parts and None not in parts.values() else None
    return None


def _declared(said: Iterable[Any]) -> Iterator[Any]:
    """The examples that a declaration gives."""
    for it in said:
        if isinstance(it, Measured | Number) and it.example not in (None, ""):
            yield it.example
        elif isinstance(it, FieldInfo) and it.examples:
            yield it.examples[0]
