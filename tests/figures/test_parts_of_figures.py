"""Gear train, drive, dropper, margins, trials, bench and what the sheet says of them.

Where a number is checked it is worked out here from its definition (computed); CV meanings are those of NMRA S-9.2.2
(source opened); judgements of the trade are common practice.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from buildsheets.figures import Figures, work_out
from buildsheets.figures.cautions import RULES, cautions
from buildsheets.figures.curves import as_found
from buildsheets.records.models import Material, Route

Work = Callable[..., Figures]


def level_of(figures: Figures, subject: str) -> str:
    order = ("ok", "note", "caution", "stop")
    return max((v["level"] for v in figures["verdicts"] if v["subject"] == subject), key=order.index)


def stage(**fields: object) -> dict[str, object]:
    return {"gear_train": {"stages": [fields]}}


# Scale


# NEM 010 (source opened): N is 1:160, British N 1:148, H0 1:87; OO is 4 mm to the foot, 76.2 (computed).
@pytest.mark.parametrize(
    ("scale", "ratio", "says"),
    [("N", "1:148", True), ("OO", "1:87", True), ("OO", "1:76", False), ("H0", "1:87.1", False), ("N (British)", "1:148", False)],
)
def test_scale_and_ratio_that_disagree_are_named_with_both_values(figures_of: Work, scale: str, ratio: str, says: bool):
    figures = figures_of({"model.scale": scale, "model.ratio": ratio})
    notes = [verdict for verdict in figures["verdicts"] if verdict["subject"] == "scale"]
    assert bool(notes) is says
    assert figures["head"]["scale_ratio"] == pytest.approx(float(ratio[2:]))
    for note in notes:
        assert note["level"] == "note"
        assert ratio in note["message"]
        assert {"N": "1:160", "OO": "1:76.2"}[scale] in note["message"]


# Gear train


def test_idlers_turn_nothing_but_direction(figures_of: Work):
    plain = figures_of(stage(driver=12, driven=36, module="0.4 mm"))["gearing"]
    through = figures_of(stage(driver=12, driven=36, idlers=[20, 14], module="0.4 mm"))["gearing"]
    assert [row["kind"] for row in through["stages"]] == ["idler"] * 3
    assert [(row["driver_teeth"], row["driven_teeth"]) for row in through["stages"]] == [(12, 20), (20, 14), (14, 36)]
    assert through["ratio"] == pytest.approx(plain["ratio"])
    assert plain["ratio"] == pytest.approx(3)
    assert through["efficiency"] < plain["efficiency"]
    assert math.prod(row["efficiency"] for row in through["stages"]) == pytest.approx(through["efficiency"])


def test_missing_module_behind_idlers_names_its_own_row(figures_of: Work):
    stages = [{"driver": 12, "driven": 20, "idlers": [15], "module": "0.4 mm"}, {"driver": 14, "driven": 28}]
    figures = figures_of({"gear_train": {"stages": stages}})
    entry = next(entry for entry in figures["missing"] if entry["name"] == "gear_train.stages.module")
    assert entry["needed_for"] == ["gearing.stages.2"]
    assert figures["gearing"]["stages"][2]["contact_ratio"] is None
    assert figures["gearing"]["stages"][1]["contact_ratio"] is not None


def test_worm_by_its_lead_angle(figures_of: Work):
    gearing = figures_of(stage(worm=2, driven=25, module="0.4 mm", worm_diameter="5.2 mm", friction="0.08"))["gearing"]
    lead, friction = math.atan(2 * 0.4 / 5.2), math.atan(0.08 / math.cos(math.radians(20)))
    assert gearing["ratio"] == pytest.approx(12.5)
    assert gearing["efficiency"] == pytest.approx(math.tan(lead) / math.tan(lead + friction), rel=1e-6)
    assert gearing["stages"][0]["kind"] == "worm"
    assert gearing["stages"][0]["contact_ratio"] is None


def test_measured_efficiency_of_the_train_wins(figures_of: Work):
    assert figures_of({"gear_train.efficiency": "0.35"})["gearing"]["efficiency"] == pytest.approx(0.35)


def test_diametral_pitch_and_a_wheels_own_module(figures_of: Work):
    by_pitch = figures_of(stage(driver=18, driven=36, diametral_pitch=64))["gearing"]["stages"][0]
    assert by_pitch["centre_distance_mm"] == pytest.approx(25.4 / 64 * 27, rel=1e-4)
    of_wheel = figures_of(stage(driver={"teeth": 18, "module": "0.5 mm"}, driven=36))["gearing"]["stages"][0]
    assert of_wheel["centre_distance_mm"] == pytest.approx(13.5, rel=1e-4)
    wheel_pitch = figures_of(stage(driver={"teeth": 18, "diametral_pitch": 48}, driven=36))["gearing"]["stages"][0]
    assert wheel_pitch["centre_distance_mm"] == pytest.approx(25.4 / 48 * 27, rel=1e-4)


def swapped(figures_of: Work, driver: int, **more: object) -> Figures:
    fields = {"driver": driver, "driven": 38, "module": "0.4 mm", "cut_for": {"driver": 10}, **more}
    return figures_of(stage(**fields))


def test_one_tooth_fewer_is_doubtful_and_two_fewer_do_not_carry(figures_of: Work):
    nine, eight = swapped(figures_of, 9), swapped(figures_of, 8, driver_shift="0")
    assert level_of(nine, "mesh") in {"note", "caution"}
    assert level_of(eight, "mesh") == "stop"
    first, second = nine["gearing"]["stages"][0], eight["gearing"]["stages"][0]
    assert first["contact_ratio_span"][0] <= first["contact_ratio"] <= first["contact_ratio_span"][1]
    assert first["contact_ratio_span"][1] > 1.0 > second["contact_ratio"]
    assert second["undercut"] is True
    assert "made for 10" in next(v["message"] for v in nine["verdicts"] if v["subject"] == "mesh")


def test_no_contact_is_said_in_words(figures_of: Work):
    """A contact ratio of nought is no number to read at the bench."""
    figures = swapped(figures_of, 7, driver_shift="0", cut_for={"driver": 20})
    assert figures["gearing"]["stages"][0]["contact_ratio"] == 0
    message = next(verdict["message"] for verdict in figures["verdicts"] if verdict["subject"] == "mesh")
    assert "made for 20: no contact, " in message
    assert next(line["value"] for line in figures["glance"] if line["id"] == "mesh") == "no contact"


def test_pinion_too_large_for_its_centres_jams(figures_of: Work):
    figures = swapped(figures_of, 12, driver_shift="0")
    assert level_of(figures, "mesh") == "stop"
    assert "jams" in figures["gearing"]["stages"][0]["verdict"]


def test_pinion_of_nine_instead_of_ten_takes_a_tenth_off(figures_of: Work):
    light = {"train": None, "mechanism.drag_torque": "0.2 mN m"}
    ten = figures_of({**stage(driver=10, driven=38), **light})["speed"]["scale_mph"][-1]
    nine = figures_of({**stage(driver=9, driven=38), **light})["speed"]["scale_mph"][-1]
    assert nine / ten == pytest.approx(0.9, rel=1e-6)


# Drive


def duty(figures: Figures) -> list[float]:
    return figures["speed"]["duty"]


def cvs(**values: int) -> dict[str, object]:
    return {"decoder_settings": [{"cv": int(name[2:]), "value": value} for name, value in values.items()]}


def test_three_point_curve(figures_of: Work):
    curve = duty(figures_of(cvs(cv2=51, cv6=102, cv5=204)))
    assert curve[0] == pytest.approx(0.2)
    assert curve[125] == pytest.approx(0.8)
    assert curve[62] == pytest.approx(0.4, abs=0.01)
    assert duty(figures_of())[62] == pytest.approx(63 / 126)


TABLE = {f"cv{number}": 9 * (number - 66) for number in range(67, 95)}


def test_table_counts_only_when_cv29_says_so(figures_of: Work):
    on = duty(figures_of(cvs(**TABLE, cv29=18, cv66=64)))
    off = duty(figures_of(cvs(**TABLE, cv29=2)))
    assert on[125] == pytest.approx(252 / 255 * 64 / 128, rel=1e-6)
    assert on[62] == pytest.approx(9 * 14 / 255 / 2, rel=1e-6)  # entry 14 sits at step 63
    assert off[125] == pytest.approx(1.0)


def test_paged_settings_are_not_the_motors(figures_of: Work):
    figures = figures_of({"decoder_settings": [{"cv": 5, "value": 100, "page": "sound 1"}]})
    assert duty(figures)[125] == pytest.approx(1.0)
    assert figures["decoder"]["settings"][0]["name"].startswith("not in the standard")


def test_curve_the_maker_fixed(figures_of: Work):
    curve = [{"step": 1, "share": "4 %"}, {"step": 63, "share": "30 %"}, {"step": 126, "share": "100 %"}]
    found = duty(figures_of({"decoder.curve": curve}))
    assert found[0] == pytest.approx(0.04)
    assert found[62] == pytest.approx(0.30)
    assert np.all(np.diff(found) > 0)


@pytest.mark.parametrize(("name", "hertz"), [("low", 100.0), ("high", 20_000.0)])
def test_pulse_class(figures_of: Work, name: str, hertz: float):
    figures = figures_of({"decoder.pulse_frequency": None, "decoder.pulse_class": name})
    assert figures["drive"]["pwm_frequency_hz"] == hertz
    assert [entry["name"] for entry in figures["assumed"]] == ["decoder.pulse_frequency"]


def test_slow_pulses_heat_the_dropper_more(figures_of: Work):
    slow = figures_of({"decoder.pulse_frequency": "100 Hz"})["dropper"]
    fast = figures_of({"decoder.pulse_frequency": "20 kHz"})["dropper"]
    assert slow["running_power_w"] > 1.5 * fast["running_power_w"]


# Cautions


CALLS = {
    "iron": ({}, {"route": []}),
    "insulation": ({}, {"decoder": None}),
    "track": ({"supply": None}, {"supply": None, "decoder": None}),
    "dropper": ({}, {"dropper": None}),
    "stall": ({}, {"route": ["lamps"]}),
    "magnets": ({}, {"route": ["lamps"]}),
    "charge": ({"stay_alive": {"capacitor": {"capacitance": "0.2 F"}}}, {}),
    "white-metal": ({"model.shell_material": "white metal"}, {}),
    "mains": ({"supply": None}, {"supply": None, "decoder": None}),
    "edges": ({}, {"route": []}),
}


@pytest.mark.parametrize(("rule", "changes"), CALLS.items())
def test_caution_is_there_when_called_for_and_only_then(build_with, rule: str, changes: tuple):
    called, silent = changes
    assert rule in [caution["id"] for caution in cautions(build_with(called).record)]
    assert rule not in [caution["id"] for caution in cautions(build_with(silent).record)]


def test_every_caution_has_a_check_and_local_rules_always_stand(build_with):
    assert {rule.id for rule in RULES} == {*CALLS, "local"}
    assert "local" in [caution["id"] for caution in cautions(build_with().record)]
    assert len(Route) == 9


# Cost and the glance


def test_cost(figures_of: Work):
    figures = figures_of()
    assert figures["cost"] == {"total": 14.74, "currency": "EUR", "priced": 2, "unpriced": 0}
    some = figures_of({"parts": [{"name": "wire"}, {"name": "can", "quantity": 3, "unit_price": "2.10"}]})
    assert some["cost"] == {"total": 6.3, "currency": "EUR", "priced": 1, "unpriced": 1}
    line = next(line for line in some["glance"] if line["id"] == "cost")
    assert (line["level"], line["sentence"]) == ("note", "1 of 2 lines have no price.")


def test_glance_says_what_the_gravest_verdict_says(figures_of: Work):
    figures = figures_of({"dropper.clearance": None, "dropper.layout": "one face free", "decoder.off_mode": "open"})
    for line_id, subject in (
        ("top_speed", "top speed"),
        ("first_step", "start"),
        ("decoder", "decoder"),
        ("mesh", "mesh"),
    ):
        line = next(line for line in figures["glance"] if line["id"] == line_id)
        assert line["level"] == level_of(figures, subject)
    assert all(line["value"] for line in figures["glance"])


def test_glance_of_a_bare_record_is_not_known(build_from):
    figures = work_out(build_from("format: 1\ntitle: Bare chassis\nstatus: planned\n"))
    lines = {line["id"]: line for line in figures["glance"]}
    assert lines["top_speed"]["value"] == lines["decoder"]["value"] == "not known"
    assert {line["level"] for line in figures["glance"]} <= {"ok", "note"}
    assert "heat" not in lines


@pytest.mark.parametrize(
    ("prototype", "level"), [("12 mph", "caution"), ("42 mph", "note"), ("50 mph", "ok"), ("55 mph", "note"), ("90 mph", "note")]
)
def test_top_speed_against_the_prototype(figures_of: Work, prototype: str, level: str):
    figures = figures_of({"prototype.top_speed": prototype})
    assert level_of(figures, "top speed") == level, figures["speed"]["top_scale_mph"]


# Start


def test_stiff_works_start_late_and_stuck_works_never(figures_of: Work):
    late = figures_of({"mechanism.start_voltage": "6.5 V"})
    assert late["start"]["start_step"] > 126 * 0.12
    assert late["start"]["stall_step"] < late["start"]["start_step"]
    never = figures_of({"mechanism.start_voltage": "30 V"})
    assert never["start"]["start_step"] is None
    assert level_of(never, "start") == "stop"


# Heat


@pytest.mark.parametrize(("clearance", "level"), [(None, "stop"), ("1 mm", "stop"), ("8 mm", "caution")])
def test_hot_dropper_beside_plastic(figures_of: Work, clearance: str | None, level: str):
    hot = {"dropper.resistor.resistance": "47 ohm", "dropper.parallel": "1", "dropper.layout": "one face free"}
    figures = figures_of({**hot, "dropper.clearance": clearance, "decoder.pulse_frequency": "100 Hz"})
    assert figures["dropper"]["resistor_temperature_c"] > 60
    assert figures["dropper"]["share_of_rating"] < 0.75
    assert level_of(figures, "dropper heat") == level
    assert any("polystyrene" in limit["label"] for limit in figures["dropper"]["temperature_limits"])


def test_overloaded_resistor_stops(figures_of: Work):
    figures = figures_of({"dropper.resistor.rating": "0.02 W"})
    assert figures["dropper"]["share_of_rating"] > 1
    assert level_of(figures, "dropper heat") == "stop"


@pytest.mark.parametrize("material", list(Material))
def test_every_neighbour_is_known_or_bears_the_heat(figures_of: Work, material: Material):
    dropper = figures_of({"dropper.near": material.value})["dropper"]
    named = [limit for limit in dropper["temperature_limits"] if material.value in limit["label"]]
    assert len(named) == (0 if material is Material.BRASS else 1)


def test_share_of_rating_by_the_derating_line(figures_of: Work):
    """IEC 60115 line: full to 70 degC, nothing at 155 degC (computed)."""
    dropper = figures_of({"surroundings.room": "80 degC"})["dropper"]
    derated = 1.0 * (155 - dropper["air_inside_c"]) / 85
    assert dropper["share_of_rating"] == pytest.approx(dropper["power_each_w"] / derated, rel=1e-6)
    assert dropper["power_each_w"] == pytest.approx(dropper["running_power_w"] / 2, rel=1e-6)


def test_diode_string_has_heat_running_and_stalled(figures_of: Work):
    dropper = figures_of({"dropper": {"diodes": {"pairs": 3}}})["dropper"]
    assert dropper["resistance_ohm"] == 0
    assert dropper["diode_pairs"] == 3
    assert dropper["resistor_temperature_c"] is None
    assert dropper["diode_temperature_c"] > 22
    assert dropper["stall_power_w"] > dropper["running_power_w"] > 0
    schottky = figures_of({"dropper": {"diodes": {"pairs": 3, "diode": {"kind": "Schottky"}}}})
    assert schottky["dropper"]["stall_power_w"] < dropper["stall_power_w"]


def test_mixed_dropper_shows_the_banks_own_heat(figures_of: Work):
    figures = figures_of({"dropper.diodes": {"pairs": 2}, "dropper.in_series": "2"})
    line = next(line for line in figures["working"] if line["name"].startswith("power in the bank at step"))
    place = figures["dropper"]["worst_step"] - 1
    assert line["result"] == pytest.approx(figures["speed"]["rms_current_a"][place] ** 2 * 33)
    assert line["result"] < figures["dropper"]["running_power_w"]
    assert "2 in series" in figures["dropper"]["text"]
    assert "diode pairs" in figures["dropper"]["text"]


@pytest.mark.parametrize(
    ("changes", "level"),
    [
        ({"motor.winding_resistance": "28 ohm"}, "ok"),
        ({"motor.thermal_resistance": "180 K/W"}, "caution"),
        ({"motor.thermal_resistance": "330 K/W"}, "stop"),
        ({"motor.thermal_resistance": "900 K/W", "mechanism.road_current": "200 mA"}, "stop"),
    ],
)
def test_winding(figures_of: Work, changes: dict, level: str):
    figures = figures_of(changes)
    assert level_of(figures, "winding") == level, max(figures["motor"]["winding_temperature_c"])


# Decoder


def test_margins_are_rating_over_demand(figures_of: Work):
    decoder = figures_of()["decoder"]
    assert decoder["locked_rotor_current_a"] == pytest.approx(12.9 / 44.5, rel=1e-6)
    assert decoder["locked_rotor_current_without_dropper_a"] == pytest.approx(12.9 / 28, rel=1e-6)
    assert decoder["continuous_margin"] == pytest.approx(1 / (12.9 / 44.5), rel=1e-6)
    assert decoder["peak_margin"] == pytest.approx(2 / (12.9 / 44.5), rel=1e-6)


@pytest.mark.parametrize(
    ("lasting", "peak", "level"), [("1 A", "2 A", "ok"), ("0.2 A", "0.5 A", "caution"), ("0.1 A", "0.2 A", "stop")]
)
def test_decoder_against_a_stall(figures_of: Work, lasting: str, peak: str, level: str):
    figures = figures_of({"decoder.continuous_current": lasting, "decoder.peak_current": peak})
    assert level_of(figures, "decoder") == level


def test_what_the_decoder_lacks(figures_of: Work):
    assert figures_of()["decoder"]["lacks"] == []
    lacks = figures_of({"decoder.abilities": {"top_voltage": "false", "momentum": "true"}})["decoder"]["lacks"]
    assert len(lacks) == 1
    assert "CV5" in lacks[0]


# Motor


def test_bench_readings_and_a_driven_motor(figures_of: Work):
    """Readings made from K 10 mV s/rad, R 28 ohm, I0 30 mA (computed)."""
    speeds = {volts: (volts - 0.030 * 28) / 0.010 * 60 / (2 * math.pi) for volts in (6, 9, 12)}
    bench = [{"voltage": f"{v} V", "current": "30 mA", "speed": f"{s:.3f} rpm"} for v, s in speeds.items()]
    assert figures_of({"motor.bench": bench})["motor"]["emf_constant_v_s_per_rad"] == pytest.approx(0.010, rel=1e-3)
    driven = {"motor.driven_emf": {"speed": "9000 rpm", "voltage": "9.42478 V"}, "motor.no_load_speed": None}
    assert figures_of(driven)["motor"]["emf_constant_v_s_per_rad"] == pytest.approx(0.010, rel=1e-5)


def test_two_statements_of_the_resistance(figures_of: Work):
    assert (
        figures_of({"motor.winding_resistance": None, "motor.stall_current": "0.4 A"})["motor"]["resistance_ohm"] == 30
    )
    apart = figures_of({"motor.stall_current": "0.8 A"})
    assert level_of(apart, "motor") == "note"
    assert apart["motor"]["resistance_ohm"] == 28


@pytest.mark.parametrize("kind", ["spur", "spur and worm", "worm", "belt", "power bogie", None])
def test_drag_is_assumed_by_kind_and_owned_up_to(figures_of: Work, kind: str | None):
    figures = figures_of({"mechanism": {"kind": kind} if kind else None})
    assert figures["motor"]["mechanism_torque_n_m"] > 0
    assert "mechanism.road_current" in [entry["name"] for entry in figures["assumed"]]
    assert figures_of({"mechanism.drag_torque": "0.2 mN m"})["motor"]["mechanism_torque_n_m"] == pytest.approx(2e-4)


def test_flywheel_adds_its_inertia(figures_of: Work):
    """Solid cylinder of brass, m r^2 / 2 (computed)."""
    figures = figures_of({"flywheels": [{"diameter": "11 mm", "length": "6 mm", "material": "brass"}]})
    mass = 8470 * math.pi * 0.0055**2 * 0.006
    assert figures["motor"]["rotor_inertia_kg_m2"] - 6e-8 == pytest.approx(mass * 0.0055**2 / 2, rel=1e-6)


# Trials, bench, before


TRIALS = {
    "trials": [
        {"id": "bare", "change": "no dropper", "settings": {"dropper": "none"}, "verdict": "rejected",
         "seen": {"top_speed": "60 mph", "start_step": 2}},
        {"id": "ten", "change": "pinion", "settings": {"pinion": 10}, "verdict": "rejected", "date": "2026-03-04"},
        {"id": "cap", "change": "CV5", "settings": {"decoder_settings": [{"cv": 5, "value": 128}]}, "verdict": "undecided"},
        {"id": "volts", "change": "less", "settings": {"track": "12 V", "feedback": {"on": "true"}}, "verdict": "rejected"},
        {"id": "kept", "change": "as it stands", "verdict": "kept", "because": "runs well"},
    ]
}  # fmt: skip


def test_each_trial_is_predicted_from_its_own_settings(figures_of: Work):
    rows = {row["id"]: row for row in figures_of(TRIALS)["trials"]}
    light = {"train": None}
    for name, changes in {
        "bare": {"dropper": None},
        "ten": {"gear_train.stages.0.driver": 10},
        "cap": {"decoder_settings": [{"cv": 5, "value": 128}]},
        "volts": {"supply.track": "12 V"},
        "kept": {},
    }.items():
        alone = figures_of({**light, **changes})
        assert rows[name]["predicted_top_mph"] == pytest.approx(alone["speed"]["top_scale_mph"], rel=1e-6), name
        assert rows[name]["predicted_start_step"] == alone["start"]["start_step"]
    assert rows["bare"]["seen_top_mph"] == pytest.approx(60)
    assert rows["ten"]["date"] == "2026-03-04"


def test_pinion_trial_on_a_worm_leaves_the_worm(figures_of: Work):
    figures = figures_of({**stage(worm=1, driven=30), "trials": [{**TRIALS["trials"][1]}], "train": None})
    assert figures["trials"][0]["predicted_top_mph"] == pytest.approx(figures["speed"]["top_scale_mph"])


def test_bench_points_are_scale_speeds(figures_of: Work):
    readings = [
        {"step": 126, "distance": "3 m", "time": "9.0 s"},
        {"step": 64, "distance": "2 m", "time": "12 s", "load": "train", "feedback": "true", "direction": "reverse"},
        {"start_step": 3},
    ]
    figures = figures_of({"readings": readings, "reading_conditions": {"load": "light", "timing": "video"}})
    first, second = figures["bench_points"]
    assert first["scale_mph"] == pytest.approx(3 / 9 * 76.2 / 0.44704)
    assert (first["load"], first["feedback"], first["direction"]) == ("light", "not stated", "not stated")
    assert (second["load"], second["feedback"], second["direction"]) == ("train", "on", "reverse")
    assert 0 < first["error_mph"] < 0.02 * first["scale_mph"]
    assert figures_of({"readings": readings, "model.scale": None})["bench_points"] == []


BEFORE = {
    "before.motor": {"nominal_voltage": "12 V", "no_load_speed": "15000 rpm", "no_load_current": "40 mA", "stall_current": "0.4 A"},
    "before.supply": {"direct_current": "12 V"},
}  # fmt: skip


def test_curves_as_built_beside_as_found(figures_of: Work, build_with):
    figures = figures_of(BEFORE)
    curves = {curve["name"]: curve for curve in figures["curves"]}
    assert list(curves) == ["as built", "as built, light engine", "as built, 1 in 60", "without the dropper", "before"]
    tops = {name: curve["scale_mph"][-1] for name, curve in curves.items()}
    assert tops["as built, 1 in 60"] < tops["as built"] < tops["as built, light engine"] < tops["without the dropper"]
    assert curves["before"]["dropper"] == "none"
    alone = {"motor": BEFORE["before.motor"], "supply": BEFORE["before.supply"]}
    for key in ("decoder", "decoder_settings", "dropper", "mechanism"):
        alone[key] = None
    assert tops["before"] == pytest.approx(figures_of(alone)["speed"]["top_scale_mph"])
    assert any(entry["name"].startswith("before.") for entry in figures["assumed"])
    found = as_found(build_with(BEFORE).record)
    assert found.decoder is None
    assert found.dropper is None
    assert found.mechanism is None
    assert found.gear_train is not None


def test_highest_volts_are_worked_out_at_those_volts(figures_of: Work):
    highest, eighteen = figures_of()["highest_volts"], figures_of({"supply.track": "18 V"})
    assert highest["top_scale_mph"] == pytest.approx(eighteen["speed"]["top_scale_mph"])
    assert highest["resistor_temperature_c"] == pytest.approx(eighteen["dropper"]["resistor_temperature_c"])
    assert highest["locked_rotor_current_a"] == pytest.approx(16.4 / 44.5)
    lacking = figures_of({"motor": None})["highest_volts"]
    assert lacking["track_v"] == 18
    assert lacking["top_scale_mph"] is None


def test_card_and_chuffs(figures_of: Work):
    """Two cylinders give four beats a turn of the wheel (common practice)."""
    figures = figures_of()
    row = figures["speed_card"][-1]
    true = figures["speed"]["true_mm_per_s"][-1]
    assert row["step"] == 126
    assert row["seconds_over_run"] == pytest.approx(1000 / true)
    assert row["chuffs_per_second"] == pytest.approx(4 * true / (math.pi * 20.3))
    assert row["scale_km_h"] == pytest.approx(row["scale_mph"] * 1.609344)
    assert figures_of({"prototype.type": "diesel"})["sound"] is None


def test_meter_and_feedback_are_remarked_upon(figures_of: Work):
    figures = figures_of({"supply.meter": "ac meter", "feedback": {"on": "true"}})
    assert level_of(figures, "supply") == "caution"
    assert level_of(figures, "feedback") == "note"


def test_a_cv_that_the_decoder_lacks_changes_nothing_and_is_told(figures_of: Work):
    settings = [{"cv": 5, "value": 128}, {"cv": 3, "value": 10}]
    lacking = figures_of({"decoder.abilities": {"top_voltage": False}, "decoder_settings": settings})
    able = figures_of({"decoder.abilities": {"top_voltage": True}, "decoder_settings": settings})
    assert lacking["speed"]["duty"][-1] == 1.0
    assert level_of(lacking, "decoder settings") == "caution"
    assert able["speed"]["duty"][-1] == pytest.approx(128 / 255)
    assert not [verdict for verdict in able["verdicts"] if verdict["subject"] == "decoder settings"]


def test_a_stall_that_softens_the_neighbour_is_a_caution_though_the_part_bears_it(figures_of: Work):
    # Polystyrene goes soft from 95 degC (source opened: polymer tables); the part itself ends at 155.
    beside = {"dropper.near": "polystyrene", "dropper.clearance": "5 mm", "dropper.resistor.rating": "2 W"}
    near = figures_of(beside)
    stalled = near["dropper"]["stall_temperature_c"]
    assert 95 < stalled < 155
    assert level_of(near, "dropper heat") == "caution"
    assert any("sticks at full step" in verdict["message"] for verdict in near["verdicts"])
