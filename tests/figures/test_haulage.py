"""Haulage of a record against hand calculation with the linear motor (source opened: university motor tutorials) and statics."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from buildsheets.figures import Figures
from buildsheets.sheet.haulage import haulage_words

Work = Callable[..., Figures]
RPM = 2 * math.pi / 60
G = 9.80665


def test_stall_force_by_hand(figures_of: Work):
    """F = (K I - T_f - T_mech) i eta / r at the winding's temperature of the top step (computed by hand)."""
    figures = figures_of()
    constant = (12 - 0.030 * 28) / (11500 * RPM)
    hot = 28 * (1 + 0.00393 * (figures["motor"]["winding_temperature_c"][-1] - 20))
    current = (14.5 - 1.4 - 0.2) / (hot + 16.5)
    lead, friction = math.atan(0.4 / 4.5), math.atan(0.10 / math.cos(math.radians(20)))
    efficiency = 0.9 * math.tan(lead) / math.tan(lead + friction)
    force = constant * (current - 0.052) * 17 / 12 * 24 * efficiency / 0.01015
    haulage = figures["haulage"]
    assert haulage["stall_force_n"] == pytest.approx(force, rel=1e-3)
    assert haulage["slip_limit_n"] == pytest.approx(0.20 * 0.240 * G)
    assert haulage["tractive_force_n"] == pytest.approx(min(force, 0.20 * 0.240 * G), rel=1e-3)


def test_marks_lie_on_the_curve_and_agree_with_the_speed(figures_of: Work):
    figures = figures_of()
    haulage = figures["haulage"]
    assert haulage["train_pull_level_n"] == pytest.approx(4 * 0.110 * G * 0.015)
    assert haulage["train_speed_level_mph"] == pytest.approx(figures["speed"]["top_scale_mph"], rel=1e-6)
    assert np.all(np.diff(haulage["pull_speed_mph"]) < 0)
    for place in ("level", "on_grade"):
        pull, mph = haulage[f"train_pull_{place}_n"], haulage[f"train_speed_{place}_mph"]
        assert mph == pytest.approx(np.interp(pull, haulage["pull_n"], haulage["pull_speed_mph"]), rel=1e-3)
    assert haulage["pull_n"][-1] == pytest.approx(min(haulage["stall_force_n"], 2 * haulage["slip_limit_n"]))


def test_dropper_makes_the_train_felt_more(figures_of: Work):
    """The slope of speed over torque is total resistance over K squared: a series resistor adds to it (computed)."""
    fitted, bare = figures_of()["haulage"], figures_of({"dropper": None})["haulage"]
    assert fitted["speed_drop_share"] > 1.3 * fitted["speed_drop_share_without_dropper"] > 0
    assert bare["speed_drop_share"] == bare["speed_drop_share_without_dropper"]
    assert bare["stall_force_n"] > fitted["stall_force_n"]


def levels(figures: Figures) -> list[str]:
    return [verdict["level"] for verdict in figures["verdicts"] if verdict["subject"] == "haulage"]


STALLS = {"dropper.resistor.resistance": "560 ohm", "dropper.parallel": 1}


def test_what_gives_way_first_is_judged(figures_of: Work):
    assert levels(figures_of()) == ["ok"]
    weak = figures_of(STALLS)
    haulage = weak["haulage"]
    assert haulage["slips_before_stall"] is False
    assert haulage["tractive_force_n"] == haulage["stall_force_n"] == haulage["pull_n"][-1]
    assert haulage["pull_speed_mph"][-1] == pytest.approx(0, abs=0.05)
    assert levels(weak)[0] == "caution"
    message = next(verdict["message"] for verdict in weak["verdicts"] if verdict["subject"] == "haulage")
    assert "can burn" in message


