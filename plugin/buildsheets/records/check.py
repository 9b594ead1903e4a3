"""Validation: the declarations applied to what was read, and their complaints in plain words at the right place."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from buildsheets.records.declared import Model, field_at, keys_of
from buildsheets.records.problems import Mark, Problem, in_order, nearest, problem_at
from buildsheets.records.reader import Document, Location
from buildsheets.records.wording import as_yaml, one_of, quoted

Declared = TypeVar("Declared", bound=BaseModel)

# What people write for a key when they have not looked it up. Only keys valid at the place are offered.
SYNONYMS: dict[str, tuple[str, ...]] = {
    "amps": ("current", "continuous_current", "motor_current"),
    "author": ("builder",),
    "by": ("builder",),
    "cars": ("vehicles",),
    "chip": ("decoder",),
    "class": ("vehicle_class",),
    "coaches": ("vehicles",),
    "cost": ("unit_price",),
    "count": ("quantity",),
    "cvs": ("decoder_settings",),
    "date": ("dates",),
    "description": ("summary", "shows"),
    "gauge": ("scale",),
    "gearing": ("gear_train",),
    "gears": ("gear_train",),
    "gradient": ("grade",),
    "images": ("pictures",),
    "incline": ("grade",),
    "name": ("title",),
    "ohms": ("resistance",),
    "photos": ("pictures",),
    "pinion": ("driver",),
    "power": ("rating",),
    "price": ("unit_price",),
    "qty": ("quantity",),
    "rpm": ("no_load_speed", "speed", "motor_speed"),
    "sheet": ("format",),
    "speed": ("top_speed", "motor_speed"),
    "teeth": ("driver",),
    "value": ("resistance", "capacitance"),
    "voltage": ("nominal_voltage", "track", "forward_voltage", "rated_voltage"),
    "volts": ("nominal_voltage", "voltage", "track", "motor_voltage"),
    "wagons": ("vehicles",),
    "watts": ("rating", "power"),
    "weight": ("mass", "vehicle_mass"),
    "wheel": ("driving_wheel",),
    "worm_wheel": ("driven",),
}


def problems_of(document: Document, model: Model) -> list[Problem]:
    """Return what is wrong with a file that is read as this model."""
    return validated(document, model)[1]


def validated(
    document: Document, model: type[Declared], unfilled: Collection[Location] = ()
) -> tuple[Declared | None, list[Problem]]:
    """Read plain data as a model.

    Parameters
    ----------
    document : Document
        Data and places; a key with nothing after it counts as left out.
    model : type
        What it should be.
    unfilled : collection of Location
        Groups that name a stock part nobody knows: what they lack is not held against them.

    Returns
    -------
    instance : model or None
        None if there are problems.
    problems : list of Problem
        All of them, in the order of the file.
    """
    data = without_nulls(document.data)
    if not isinstance(data, dict):
        message = "key: value lines belong here; start the file with format: 1"
        return None, [problem_at(document.mark(()), message)]
    try:
        return model.model_validate(data), []
    except ValidationError as error:
        found = error.errors(include_url=False)
    held = [details for details in found if not (details["type"] == "missing" and details["loc"][:-1] in unfilled)]
    return None, in_order(_problem(details, document, model, data) for details in held)


def without_nulls(data: Any) -> Any:
    """Return plain data without keys that have nothing after them: such a key counts as left out."""
    if isinstance(data, dict):
        return {key: without_nulls(value) for key, value in data.items() if value is not None}
    if isinstance(data, list):
        return [without_nulls(item) for item in data]
    return data


def _problem(details: ErrorDetails, document: Document, model: Model, data: dict[str, Any]) -> Problem:
    location = _location(details, data)
    around, field = field_at(model, data, location)
    kind = details["type"]
    if kind == "missing":
        return problem_at(_parent_mark(document, location), _missing(str(location[-1]), field))
    if kind == "extra_forbidden":
        return problem_at(document.key_mark(location), _unknown_key(str(location[-1]), around))
    if details["loc"][-1:] == ("[key]",):
        message = f'"{location[-1]}" cannot be a name; use lower-case letters and digits with single hyphens between'
        return problem_at(document.key_mark(location), message)
    write = _WORDS.get(kind, _as_said)
    mark = _own_mark(document, location) if "field" in details.get("ctx", {}) else document.mark(location)
    return problem_at(mark, write(details, _Right(str(location[-1]) if location else "", field)))


def _location(details: ErrorDetails, data: Any) -> Location:
    """Place in the document: names of union members are not in it, the field of a model's own check is added."""
    location: list[str | int] = []
    parts = [part for part in details["loc"] if part != "[key]"]
    named = details.get("ctx", {}).get("field")
    if named:
        parts += [int(part) if part.isdigit() else part for part in str(named).split(".")]
    wanted = bool(named) or details["type"] in ("missing", "extra_forbidden")
    for index, part in enumerate(parts):
        inside = isinstance(data, dict) and part in data
        if inside or (isinstance(data, list) and isinstance(part, int) and part < len(data)):
            location.append(part)
            data = data[part]
        elif wanted and index == len(parts) - 1:
            location.append(part)
    return tuple(location)


