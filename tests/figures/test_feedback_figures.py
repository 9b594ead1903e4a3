"""Feedback of whole builds: what is seen, held and recommended.

Laws are those of the linear motor, computed here by hand; CV10 as in NMRA S-9.2.2 (source opened). That diode strings
hide a slow motor and banks do not is common practice.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from feedback_of import seen

from buildsheets.figures import Figures
from buildsheets.figures.gaps import measurable
from buildsheets.figures.heating import dropper_figures
from buildsheets.figures.ledger import Ledger
from buildsheets.records.library import Build

Work = Callable[..., Figures]

ON = {"feedback": {"on": "true", "input": "100 kohm"}}
STRING = {"dropper.resistor": None, "dropper.parallel": None, "dropper.layout": None, "dropper.diodes": {"pairs": 3}}
KNOWN = {"decoder.abilities": {"feedback": "true", "feedback_cut_off": "true"}}


def feedback(figures: Figures) -> dict[str, Any]:
    found = figures["feedback"]
    assert found is not None
    return dict(found)


def test_bank_and_bare_motor_are_read_true(figures_of: Work):
    for changes in ({}, {"dropper": None}):
        found = feedback(figures_of(changes))
        assert len(found["reading_fraction"]) == 126
        assert min(found["reading_fraction"]) > 0.999
        assert found["visible_from_step"] == 1
        assert found["bypass_offered_ohm"] is None


def test_string_hides_the_slow_motor_and_a_bypass_shows_it(build_with: Callable[..., Build]):
    hidden = seen(build_with(STRING)).feedback
    bypassed = seen(build_with({**STRING, "dropper.diodes": {"pairs": 3, "bypass": "1 kohm"}})).feedback
    assert hidden["visible_from_step"] > 5
    assert hidden["reading_fraction"][0] < 0.05
    assert hidden["visible_from_step_with_bypass"] == 1
    # 3 pairs at the microamps of some volts over 100 kohm: about 0.4 V each (computed from the card)
    assert hidden["emf_v"][-1] - hidden["reading_v"][-1] == pytest.approx(3 * 0.42, abs=0.15)
    assert min(bypassed["reading_fraction"]) > 0.98
    assert bypassed["reading_fraction"] == pytest.approx(
        [with_it / emf if emf else bypassed["reading_fraction"][i]
         for i, (with_it, emf) in enumerate(zip(hidden["reading_with_bypass_v"], hidden["emf_v"], strict=True))]
    )


def test_saturation_is_where_full_on_time_falls_short(figures_of: Work):
    figures = figures_of(ON)
    found, bus = feedback(figures), figures["drive"]["bus_voltage_v"]
    full, step = found["emf_v"][-1], found["saturation_step"]  # no CV5: step 126 is full on
    assert bus * (step - 1) / 126 <= full < bus * step / 126
    assert found["cut_off_step"] == step - 1
    assert feedback(figures_of({**ON, "dropper": None}))["saturation_step"] > step
    lowered = {"decoder_settings": [{"cv": 2, "value": 4}, {"cv": 6, "value": 64}, {"cv": 5, "value": 128}]}
    assert feedback(figures_of({**ON, **lowered}))["saturation_step"] is None


def test_closed_loop_is_held_and_then_all_there_is(figures_of: Work):
    figures = figures_of(ON)
    found, per_volt = feedback(figures), figures["speed"]["top_scale_mph"] / feedback(figures)["emf_v"][-1]
    held = found["closed_loop_scale_mph"]
    # what is held is the reading, a share R_m / (R_m + R_T) of the EMF
    assert held[19] == pytest.approx(figures["drive"]["bus_voltage_v"] * 20 / 126 / found["reading_fraction"][19] * per_volt)
    assert held[-1] == pytest.approx(figures["speed"]["top_scale_mph"], rel=1e-3)
    cut = feedback(figures_of({"feedback": {"on": "true", "cut_off_step": 60}}))["closed_loop_scale_mph"]
    assert cut[:60] == held[:60]
    assert cut[60:] == figures["speed"]["scale_mph"][60:]
    assert feedback(figures_of())["closed_loop_scale_mph"] is None


def test_time_constant_is_the_textbooks_in_brake(figures_of: Work):
    """J R_T / K² with the train's mass reflected, computed by hand; the winding is some kelvin warm."""
    figures = figures_of({"decoder.off_mode": "brake"})
    found, motor = feedback(figures), figures["motor"]
    inertia = 0.6e-7 + (0.285 + 4 * 0.110) * (0.01015 / figures["gearing"]["ratio"]) ** 2
    cold = 1e3 * inertia * (28 + 16.5) / motor["emf_constant_v_s_per_rad"] ** 2
    assert cold < found["mechanical_time_constant_ms"] < 1.2 * cold
    assert found["integral_scale"] == pytest.approx(28 / 44.5, rel=0.05)
    assert found["mechanical_time_constant_without_dropper_ms"] == pytest.approx(
        found["integral_scale"] * found["mechanical_time_constant_ms"]
    )
    assert found["winding_decay_ms"] == pytest.approx(5 * 6.0 / 44.5)


