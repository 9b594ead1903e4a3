"""Words of the parts' pages that stand in the declarations of records: labels, choices and roles, in the language that is spoken."""

from __future__ import annotations

import re
from collections.abc import Iterator
from enum import StrEnum
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel

from buildsheets.languages import noted, speaking, translated
from buildsheets.languages.numbers import localised
from buildsheets.records.declared import Model, item_type, model_for
from buildsheets.records.models import Record, Stock, StockPart
from buildsheets.records.quantities import Quantity

PARTS_LIST = noted("parts list")
"""The role of a part that a record only lists."""
OWN_DATA = noted(", with data of its own")
"""After the role of a part of which the record says more or otherwise than the stock: it tells nothing of the stock's data."""
YES, NO = noted("yes"), noted("no")
SENSES = {"sound": noted("sound (of a decoder)")}
"""Words that mean something else elsewhere, as the catalogue has them."""
_POINT = re.compile(r"(?<=\d)\.(?=\d)")
_NO_SIGN = re.compile("[a-z]{3}")
"""What tells words from signs, such as E24 or B, which are the same in every language."""


def written(value: object, declared: Any) -> str:
    """Return a value as the stock has it; what is a number or chosen from a list is in the language that is spoken.

    Parameters
    ----------
    value : object
        As read.
    declared : type or None
        Type of its field; None where it is not declared.
    """
    if isinstance(value, bool):
        return translated(YES) if value else translated(NO)
    if isinstance(value, dict):
        model = model_for(declared, value)
        fields = model.model_fields if model else {}
        return ", ".join(f"{_word(_plain(key))} {written(part, fields[key].annotation if key in fields else None)}" for key, part in value.items())
    if isinstance(value, list):
        return "; ".join(written(part, item_type(declared, value)) for part in value)
    text = str(value)
    if text in _choices(declared):
        return _word(text)
    if _is_quantity(declared):  # whatever unit the stock has it in
        return _POINT.sub(speaking().decimal, text)
    return localised(text, speaking()) or text


def _is_quantity(declared: Any) -> bool:
    return declared is Quantity or any(map(_is_quantity, get_args(declared)))


def _word(text: str) -> str:
    return speaking().messages.get(SENSES.get(text, text)) or translated(text)


def _plain(key: str) -> str:
    return key.replace("_", " ")


def role_told(role: str) -> str:
    """Return what a part serves as in the language that is spoken.

    Parameters
    ----------
    role : str
        Keys of the record in words, joined by colons, such as "before: motor".
    """
    bare = role.removesuffix(OWN_DATA)
    return ": ".join(map(_word, bare.split(": "))) + translated(OWN_DATA) * (bare != role)


def words_of_parts() -> Iterator[str]:
    """Yield the fixed words of these pages that stand in the declarations of a record: labels, choices and roles."""
    yield from map(str.capitalize, _sections())
    for section in _sections():
        yield from _words_below(Stock.model_fields[section].annotation)
    yield from (SENSES.get(word, word) for word in dict.fromkeys(_ways_to_parts(Record, ())))


def _sections() -> list[str]:
    return [name for name in Stock.model_fields if name != "format"]


def _words_below(declared: Any) -> Iterator[str]:
    for model in _models_in(declared):
        for key, field in model.model_fields.items():
            if issubclass(model, StockPart):
                yield field.title or key
            else:
                yield SENSES.get(_plain(key), _plain(key))
            yield from (SENSES.get(word, word) for word in _choices(field.annotation) if _NO_SIGN.search(word))
            yield from _words_below(field.annotation)


def _ways_to_parts(model: Model, above: tuple[Model, ...]) -> list[str]:
    """Return the keys on all ways from a model to a part that the stock may have, in words."""
    ways = []
    for key, field in model.model_fields.items():
        below = [inner for inner in _models_in(field.annotation) if inner not in above]
        further = [word for inner in below for word in _ways_to_parts(inner, (*above, model))]
        if further or any(issubclass(inner, StockPart) for inner in below):
            ways += [_plain(key), *further]
    return ways


def _models_in(declared: Any) -> Iterator[Model]:
    if isinstance(declared, type) and issubclass(declared, BaseModel):
        yield declared
    for inner in get_args(declared):
        yield from _models_in(inner)


def _choices(declared: Any) -> list[str]:
    """Return the words among which a field lets one choose."""
    if isinstance(declared, type) and issubclass(declared, StrEnum):
        return [str(choice) for choice in declared]
    if get_origin(declared) is Literal:
        return [choice for choice in get_args(declared) if isinstance(choice, str)]
    return [word for inner in get_args(declared) for word in _choices(inner)]
