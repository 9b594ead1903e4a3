"""Small invented records, from text through the reader, as the figures meet them."""

from __future__ import annotations

import copy
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import yaml

from buildsheets.figures import Figures, work_out
from buildsheets.records.library import Build, load_build

COMPLETE = """\
format: 1
title: Test bank tank
number: SLR-950
status: running
route: [motor swap, dropper, hard-wired decoder]
bench_time: 5 h
currency: EUR
prototype: {type: steam, driving_wheel: 5 ft 1 in, top_speed: 55 mph, cylinders: 2}
model: {scale: OO, driving_wheel: 20.3 mm, mass: 285 g, driven_mass: 240 g, shell_material: polystyrene, live_frame: right rail}
gear_train:
  stages:
    - {driver: 12, driven: 17, module: 0.4 mm, pressure_angle: 20 deg, driver_shift: "0.3", driven_shift: "0", efficiency: "0.9"}
    - {worm: 1, driven: 24, module: 0.4 mm, worm_diameter: 4.5 mm, pressure_angle: 20 deg, friction: "0.10"}
motor:
  kind: iron core
  nominal_voltage: 12 V
  no_load_speed: 11500 rpm
  no_load_current: 30 mA
  winding_resistance: 28 ohm
  inductance: 6 mH
  rotor_inertia: 0.6 g cm2
  diameter: 12 mm
  length: 20 mm
  insulation_class: B
  thermal_resistance: 40 K/W
mechanism: {kind: spur and worm, road_current: 52 mA, motor_alone_current: 30 mA, start_voltage: 2.2 V}
decoder:
  name: plain decoder
  pulse_frequency: 20 kHz
  off_mode: coast
  freewheel_drop: 0.7 V
  internal_drop: 1.4 V
  continuous_current: 1 A
  peak_current: 2 A
  abilities: {start_voltage: true, top_voltage: true, middle_voltage: true, speed_table: true, trims: true, momentum: true, long_address: true}
supply: {track: 14.5 V, pickup_drop: 0.2 V, highest: 18 V}
dropper:
  resistor: {resistance: 33 ohm, rating: 1 W}
  parallel: 2
  layout: row
  near: polystyrene
  clearance: 4 mm
target: {speed: 55 mph, start_step: 8}
train:
  {vehicles: 4, vehicle_mass: 110 g, grade: 1 in 60, rolling_resistance: "0.015", adhesion: "0.20",
   curve_radius: 610 mm, curve_resistance: "0.012"}
surroundings: {room: 22 degC, shell_resistance: 9 K/W}
parts:
  - {name: five-pole can, quantity: 1, unit_price: "14.50", used_for: motor}
  - {name: resistor 33 ohm 1 W, quantity: 2, unit_price: "0.12"}
address: 1234
decoder_settings: [{cv: 3, value: 6}]
"""


@pytest.fixture
def build_from(tmp_path: Path) -> Callable[[str], Build]:
    """Turn the text of a record into a build; its problems fail the test."""

    def read(text: str, slug: str = "test-loco") -> Build:
        path = tmp_path / f"{slug}.yml"
        path.write_text(text, encoding="utf-8", newline="\n")
        build, problems = load_build(path)
        assert build is not None, [str(problem) for problem in problems]
        return build

    return read


Change = dict[str, Any]


def changed(changes: Change, *, text: str = COMPLETE) -> str:
    """Return the record with dotted keys set, or removed where the value is None."""
    data = copy.deepcopy(yaml.load(text, Loader=yaml.BaseLoader))
    for key, value in changes.items():
        *path, last = key.split(".")
        place: Any = data
        for name in path:
            place = place[int(name)] if isinstance(place, list) else place.setdefault(name, {})
        if value is None:
            place.pop(last, None)
        elif isinstance(place, list):
            place[int(last)] = value
        else:
            place[last] = value
    return _text(data)


def _text(data: Any) -> str:
    """Write counts bare and every other scalar quoted, as the format wants them."""
    if isinstance(data, dict):
        return "{" + ", ".join(f"{key}: {_text(value)}" for key, value in data.items()) + "}"
    if isinstance(data, list):
        return "[" + ", ".join(_text(value) for value in data) + "]"
    if isinstance(data, bool):
        return str(data).lower()
    if isinstance(data, int) or (isinstance(data, str) and (data.isdigit() or data in {"true", "false"})):
        return str(data)
    return '"' + str(data).replace('"', "'") + '"'


@pytest.fixture
def figures_of(build_from: Callable[..., Build]) -> Callable[..., Figures]:
    """Work out the complete record with changes, or a text of its own."""

    def work(changes: Change | None = None, *, text: str = COMPLETE) -> Figures:
        return work_out(build_from(changed(changes or {}, text=text)))

    return work


@pytest.fixture
def build_with(build_from: Callable[..., Build]) -> Callable[..., Build]:
    """Build the complete record with changes."""
    return lambda changes=None: build_from(changed(changes or {}))