def test_unweighed_loco_has_no_time_constant_and_says_so(figures_of: Work):
    figures = figures_of({"model.mass": None})
    entry = next(entry for entry in figures["missing"] if entry["name"] == "model.mass")
    for key in ("mechanical_time_constant_ms", "mechanical_time_constant_without_dropper_ms", "integral_scale"):
        assert feedback(figures)[key] is None
        assert f"feedback.{key}" in entry["needed_for"]


def test_cv10_only_where_the_decoder_has_it(figures_of: Work):
    figures = figures_of({**ON, **KNOWN})
    found = feedback(figures)
    assert found["cut_off_cv10"] == found["cut_off_step"]
    assert any(v["subject"] == "feedback cut-off" and "CV10" in v["message"] for v in figures["verdicts"])
    obeyed = figures_of({**ON, **KNOWN, "decoder_settings": [{"cv": 10, "value": found["cut_off_cv10"]}]})
    assert all(v["subject"] != "feedback cut-off" for v in obeyed["verdicts"])
    assert feedback(figures_of(ON))["cut_off_cv10"] is None


def test_feedback_is_shown_where_it_matters(build_with: Callable[..., Build]):
    assert not seen(build_with()).feedback["shown"]
    assert seen(build_with(ON)).feedback["shown"]
    assert seen(build_with(KNOWN)).feedback["shown"]
    assert seen(build_with({"decoder.abilities": {"feedback": "false"}})).found is None
    names = [entry["name"] for entry in seen(build_with({"feedback": {"on": "false"}})).ledger.assumed]
    assert names == ["feedback.full_emf", "feedback.input", "feedback.sample.every"]


def test_the_curve_with_feedback_on_joins_chart_and_card(figures_of: Work):
    figures = figures_of(ON)
    held = figures["curves"][-1]
    assert (held["name"], held["feedback"], held["load"]) == ("as built, feedback on", "on", figures["curves"][0]["load"])
    assert held["scale_mph"] == feedback(figures)["closed_loop_scale_mph"]
    row = next(row for row in figures["speed_card"] if row["step"] == 48)
    assert row["feedback_on_scale_mph"] == held["scale_mph"][47]
    # one metre at 1:76.2; a mile per hour is 0.44704 m/s exactly
    assert row["feedback_on_seconds_over_run"] == pytest.approx(76.2 / (held["scale_mph"][47] * 0.44704), rel=1e-6)
    off = figures_of({"feedback": {"on": "false"}})
    assert all(curve["feedback"] == "off" for curve in off["curves"])
    assert all(row["feedback_on_scale_mph"] is None for row in off["speed_card"])


