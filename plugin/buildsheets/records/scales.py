"""Named scales with their true ratios.

A name alone does not give a ratio: N, TT, O and 1 each have more than one. The plain name means what the table
says; British practice has names of its own, such as `N (British)`.

References
----------
.. [1] NEM 010 (2011), scales and gauges; note 3.4 for the British ones.
.. [2] NMRA S-1.2, scale and ratio of standard scales.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from buildsheets.records.problems import nearest

MM_PER_FOOT = 304.8


@dataclass(frozen=True, slots=True)
class Scale:
    """A named scale: `ratio` is prototype over model, `track_gauge` between the rails in m.

    `basis` says where the row comes from: S source opened, M from memory, C common practice.
    """

    name: str
    ratio: float
    track_gauge: float
    region: str
    practice: str
    basis: str
    aliases: tuple[str, ...] = ()


_BOTH = "NEM 010, NMRA S-1.2"
_BRITISH = "British practice"

SCALES = (
    Scale("Z", 220.0, 6.5e-3, "world", _BOTH, "S"),
    Scale("N", 160.0, 9.0e-3, "world", _BOTH, "S"),
    Scale("N (British)", 148.0, 9.0e-3, "UK", _BRITISH, "S", ("N British", "British N", "N (UK)", "N UK")),
    Scale("2 mm fine", MM_PER_FOOT / 2, 9.42e-3, "UK", _BRITISH, "S", ("2 mm finescale", "2FS")),
    Scale("TT", 120.0, 12.0e-3, "world", _BOTH, "S", ("TT (1:120)",)),
    Scale(
        "TT (British 3 mm)",
        MM_PER_FOOT / 3,
        12.0e-3,
        "UK",
        _BRITISH,
        "S",
        ("TT British", "British TT", "TT3", "3 mm"),
    ),
    Scale("H0", 87.0, 16.5e-3, "Europe", "NEM 010", "S"),
    Scale("HO", 87.1, 16.5e-3, "North America", "NMRA S-1.2", "S"),
    Scale("OO", MM_PER_FOOT / 4, 16.5e-3, "UK", _BRITISH, "S", ("00",)),
    Scale("EM", MM_PER_FOOT / 4, 18.2e-3, "UK", _BRITISH, "S"),
    Scale("P4", MM_PER_FOOT / 4, 18.83e-3, "UK", _BRITISH, "S", ("S4", "P4/S4")),
    Scale("S", 64.0, 22.5e-3, "world", _BOTH, "S"),
    Scale("O", 48.0, 31.75e-3, "North America", "NMRA S-1.2", "S", ("O (American)", "O American", "American O")),
    Scale("0", 45.0, 32.0e-3, "Europe", "NEM 010", "S"),
    Scale(
        "O (British)",
        MM_PER_FOOT / 7,
        32.0e-3,
        "UK",
        _BRITISH,
        "S",
        ("O British", "British O", "O UK", "7 mm"),
    ),
    Scale("Scale 7", MM_PER_FOOT / 7, 32.95e-3, "UK", _BRITISH, "S", ("S7", "ScaleSeven")),
    Scale("1", 32.0, 45.0e-3, "world", _BOTH, "S", ("I", "gauge 1")),
    Scale("1 (British 10 mm)", 30.48, 45.0e-3, "UK", _BRITISH, "S", ("1 British", "British 1", "10 mm")),
    Scale("G", 22.5, 45.0e-3, "world", "NEM 010 (IIm, metre gauge)", "S", ("IIm", "G (metre gauge)")),
)

_NOISE = re.compile(r"[\s()./-]+")


class UnknownScaleError(ValueError):
    """No scale has this name; `name` as asked, `suggestion` the nearest known name or None."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.suggestion = nearest(name, [scale.name for scale in SCALES])
        hint = f'did you mean "{self.suggestion}"?' if self.suggestion else "known names: " + ", ".join(scale_names())
        super().__init__(f'no scale is called "{name}"; {hint} Any ratio can be given as ratio: "1:76.2"')


def scale_names() -> list[str]:
    """Return the names of all scales, from the smallest models to the largest."""
    return [scale.name for scale in SCALES]


def scale_named(name: str) -> Scale:
    """Return the scale of this name or alias; case, spaces and brackets do not matter, but O and 0 do.

    Raises
    ------
    UnknownScaleError
        If no scale is called so.
    """
    try:
        return _BY_SPELLING[_folded(name)]
    except KeyError:
        raise UnknownScaleError(name) from None


def alike(name: str) -> list[Scale]:
    """Return the other scales that people call by the same letter, for a note beside a plain name."""
    scale = scale_named(name)
    family = _family(scale)
    return [other for other in SCALES if _family(other) == family and other is not scale]


def _family(scale: Scale) -> str:
    return scale.name.split(" (")[0].replace("0", "O")


def _folded(name: str) -> str:
    return _NOISE.sub("", name.casefold().removesuffix("scale").removesuffix("gauge"))


_BY_SPELLING = {_folded(spelling): scale for scale in SCALES for spelling in (scale.name, *scale.aliases)}


class ScaleField:
    """Tells pydantic how to read and describe a scale; the value is the table's own name for it."""

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Return the schema of a field looked up in the table."""
        return core_schema.no_info_plain_validator_function(self._read)

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        """Return what an editor offers; other spellings of a name are as good."""
        return {"anyOf": [{"enum": scale_names()}, {"type": ["string", "integer"]}]}

    def _read(self, value: Any) -> str:
        if isinstance(value, bool) or not isinstance(value, str | int):
            raise PydanticCustomError("scale", 'a scale is a name; write it like "OO"')
        try:
            return scale_named(str(value)).name
        except UnknownScaleError as error:
            raise PydanticCustomError("scale", "{problem}", {"problem": str(error)}) from None


ScaleName = Annotated[str, ScaleField()]
