"""How values and examples are written in a message."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from typing import Any

_PLAIN = re.compile(r"[A-Za-z0-9.<](?:[^:#{}\[\],\n]|:(?=\S))*")
_NOT_TEXT = re.compile(r"-?[0-9]+|true|false|null", re.IGNORECASE)
_SHOWN = 40


def as_yaml(value: Any) -> str:
    """Return a value as one would write it on one line of a record."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key}: {as_yaml(inner)}" for key, inner in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(as_yaml(inner) for inner in value) + "]"
    if isinstance(value, str):
        plain = _PLAIN.fullmatch(value) and not _NOT_TEXT.fullmatch(value)
        return value if plain else json.dumps(value, ensure_ascii=False)
    return json.dumps(value)


def quoted(value: Any) -> str:
    """Return what was written, in quotes and shortened, to say which value is meant."""
    if isinstance(value, dict):
        return "a group of keys"
    if isinstance(value, list):
        return "a list"
    if value is None:
        return "nothing"
    if isinstance(value, str):
        return f'"{value if len(value) <= _SHOWN else value[:_SHOWN] + "..."}"'
    return json.dumps(value)


def one_of(choices: Sequence[str]) -> str:
    """Return the choices as a sentence lists them."""
    if len(choices) < 2:
        return "".join(choices)
    return ", ".join(choices[:-1]) + " or " + choices[-1]
