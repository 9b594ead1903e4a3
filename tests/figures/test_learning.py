"""What readings do to the figures: which are used, what they change, and what trials may know of them.

Laws are computed by hand from the linear motor (any control textbook); errors of a timed run against the worked example of
the scales' tests; the rest is the project's own promise. Whether the fit finds the truth is tried in test_coverage.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from buildsheets.figures import Figures
from buildsheets.figures import readings as reasons
from buildsheets.figures.inputs import AS_RECORDED, Refinement
from buildsheets.figures.learning import Bench, learn
from buildsheets.figures.ledger import Ledger
from buildsheets.figures.next_reading import next_reading
from buildsheets.figures.predicting import DIFFERENCE, Predictor, variants
from buildsheets.figures.priors import FACTORS
from buildsheets.figures.readings import notebook
from buildsheets.figures.solving import solve
from buildsheets.physics.calibration import spread_with
from buildsheets.records import models
from buildsheets.records.library import Build

Work = Callable[..., Figures]
Make = Callable[..., Build]

CONDITIONS = {"load": "light", "feedback": "false", "direction": "forward", "warm": "10 min", "meter": "average"}
FAST = {"step": 126, "distance": "3 m", "time": "8.2 s"}  # some 4 % faster than the record says
BRAKE = {"decoder.off_mode": "brake"}


def _with(*lines: dict[str, Any], **more: Any) -> dict[str, Any]:
    return {"readings": list(lines), "reading_conditions": CONDITIONS, **more}


def _kinds(build: Build) -> list[str]:
    return [seen.kind for seen in notebook(build.record).observations]


@pytest.mark.parametrize(
    ("line", "why"),
    [
        ({**FAST, "feedback": "true"}, reasons.FEEDBACK_ON),
        ({"distance": "2 m", "time": "8 s"}, reasons.NO_STEP),
        ({"step": 126, "temperature": "50 degC", "of": "motor", "warm": "0 s"}, reasons.NOT_WARM),
        ({"step": 126, "temperature": "50 degC", "of": "decoder"}, reasons.NOT_WORKED_OUT),
        ({"start_step": 1}, reasons.FIRST_STEP),
        ({"volts": "6 V", "motor_current": "30 mA", "load": "motor alone"}, reasons.ALONE_CURRENT),
        ({"step": 64, "motor_voltage": "6 V", "meter": "true rms"}, reasons.RMS_VOLTS),
        ({"volts": "6 V", "motor_voltage": "6 V"}, reasons.APPLIED_VOLTS),
        ({"step": 8, "motor_current": "0 mA"}, reasons.STOOD),
        ({"resistance": "20 Mohm", "hold_point": "insulation"}, reasons.OTHER_RESISTANCE),
    ],
)
def test_what_cannot_be_fitted_says_why(figures_of: Work, line: dict[str, Any], why: str) -> None:
    figures = figures_of(_with(line, FAST))
    taught = figures["calibration"]
    assert taught is not None
    assert taught["used"] == 1
    assert [left["why"] for left in taught["left_out"]] == [why]


def test_unknown_feedback_or_load_is_plotted_and_not_fitted(figures_of: Work) -> None:
    for key in ("feedback", "load"):
        conditions = {name: value for name, value in CONDITIONS.items() if name != key}
        figures = figures_of({"readings": [FAST], "reading_conditions": conditions})
        assert figures["calibration"] is None
        assert len(figures["bench_points"]) == 1
        assert any(entry["name"] == "readings" and "calibration" in entry["needed_for"] for entry in figures["missing"])
        assert figures["speed"] == figures_of()["speed"]


def test_readings_of_a_record_that_says_too_little_are_left_out(figures_of: Work) -> None:
    assert figures_of(_with(FAST, **{"model.driving_wheel": None}))["calibration"] is None


def test_a_timed_run_carries_the_error_of_hand_and_model(build_with: Make) -> None:
    """3 m in 8.2 s by hand: 0.15 s and 2 mm, and the model's own and shared part, as squares add."""
    (seen,) = notebook(build_with(_with(FAST)).record).observations
    speed = 3 / 8.2
    own = speed * np.sqrt((0.15 / 8.2) ** 2 + (2e-3 / 3) ** 2 + reasons.MODEL_OWN["speed"] ** 2)
    assert seen.value == pytest.approx(speed)
    assert seen.own == pytest.approx(own, rel=1e-9)
    assert seen.error == pytest.approx(np.hypot(own, speed * reasons.MODEL_SHARED["speed"]), rel=1e-9)