def test_train_too_long_is_judged(figures_of: Work):
    figures = figures_of({"train.vehicles": 20})
    assert figures["haulage"]["vehicles_on_grade"] < 20 <= figures["haulage"]["vehicles_level"]
    assert levels(figures)[-1] == "caution"
    assert levels(figures_of({"train.vehicles": 100}))[-1] == "stop"
    assert figures_of({"train.vehicles": 100})["haulage"]["steepest_grade"] < 0


def test_stall_sets_the_steepest_grade_of_a_weak_build(figures_of: Work):
    """On the steepest grade the train asks just what the motor gives (statics)."""
    haulage = figures_of({**STALLS, "train.vehicles": 1})["haulage"]
    slope = math.atan(haulage["steepest_grade"])
    asked = G * ((0.285 + 0.110) * math.sin(slope) + 0.015 * 0.110 * math.cos(slope))
    assert asked == pytest.approx(haulage["stall_force_n"], rel=1e-6)


def test_vehicles_that_roll_on_set_no_limit_and_say_so(figures_of: Work):
    figures = figures_of({"train.rolling_resistance": "0"})
    assert figures["haulage"]["vehicles_level"] is None
    assert figures["haulage"]["vehicles_on_grade"] > 0
    entry = next(entry for entry in figures["missing"] if entry["name"] == "train.rolling_resistance")
    assert entry["needed_for"] == ["haulage.vehicles_level"]


def test_light_engine_is_known_without_a_vehicle(figures_of: Work):
    haulage = figures_of({"train": {"grade": "1 in 60"}})["haulage"]
    assert haulage["vehicles_level"] is None
    assert haulage["train_pull_level_n"] == 0
    assert haulage["speed_drop_share"] == 0
    assert haulage["steepest_grade"] == pytest.approx(0.20 * 240 / 285)  # no train: adhesion over weight (statics)


def test_record_without_a_motor_has_none(figures_of: Work):
    assert figures_of({"motor": None})["haulage"] is None


def test_curve_counts_for_the_grade_and_for_nothing_else(figures_of: Work):
    """F = c_curve (m_loco + m_train) g, the sum of resistances of a railway handbook (source opened)."""
    curved = figures_of()["haulage"]
    straight = figures_of({"train.curve_radius": None, "train.curve_resistance": None})
    assert curved["curve_resistance_n"] == pytest.approx(0.012 * (0.285 + 4 * 0.110) * G)
    same = ("vehicles_level", "steepest_grade", "train_pull_level_n", "speed_drop_share", "pull_n", "pull_speed_mph")
    assert {key: curved[key] for key in same} == {key: straight["haulage"][key] for key in same}
    assert curved["vehicles_on_straight_grade"] == straight["haulage"]["vehicles_on_grade"] > curved["vehicles_on_grade"]
    more = curved["train_pull_on_grade_n"] - straight["haulage"]["train_pull_on_grade_n"]
    assert more == pytest.approx(curved["curve_resistance_n"], rel=2e-4)  # cos of 1 in 60
    assert straight["haulage"]["curve_resistance_n"] is None
    entry = next(entry for entry in straight["missing"] if entry["name"] == "train.curve_radius")
    assert entry["needed_for"] == ["haulage.curve_resistance_n"]


def test_train_that_only_the_curve_stops_is_named(figures_of: Work):
    figures = figures_of({"train.vehicles": 10})
    assert figures["haulage"]["vehicles_on_grade"] < 10 <= figures["haulage"]["vehicles_on_straight_grade"]
    message = [verdict["message"] for verdict in figures["verdicts"] if verdict["subject"] == "haulage"][-1]
    assert "on the stated grade and curve; the record wants 10" in message


def test_words_name_grade_and_curve(figures_of: Work):
    curved = " ".join(haulage_words(figures_of()["haulage"]))
    assert "It hauls 8 vehicles on the stated grade and curve together, 12 on the grade without the curve." in curved
    straight = " ".join(haulage_words(figures_of({"train.curve_radius": None, "train.curve_resistance": None})["haulage"]))
    assert "on the stated grade; curves take some of that" in straight
    assert "grade and curve" not in straight
