"""The routine at the bench, and the next setting after the last trial. Rules: common practice."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from feedback_of import Seen, seen

from buildsheets.records.library import Build

Work = Callable[..., Seen]

ON = {"feedback": {"on": "true"}, "decoder.abilities": {"feedback": "true", "feedback_cut_off": "true"}}
STRING = {"dropper.resistor": None, "dropper.parallel": None, "dropper.layout": None, "dropper.diodes": {"pairs": 3}}


def trial(name: str, *signs: str, dropper: bool = True, **setting: Any) -> dict[str, Any]:
    settings: dict[str, Any] = {"feedback": {"on": "true", **setting}}
    if not dropper:
        settings["dropper"] = "none"
    return {"id": name, "change": "Feedback tried.", "verdict": "undecided", "settings": settings, "seen": {"signs": list(signs)}}


@pytest.fixture
def seen_with(build_with: Callable[..., Build]) -> Work:
    return lambda changes=None: seen(build_with(changes))


def routine(of: Seen) -> list[Any]:
    assert of.feedback["tuning"] is not None
    return list(of.feedback["tuning"]["routine"])


def next_setting(of: Seen) -> Any:
    assert of.feedback["tuning"] is not None
    return of.feedback["tuning"]["next"]


def test_routine_runs_from_off_to_cut_off(seen_with: Work):
    of = seen_with(ON)
    lines = routine(of)
    assert lines[0]["do"].startswith("Feedback off")
    order = [next(i for i, line in enumerate(lines) if word in line["do"]) for word in ("Raise P", "Raise I", "1 in 60", "cut-off to CV10")]
    assert order == sorted(order)
    assert f"CV10 = {of.feedback['cut_off_step']}" in lines[-2]["do"]
    assert any("0.6" in line["do"] and "before the dropper" in line["do"] for line in lines)
    assert all(text for line in lines for text in line.values())


def test_routine_follows_the_build(seen_with: Work):
    assert not any("before the dropper" in line["do"] for line in routine(seen_with({**ON, "dropper": None})))
    assert any("across the whole diode string" in line["do"] for line in routine(seen_with({**ON, **STRING})))
    lowered = [{"cv": 2, "value": 4}, {"cv": 6, "value": 64}, {"cv": 5, "value": 128}]
    flat = routine(seen_with({**ON, "train.grade": None, "decoder_settings": lowered}))
    assert any("steepest grade of the layout" in line["do"] for line in flat)
    assert any("Leave the cut-off at never" in line["do"] for line in flat)


@pytest.mark.parametrize(
    ("last", "text"),
    [
        (trial("a", "hunting", p=40, i=20), "P from 40 to 20."),
        (trial("a", "hunting", "surging", p=1), "P from 1 to 0."),
        (trial("a", "stalls on the grade", p=40), "P from 40 to 50."),
        (trial("a", "stalls on the grade", p=255), "P from 255 to 255."),
        (trial("a", "surging", i=50, dropper=False), "I from 50 to 35."),
        (trial("a", "hunting"), "P to 0.5 of what it is set to."),
    ],
)
def test_each_sign_has_its_next_setting(seen_with: Work, last: dict[str, Any], text: str):
    found = next_setting(seen_with({**ON, "trials": [last]}))
    assert found["text"].replace("0.50", "0.5") == text
    assert found["trial"] == "a"
    assert found["because"]


def test_surging_behind_a_dropper_wants_the_share_first_and_then_less(seen_with: Work):
    first = seen_with({**ON, "trials": [trial("a", "surging", p=40, i=60)]})
    scaled = round(60 * (first.feedback["integral_scale"] or 0.0))
    assert next_setting(first)["text"] == f"I from 60 to {scaled}."
    again = seen_with({**ON, "trials": [trial("a", "surging", p=40, i=60), trial("b", "surging", p=40, i=scaled)]})
    assert next_setting(again)["text"] == f"I from {scaled} to {round(0.7 * scaled)}."


def test_a_hidden_motor_is_no_matter_of_settings(seen_with: Work):
    found = next_setting(seen_with({**ON, **STRING, "trials": [trial("a", "surging", i=60)]}))
    assert found["text"].startswith("Fit 1000")
    before_it = next_setting(seen_with({**ON, **STRING, "trials": [trial("a", "surging", i=60, dropper=False)]}))
    assert before_it["text"] == "I from 60 to 42."


def test_cut_off_comes_last(seen_with: Work):
    even = seen_with({**ON, "trials": [trial("a", "even", p=40, i=30)]})
    step = even.feedback["cut_off_step"]
    assert next_setting(even)["text"] == f"Leave P and I; CV10 from never to {step}."
    assert next_setting(seen_with({**ON, "trials": [trial("a", "even", cut_off_step=step)]})) is None
    jumps = next_setting(seen_with({**ON, "trials": [trial("a", "jumps at cut-off", i=30, cut_off_step=step)]}))
    assert jumps["text"] == "Try it without a cut-off, and I from 30 to 21."
    assert next_setting(seen_with({**ON, "trials": [trial("a", "jumps at cut-off", cut_off_step=128)]}))["text"].startswith("Leave P and I")


def test_only_trials_with_feedback_on_count(seen_with: Work):
    off = trial("a", "even")
    off["settings"] = {"feedback": {"on": "false"}}
    assert next_setting(seen_with({**ON, "trials": [off]})) is None
    assert next_setting(seen_with(ON)) is None
