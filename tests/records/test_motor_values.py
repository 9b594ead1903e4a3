"""A motor's values must be able to belong to one motor."""

from __future__ import annotations

from pathlib import Path

import pytest

from buildsheets.figures import work_out
from buildsheets.records.library import load_build

RECORD = """format: 1
title: Mixed up
status: planned
motor: {{nominal_voltage: 12 V, no_load_speed: 9000 rpm, {rest}}}
"""


@pytest.mark.parametrize(
    ("rest", "said"),
    [
        ("no_load_current: 0.9 A, stall_current: 55 mA", "no-load current 0.9 A is not below the stall current 55 mA"),
        ("no_load_current: 2 A, winding_resistance: 10 ohm", "no-load current 2 A is not below what 10 ohm lets through"),
    ],
)
def test_mixed_up_currents_are_told_at_their_place(tmp_path: Path, rest: str, said: str) -> None:
    file = tmp_path / "mixed-up.yml"
    file.write_text(RECORD.format(rest=rest), encoding="utf-8")
    build, problems = load_build(file)
    assert build is None
    assert [(problem.line, said in problem.message) for problem in problems] == [(4, True)]


def test_readings_that_contradict_each_other_leave_the_motor_unknown(tmp_path: Path) -> None:
    bench = "winding_resistance: 60 ohm, bench: [{voltage: 6 V, current: 200 mA, speed: 4000 rpm}]"
    file = tmp_path / "mixed-up.yml"
    file.write_text(RECORD.format(rest=bench), encoding="utf-8")
    build, problems = load_build(file)
    assert problems == []
    assert build is not None
    figures = work_out(build)
    assert figures["motor"]["emf_constant_v_s_per_rad"] is None
    assert ("motor", "stop") in [(verdict["subject"], verdict["level"]) for verdict in figures["verdicts"]]
    assert "motor.no_load_speed" in [entry["name"] for entry in figures["missing"]]