@pytest.mark.parametrize(
    ("line", "kind"),
    [
        ({"step": 126, "motor_current": "50 mA", "meter": "true rms"}, "rms_current"),
        ({"step": 126, "motor_current": "50 mA"}, "mean_current"),
        ({"step": 126, "motor_voltage": "12 V", "at": "decoder"}, "output_voltage"),
        ({"step": 126, "motor_voltage": "12 V"}, "motor_voltage"),
        ({"resistance": "16.5 ohm", "hold_point": "bank-resistance"}, "bank_resistance"),
    ],
)
def test_meter_and_probes_decide_what_was_read(build_with: Make, line: dict[str, Any], kind: str) -> None:
    assert _kinds(build_with(_with(line))) == [kind]


def _predict(build: Build) -> list[float]:
    notes = notebook(build.record)
    return [float(value) for value in Predictor(build.record, notes.observations)(variants(np.zeros(len(FACTORS))))[0]]


def test_smooth_volts_at_the_motor_are_predicted_by_the_linear_motor(build_with: Make) -> None:
    """6 V on the motor's tags, works on rollers: I = (T_f + T_mech)/K, w = (V - I R)/K, copper 0.393 % a kelvin."""
    line = {"volts": "6 V", "motor_speed": "4500 rpm", "motor_current": "52 mA", "load": "rolling road"}
    build = build_with(_with(line, **{"surroundings.shell_resistance": "0.001 K/W", "motor.thermal_resistance": "0.001 K/W"}))
    speed, current = _predict(build)
    constant = (12 - 0.03 * 28) / (11500 * np.pi / 30)
    drag = constant * 0.03 + constant * (0.052 - 0.030)
    assert current == pytest.approx(drag / constant, rel=1e-6)
    assert speed == pytest.approx((6 - 0.052 * 28 * (1 + 0.00393 * 2)) / constant, rel=1e-4)


def test_probes_at_the_decoder_see_the_dropper_too(build_with: Make) -> None:
    """Ohm's law over the bank of 16.5 ohm."""
    lines = [{"step": 126, "motor_voltage": "12 V", "at": place, "motor_current": "52 mA"} for place in ("decoder", "motor")]
    before, current, after, _ = _predict(build_with(_with(*lines)))
    assert before - after == pytest.approx(16.5 * current, rel=1e-6)


def test_predictions_are_those_of_the_sheet(build_with: Make) -> None:
    """Before any refinement the readings are predicted by the very figures that the sheet prints."""
    lines = [FAST, {**FAST, "step": 40, "load": "train"}, {"step": 90, "motor_current": "50 mA", "motor_voltage": "8 V"}]
    build = build_with(_with(*lines))
    light, train = (solve(build.record, Ledger(), load=load) for load in ("light", "train"))
    assert light.running is not None
    assert light.true_speed is not None
    assert train.true_speed is not None
    expected = [light.true_speed[125], train.true_speed[39], light.running.motor_voltage[89], light.running.mean_current[89]]
    assert _predict(build) == pytest.approx([float(value) for value in expected], rel=1e-5)


