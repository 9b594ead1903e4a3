"""What every record's figures must hold: the declared shape, honest gaps, and the laws of the model.

Laws are computed here by hand from the linear motor (source opened: university motor tutorials); shape and gaps are the
project's own format.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterator
from types import UnionType
from typing import Any, Union, get_args, get_origin, get_type_hints, is_typeddict

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from buildsheets.figures import Figures, to_json, work_out
from buildsheets.figures.ledger import HOW_TO_FIND, Ledger
from buildsheets.figures.solving import solve

Work = Callable[..., Figures]

FIXED = [
    "format",
    "slug",
    "title",
    "assumed",
    "missing",
    "gearing.ratio",
    "gearing.efficiency",
    "gearing.stages.0.kind",
    "gearing.stages.0.driver_teeth",
    "gearing.stages.0.driven_teeth",
    "gearing.stages.0.ratio",
    "gearing.stages.0.contact_ratio",
    "gearing.stages.0.working_pressure_angle_deg",
    "gearing.stages.0.backlash_mm",
    "gearing.stages.0.undercut",
    "gearing.stages.0.verdict",
    "motor.resistance_ohm",
    "motor.emf_constant_v_s_per_rad",
    "motor.inductance_h",
    "motor.running_torque_n_m",
    "motor.breakaway_torque_n_m",
    "motor.stall_current_a",
    "motor.no_load_rpm",
    "motor.winding_power_w",
    "motor.winding_temperature_c",
    "motor.stall_time_limit_s",
    "drive.bus_voltage_v",
    "drive.pwm_frequency_hz",
    "drive.off_mode",
    "dropper.resistance_ohm",
    "dropper.diode_pairs",
    "dropper.worst_step",
    "dropper.running_power_w",
    "dropper.power_each_w",
    "dropper.stall_power_w",
    "dropper.resistor_temperature_c",
    "dropper.stall_temperature_c",
    "dropper.share_of_rating",
    "speed.step",
    "speed.duty",
    "speed.scale_mph",
    "speed.scale_km_h",
    "speed.true_mm_per_s",
    "speed.motor_rpm",
    "speed.mean_current_a",
    "speed.rms_current_a",
    "speed.motor_voltage_v",
    "speed.dropper_power_w",
    "speed.top_scale_mph",
    "speed.top_scale_mph_band",
    "start.start_step",
    "start.stall_step",
    "start.start_step_band",
    "dropper.temperature_band_c",
    "decoder.locked_rotor_current_band_a",
    "decoder.continuous_margin_band",
    "decoder.peak_margin_band",
    "decoder.settings.0.cv",
    "decoder.settings.0.name",
    "decoder.settings.0.value",
    "decoder.settings.0.why",
    "decoder.locked_rotor_current_a",
    "decoder.continuous_margin",
    "decoder.peak_margin",
    "sound.chuffs_per_second",
    "feedback.reading_fraction",
    "feedback.visible_from_step",
    "feedback.saturation_step",
    "feedback.cut_off_step",
    "feedback.mechanical_time_constant_ms",
    "feedback.integral_scale",
    "haulage.tractive_force_n",
    "haulage.slip_limit_n",
    "haulage.vehicles_level",
    "haulage.vehicles_on_grade",
    "cost.total",
    "cost.currency",
    "cost.priced",
    "cost.unpriced",
    "verdicts.0.subject",
    "verdicts.0.level",
    "verdicts.0.message",
]
LATER = ("options", "calibration", "start.creep_from_step")

# Null because there is nothing of the kind, not because a value is missing.
NOT_FOR_THIS = {
    "head.aside_because", "head.builder", "head.started", "head.finished", "head.changed", "head.revision_letter",
    "head.summary", "head.bench_time_h", "head.number", "head.prototype_class", "head.prototype_type", "head.scale",
    "head.drive_in", "notes_markdown", "motor.name", "motor.kind", "decoder.name", "start.creep_from_step",
    "feedback.on", "feedback.able", "feedback.cut_off_cv10", "feedback.bypass_offered_ohm", "feedback.reading_with_bypass_v",
    "feedback.visible_from_step_with_bypass", "feedback.closed_loop_scale_mph", "feedback.loop", "feedback.tuning", "dropper.bypass_power_w",
    "start.creep_scale_mph", "dropper.diode_temperature_c", "decoder.settings.0.page", "decoder.address",
    "decoder.configuration", "decoder.configuration.as_set", "decoder.configuration.as_set_text",
    "decoder.advised_error_mph.three_point", "decoder.advised_error_mph.table",
}  # fmt: skip


def at(figures: Any, key: str) -> Any:
    for name in key.split("."):
        figures = figures[int(name)] if isinstance(figures, list) else figures[name]
    return figures


def nulls(value: Any, key: str = "") -> Iterator[str]:
    """Every key that is null; within a list one entry stands for all."""
    if value is None:
        yield key
    elif isinstance(value, dict):
        for name, entry in value.items():
            yield from nulls(entry, f"{key}.{name}".lstrip("."))
    elif isinstance(value, list):
        for place, entry in enumerate(value):
            if isinstance(entry, dict):
                yield from nulls(entry, f"{key}.{place}")


def owned_up(figures: Figures, key: str) -> bool:
    return any(
        key == name or key.startswith(f"{name}.") for entry in figures["missing"] for name in entry["needed_for"]
    )


def judged_keys(figures: Figures) -> list[str]:
    parts = ("head", "gearing", "motor", "drive", "dropper", "speed", "start", "decoder", "highest_volts", "sound", "cost",
             "feedback", "haulage", "calibration")  # fmt: skip
    rows = ("decoder.advised.", "decoder.instead.")  # a row has what applies to it
    keys = [key for part in parts for key in nulls(figures[part], part)]  # type: ignore[literal-required]
    return [key for key in keys if not key.startswith(rows)]


def matches(value: Any, hint: Any) -> bool:  # noqa: PLR0911 - one line for each kind of type
    """Whether a value has the declared shape, keys and types all the way down."""
    if hint is Any or hint is object:
        return True
    if is_typeddict(hint):
        hints = get_type_hints(hint)
        return (
            isinstance(value, dict) and list(value) == list(hints) and all(matches(value[k], hints[k]) for k in hints)
        )
    origin, arguments = get_origin(hint), get_args(hint)
    if origin is list:
        return isinstance(value, list) and all(matches(entry, arguments[0]) for entry in value)
    if origin is dict:
        return isinstance(value, dict) and all(matches(entry, arguments[1]) for entry in value.values())
    if origin in (UnionType, Union):
        return any(matches(value, argument) for argument in arguments)
    if arguments:  # a literal
        return value in arguments
    if hint is float:
        return type(value) in (int, float) and math.isfinite(value)
    return value is None if hint in (None, type(None)) else type(value) is hint


def test_shape_is_the_declared_one(figures_of: Work):
    figures = figures_of()
    assert list(figures) == list(get_type_hints(Figures))
    hints = get_type_hints(Figures)
    for name, hint in hints.items():
        assert matches(figures[name], hint), name  # type: ignore[literal-required]


def test_fixed_keys_hold_a_value_in_a_complete_build(figures_of: Work):
    figures = figures_of()
    assert [key for key in FIXED if at(figures, key) is None] == []
    for key in LATER:
        at(figures, key)


def test_arrays_run_over_126_steps(figures_of: Work):
    figures = figures_of()
    speed = {key: values for key, values in (figures["speed"] or {}).items() if key != "top_scale_mph_band"}
    arrays = [values for values in speed.values() if isinstance(values, list)]
    arrays += [curve["scale_mph"] for curve in figures["curves"]]
    arrays += [figures["motor"]["winding_power_w"], figures["motor"]["winding_temperature_c"]]
    arrays += [figures["dropper"]["temperature_over_steps_c"], figures["dropper"]["power_each_over_steps_w"]]
    arrays += [figures["sound"]["chuffs_per_second"]]
    assert len(arrays) > 15
    assert {len(array) for array in arrays} == {126}


def test_json_is_the_same_twice_and_seven_digits(build_with):
    build = build_with()
    first, second = to_json(work_out(build)), to_json(work_out(build))
    assert first.encode() == second.encode()
    assert "NaN" not in first
    assert "Infinity" not in first

    def check(text: str) -> float:
        digits = text.lower().split("e")[0].replace(".", "").replace("-", "").strip("0")
        assert len(digits) <= 7, text
        return float(text)

    json.loads(first, parse_float=check)


def test_json_refuses_what_is_not_finite(figures_of: Work):
    figures = figures_of()
    figures["run_length_m"] = math.nan
    with pytest.raises(ValueError, match="JSON"):
        to_json(figures)


MODES = [
    {"decoder.off_mode": mode, "decoder.pulse_frequency": frequency, **dropper}
    for mode in ("coast", "brake", "open")
    for frequency in ("100 Hz", "20 kHz")
    for dropper in ({}, {"dropper": None})
]
DIODES = {
    "dropper": {"diodes": {"pairs": 2, "diode": {"kind": "silicon", "thermal_resistance": "90 K/W"}}, "layout": "row"}
}


@pytest.mark.parametrize("changes", [*MODES, DIODES, {**DIODES, "decoder.pulse_frequency": "100 Hz"}])
def test_energy_balance_closes_and_speed_never_falls(build_with, changes):
    running = solve(build_with(changes).record, Ledger()).running
    wave = running.solution.waveform
    sinks = wave.resistive_power + wave.emf_power + wave.mean_diode_power + wave.freewheel_power
    np.testing.assert_allclose(wave.bus_power, sinks, rtol=1e-6, atol=1e-9)
    assert np.all(running.solution.converged)
    assert np.all(np.diff(running.motor_speed) >= -1e-6 * running.motor_speed.max())


@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(low=st.integers(1, 200), more=st.integers(1, 200), mode=st.sampled_from(["coast", "brake"]))
def test_larger_resistor_never_speeds_it_up(build_with, low, more, mode):
    def speeds(ohms: int) -> Any:
        changes = {"dropper.resistor.resistance": f"{ohms} ohm", "decoder.off_mode": mode}
        return solve(build_with(changes).record, Ledger()).running.motor_speed

    assert np.all(speeds(low + more) <= speeds(low) * (1 + 1e-6) + 1e-9)


def test_top_speed_by_hand(figures_of: Work):
    """Linear motor at full on: E = V_b - I (R_hot + R_s), everything from the record's own numbers (computed by hand)."""
    figures = figures_of()
    rpm = 2 * math.pi / 60
    constant = (12 - 0.030 * 28) / (11500 * rpm)
    lead = math.atan(1 * 0.4 / (4.5))  # starts x axial module over pitch diameter
    phi = math.atan(0.10 / math.cos(math.radians(20)))
    efficiency = 0.9 * math.tan(lead) / math.tan(lead + phi)
    ratio = 17 / 12 * 24
    force = 9.80665 * 4 * 0.110 * 0.015
    load = force * 0.01015 / (ratio * efficiency)
    torque = constant * 0.030 + constant * (0.052 - 0.030) + load
    current = torque / constant
    warm = figures["motor"]["winding_temperature_c"][-1]
    hot = 28 * (1 + 0.00393 * (warm - 20))
    emf = 14.5 - 1.4 - 0.2 - current * (hot + 16.5)
    mph = emf / constant / ratio * 0.01015 * 76.2 / 0.44704
    assert figures["speed"]["top_scale_mph"] == pytest.approx(mph, rel=2e-3)
    assert figures["speed"]["mean_current_a"][-1] == pytest.approx(current, rel=1e-3)
    # the winding is where its own heat puts it: room, air inside, can to air
    power = current**2 * hot
    friction = constant * 0.030 * emf / constant
    inside = power + friction + current**2 * 16.5 + 1.4 * current
    assert warm == pytest.approx(22 + 9 * inside + 40 * (power + friction), abs=0.3)


