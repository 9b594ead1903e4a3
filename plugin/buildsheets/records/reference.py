"""The manual's field reference, written from the declarations of the record."""

from __future__ import annotations

import re
import types
from collections.abc import Iterable, Iterator
from enum import Enum
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from buildsheets.records.models import Record, Stock
from buildsheets.records.quantities import DateField, QuantityField
from buildsheets.records.scales import ScaleField, scale_names
from buildsheets.records.wording import as_yaml

_OPENING = """# Field reference

Every key of a record, and of the files in `builds/stock`. Keys in **bold** must be given; all others only when
you know them.
"""
_PLAIN = {bool: "true or false", int: "whole number", str: "text", float: "number"}


def field_reference() -> str:
    """Return the reference as Markdown: one section for each part of a record, one row for each key."""
    return "\n".join([_OPENING, *(_section(part) for part in _parts())])


def _parts() -> list[type[BaseModel]]:
    """Parts in the order a reader meets them."""
    found: list[type[BaseModel]] = []
    waiting: list[type[BaseModel]] = [Record, Stock]
    while waiting:
        part = waiting.pop(0)
        if part in found:
            continue
        found.append(part)
        below = [leaf for info in part.model_fields.values() for leaf in _leaves(info) if _is_part(leaf)]
        waiting = [*below, *waiting]
    return found


def _section(part: type[BaseModel]) -> str:
    rows = [_row(name, info) for name, info in part.model_fields.items()]
    head = "| Key | What it is | Write | Example |\n| --- | --- | --- | --- |"
    meaning = " ".join((part.__doc__ or "").split())
    return f"## {_title(part)}\n\n{meaning}\n\n" + "\n".join([head, *rows]) + "\n"


def _row(name: str, info: FieldInfo) -> str:
    key = f"**`{name}`**" if info.is_required() else f"`{name}`"
    writes = " or ".join(dict.fromkeys(_words(leaf) for leaf in _leaves(info)))
    many = "list of " if _is_list(info.annotation) else ""
    example = f"`{as_yaml(info.examples[0])}`" if info.examples else ""
    cells = [key, info.description or "", many + writes, example]
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"


def _leaves(info: FieldInfo) -> Iterator[Any]:
    """Kinds of value a field takes, without None."""
    yield from _marks(info.metadata) or _inside(info.annotation)


def _marks(metadata: Iterable[Any]) -> list[Any]:
    return [mark for mark in metadata if isinstance(mark, QuantityField | DateField | ScaleField)]


def _inside(annotation: Any) -> Iterator[Any]:
    origin, arguments = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        yield from _marks(arguments[1:]) or _inside(arguments[0])
    elif origin in (Union, types.UnionType, list, dict, tuple):
        # the key of a mapping is a name the club chooses
        for argument in arguments[1:] if origin is dict else arguments:
            yield from _inside(argument)
    elif annotation is not type(None):
        yield annotation


def _words(leaf: Any) -> str:
    if isinstance(leaf, QuantityField | DateField | ScaleField):
        return _written(leaf)
    if get_origin(leaf) is Literal:
        return " or ".join(f"`{word}`" for word in get_args(leaf))
    if _is_part(leaf):
        return f"[{_title(leaf).lower()}](#{_title(leaf).lower().replace(' ', '-')})"
    if isinstance(leaf, type) and issubclass(leaf, Enum):
        return ", ".join(f"`{member.value}`" for member in leaf)
    return _PLAIN.get(leaf, "text")


def _written(mark: QuantityField | DateField | ScaleField) -> str:
    if isinstance(mark, DateField):
        return "year-month-day"
    if isinstance(mark, ScaleField):
        return "a scale: " + ", ".join(f"`{name}`" for name in scale_names())
    units = ", ".join(f"`{name}`" for name in mark.kind.units if name)
    return f"{mark.kind.name} in {units}" if units else mark.kind.name


def _is_part(leaf: Any) -> bool:
    return isinstance(leaf, type) and issubclass(leaf, BaseModel)


def _is_list(annotation: Any) -> bool:
    return get_origin(annotation) is list or any(get_origin(inner) is list for inner in get_args(annotation))


def _title(part: type[BaseModel]) -> str:
    return re.sub(r"(?<=[a-z])(?=[A-Z])", " ", part.__name__).capitalize().replace("Cv", "CV")