def test_refined_values_stand_everywhere_after(figures_of: Work, build_with: Make) -> None:
    changes = _with(FAST, {"step": 126, "motor_current": "56 mA"}, {"start_step": 36})
    figures, plain = figures_of(changes), figures_of()
    taught = figures["calibration"]
    assert taught is not None
    after = {value["name"]: value["after"] for value in taught["parameters"]}
    motor = figures["motor"]
    assert motor["emf_constant_v_s_per_rad"] == pytest.approx(after["emf_constant"])
    assert motor["resistance_ohm"] == pytest.approx(after["resistance"])
    assert motor["running_torque_n_m"] == pytest.approx(after["running_torque"])
    assert motor["breakaway_torque_n_m"] == pytest.approx(after["breakaway_torque"])
    assert figures["drive"]["bus_voltage_v"] == pytest.approx(after["bus_voltage"])
    assert after["emf_constant"] < plain["motor"]["emf_constant_v_s_per_rad"]  # faster than expected
    current = after["running_torque"] / after["emf_constant"]
    assert current > plain["motor"]["running_torque_n_m"] / plain["motor"]["emf_constant_v_s_per_rad"]  # takes more
    build = build_with(changes)
    refined = Bench(build.record).all().refined
    top = {curve["name"]: curve["scale_mph"][-1] for curve in figures["curves"]}
    for name, load, graded in (("as built", "train", False), ("as built, light engine", "light", False)):
        solved = solve(build.record, Ledger(), load=load, graded=graded, refined=refined)
        assert top[name] == pytest.approx(solved.top_mph)
    was = {curve["name"]: curve["scale_mph"][-1] for curve in plain["curves"]}
    assert all(abs(top[name] / was[name] - 1) > 0.005 for name in top)
    assert figures["highest_volts"]["top_scale_mph"] != plain["highest_volts"]["top_scale_mph"]
    assert figures["haulage"]["stall_force_n"] != plain["haulage"]["stall_force_n"]
    assert figures["speed_card"][-1]["scale_mph"] == pytest.approx(top["as built"])
    assert any("refined by readings" in line["name"] for line in figures["working"])


def test_the_locomotive_as_found_keeps_its_own_values(figures_of: Work) -> None:
    before = {"motor": {"nominal_voltage": "12 V", "no_load_speed": "14000 rpm", "no_load_current": "40 mA", "stall_current": "0.4 A"}}

    def found(figures: Figures) -> Any:
        return next(curve["scale_mph"] for curve in figures["curves"] if curve["name"] == "before")

    assert found(figures_of(_with(FAST, before=before))) == found(figures_of({"before": before}))


def test_a_bank_on_the_ohm_meter_is_that_bank(figures_of: Work) -> None:
    """1 % of a meter against 5 % printed on the parts: the reading has nearly all the weight."""
    figures = figures_of(_with({"resistance": "17.2 ohm", "hold_point": "bank-resistance", "meter_error": "0.5 %"}))
    assert figures["dropper"]["resistance_ohm"] == pytest.approx(17.2, rel=2e-3)


def _trial(name: str, *, pinion: int = 12) -> dict[str, Any]:
    return {"id": name, "change": "Something", "verdict": "kept", "settings": {"pinion": pinion, "feedback": {"on": "false"}}}


def test_a_trial_knows_earlier_readings_and_no_later_ones(figures_of: Work) -> None:
    trials = [_trial("one"), _trial("two", pinion=11), _trial("three")]
    readings = [{**FAST, "trial": "one"}, {"step": 126, "motor_current": "60 mA", "trial": "two"}, FAST]
    whole = figures_of(_with(*readings, trials=trials))["trials"]
    none = figures_of({"trials": trials})["trials"]
    assert [row["learned_from"] for row in whole] == [0, 1, 2]
    assert whole[0]["predicted_top_mph"] == none[0]["predicted_top_mph"]
    first_only = figures_of(_with(readings[0], trials=trials))["trials"]
    assert whole[1] == first_only[1]
    assert whole[1]["predicted_top_mph"] > none[1]["predicted_top_mph"]
    assert whole[2]["predicted_motor_current_a"] > first_only[2]["predicted_motor_current_a"]
    other = [{**readings[2], "time": "11 s"}]
    assert figures_of(_with(*readings[:2], *other, trials=trials))["trials"] == whole