def test_brake_without_diodes_is_linear(build_with):
    """I_mean = (d V_b - E) / R_T exactly (source opened: chopper with a shorted off phase)."""
    solved = solve(build_with({"decoder.off_mode": "brake", "decoder.pulse_frequency": "100 Hz"}).record, Ledger())
    running = solved.running
    moving = running.motor_speed > 0
    line = (solved.source.duty * 12.9 - running.solution.emf) / (running.resistance + 16.5)
    assert moving.sum() > 60
    np.testing.assert_allclose(running.mean_current[moving], line[moving], rtol=1e-6)


DIRECT = {"decoder": None, "decoder_settings": None, "supply": {"direct_current": "12 V"}}


def test_loco_on_direct_current(figures_of: Work):
    figures = figures_of({**DIRECT, "dropper": None})
    assert figures["drive"] == {
        "kind": "direct current", "bus_voltage_v": 12.0, "pwm_frequency_hz": None, "off_mode": None,
    }  # fmt: skip
    assert figures["speed"]["duty"] == [1.0] * 126
    assert figures["speed"]["scale_mph"][-1] > 1.9 * figures["speed"]["scale_mph"][62]
    assert figures["decoder"]["locked_rotor_current_a"] == pytest.approx(12 / 28)
    assert all(entry["name"].split(".")[0] != "decoder" for entry in figures["assumed"])
    assert at(figures, "decoder.continuous_margin") is None


