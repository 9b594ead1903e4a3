"""Settings worked out from what the decoder has: set them in the model and it must run as wanted.

CV meanings and check values: NMRA S-9.2.2 and S-9.2.3 (source opened); what follows from them is computed. Round trips and the
cost of what is offered instead are worked again by the whole model, which knows nothing of the fits.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from buildsheets.figures import Figures, work_out
from buildsheets.figures.advice import configuration_sum
from buildsheets.figures.inputs import Refinement
from buildsheets.figures.learning import Bench
from buildsheets.figures.ledger import Ledger
from buildsheets.figures.solving import solve
from buildsheets.records import models
from buildsheets.records.library import Build

Work = Callable[..., Figures]
BuildWith = Callable[..., Build]

TABLE = range(67, 95)
ALL = dict.fromkeys(
    ("start_voltage", "top_voltage", "middle_voltage", "speed_table", "trims", "momentum", "long_address", "feedback_cut_off",
     "pulse_period", "feedback"),
    True,
)  # fmt: skip
SLOW = {"decoder.pulse_frequency": "100 Hz"}


def able(**changes: bool) -> dict[str, Any]:
    return {"decoder.abilities": {**ALL, **changes}}


def advised(figures: Figures) -> dict[int, int]:
    return {row["cv"]: row["value"] for row in figures["decoder"]["advised"]}


def why(figures: Figures, cv: int) -> str:
    return next(row["why"] for row in figures["decoder"]["advised"] if row["cv"] == cv)


def fit_of(figures: Figures, kind: str) -> Any:
    return next(curve for curve in figures["decoder"]["curve"]["fitted"] if curve["kind"] == kind)


def with_cvs(build: Build, values: dict[int, int], **changes: Any) -> Build:
    """Return the build with these CVs in place of its own."""
    settings = [models.CvSetting(cv=cv, value=value) for cv, value in values.items()]
    return replace(build, record=build.record.model_copy(update={"decoder_settings": settings, **changes}))


def only(figures: Figures, kind: str) -> dict[int, int]:
    """Return the advised values with CV29 turned to one of the two curves."""
    values = advised(figures)
    values[29] = values[29] | 16 if kind == "table" else values[29] & ~16
    if kind == "three-point":
        values.pop(66, None)
    return values


def distance(figures: Figures, mph: Any, first: int) -> float:
    """Greatest distance from the wanted curve, from a step on."""
    curve = figures["decoder"]["curve"]
    target = np.array([np.nan if value is None else value for value in curve["target_scale_mph"]])
    return float(np.nanmax(np.abs(np.array(mph, dtype=float) - target)[first - 1 : curve["at_step"]]))


# Round trips

ROUND_TRIPS = [
    {},
    {"decoder.off_mode": "brake"},
    {"decoder.off_mode": "open", "dropper": None},
    {**SLOW, "target.start_step": 6},
    {"target.curve": "slow low steps", "target.speed": "40 mph"},
    {"target.at_step": 90, "target.speed": "35 mph"},
    {"motor.kind": "coreless", "motor.inductance": "0.4 mH", "target.speed": "45 mph"},
    {"decoder_settings": [{"cv": 2, "value": 70}, {"cv": 6, "value": 110}, {"cv": 5, "value": 180}]},
]


@pytest.mark.parametrize("kind", ["three-point", "table"])
@pytest.mark.parametrize("changes", ROUND_TRIPS)
def test_the_model_set_so_runs_as_wanted(build_with: BuildWith, changes: dict[str, Any], kind: str):
    build = build_with({**able(), **changes})
    figures = work_out(build)
    fit, curve = fit_of(figures, kind), figures["decoder"]["curve"]
    again = solve(with_cvs(build, only(figures, kind)).record, Ledger())
    start = again.start["start_step"]
    assert start <= max(curve["from_step"], 1 if kind == "three-point" else 5)
    found = distance(figures, again.mph, max(start, curve["from_step"]))
    assert found == pytest.approx(fit["error_mph"], abs=0.1)
    error = figures["decoder"]["advised_error_mph"]
    assert error["three_point" if kind == "three-point" else "table"] == fit["error_mph"]
    # a level is 1/255 of the bus volts; no motor here gains more than that share of three times its top speed from it
    level = 3 * max(curve["as_set_scale_mph"][-1], curve["reached_mph"]) / 255
    if kind == "table":
        assert found <= 1.5 * level
    assert again.mph[curve["at_step"] - 1] == pytest.approx(curve["reached_mph"], abs=max(level, fit["error_mph"]))


@pytest.mark.parametrize("kind", ["three-point", "table"])
def test_held_by_feedback_it_runs_as_wanted(build_with: BuildWith, kind: str):
    build = build_with({**able(), "feedback": {"on": True}, "target.speed": "45 mph"})
    figures = work_out(build)
    assert figures["decoder"]["curve"]["feedback"] == "on"
    held = work_out(with_cvs(build, only(figures, kind)))["feedback"]["closed_loop_scale_mph"]
    assert distance(figures, held, 5) <= fit_of(figures, kind)["error_mph"] + 0.1
    assert held[125] == pytest.approx(45, abs=0.5)
    assert advised(figures)[10] == 128
    assert "no cut-off" in why(figures, 10)


def test_advised_values_are_where_the_advice_stays(build_with: BuildWith):
    """Set as advised, the same is advised again, to a level."""
    build = build_with(able())
    first = advised(work_out(build))
    again = advised(work_out(with_cvs(build, first)))
    assert {cv: abs(value - first[cv]) for cv, value in again.items() if abs(value - first[cv]) > 1} == {}


def test_nearer_curve_is_used_and_cv29_says_so(figures_of: Work):
    bent = figures_of({**able(), **SLOW, "target.curve": "slow low steps", "target.speed": "40 mph"})
    errors = bent["decoder"]["advised_error_mph"]
    assert errors["table"] < errors["three_point"]
    assert fit_of(bent, "table")["chosen"]
    assert advised(bent)[29] & 16
    even = figures_of({**able(), "dropper": None, "decoder.off_mode": "brake"})
    assert fit_of(even, "three-point")["chosen"]
    assert not advised(even)[29] & 16
    assert even["decoder"]["advised_error_mph"]["three_point"] <= 0.02 * 55


def test_out_of_reach_is_told(figures_of: Work):
    figures = figures_of({**able(), "target.speed": "90 mph"})
    curve = figures["decoder"]["curve"]
    assert not curve["full_drive_reaches"]
    assert curve["reached_mph"] == pytest.approx(figures["speed"]["scale_mph"][-1])
    assert advised(figures)[5] == 255
    assert any(v["subject"] == "wanted speed" and "255" in v["message"] for v in figures["verdicts"])
    assert all(v["subject"] != "wanted speed" for v in figures_of(able())["verdicts"])


def test_slower_than_it_can_move_off_is_told(figures_of: Work):
    figures = figures_of({**able(), "target.speed": "1 mph"})
    assert any(v["subject"] == "wanted speed" and v["level"] == "caution" for v in figures["verdicts"])
    values = advised(figures)
    assert values[2] == values[5]
    assert {values[cv] for cv in TABLE} == {values[5]}


def test_without_a_target_the_prototype_stands_in_or_it_is_missing(figures_of: Work):
    stand_in = figures_of({**able(), "target": None})
    assert stand_in["decoder"]["curve"]["wanted_mph"] == pytest.approx(55)
    assert "target.speed" in [entry["name"] for entry in stand_in["assumed"]]
    nothing = figures_of({**able(), "target": None, "prototype.top_speed": None})
    assert nothing["decoder"]["curve"] is None
    assert any(e["name"] == "target.speed" and "decoder.curve" in e["needed_for"] for e in nothing["missing"])


# What the decoder has


def test_nothing_is_advised_without_a_decoder(figures_of: Work):
    direct = {"decoder": None, "decoder_settings": None, "supply": {"direct_current": "12 V"}, "dropper": None}
    decoder = figures_of(direct)["decoder"]
    assert decoder["advised"] == decoder["instead"] == decoder["momentum"] == decoder["silent"] == []
    assert decoder["curve"] is decoder["configuration"] is decoder["address"] is None


def test_unknown_abilities_are_not_advised_but_named(figures_of: Work):
    """S-9.2.2 demands CV29 of every decoder; the rest is for the leaflet."""
    figures = figures_of({"decoder.abilities": None, "address": 7})
    assert set(advised(figures)) == {1, 29}
    assert len(figures["decoder"]["silent"]) == 9
    assert any(entry["name"] == "decoder.abilities" for entry in figures["missing"])
    assert figures["decoder"]["curve"]["fitted"] == []
    one = figures_of({"decoder.abilities": {"top_voltage": True}, "address": 7})
    assert set(advised(one)) == {1, 5, 29}
    assert not any("CV5)" in words for words in one["decoder"]["silent"])


def test_only_a_table(figures_of: Work):
    figures = figures_of(able(start_voltage=False, top_voltage=False, middle_voltage=False))
    assert {2, 5, 6}.isdisjoint(advised(figures))
    assert set(TABLE) <= set(advised(figures))
    assert advised(figures)[29] & 16
    assert figures["decoder"]["advised_error_mph"]["three_point"] is None


def test_only_three_points(figures_of: Work):
    figures = figures_of(able(speed_table=False))
    assert {2, 5, 6} <= set(advised(figures))
    assert set(TABLE).isdisjoint(advised(figures))
    assert not advised(figures)[29] & 16
    assert figures["decoder"]["advised_error_mph"]["table"] is None


def test_only_the_makers_curve(figures_of: Work):
    curve = [{"step": 1, "share": "4 %"}, {"step": 126, "share": "100 %"}]
    figures = figures_of({**able(speed_table=False), "decoder.curve": curve})
    assert set(TABLE).isdisjoint(advised(figures))
    assert {2, 5, 6}.isdisjoint(advised(figures))
    assert figures["decoder"]["curve"]["fitted"] == []


def test_lacking_ones_are_not_advised(figures_of: Work):
    figures = figures_of(able(**dict.fromkeys(ALL, False)) | {"address": 7})
    assert set(advised(figures)) == {1, 29}
    assert figures["decoder"]["silent"] == []


# Address and CV29


# NMRA S-9.2.2 CV17/18: address = (CV17 - 192) * 256 + CV18; source opened, pairs computed.
@pytest.mark.parametrize(("address", "pair"), [(128, (192, 128)), (1234, (196, 210)), (9999, (231, 15)), (10239, (231, 255))])
def test_long_address(figures_of: Work, address: int, pair: tuple[int, int]):
    figures = figures_of({**able(), "address": address})
    assert (advised(figures)[17], advised(figures)[18]) == pair
    assert 1 not in advised(figures)
    assert advised(figures)[29] & 32
    assert f"CV18 = {pair[1]}" in figures["decoder"]["address"]["text"]


def test_short_address_and_what_is_set(figures_of: Work):
    short = figures_of({**able(), "address": 127})
    assert advised(short)[1] == 127
    assert not advised(short)[29] & 32
    kept = [{"cv": 17, "value": 196}, {"cv": 18, "value": 210}, {"cv": 29, "value": 38}]
    assert figures_of({**able(), "address": None, "decoder_settings": kept})["decoder"]["address"]["address"] == 1234
    from_cv1 = figures_of({**able(), "address": None, "decoder_settings": [{"cv": 1, "value": 44}]})
    assert from_cv1["decoder"]["address"]["text"] == "Short address 44: CV1 = 44."
    none = figures_of({**able(), "address": None})
    assert none["decoder"]["address"] is None
    assert any(entry["name"] == "address" for entry in none["missing"])


def test_long_address_that_cannot_be(figures_of: Work):
    figures = figures_of(able(long_address=False))
    assert {17, 18}.isdisjoint(advised(figures))
    assert any(v["subject"] == "address" and v["level"] == "caution" for v in figures["verdicts"])


# NMRA S-9.2.2 CV29 bits; source opened, sums computed: long + 28 steps + table = 50, and 6 of the text.
@pytest.mark.parametrize(
    ("value", "text"),
    [
        (50, "2 + 16 + 32 = 50: 28 or 128 steps (2), speed table (16), long address (32)"),
        (6, "2 + 4 = 6: 28 or 128 steps (2), other power source allowed (4)"),
        (2, "2: 28 or 128 steps (2)"),
        (66, "2 + 64 = 66: 28 or 128 steps (2), reserved by the standard (64)"),
    ],
)
def test_cv29_is_a_written_sum(value: int, text: str):
    assert configuration_sum(value) == text


@pytest.mark.parametrize("value", range(256))
def test_every_written_sum_adds_up(value: int):
    terms = configuration_sum(value).split(":")[0].split(" = ")[0]
    assert sum(int(term) for term in terms.split(" + ")) == value


def test_other_choices_of_cv29_stay_as_they_are(figures_of: Work):
    figures = figures_of({**able(speed_table=False), "address": 3, "decoder_settings": [{"cv": 29, "value": 1 + 4 + 8 + 16 + 32}]})
    assert advised(figures)[29] == 1 + 2 + 4 + 8
    assert figures["decoder"]["configuration"]["as_set"] == 61


# Momentum


def test_momentum_as_set(figures_of: Work):
    """CV3 = 10 is 8.96 s (NMRA S-9.2.2, computed); the way is summed here over the steps by hand."""
    figures = figures_of({**able(), "decoder_settings": [{"cv": 3, "value": 10}, {"cv": 4, "value": 2}]})
    row = next(row for row in figures["decoder"]["momentum"] if row["name"] == "as set")
    assert row["start_s"] == pytest.approx(8.96)
    assert row["stop_s"] == pytest.approx(1.792)
    true = np.array([0.0, *figures["speed"]["true_mm_per_s"]]) / 1000
    assert row["start_true_m"] == pytest.approx(8.96 / 126 * np.sum((true[1:] + true[:-1]) / 2), rel=1e-4)
    assert row["start_full_size_m"] == pytest.approx(76.2 * row["start_true_m"], rel=1e-3)


def test_recommended_momentum_brakes_by_its_rule(figures_of: Work):
    """v / a for the wanted 55 mph at 2.5 m/s2 is 9.83 s (computed); CV4 counts 0.896 s (NMRA S-9.2.2)."""
    figures = figures_of(able())
    row = next(row for row in figures["decoder"]["momentum"] if row["name"] == "recommended")
    assert row["stop_s"] == pytest.approx(55 * 0.44704 / 2.5, abs=0.896 / 2)
    assert row["start_s"] == pytest.approx(1.5 * 55 * 0.44704 / 2.5, abs=0.896 / 2)
    assert advised(figures)[4] == row["cv4"]
    # an even rise from the first to the wanted speed, at steps that move: mean speed times time, from mechanics
    curve = figures["decoder"]["curve"]
    moving = (126 - curve["from_step"] + 1) / 126 * row["stop_s"]
    assert row["stop_full_size_m"] == pytest.approx((curve["first_mph"] + 55) / 2 * 0.44704 * moving, rel=0.02)


def test_adjustments_count(figures_of: Work):
    settings = [{"cv": 3, "value": 10}, {"cv": 4, "value": 10}, {"cv": 23, "value": 5}, {"cv": 24, "value": 128 + 4}]
    row = figures_of({**able(), "decoder_settings": settings})["decoder"]["momentum"][0]
    assert (row["start_s"], row["stop_s"]) == (pytest.approx(15 * 0.896), pytest.approx(6 * 0.896))


# Trims


def both_ways(forward: str, reverse: str) -> dict[str, Any]:
    common = {"step": 63, "distance": "2 m", "load": "train", "feedback": False}
    return {
        "readings": [
            {**common, "time": forward, "direction": "forward"},
            {**common, "time": reverse, "direction": "reverse"},
        ]
    }


def test_trims_stay_at_128_where_the_runs_do_not_differ(figures_of: Work):
    same = figures_of({**able(), **both_ways("9.8 s", "9.9 s")})
    assert (advised(same)[66], advised(same)[95]) == (128, 128)
    assert "alike" in why(same, 66)
    assert "not timed" in why(figures_of(able()), 66)


def test_the_faster_direction_is_trimmed_down(build_with: BuildWith):
    ahead = work_out(build_with({**able(), **both_ways("9.0 s", "11.0 s")}))
    assert advised(ahead)[66] < 128 == advised(ahead)[95]
    assert fit_of(ahead, "table")["chosen"]  # CV66 and CV95 go with the table, NMRA S-9.2.2
    back = work_out(build_with({**able(), **both_ways("11.0 s", "9.0 s")}))
    assert advised(back)[95] < 128 == advised(back)[66]


def test_table_makes_up_for_the_forward_trim(build_with: BuildWith):
    """Forward, the trim and the raised table together must give the wanted curve; with CV66 put back they do not."""
    build = build_with({**able(), "target.speed": "35 mph", **both_ways("9.0 s", "11.0 s")})
    figures, learned = work_out(build), Bench(build.record).all().refined
    values = only(figures, "table")
    trimmed = solve(with_cvs(build, values).record, Ledger(), refined=learned)
    assert distance(figures, trimmed.mph, 5) <= fit_of(figures, "table")["error_mph"] + 0.1
    untrimmed = solve(with_cvs(build, {**values, 66: 128}).record, Ledger(), refined=learned)
    assert untrimmed.top_mph > 1.1 * trimmed.top_mph


# Pulses, cut-off and what the standard leaves open


# NMRA S-9.2.2 CV9: 159 is 4080 us, 245 Hz; 198 is 155 x 64 = 9920 us; source opened, values computed.
@pytest.mark.parametrize(("frequency", "value"), [("245.1 Hz", 159), ("100.8 Hz", 198)])
def test_pulse_period(figures_of: Work, frequency: str, value: int):
    figures = figures_of({**able(), "decoder.pulse_frequency": frequency})
    assert advised(figures)[9] == value


def test_pulses_beyond_the_formula(figures_of: Work):
    figures = figures_of({**able(), "decoder_settings": [{"cv": 9, "value": 255}]})
    assert advised(figures)[9] == 0
    assert "ends there" in why(figures, 9)
    assert "30.6" in why(figures, 9)  # Hz; NMRA S-9.2.2, computed


# NMRA S-9.2.2, CV10: low bits dropped, no formula; 100 becomes 25 of 28 and 12 of 14 (computed).
def test_silences_of_the_standard_are_told(figures_of: Work):
    settings = [{"cv": 10, "value": 100}, {"cv": 54, "value": 9}, {"cv": 65, "value": 20}]
    remarks = " ".join(figures_of({**able(), "decoder_settings": settings})["decoder"]["remarks"])
    assert "about step 25 of 28 and 12 of 14" in remarks
    assert "CV54: the standard gives no meaning" in remarks
    assert "CV65" in remarks
    assert figures_of(able())["decoder"]["remarks"] == []


def test_cut_off_where_the_top_cannot_be_set(build_with: BuildWith):
    build = build_with({**able(top_voltage=False, speed_table=False), "feedback": {"on": True}, "target.speed": "30 mph"})
    figures = work_out(build)
    again = work_out(with_cvs(build, advised(figures)))
    assert advised(figures)[10] == pytest.approx(again["feedback"]["saturation_step"] - 1, abs=1)


# NMRA S-9.2.3 D asks 60 mA; at 12.9 V no more than 215 ohm give that (source opened, computed).
@pytest.mark.parametrize(("ohms", "told"), [("205 ohm", False), ("225 ohm", True)])
def test_acknowledge_pulse(figures_of: Work, ohms: str, told: bool):
    weak = {"motor.winding_resistance": ohms, "motor.no_load_current": "8 mA", "motor.inductance": "20 mH", "dropper": None}
    weak |= {"mechanism": {"kind": "worm", "drag_torque": "0.02 mN m"}, "train": None}
    remarks = figures_of({**able(), **weak})["decoder"]["remarks"]
    assert any("60" in words and "Reading back may fail" in words for words in remarks) is told


# What does the job instead


def ways(figures: Figures, lacks: str) -> dict[str, Any]:
    return {way["instead"]: way for way in figures["decoder"]["instead"] if way["lacks"] == lacks}


NO_TOP = {**able(top_voltage=False, speed_table=False), "dropper": None, "target.speed": "40 mph"}


@pytest.mark.parametrize("changes", [{}, SLOW, {"decoder.off_mode": "brake"}])
def test_cap_and_bank_against_the_whole_model(build_with: BuildWith, changes: dict[str, Any]):
    build = build_with({**NO_TOP, **changes})
    figures = work_out(build)
    found = ways(figures, "top_voltage")
    cap = int(found["cap at the command station"]["text"].split("step ")[1].split()[0])
    speeds = figures["speed"]["scale_mph"]
    assert speeds[cap - 1] <= 40 < speeds[cap]
    bank = found["dropper"]
    ohms = float(bank["text"].split("bank of ")[1].split("\u202f")[0])
    dropper = models.Dropper.model_validate({"resistor": {"resistance": f"{ohms:g} ohm"}, "layout": "free"})
    light, loaded = (solve(build.record.model_copy(update={"dropper": dropper}), Ledger(), load=load) for load in ("light", "train"))
    assert loaded.top_mph == pytest.approx(40, rel=0.04)  # E24 at or above: never faster but for its own warmth
    assert loaded.start["start_step"] == pytest.approx(bank["start_step"], abs=1)  # a winding warmed by another current
    heat = np.max(loaded.running.rms_current**2) * ohms
    assert bank["heat_w"] == pytest.approx(heat, rel=0.02)
    assert bank["speed_drop_share"] == pytest.approx(1 - loaded.top_mph / light.top_mph, abs=0.01)
    geared = found["gearing"]["text"]
    assert float(geared.split("about ")[1].split()[0]) == pytest.approx(34 * speeds[-1] / 40, rel=0.01)


def test_nothing_to_hold_back(figures_of: Work):
    assert list(ways(figures_of({**NO_TOP, "target.speed": "90 mph"}), "top_voltage")) == ["nothing"]


def test_table_does_the_job_without_heat(figures_of: Work):
    figures = figures_of({**NO_TOP, **able(top_voltage=False)})
    first = figures["decoder"]["instead"][0]
    assert (first["instead"], first["heat_w"]) == ("speed table", 0.0)
    assert first["error_mph"] == figures["decoder"]["advised_error_mph"]["table"]


def test_start_without_cv2(build_with: BuildWith):
    build = build_with({**able(start_voltage=False, speed_table=False), "target.start_step": 4})
    found = ways(work_out(build), "start_voltage")
    bare = solve(build.record.model_copy(update={"dropper": None}), Ledger())
    assert found["no dropper"]["start_step"] == bare.start["start_step"]
    share = float(found["freer works"]["text"].split("fall to ")[1].split()[0]) / 100

    def starts(factor: float) -> int:
        freer = Refinement(running_torque=factor, breakaway_torque=factor, rolling=factor)
        return int(solve(build.record, Ledger(), refined=freer).start["start_step"])

    assert starts(0.97 * share) <= 4 < starts(1.06 * share)  # the share is printed to two figures


def test_feedback_and_slow_pulses(figures_of: Work):
    figures = figures_of({**able(feedback=False, pulse_period=False), **SLOW})
    hand = ways(figures, "feedback")["the throttle hand"]
    curves = {curve["name"]: curve["scale_mph"][62] for curve in figures["curves"]}
    assert hand["speed_drop_share"] == pytest.approx(1 - curves["as built"] / curves["as built, light engine"])
    pulses = ways(figures, "pulse_period")["the maker's frequency"]
    assert pulses["heat_w"] > 0
    assert ways(figures_of(able(pulse_period=False)), "pulse_period") == {}
