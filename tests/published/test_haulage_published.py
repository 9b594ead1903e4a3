"""What a whole record hauls, against the sum of resistances of a railway handbook.

Basis codes: S source opened, C common practice, D derived here. Grade force 20 lb a ton for each per cent and the sum
of resistances are S (army railway handbook 2.7, table II); rolling 0.02 and adhesion 0.2 are C; the counts D.
"""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from buildsheets.figures import Figures, work_out
from buildsheets.records.library import load_build

RECORD = """\
format: 1
title: Wagon puller
status: running
model: {{scale: {scale}, driving_wheel: 20 mm, mass: 350 g, driven_mass: 350 g}}
gear_train: {{stages: [{{worm: 1, driven: 30, module: 0.4 mm, worm_diameter: 4.5 mm}}]}}
motor: {{nominal_voltage: 12 V, no_load_speed: 11500 rpm, no_load_current: 30 mA, winding_resistance: 28 ohm}}
decoder: {{pulse_frequency: 20 kHz, off_mode: coast}}
supply: {{track: 14.5 V}}
train: {{vehicles: 10, vehicle_mass: {vehicle}, grade: {grade}, rolling_resistance: "0.02"{more}}}
"""


def hauled(
    folder: Path, grade: str, *, vehicle: str = "45 g", adhesion: str | None = "0.2", scale: str = "OO", curve: str = ""
) -> Figures:
    more = f', adhesion: "{adhesion}"' if adhesion else ""
    text = RECORD.format(scale=scale, grade=grade, vehicle=vehicle, more=more + (f", {curve}" if curve else ""))
    path = folder / "wagon-puller.yml"
    path.write_text(text, encoding="utf-8", newline="\n")
    build, problems = load_build(path)
    assert build is not None, problems
    return work_out(build)


# Basis D (S, C as above): exact 77.8 / 35.0 / 24.3 wagons of 45 g behind 350 g.
@pytest.mark.parametrize(("grade", "count"), [("1 in 50", 35), ("1 in 30", 24)])
def test_wagons_behind_a_record(tmp_path: Path, grade: str, count: int):
    haulage = hauled(tmp_path, grade)["haulage"]
    assert haulage is not None
    assert haulage["slip_limit_n"] == pytest.approx(0.6865, abs=1e-4)
    assert haulage["slips_before_stall"]
    assert haulage["vehicles_level"] == 77
    assert haulage["vehicles_on_grade"] == count


# Basis D: 0.5 kg at 0.02 asks 0.0981 N on the level and, with 0.35 kg of locomotive, 0.1814 N on 1 in 100;
# 0.2 adhesion takes it up 7.06 %, 1 in 14.2.
def test_train_force_and_steepest_grade(tmp_path: Path):
    haulage = hauled(tmp_path, "1 in 100", vehicle="50 g")["haulage"]
    assert haulage is not None
    assert haulage["train_pull_level_n"] == pytest.approx(0.0981, abs=1e-4)
    assert haulage["train_pull_on_grade_n"] == pytest.approx(0.1814, abs=1e-3)
    assert haulage["steepest_grade"] * 100 == pytest.approx(7.06, abs=0.01)


# Basis C: the adhesion of plated tyres, clean metal and the general hobby figure, 0.15 to 0.25. It decides alone here:
# 58 to 97 wagons on the level (D).
def test_adhesion_decides_over_its_plausible_range(tmp_path: Path):
    counts = [hauled(tmp_path, "1 in 50", adhesion=factor)["haulage"]["vehicles_level"] for factor in ("0.15", "0.25")]
    assert counts == [math.floor(0.15 * 350 / (0.02 * 45)), math.floor(0.25 * 350 / (0.02 * 45))]
    figures = hauled(tmp_path, "1 in 50", adhesion=None)
    entry = next(entry for entry in figures["assumed"] if entry["name"] == "train.adhesion")
    assert entry["value"] == 0.20  # C, for design
    assert figures["haulage"]["vehicles_level"] == 77


# Basis S (0.8 lb a short ton for each degree, army railway handbook 2.8; sum of resistances, table II), M (5729.58 ft):
# HO 18 in is 1.754 %. Basis D: (0.2 x 350 - 350 x 3.753 %) / (45 x 5.753 %) = 21.96 wagons on 1 in 50, slope exact.
def test_wagons_on_the_grade_in_a_curve(tmp_path: Path):
    figures = hauled(tmp_path, "1 in 50", scale="HO", curve="curve_radius: 18 in")
    haulage = figures["haulage"]
    assert haulage is not None
    assert haulage["vehicles_on_grade"] == 21
    assert haulage["vehicles_on_straight_grade"] == 35
    assert haulage["curve_resistance_n"] == pytest.approx((0.350 + 10 * 0.045) * 9.80665 * 0.01754, rel=1e-3)
    assert haulage["train_pull_on_grade_n"] == pytest.approx(9.80665 * (0.8 * 0.03753 + 0.45 * 0.02), rel=1e-3)
    assumed = next(entry for entry in figures["assumed"] if entry["name"] == "train.curve_resistance")
    assert assumed["value"] == pytest.approx(0.01754, abs=5e-5)
    assert "first guess" in assumed["why"]


# Basis C: curves of twenty gauges or less add 0.01 to 0.02. The span is 20 to 26 wagons (D); the rule for full-size
# railways, at 21, lies in it and on the careful side. A measured value wins over the rule.
def test_plausible_curve_resistance_spans_the_rule(tmp_path: Path):
    def count(curve: str) -> int | None:
        figures = hauled(tmp_path, "1 in 50", scale="HO", curve=f"curve_radius: 18 in{curve}")
        assert ("train.curve_resistance" in [entry["name"] for entry in figures["assumed"]]) is not bool(curve)
        return figures["haulage"]["vehicles_on_grade"]

    assert [count(', curve_resistance: "0.01"'), count(""), count(', curve_resistance: "0.02"')] == [26, 21, 20]