def test_highest_volts_of_a_loco_on_direct_current_are_the_highest(figures_of: Work):
    figures = figures_of({**DIRECT, "supply": {"direct_current": "12 V", "highest": "16 V"}})
    assert figures["highest_volts"]["locked_rotor_current_a"] == pytest.approx(16 / 44.5)
    assert figures["highest_volts"]["top_scale_mph"] > 1.3 * figures["speed"]["top_scale_mph"]


OPTIONAL = {
    "decoder.internal_drop": "decoder.internal_drop",
    "decoder.off_mode": "decoder.off_mode",
    "decoder.freewheel_drop": "decoder.freewheel_drop",
    "decoder.pulse_frequency": "decoder.pulse_class",
    "supply.pickup_drop": "supply.pickup_drop",
    "motor.kind": "motor.kind",
    "motor.inductance": "motor.inductance",
    "motor.rotor_inertia": "motor.rotor_inertia",
    "motor.insulation_class": "motor.insulation_class",
    "motor.thermal_resistance": "motor.thermal_resistance",
    "mechanism.start_voltage": "mechanism.start_voltage",
    "mechanism.road_current": "mechanism.road_current",
    "surroundings.room": "surroundings.room",
    "surroundings.shell_resistance": "surroundings.shell_resistance",
    "dropper.layout": "dropper.layout",
    "train.rolling_resistance": "train.rolling_resistance",
    "train.adhesion": "train.adhesion",
    "gear_train.stages.0.pressure_angle": "gear_train.stages.pressure_angle",
    "gear_train.stages.0.driver_shift": "gear_train.stages.driver_shift",
    "gear_train.stages.0.efficiency": "gear_train.stages.efficiency",
    "gear_train.stages.1.friction": "gear_train.stages.friction",
    "gear_train.stages.1.worm_diameter": "gear_train.stages.worm_diameter",
}


