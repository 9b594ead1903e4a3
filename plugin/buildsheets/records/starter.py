"""The text a new record starts from."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

NOTES_FROM = 46
"""Column of the comments, where the line before is not longer."""

_HEAD = """\
# yaml-language-server: $schema={schema}
#
# One locomotive's conversion. Quantities are text with a unit: 20.3 mm, 6 V, 5 ft 2 in, 2k2, 1 in 60.
# Write what you know and leave out the rest; the sheet lists what is still to measure, and how.
# Take the "# " off a line to use it, then check the file with: buildsheets check
"""

Line = tuple[str, str]  # as it stands in the record, and what it means


@dataclass(frozen=True)
class Beginning:
    """What is known of a locomotive when its record is begun; `motor` and `decoder` are names of stock parts."""

    title: str
    scale: str
    status: str = "planned"
    traction: str | None = None
    vehicle_class: str | None = None
    motor: str | None = None
    decoder: str | None = None


def starter_record(known: Beginning, schema: str) -> str:
    """Return a record with a comment on every line, which passes the check as it stands.

    Parameters
    ----------
    known : Beginning
        What is known; the lines for all else are there with a `#` before them.
    schema : str
        Path or address of the schema, as seen from the record, for the editor.
    """
    stages: list[Line] = [
        ("  stages:", "one line for each pair of wheels"),
        ("    - {driver: 11, driven: 38, module: 0.4 mm}", "teeth on the motor's side, teeth of its mate"),
        ("    - {worm: 1, driven: 24}", "starts of the worm, teeth of its wheel"),
    ]
    kind = known.vehicle_class and _text(known.vehicle_class)
    blocks = [
        _always([
            ("format: 1", "the way this file is written"),
            (f"title: {_text(known.title)}", "what the sheet is called"),
            (f"status: {known.status}", "planned, on the bench, running or set aside"),
        ]),
        _unused([
            ("route: [motor swap, pinion change, dropper]", "what the conversion consists of"),
            ("builder: Workshop group", "a group or a role, no private name"),
            ("dates: {started: 2026-03-02}", "also first_run, finished, changed"),
            ("summary: What was wrong, what was changed.", "two lines for the library's list"),
        ]),
        _group("prototype:", "the full-size locomotive", {"type": known.traction, "vehicle_class": kind}, [
            ("  type: steam", "steam, diesel, electric or railcar"),
            ("  vehicle_class: 0-6-0 tank", "wheels or kind, in general words"),
            ("  driving_wheel: 5 ft 2 in", "over the tread"),
            ("  top_speed: 55 mph", "highest in service"),
            ("  cylinders: 2", "of a steam locomotive"),
        ]),
        _group("model:", "as it stands on the rails", {"scale": _text(known.scale)}, [
            ("  scale: OO", "its name; ratio: \"1:76.2\" for any other"),
            ("  driving_wheel: 20.3 mm", "over the tread"),
            ("  mass: 285 g", "all of it, with the tender"),
            ("  driven_mass: 240 g", "what the driven wheels carry"),
        ]),
        _group("gear_train:", "from the motor to the axle", {}, stages),
        _group("motor:", "or one line below it, stock: and a name from builds/stock", {"stock": known.motor}, [
            ("  kind: iron core", "iron core or coreless"),
            ("  nominal_voltage: 12 V", "what the data are for"),
            ("  no_load_speed: 9500 rpm", "motor alone at these volts"),
            ("  no_load_current: 55 mA", "motor alone at these volts"),
            ("  stall_current: 0.9 A", "shaft held at these volts"),
        ]),
        _group("decoder:", "or one line below it, stock: and a name from builds/stock", {"stock": known.decoder}, [
            ("  kind: motor and lamps", "motor and lamps, or sound"),
            ("  pulse_class: high", "low is heard as a buzz, high is not"),
            ("  continuous_current: 1.0 A", "what it gives for ever"),
        ]),
        _unused([("supply: {track: 14.5 V ± 3 %, meter: rectified}", "volts on the rails, and the meter that said so")]),
        _group("dropper:", "what stands before the motor", {}, [
            ("  resistor: {resistance: 47 ohm, tolerance: 5 %, rating: 0.5 W}", "one of them"),
            ("  parallel: 2", "so many side by side"),
        ]),
        _unused([("target: {speed: 55 mph, at_step: 126, start_step: 8}", "how it should run")]),
        _unused([("train: {vehicles: 4, vehicle_mass: 110 g, grade: 1 in 60}", "what it should pull, and where")]),
    ]
    return _HEAD.format(schema=schema) + "".join("\n" + "".join(f"{line}\n" for line in block) for block in blocks)


def _always(lines: Sequence[Line]) -> list[str]:
    return [_noted(*line) for line in lines]


def _unused(lines: Sequence[Line]) -> list[str]:
    return [_noted(f"# {text}", note) for text, note in lines]


def _group(head: str, note: str, given: Mapping[str, str | None], lines: Sequence[Line]) -> list[str]:
    """Return a group of which only the given keys are in use; none of it, if none is given."""
    known = {key: value for key, value in given.items() if value is not None}
    if not known:
        return _unused([(head, note), *lines])
    out = [_noted(head, note)]
    keys = [text.strip().partition(":")[0] for text, _ in lines]
    out += [_noted(f"  {key}: {value}", "from builds/stock; a line below it wins over the stock") for key, value in known.items() if key not in keys]
    for key, (text, meaning) in zip(keys, lines, strict=True):
        out.append(_noted(f"  {key}: {known[key]}", meaning) if key in known else _noted(f"  # {text.strip()}", meaning))
    return out


def _noted(text: str, note: str) -> str:
    return f"{text:<{NOTES_FROM - 1}} # {note}"


def _text(value: str) -> str:
    """Quoted text: right in YAML whatever it holds."""
    return json.dumps(" ".join(value.split()), ensure_ascii=False)