def test_trials_show_current_and_dropper_beside_what_was_seen(figures_of: Work) -> None:
    seen = {"motor_current": "53 mA", "dropper_temperature": "40 degC"}
    bare = {**_trial("bare"), "settings": {"dropper": "none"}}
    row, without = figures_of({"trials": [{**_trial("one"), "seen": seen}, bare]})["trials"]
    assert row["seen_motor_current_a"] == pytest.approx(0.053)
    assert row["predicted_motor_current_a"] == pytest.approx(0.052, rel=1e-3)  # the road current, light engine
    assert row["seen_dropper_temperature_c"] == 40
    assert 25 < row["predicted_dropper_temperature_c"] < 40
    assert without["predicted_dropper_temperature_c"] is None


def test_a_reading_that_cannot_be_is_called_out(figures_of: Work) -> None:
    figures = figures_of(_with({**FAST, "time": "4 s"}))
    (verdict,) = (entry for entry in figures["verdicts"] if entry["subject"] == "readings")
    assert verdict["level"] == "caution"
    assert "does not describe" in verdict["message"]
    assert figures["calibration"] is not None
    assert figures["calibration"]["reduced_chi_square"] > 6.6  # upper hundredth of chi-squared with one degree, any table


def test_readings_that_agree_are_said_to(figures_of: Work) -> None:
    (verdict,) = (entry for entry in figures_of(_with(FAST))["verdicts"] if entry["subject"] == "readings")
    assert verdict["level"] == "ok"


def test_a_single_speed_is_owned_up_to_see_one_combination(figures_of: Work) -> None:
    taught = figures_of(_with(FAST))["calibration"]
    assert taught is not None
    assert taught["directions_seen"] == 1
    assert "1 reading sees 1 combination" in taught["statements"][0]
    silent = taught["statements"][-1]
    assert "say nothing of" in silent
    assert "heat path of the dropper" in silent


def test_speed_alone_cannot_tell_volts_from_the_constant(figures_of: Work) -> None:
    """n = (V - I R)/K: whoever reads only the speed of one step sees little but the quotient (linear motor)."""
    taught = figures_of(_with(FAST, {**FAST, "time": "8.3 s"}, **BRAKE))["calibration"]
    assert taught is not None
    together = [text for text in taught["statements"] if "only together" in text or "cannot tell" in text]
    assert any("EMF constant" in text and "volts at the decoder's output" in text for text in together)


EXTRA: dict[str, dict[str, Any]] = {
    "A timed run at step 64, light engine, feedback off.": {"step": 64, "distance": "1 m", "time": "10 s"},
    "A timed run at step 64, with the train, feedback off.": {"step": 64, "distance": "1 m", "time": "10 s", "load": "train"},
    "A timed run at step 126, with the train, feedback off.": {"step": 126, "distance": "1 m", "time": "10 s", "load": "train"},
}


def test_the_next_reading_keeps_its_promise(build_with: Make) -> None:
    """Taking the very reading that was recommended, for ten seconds, narrows the top speed by what was promised."""
    build = build_with(_with(FAST))
    learned = Bench(build.record).all()
    advised = next_reading(build.record, learned, train=True)
    assert advised is not None
    assert 0.05 < advised["narrows"] < 1
    assert learned.found is not None
    assert learned.before is not None
    extra, top = EXTRA[advised["text"]], {"step": 126, "distance": "3 m", "time": "9 s", "load": "train"}
    logs = learned.found.log_mean
    rough = build_with(_with(FAST, extra, top)).record
    rows = Predictor(rough, notebook(rough).observations)(variants(logs))
    slopes, speed = (rows[1:] - rows[0]).T / DIFFERENCE, float(rows[0][1])
    taken = build_with(_with(FAST, {**extra, "distance": f"{1e4 * speed:.1f} mm"})).record
    errors = reasons.errors(notebook(taken).observations)
    gradient = slopes[2] / rows[0][2]
    now = spread_with(slopes[:1], errors[:1, :1], learned.before.covariance, gradient)
    then = spread_with(slopes[:2], errors, learned.before.covariance, gradient)
    assert 1 - then / now == pytest.approx(advised["narrows"], abs=0.005)