def _own_mark(document: Document, location: Location) -> Mark:
    """Fields that disagree are a matter of the record, though one of them may stand in a stock file."""
    while location and document.mark(location).file != document.file:
        location = location[:-1]
    return document.mark(location)


def _parent_mark(document: Document, location: Location) -> Mark:
    """A missing key has no place; its group's key has. A key with nothing after it is there all the same."""
    return document.keys.get(location) or document.key_mark(location[:-1])


class _Right:
    """What would be right at a place."""

    def __init__(self, key: str, field: FieldInfo | None) -> None:
        self.key = key
        examples = (field.examples or []) if field else []
        self.example = examples[0] if examples else None
        self.in_list = key.isdigit()
        if self.in_list and isinstance(self.example, list):
            self.example = self.example[0]
        self.name = "this entry" if self.in_list else key

    @property
    def line(self) -> str:
        """An example as a line of the record."""
        if self.example is None:
            return f"{self.key}: ..."
        return as_yaml(self.example) if self.in_list else f"{self.key}: {as_yaml(self.example)}"


def _missing(key: str, field: FieldInfo | None) -> str:
    return f'"{key}" is missing; add {_Right(key, field).line}'


def _unknown_key(key: str, around: Model | None) -> str:
    known = keys_of(around) if around else []
    plain = key.strip().casefold().replace(" ", "_").replace("-", "_")
    meant = next((name for name in SYNONYMS.get(plain, ()) if name in known), None) or nearest(plain, known)
    if meant:
        return f'unknown key "{key}"; did you mean "{meant}"?'
    return f'unknown key "{key}"; keys here are {", ".join(known)}'


def _as_said(details: ErrorDetails, right: _Right) -> str:
    """Complaints of our own declarations say already what would be right."""
    return details["msg"] if ";" in details["msg"] else f"{details['msg']}; write {right.line}"


def _quantity(details: ErrorDetails, right: _Right) -> str:
    said = details["ctx"]
    example = right.example if isinstance(right.example, str) and not right.in_list else said["example"]
    return f"{said['problem']}; {said['advice'].replace('{example}', example)}"


def _whole_number(details: ErrorDetails, right: _Right) -> str:
    return f"{quoted(details['input'])} is not a whole number; write {right.line}"


def _bound(details: ErrorDetails, right: _Right) -> str:
    limits = details["ctx"]
    word, limit = ("least", limits["ge"]) if "ge" in limits else ("most", limits["le"])
    return f"{details['input']} is out of range; {right.name} is at {word} {limit}"


def _text(details: ErrorDetails, right: _Right) -> str:
    value = details["input"]
    if isinstance(value, int):
        start = "" if right.in_list else f"{right.key}: "
        return f'{quoted(value)} is not read as text; put it in quotes: {start}"{quoted(value)}"'
    return f"{quoted(value)} stands where text belongs; write {right.line}"


def _length(details: ErrorDetails, right: _Right) -> str:
    limits = details["ctx"]
    if "max_length" in limits:
        return f"{right.name} is longer than {limits['max_length']} characters; shorten it"
    return f"{right.name} is empty; write {right.line}"


def _form(details: ErrorDetails, right: _Right) -> str:
    return f"{quoted(details['input'])} has the wrong form; write it like {as_yaml(right.example)}"


def _choice(details: ErrorDetails, right: _Right) -> str:
    expected = str(details["ctx"]["expected"])
    choices = re.findall(r"'([^']*)'", expected) or [expected]
    close = nearest(str(details["input"]), choices)
    if close and len(choices) > 1:
        return f'{quoted(details["input"])} is not known here; did you mean "{close}"?'
    return f"{quoted(details['input'])} is not known here; write {one_of(choices)}"


def _yes_or_no(details: ErrorDetails, right: _Right) -> str:
    return f"{quoted(details['input'])} stands where yes or no belongs; write true or false"


def _list(details: ErrorDetails, right: _Right) -> str:
    example = right.example if isinstance(right.example, list) else None
    line = f"{right.key}: {as_yaml(example)}" if example else 'one line for each, beginning with "- "'
    return f"{quoted(details['input'])} stands where a list belongs; write {line}"


def _group(details: ErrorDetails, right: _Right) -> str:
    line = right.line if isinstance(right.example, dict) else f"{right.key}: and its keys below it, two spaces in"
    return f"{quoted(details['input'])} stands where a group of keys belongs; write {line}"


def _number_of_items(details: ErrorDetails, right: _Right) -> str:
    limits = details["ctx"]
    if "max_length" in limits:
        return f"{right.name} has more than {limits['max_length']} entries; take some out"
    return f"{right.name} is empty; write {right.line}"


_WORDS: dict[str, Callable[[ErrorDetails, _Right], str]] = {
    "quantity": _quantity,
    "int_type": _whole_number,
    "greater_than_equal": _bound,
    "less_than_equal": _bound,
    "string_type": _text,
    "string_too_short": _length,
    "string_too_long": _length,
    "string_pattern_mismatch": _form,
    "literal_error": _choice,
    "enum": _choice,
    "bool_type": _yes_or_no,
    "list_type": _list,
    "dict_type": _group,
    "model_type": _group,
    "too_short": _number_of_items,
    "too_long": _number_of_items,
}