def test_nothing_is_assumed_where_everything_is_given(figures_of: Work):
    figures = figures_of()
    assert figures["assumed"] == []
    assert {entry["name"] for entry in figures["missing"]} == {"readings", "space.cavity"}  # which no calculation assumes


@pytest.mark.parametrize(("key", "name"), OPTIONAL.items())
def test_assumed_is_listed_only_where_the_record_is_silent(figures_of: Work, key: str, name: str):
    figures = figures_of({key: None})
    assert [entry["name"] for entry in figures["assumed"]] == [name]
    entry = figures["assumed"][0]
    assert entry["label"]
    assert entry["why"]
    assert entry["basis"]


REMOVED = {  # input -> (the key that goes null, the entry that names it)
    "supply.track": ("drive.bus_voltage_v", "supply.track"),
    "motor": ("motor.resistance_ohm", "motor"),
    "motor.winding_resistance": ("motor.resistance_ohm", "motor.winding_resistance"),
    "motor.no_load_speed": ("motor.emf_constant_v_s_per_rad", "motor.no_load_speed"),
    "motor.no_load_current": ("motor.running_torque_n_m", "motor.no_load_current"),
    "motor.nominal_voltage": ("motor.no_load_rpm", "motor.nominal_voltage"),
    "gear_train": ("gearing.ratio", "gear_train.stages"),
    "gear_train.stages.0.module": ("gearing.stages.0.contact_ratio", "gear_train.stages.module"),
    "model.driving_wheel": ("speed", "model.driving_wheel"),
    "model.scale": ("head.scale_ratio", "model.scale"),
    "dropper.resistor.rating": ("dropper.resistor_temperature_c", "dropper.resistor.rating"),
    "dropper.resistor.resistance": ("dropper", "dropper.resistor.resistance"),
    "decoder.continuous_current": ("decoder.continuous_margin", "decoder.continuous_current"),
    "decoder.peak_current": ("decoder.peak_margin", "decoder.peak_current"),
    "prototype.top_speed": ("head.prototype_top_mph", "prototype.top_speed"),
    "prototype.cylinders": ("sound", "prototype.cylinders"),
    "model.mass": ("haulage.vehicles_on_grade", "model.mass"),
    "model.driven_mass": ("haulage.slip_limit_n", "model.driven_mass"),
    "train.vehicle_mass": ("haulage.vehicles_level", "train.vehicle_mass"),
    "train.grade": ("haulage.vehicles_on_grade", "train.grade"),
    "supply.highest": ("highest_volts", "supply.highest"),
    "parts": ("cost.total", "parts.unit_price"),
    "currency": ("cost.currency", "currency"),
}


