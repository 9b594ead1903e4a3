"""Which figures wait for a value that the record lacks."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from buildsheets.figures.format import Figures, Missing
from buildsheets.figures.ledger import HOW_TO_FIND, NOTHING_WANTING
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
    "decoder.light_response",
    "decoder.advised_error_mph",
    "highest_volts",
    "sound",
    "haulage",
    "feedback",
    "options",
    "stay_alive.hold_time_s",
)
"""Figures that are worked out together with the running speed."""


def measurable(figures: Figures) -> list[Missing]:
    """Return what the builder can find out; nothing would fill what is empty by rights."""
    return [entry for entry in figures["missing"] if entry["name"] != NOTHING_WANTING]


def settle(figures: Figures, record: models.Record) -> None:
    """Leave in `missing` only keys that wait: those still None, of parts that the locomotive has."""
    for name, keys in _unnamed(figures, record).items():
        _note(figures, name, keys)
    for entry in figures["missing"]:
        waiting = [key for key in entry["needed_for"] if _has(record, key) and _waits(figures, key.split("."))]
        entry["needed_for"] = waiting or entry["needed_for"]


def _unnamed(figures: Figures, record: models.Record) -> dict[str, list[str]]:
    """Figures that are empty because a whole part of the record is, which no single calculation sees."""
    decoder, found = record.decoder, figures["decoder"]
    gaps: dict[str, list[str]] = {}
    if decoder is None and _may_have_decoder(record):
        gaps["decoder"] = [*(f"decoder.{key}" for key, value in found.items() if value is None), "decoder.advised_error_mph"]
    elif found["curve"] is not None and None in found["advised_error_mph"].values():
        abilities = decoder.abilities if decoder else None
        if abilities is None or None in (abilities.speed_table, abilities.top_voltage):
            gaps["decoder.abilities"] = ["decoder.advised_error_mph"]
    if record.prototype is None or record.prototype.type is None:
        gaps["prototype.type"] = ["sound"]
    return gaps


def _note(figures: Figures, name: str, keys: list[str]) -> None:
    for entry in figures["missing"]:
        if entry["name"] == name:
            entry["needed_for"].extend(key for key in keys if key not in entry["needed_for"])
            return
    figures["missing"].append(Missing(name=name, needed_for=keys, how_to_measure=HOW_TO_FIND[name]))


def _has(record: models.Record, key: str) -> bool:
    """Whether the locomotive has the part that a key is of; unnamed keys are of every locomotive."""
    return _PARTS.get(key, _always)(record)


def _always(record: models.Record) -> bool:
    return True


def _may_have_decoder(record: models.Record) -> bool:
    return record.decoder is not None or record.supply is None or record.supply.direct_current is None


def _may_meet_high_volts(record: models.Record) -> bool:
    return bool(record.supply and record.supply.highest) or record.decoder is not None


def _may_be_steam(record: models.Record) -> bool:
    kind = record.prototype.type if record.prototype else None
    return kind is None or kind is models.Traction.STEAM


def may_have_feedback(record: models.Record) -> bool:
    """Whether there is a decoder that is not known to lack feedback."""
    if record.decoder is None and record.supply is not None and record.supply.direct_current is not None:
        return False
    abilities = record.decoder.abilities if record.decoder else None
    return record.feedback is not None or abilities is None or abilities.feedback is not False


_PARTS: dict[str, Callable[[models.Record], bool]] = {
    "decoder.curve": _may_have_decoder,
    "decoder.light_response": _may_have_decoder,
    "decoder.advised_error_mph": _may_have_decoder,
    "dropper": lambda record: record.dropper is not None,
    "feedback": may_have_feedback,
    "highest_volts": _may_meet_high_volts,
    "sound": _may_be_steam,
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
