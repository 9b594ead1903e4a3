"""Records that are odd but allowed: figures and sheet come about, and say what they cannot tell.

Each stands for a fault that random records of extreme values once met; warnings of the arithmetic are errors here.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.figures import Figures
from buildsheets.figures.inputs import Refinement
from buildsheets.figures.motor import WorkingMotor
from buildsheets.figures.readings import VOLTS_HAVE_NO_STEPS
from buildsheets.sheet.data import data_files
from buildsheets.sheet.gallery import draw
from buildsheets.sheet.render import render_sheet

Work = Callable[..., Figures]
FEEDBACK = {"feedback": {"on": True}}
SILENT = [{"step": 1, "share": "0 %"}, {"step": 126, "share": "0 %"}]
NO_VOLTS = {"supply": {"track": "6.9 V", "pickup_drop": "5 V"}}
STIFLING = {"surroundings": {"room": "45 degC", "shell_resistance": "160 K/W"}}
NERVOUS = {"motor.winding_resistance": "0.76 ohm", "motor.rotor_inertia": "0.01 g cm2", **FEEDBACK}
AS_READ = {"track": "14 V", "load": "light", "feedback": False}
TRACK_READ = {
    "readings": [
        {"step": 126, "distance": "3 m", "time": "6 s", **AS_READ},
        {"step": 126, "motor_current": "52 mA", **AS_READ},
        {"step": 60, "distance": "3 m", "time": "20 s", **AS_READ},
    ]
}
ON_VOLTS = {"readings": [{"volts": "9 V", "start_step": 24, "distance": "2 m", "time": "8 s", "load": "light"}]}


@pytest.mark.parametrize(
    "changes",
    [
        NO_VOLTS,
        STIFLING,
        NERVOUS,
        ON_VOLTS,
        {**NO_VOLTS, **FEEDBACK, "target.speed": "30 mph"},
        {**TRACK_READ, "supply": None},
        {"decoder.curve": SILENT, **FEEDBACK},
        {"target.speed": "300 mph"},
        {"target.speed": "300 mph", "decoder.off_mode": "open", "dropper": None},
        {"target.speed": "300 mph", "decoder.pulse_frequency": "100 Hz", "dropper": {"diodes": {"pairs": 4}}},
    ],
)
def test_odd_records_make_a_sheet(figures_of: Work, changes: dict[str, Any]) -> None:
    figures = figures_of(changes)
    drawn = draw(figures)
    assert figures["title"] in render_sheet(figures, gallery=drawn)
    assert data_files(figures, drawn)


def test_no_margin_is_bounded_where_no_current_may_flow(figures_of: Work) -> None:
    decoder = figures_of(NO_VOLTS)["decoder"]
    assert decoder["locked_rotor_current_band_a"] is not None
    assert decoder["locked_rotor_current_band_a"][0] == 0.0
    assert decoder["continuous_margin_band"] is None


def test_air_too_warm_for_any_load_is_said(figures_of: Work) -> None:
    said = [verdict for verdict in figures_of(STIFLING)["verdicts"] if verdict["subject"] == "dropper heat"]
    assert any("bears no load at all" in verdict["message"] for verdict in said)
    assert not any("bears no load at all" in verdict["message"] for verdict in figures_of()["verdicts"])


def test_a_loop_without_phase_margin_says_so(figures_of: Work) -> None:
    figures = figures_of(NERVOUS)
    feedback = figures["feedback"]
    assert feedback is not None
    assert feedback["loop"] is not None
    assert feedback["loop"]["phase_margin_deg"] == [None, None]
    assert min(feedback["loop"]["gain_margin"]) < 1.0
    assert any("feedback.loop.phase_margin_deg" in entry["needed_for"] for entry in figures["missing"])


def test_nothing_is_held_where_the_decoder_wants_no_speed(figures_of: Work) -> None:
    figures = figures_of({"decoder.curve": SILENT, **FEEDBACK})
    assert figures["feedback"] is not None
    assert figures["feedback"]["loop"] is None
    assert any("wants no speed" in entry["how_to_measure"] for entry in figures["missing"])


def test_a_first_step_on_smooth_volts_is_left_out(figures_of: Work) -> None:
    taught = figures_of(ON_VOLTS)["calibration"]
    assert taught is not None
    assert [row["quantity"] for row in taught["residuals"]] == ["speed along the rail"]
    assert VOLTS_HAVE_NO_STEPS in [entry["why"] for entry in taught["left_out"]]


@given(st.floats(1e-5, 1e-3), st.floats(1e-5, 1e-3), st.floats(0.3, 3.0))
def test_breakaway_is_never_below_running_torque_to_the_last_digit(friction: float, works: float, factor: float) -> None:
    motor = WorkingMotor(28.0, 8e-3, 6e-3, friction, works, friction + works, 6e-8, 12.0, (0.012, 0.02), "iron core", None)
    refined = Refinement(running_torque=factor, breakaway_torque=0.5).motor(motor)
    assert refined.breakaway_torque >= refined.running_torque


def test_a_train_that_runs_away_downhill_has_no_speed_there(figures_of: Work) -> None:
    heavy = {"train": {"vehicles": 50, "vehicle_mass": "1 kg", "grade": "-1 in 20"}}
    spur = {"gear_train.stages": [{"driver": 12, "driven": 38, "module": "0.4 mm"}]}
    coasting = figures_of({**heavy, **spur})
    assert "as built, -1 in 20" not in [curve["name"] for curve in coasting["curves"]]
    assert [verdict["level"] for verdict in coasting["verdicts"] if verdict["subject"] == "grade"] == ["caution"]
    # in brake the shorted motor holds it, if at a mad speed; a worm of these angles does not turn from behind at all
    for changes in ({**heavy, **spur, "decoder.off_mode": "brake"}, heavy):
        held = figures_of(changes)
        assert "as built, -1 in 20" in [curve["name"] for curve in held["curves"]]
        assert [verdict for verdict in held["verdicts"] if verdict["subject"] == "grade"] == []


def test_less_current_on_rollers_than_alone_is_not_believed(figures_of: Work) -> None:
    figures = figures_of({"mechanism": {"road_current": "52 mA", "motor_alone_current": "80 mA"}})
    assert any("one of them is wrong" in verdict["message"] for verdict in figures["verdicts"])
    assert figures["motor"]["mechanism_torque_n_m"] == 0.0
    assert figures["speed"] is not None


def test_a_dropper_that_bears_nothing_still_has_a_finite_score(figures_of: Work) -> None:
    oven = {"surroundings": {"room": "45 degC", "shell_resistance": "400 K/W"}, "target.speed": "20 mph"}
    options = figures_of(oven)["options"]
    assert options
    assert all(math.isfinite(row["score"]) for row in options)


def test_values_that_only_a_reading_has_are_not_named(figures_of: Work) -> None:
    supplied = figures_of(TRACK_READ)["calibration"]
    assert supplied is not None
    assert any("volts at the decoder's output are seen only together" in line for line in supplied["statements"])
    taught = figures_of({**TRACK_READ, "supply": None})["calibration"]
    assert taught is not None
    assert "bus_voltage" not in [value["name"] for value in taught["parameters"]]
    assert not any("seen only together" in line for line in taught["statements"])