def test_posterior_holds_what_the_readings_weighed(build_with: Make) -> None:
    learned = Bench(build_with(_with(FAST, {"step": 126, "motor_current": "53 mA"})).record).all()
    posterior = learned.posterior
    assert posterior is not None
    assert {"emf_constant", "running_torque"} <= set(posterior.names)
    assert "dropper_heat" not in posterior.names
    assert {"motor.no_load_speed", "mechanism.road_current"} <= set(posterior.holds)
    assert "dropper.resistor.rating" not in posterior.holds
    assert posterior.log_covariance.shape == (len(posterior.names),) * 2
    assert Bench(build_with().record).all().posterior is None
    assert Bench(build_with().record).all().refined == AS_RECORDED


def test_breakaway_never_falls_below_running(build_with: Make) -> None:
    solved = solve(build_with().record, Ledger(), refined=Refinement(running_torque=3.0))
    assert solved.motor is not None
    assert solved.motor.breakaway_torque == solved.motor.running_torque


def test_a_late_start_asks_for_more_torque(build_with: Make) -> None:
    record = build_with(_with({"start_step": 60}, **BRAKE)).record
    late = learn(record, notebook(record)).refined.breakaway_torque
    early = learn(record, notebook(record.model_copy(update={"readings": [models.Reading(start_step=20)]})))
    assert late > 1.02
    assert early.refined.breakaway_torque < late


def test_true_rms_and_reverse_and_rollers_are_trusted_less(build_with: Make) -> None:
    plain, reverse, road = (
        notebook(build_with(_with({**FAST, **more})).record).observations[0].own
        for more in ({}, {"direction": "reverse"}, {"load": "rolling road"})
    )
    assert plain < road < reverse


def test_reverse_is_left_out_where_its_trim_is_set(build_with: Make) -> None:
    build = build_with(_with({**FAST, "direction": "reverse"}, decoder_settings=[{"cv": 95, "value": 120}]))
    notes = notebook(build.record)
    assert [left["why"] for left in notes.left_out] == [reasons.REVERSE_TRIM]


@pytest.mark.parametrize(
    "line",
    [
        {"resistance": "16.5 ohm", "hold_point": "bank-resistance", "meter_error": "0 %"},
        {"step": 126, "temperature": "22 degC ± 0 degC", "of": "dropper"},
        {"step": 126, "motor_current": "52 mA", "meter_error": "0 %"},
        {"step": 1, "distance": "1 m", "time": "100 s"},
        {"volts": "0.5 V", "motor_speed": "1 rpm"},
        {"start_step": 126},
    ],
)
def test_claims_of_perfection_and_odd_readings_break_nothing(figures_of: Work, line: dict[str, Any]) -> None:
    taught = figures_of(_with(line))["calibration"]
    assert taught is not None
    assert np.isfinite([value["after"] for value in taught["parameters"]]).all()
    assert np.isfinite([residual["pull"] for residual in taught["residuals"]]).all()


def test_what_the_notebook_leaves_unsaid_is_listed_as_assumed(figures_of: Work) -> None:
    def assumed(conditions: dict[str, str], *lines: dict[str, Any]) -> set[str]:
        figures = figures_of({"readings": list(lines), "reading_conditions": conditions})
        return {entry["name"].removeprefix("reading_conditions.") for entry in figures["assumed"] if "reading" in entry["name"]}

    bare = {"load": "light", "feedback": "false"}
    amps = {"step": 126, "motor_current": "52 mA"}
    assert assumed(bare, FAST, amps) == {"meter", "meter_error", "timing"}
    assert assumed(bare, FAST) == {"timing"}
    assert assumed({**bare, "timing": "video", "meter": "average", "meter_error": "1 %"}, FAST, amps) == set()
