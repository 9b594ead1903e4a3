"""How whole builds answer under feedback.

What must come out: a dropper lowers the integral term that suits, too much of it runs past the wanted speed, feedback
holds a grade that slows the motor without it (common practice); equal settings where there is no dropper (computed).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from feedback_of import Seen, seen

from buildsheets.figures.ledger import Ledger
from buildsheets.figures.solving import solve
from buildsheets.figures.watching import HALF_STEP
from buildsheets.records.library import Build

Work = Callable[..., Seen]

ON = {"feedback": {"on": "true", "input": "100 kohm", "sample": {"every": "10 ms"}}}
HEAVY = {"train.vehicles": 20, "train.grade": "1 in 20"}


@pytest.fixture
def seen_with(build_with: Callable[..., Build]) -> Work:
    return lambda changes=None: seen(build_with(changes))


def loop(of: Seen) -> dict[str, Any]:
    found = of.feedback["loop"]
    assert found is not None
    return dict(found)


@pytest.mark.parametrize("mode", ["coast", "brake", "open"])
def test_less_integral_runs_less_far_past(seen_with: Work, mode: str):
    found = loop(seen_with({**ON, "decoder.off_mode": mode}))
    start = found["start"]
    assert found["p_ratio"] == 1.0
    assert found["i_ratio"] < 1.0
    assert start["suited"]["overshoot_share"] > start["advised"]["overshoot_share"] + 0.01
    for setting in ("suited", "advised"):
        assert start[setting]["settling_time_s"] < found["time_s"][-1]
        assert start[setting]["scale_mph"][-1] == pytest.approx(found["wanted_scale_mph"], rel=0.01)
    assert start["off"]["scale_mph"][-1] < found["wanted_scale_mph"]
    assert min(found["gain_margin"]) > 2.0
    assert found["phase_margin_deg"][1] > found["phase_margin_deg"][0] > 45.0


def test_feedback_holds_the_grade(seen_with: Work, build_with: Callable[..., Build]):
    grade = loop(seen_with(ON))["grade"]
    assert grade["event"] == f"Meeting 1 in 60 at step {HALF_STEP}"
    assert grade["advised"]["end_share"] == pytest.approx(1.0, abs=0.01)
    assert grade["advised"]["dip_share"] < 1.0 - grade["off"]["end_share"]
    # with feedback off the solver on the grade says the same as the answer's end: other code, same steady state
    record = build_with(ON).record
    level, climb = (solve(record, Ledger(), graded=graded).mph for graded in (False, True))
    assert level is not None
    assert climb is not None
    steady = climb[HALF_STEP - 1] / level[HALF_STEP - 1]
    assert grade["off"]["end_share"] == pytest.approx(steady, abs=0.01)


def test_a_motor_at_its_end_is_not_flattered(seen_with: Work):
    figures = seen_with({**ON, **HEAVY})
    grade = loop(figures)["grade"]
    assert 0.0 < grade["advised"]["end_share"] < 0.98
    assert figures.judged("feedback on the grade") == ["note"]
    stalled = seen_with({**ON, "train.vehicles": 40, "train.grade": "1 in 20"})
    assert loop(stalled)["grade"]["advised"]["stalls"]
    assert stalled.judged("feedback on the grade") == ["caution"]


def test_bare_motor_has_one_setting(seen_with: Work):
    found = loop(seen_with({**ON, "dropper": None}))
    assert found["i_ratio"] == pytest.approx(1.0)
    assert found["start"]["suited"] == found["start"]["advised"]


def test_steps_beyond_the_cut_off_are_not_shown(seen_with: Work):
    found = loop(seen_with({"feedback": {"on": "true", "cut_off_step": 40}}))
    assert found["step"] == 30


def test_level_line_and_unweighed_loco_say_what_they_lack(seen_with: Work):
    figures = seen_with({**ON, "train.grade": None})
    assert loop(figures)["grade"] is None
    assert any(e["name"] == "train.grade" and "feedback.loop.grade" in e["needed_for"] for e in figures.ledger.missing)
    level = seen_with({**ON, "train.grade": "level"})
    assert loop(level)["grade"] is None
    assert [e["needed_for"] for e in level.ledger.missing if e["name"] == "none"] == [["feedback.loop.grade"]]
    unweighed = seen_with({**ON, "model.mass": None})
    assert unweighed.feedback["loop"] is None
    assert any(e["name"] == "model.mass" and "feedback.loop" in e["needed_for"] for e in unweighed.ledger.missing)


def test_a_decoder_that_hardly_looks_away_is_followed_in_few_points(seen_with: Work):
    # a look every millisecond is as good as a thousand more: the motor's time constant is some hundred of them
    quick, usual = (loop(seen_with({"feedback": {"on": True, "sample": {"every": every}}})) for every in ("2 us", "1 ms"))
    assert quick["sample_period_ms"] == pytest.approx(0.002)
    assert len(quick["time_s"]) < 200
    assert quick["start"] == usual["start"]


def test_only_where_feedback_is_a_matter(seen_with: Work):
    silent, unable = seen_with().feedback, seen_with({**ON, "decoder.abilities": {"feedback": "false"}}).feedback
    assert silent["loop"] is silent["tuning"] is unable["loop"] is unable["tuning"] is None


def test_more_integral_is_never_advised(seen_with: Work):
    """Slow pulses through diodes last longer at one speed, and the motor answers more quickly (computed): no reason for more I."""
    of = seen_with({
        **ON, "dropper.resistor": None, "dropper.parallel": None, "dropper.layout": None, "dropper.diodes": {"pairs": 3, "bypass": "1 kohm"},
        "decoder.pulse_frequency": "100 Hz",
    })
    assert of.feedback["mechanical_time_constant_ms"] < of.feedback["mechanical_time_constant_without_dropper_ms"]
    assert of.feedback["integral_scale"] == 1.0
    assert loop(of)["start"]["suited"] == loop(of)["start"]["advised"]