def test_the_volts_it_aims_at_can_be_given(build_with: Callable[..., Build]):
    of = seen(build_with({"feedback": {"on": "true", "input": "100 kohm", "full_emf": "10 V", "sample": {"every": "10 ms"}}}))
    assert of.ledger.assumed == []
    found, top = of.feedback, of.solved.top_mph
    assert top is not None
    assert found["closed_loop_scale_mph"] is not None
    held = 5.0 / found["reading_fraction"][62] * top / found["emf_v"][-1]
    assert found["closed_loop_scale_mph"][62] == pytest.approx(held, rel=1e-4)


def test_a_hidden_motor_is_held_too_fast_and_given_all_earlier(build_with: Callable[..., Build]):
    """The decoder steers by the reading: what three pairs keep back is added to what it holds."""
    hidden = seen(build_with({**ON, **STRING}))
    bypassed = seen(build_with({**ON, **STRING, "dropper.diodes": {"pairs": 3, "bypass": "1 kohm"}}))
    slow, true = (of.feedback["closed_loop_scale_mph"] for of in (hidden, bypassed))
    assert slow is not None
    assert true is not None
    assert slow[9] > 1.5 * true[9]
    assert hidden.feedback["saturation_step"] < bypassed.feedback["saturation_step"]
    assert hidden.judged("feedback reading") == ["caution"]
    assert bypassed.judged("feedback reading") == []


@pytest.mark.parametrize(("window", "warned"), [("0.3 ms", True), ("2 ms", False)])
def test_a_window_too_short_for_the_current_to_die_is_cautioned(build_with: Callable[..., Build], window: str, warned: bool):
    of = seen(build_with({"feedback": {"on": "true", "sample": {"every": "10 ms", "window": window}}}))
    assert of.feedback["winding_decay_ms"] == pytest.approx(5 * 6.0 / 44.5)
    assert of.judged("feedback window") == ["caution"] * warned


def test_nulls_that_no_measurement_fills_say_why(figures_of: Work):
    lowered = {"decoder_settings": [{"cv": 2, "value": 4}, {"cv": 6, "value": 64}, {"cv": 5, "value": 128}]}
    figures = figures_of({**ON, **lowered})
    entry = next(entry for entry in figures["missing"] if entry["name"] == "none")
    assert entry["needed_for"] == ["feedback.saturation_step"]
    assert "holds every step" in entry["how_to_measure"]
    assert entry not in measurable(figures)


@pytest.mark.parametrize(("cv2", "warned"), [(70, True), (4, False)])
def test_a_lifted_start_is_too_fast_a_crawl_under_feedback(build_with: Callable[..., Build], cv2: int, warned: bool):
    """CV2 / 255 of full speed at step 1, NMRA S-9.2.2 (source opened); that feedback does the starting is common practice."""
    of = seen(build_with({**ON, "decoder_settings": [{"cv": 2, "value": cv2}]}))
    assert of.judged("feedback crawl") == ["caution"] * warned


def test_a_bypass_counts_in_the_running_current_too(build_with: Callable[..., Build]):
    """It takes U² / R_b, U about three silicon drops, and lets more current past at standstill (computed)."""
    plain, bypassed = (
        seen(build_with({**STRING, "dropper.diodes": {"pairs": 3, **across}})).solved for across in ({}, {"bypass": "100 ohm"})
    )
    for of in (plain, bypassed):
        assert of.running is not None
        assert of.series is not None
    assert bypassed.mph[60] > plain.mph[60]
    assert bypassed.top_mph == pytest.approx(plain.top_mph, rel=0.02)
    ledger = Ledger()
    found = dropper_figures(bypassed.record, bypassed.series, bypassed.motor, bypassed.source, bypassed.running, ledger)
    assert 0.5 * (3 * 0.7) ** 2 / 100 < found["bypass_power_w"] < (3 * 0.9) ** 2 / 100
    assert any("across the diodes" in line["name"] for line in ledger.working)
    assert dropper_figures(plain.record, plain.series, plain.motor, plain.source, plain.running, ledger)["bypass_power_w"] is None
