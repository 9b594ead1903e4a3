"""Lamps and stay-alive through whole records. Basis codes: C common practice, D derived (computed)."""

from __future__ import annotations

from pathlib import Path

import pytest

from buildsheets.figures import Figures, work_out
from buildsheets.physics.store import hold_time, stored_energy
from buildsheets.records.library import load_build

RECORD = """\
format: 1
title: Lit loco
status: running
model: {{scale: OO, driving_wheel: 20 mm, mass: 350 g, driven_mass: 350 g}}
gear_train: {{stages: [{{worm: 1, driven: 30, module: 0.4 mm, worm_diameter: 4.5 mm}}]}}
motor: {{nominal_voltage: 12 V, no_load_speed: 11500 rpm, no_load_current: 30 mA, winding_resistance: 28 ohm}}
decoder: {{pulse_frequency: 20 kHz, off_mode: coast, internal_drop: 1.4 V}}
supply: {{track: 14 V, pickup_drop: 0 V}}
lamps: [{{name: front, led: {{forward_voltage: 2.0 V}}, count: {count}, join: {join}, current: 5 mA, resistor: {resistor}}}]
stay_alive: {{capacitor: {{capacitance: 0.2 F, rated_voltage: {rated}}}, charging_resistor: 100 ohm, least_voltage: 7 V}}
"""


def lit(folder: Path, *, count: int = 1, join: str = "series", resistor: str = "2k2", rated: str = "16.2 V") -> Figures:
    path = folder / "lit-loco.yml"
    path.write_text(
        RECORD.format(count=count, join=join, resistor=resistor, rated=rated), encoding="utf-8", newline="\n"
    )
    build, problems = load_build(path)
    assert build is not None, problems
    return work_out(build)


def levels(figures: Figures, subject: str) -> list[str]:
    return [verdict["level"] for verdict in figures["verdicts"] if verdict["subject"] == subject]


# Basis D: 12.6 V supply, 2.0 V, 5 mA: 2120 ohm, E24 2K2 (the power of 0.053 W is that of 2120 ohm).
def test_lamp_resistor(tmp_path: Path):
    lamp = lit(tmp_path)["lamps"][0]
    assert lamp["needed_ohm"] == pytest.approx(2120, abs=1)
    assert lamp["nearest_e24_ohm"] == 2200
    assert lamp["current_a"] == lamp["fitted_current_a"] == pytest.approx(10.6 / 2200)
    assert lamp["power_w"] == pytest.approx(10.6**2 / 2200)


# Basis D, Ohm's law: two in series leave 8.6 V for 5 mA, two in parallel 10.6 V for 10 mA; seven do not light.
def test_several_leds(tmp_path: Path):
    assert lit(tmp_path, count=2)["lamps"][0]["needed_ohm"] == pytest.approx(1720)
    assert lit(tmp_path, count=2, join="parallel")["lamps"][0]["needed_ohm"] == pytest.approx(1060)
    dark = lit(tmp_path, count=7)
    assert dark["lamps"][0]["needed_ohm"] is None
    assert levels(dark, "lamps") == ["caution"]
    assert levels(lit(tmp_path, resistor="1k"), "lamps") == ["caution"]
    assert levels(lit(tmp_path), "lamps") == []


# Basis D: 0.2 F from 13.5 to 7 V at 100 mA lasts 13 s and stores 18.2 J.
def test_store():
    assert hold_time(0.2, 13.5, 7, 0.1) == pytest.approx(13, abs=0.1)
    assert stored_energy(0.2, 13.5) == pytest.approx(18.2, abs=0.1)
    assert hold_time(0.2, 6, 7, 0.1) == 0


# Basis D: 100 ohm on 14 V draws 0.14 A and 1.96 W at the first instant. Basis C: rated volts above the rail peak.
def test_charging_and_rating(tmp_path: Path):
    figures = lit(tmp_path)
    store = figures["stay_alive"]
    assert store["charging_current_a"] == pytest.approx(0.14, abs=0.01)
    assert store["charging_power_w"] == pytest.approx(1.96, abs=0.01)
    assert store["stored_energy_j"] == pytest.approx(0.1 * 12.6**2)
    current = 0.2 * (12.6 - 7) / store["hold_time_s"]
    assert 0.010 < current < 0.060  # half throttle draws at most the light engine's current, 30 to 60 mA with drag (C)
    assert levels(figures, "stay-alive") == ["ok"]
    assert levels(lit(tmp_path, rated="12 V"), "stay-alive") == ["stop"]
