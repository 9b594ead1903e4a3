"""Which figures wait for a value that the record lacks."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from buildsheets.figures.format import Figures, Missing
from buildsheets.figures.ledger import NOTHING_WANTING
from buildsheets.records import models

WITH_SPEED = (
    "speed",
    "start",
    "motor",
    "dropper",
    "decoder.locked_rotor_current_a",
    "decoder.locked_rotor_current_without_dropper_a",
    "decoder.continuous_margin",
    "decoder.peak_margin",
    "decoder.locked_rotor_current_band_a",
    "decoder.continuous_margin_band",
    "decoder.peak_margin_band",
    "spread",
    "decoder.curve",
    "highest_volts",
    "sound",
    "haulage",
    "feedback",
    "stay_alive.hold_time_s",
)
"""Figures that are worked out together with the running speed."""
LATER = ("options",)
"""Figures that this version leaves empty."""

VERSION = "version"
"""Name of the entry for them."""


def measurable(figures: Figures) -> list[Missing]:
    """Return what the builder can find out: neither what a later version brings nor what is empty by rights."""
    return [entry for entry in figures["missing"] if entry["name"] not in (VERSION, NOTHING_WANTING)]


def later_version() -> Missing:
    """Return the entry that owns up to what this version cannot do; no measurement fills it."""
    return Missing(name=VERSION, needed_for=list(LATER), how_to_measure="This version does not work these out yet.")


def settle(figures: Figures, record: models.Record) -> None:
    """Leave in `missing` only keys that wait: those still None, of parts that the locomotive has."""
    for entry in figures["missing"]:
        waiting = [key for key in entry["needed_for"] if _has(record, key) and _waits(figures, key.split("."))]
        entry["needed_for"] = waiting or entry["needed_for"]


def _has(record: models.Record, key: str) -> bool:
    """Whether the locomotive has the part that a key is of; unnamed keys are of every locomotive."""
    return _PARTS.get(key, _always)(record)


def _always(record: models.Record) -> bool:
    return True


def _may_meet_high_volts(record: models.Record) -> bool:
    return bool(record.supply and record.supply.highest) or record.decoder is not None


def _is_steam(record: models.Record) -> bool:
    return bool(record.prototype and record.prototype.type is models.Traction.STEAM)


def may_have_feedback(record: models.Record) -> bool:
    """Whether there is a decoder that is not known to lack feedback."""
    if record.decoder is None and record.supply is not None and record.supply.direct_current is not None:
        return False
    abilities = record.decoder.abilities if record.decoder else None
    return record.feedback is not None or abilities is None or abilities.feedback is not False


_PARTS: dict[str, Callable[[models.Record], bool]] = {
    "decoder.curve": lambda record: record.decoder is not None,
    "dropper": lambda record: record.dropper is not None,
    "feedback": may_have_feedback,
    "highest_volts": _may_meet_high_volts,
    "sound": _is_steam,
    "stay_alive.hold_time_s": lambda record: record.stay_alive is not None,
}


def _waits(value: Any, path: list[str]) -> bool:
    for name in path:
        if isinstance(value, Mapping):
            value = value[name]
        elif isinstance(value, list) and int(name) < len(value):
            value = value[int(name)]
        else:
            return True
    return not value or (isinstance(value, Mapping) and any(entry is None for entry in value.values()))