@pytest.mark.parametrize(("removed", "expected"), REMOVED.items())
def test_each_removed_input_leaves_a_null_and_a_line_to_measure(
    figures_of: Work, removed: str, expected: tuple[str, str]
):
    key, name = expected
    assert at(figures_of(), key) is not None
    figures = figures_of({removed: None})
    assert at(figures, key) is None
    entry = next(entry for entry in figures["missing"] if entry["name"] == name)
    assert any(key == needed or key.startswith(f"{needed}.") for needed in entry["needed_for"])
    assert entry["how_to_measure"] == HOW_TO_FIND[name]
    assert [
        null
        for null in judged_keys(figures)
        if null not in NOT_FOR_THIS and not owned_up(figures, null) and not worm(null)
    ] == []
    to_json(figures)


def worm(key: str) -> bool:
    """The worm's mesh has no contact ratio to give."""
    return key.startswith("gearing.stages.1.")


def test_measured_resistor_still_wants_its_rating(figures_of: Work):
    figures = figures_of({"dropper.resistor.thermal_resistance": "120 K/W", "dropper.resistor.rating": None})
    assert figures["dropper"]["resistor_temperature_c"] > 22
    assert figures["dropper"]["share_of_rating"] is None
    assert owned_up(figures, "dropper.share_of_rating")


def test_train_without_mass_is_run_light_and_says_so(figures_of: Work):
    figures = figures_of({"train.vehicle_mass": None})
    assert "train.vehicle_mass" in [entry["name"] for entry in figures["missing"]]
    assert figures["curves"][0]["load"] == "light engine"


def test_unweighed_loco_has_no_curve_on_the_grade(figures_of: Work):
    slow = {"decoder.pulse_frequency": "100 Hz"}
    assert figures_of(slow)["start"]["creep_scale_mph"] is not None
    figures = figures_of({**slow, "model.mass": None})
    assert figures["start"]["creep_from_step"] is not None
    assert figures["start"]["creep_scale_mph"] is None
    assert owned_up(figures, "start.creep_scale_mph")
    assert all("1 in 60" not in curve["name"] for curve in figures["curves"])


def test_bare_record_yields_a_sheet_of_gaps(build_from):
    figures = work_out(build_from("format: 1\ntitle: Bare chassis\nstatus: planned\n"))
    json.loads(to_json(figures))
    for name in ("motor", "gear_train.stages", "supply.track", "model.scale", "model.driving_wheel"):
        assert name in [entry["name"] for entry in figures["missing"]]
    unowned = [key for key in judged_keys(figures) if key not in NOT_FOR_THIS and not owned_up(figures, key)]
    assert set(unowned) <= {"decoder.curve", "dropper", "decoder.continuous_margin", "decoder.peak_margin", "highest_volts", "sound"}
    assert figures["speed_card"] == []
    assert figures["curves"] == []


@pytest.mark.parametrize("volts", ["1 V", "30 V"])
def test_odd_track_volts_do_not_break_it(figures_of: Work, volts: str):
    to_json(figures_of({"supply.track": volts}))


def test_temperatures_of_the_dropper_become_points(figures_of: Work):
    readings = [
        {"step": 126, "temperature": "58 degC ± 2 K", "of": "dropper", "load": "light", "feedback": False},
        {"step": 126, "temperature": "40 degC", "of": "motor", "load": "light", "feedback": False},
        {"temperature": "50 degC", "of": "dropper"},
    ]
    assert figures_of({"readings": readings})["heat_points"] == [
        {"step": 126, "temperature_c": 58.0, "error_k": 2.0, "load": "light", "feedback": "off", "trial": None}
    ]
