"""Finds the declaration that belongs to a place in a record."""

from __future__ import annotations

import inspect
import types
from collections.abc import Iterator
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import BaseModel, Discriminator, Tag
from pydantic.fields import FieldInfo

from buildsheets.records.reader import Location

Model = type[BaseModel]


def model_for(annotation: Any, group: dict[str, Any]) -> Model | None:
    """Return the model that a group of keys at a place of this type is read as, or None."""
    models = [option for option in _options(annotation, group) if _is_model(option)]
    return models[0] if models else None


def item_type(annotation: Any, container: list[Any] | dict[str, Any]) -> Any:
    """Return the type of what a list, or a mapping with free names, at a place of this type holds."""
    wanted = list if isinstance(container, list) else dict
    for option in _options(annotation, container):
        if get_origin(option) is wanted:
            return get_args(option)[-1]
    return None


def field_at(model: Model, data: Any, location: Location) -> tuple[Model | None, FieldInfo | None]:
    """Return the model around a place and the field declared there; None for what is not declared."""
    around: Model | None = None
    field: FieldInfo | None = None
    annotation: Any = model
    for part in location:
        around = model_for(annotation, data) if isinstance(data, dict) else None
        if around is not None:
            field = around.model_fields.get(str(part))
            annotation = field.annotation if field else None
        elif isinstance(data, dict | list):
            annotation = item_type(annotation, data)
        else:
            field = annotation = None
        data = _child(data, part)
    return around, field


def keys_of(model: Model) -> list[str]:
    """Return the keys a group of this model may have, in their order of declaration."""
    return list(model.model_fields)


def _child(data: Any, part: str | int) -> Any:
    if isinstance(data, dict):
        return data.get(str(part))
    if isinstance(data, list) and isinstance(part, int) and part < len(data):
        return data[part]
    return None


def _is_model(option: Any) -> bool:
    return inspect.isclass(option) and issubclass(option, BaseModel)


def _options(annotation: Any, value: Any) -> Iterator[Any]:
    """Types that a value at this place can have; where a function decides among them, the one it names comes first."""
    if get_origin(annotation) is Annotated:
        inner, *notes = get_args(annotation)
        tag = next((note.discriminator(value) for note in notes if _decides(note)), None)
        members = sorted(_members(inner), key=lambda member: _tag(member) != tag) if tag else [inner]
    else:
        members = _members(annotation)
    if len(members) == 1 and members[0] is annotation:
        yield annotation
        return
    for member in members:
        yield from _options(member, value)


def _decides(note: Any) -> bool:
    return isinstance(note, Discriminator) and callable(note.discriminator)


def _members(annotation: Any) -> list[Any]:
    return list(get_args(annotation)) if get_origin(annotation) in (Union, types.UnionType) else [annotation]


def _tag(member: Any) -> str | None:
    notes = get_args(member)[1:] if get_origin(member) is Annotated else ()
    return next((note.tag for note in notes if isinstance(note, Tag)), None)
