"""Bands and hold points: from the record, by the full solver, and moving with the record."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from buildsheets.figures import Figures
from buildsheets.figures.hold_points import hold_points
from buildsheets.figures.inputs import Refinement
from buildsheets.figures.ledger import HOW_TO_FIND, Ledger
from buildsheets.figures.running import chain, settle
from buildsheets.figures.samples import SAMPLES, draw
from buildsheets.figures.solving import solve
from buildsheets.figures.spread import READINGS, Spread, band, spread_of
from buildsheets.figures.tolerances import ASSUMED, GIVEN, tolerance_of, with_dials, without_places
from buildsheets.figures.writing import to_json
from buildsheets.physics.uncertainty import Posterior, percentiles
from buildsheets.records import models
from buildsheets.records.library import Build
from buildsheets.records.quantities import Quantity

Work = Callable[..., Figures]
Points = Callable[..., dict[str, Any]]
Change = dict[str, Any]
POINTS = {
    "motor-alone-current",
    "motor-alone-speed",
    "bank-resistance",
    "insulation",
    "acknowledge",
    "first-step",
    "track-volts",
    "timed-run-64",
    "timed-run-96",
    "timed-run-126",
    "motor-current",
    "dropper-temperature",
}


def held(*but: str) -> Posterior:
    """Hold every key of the record except those named."""
    holds = tuple(name for name in {*GIVEN, *ASSUMED} if name not in but)
    return Posterior((), np.zeros(0), np.zeros((0, 0)), holds)


def spread_for(record: models.Record, **more: Any) -> Spread:
    found = spread_of(record, solve(record, Ledger()), **more)
    assert found is not None
    return found


@pytest.fixture
def points_of(build_with: Callable[..., Build]) -> Callable[..., dict[str, Any]]:
    """Hold points of the complete record with changes, by name; without the rest of the figures."""

    def work(changes: Change | None = None) -> dict[str, Any]:
        record = build_with(changes).record
        return {entry["id"]: entry for entry in hold_points(record, spread_for(record, worst_step=126), 1.0)}

    return work


# Inputs


def test_every_input_says_how_it_is_measured():
    assert [name for name in {*GIVEN, *ASSUMED} if name not in HOW_TO_FIND] == []


def test_inputs_come_from_the_record_and_its_defaults(build_with):
    record = build_with({"surroundings.room": None}).record
    drawn = draw(record)
    assert drawn is not None
    names = {entry.name: entry for entry in drawn.inputs}
    assert names["surroundings.room"].assumed
    assert not names["motor.winding_resistance"].assumed
    # read by nothing that the solver asks for: neither rating nor price nor the prototype
    assert set(names) <= {*GIVEN, *ASSUMED}
    assert "decoder.pulse_class" not in names


def test_a_tolerance_of_the_record_wins_over_that_of_its_kind(build_with):
    record = build_with({"motor.winding_resistance": "28 ohm ± 2 %", "model.driving_wheel": "20.3 mm ± 0.05 mm"}).record
    found = {entry.name: entry for entry in draw(record).inputs}
    assert found["motor.winding_resistance"].half_width == pytest.approx(0.02)
    assert found["motor.winding_resistance"].basis == "the record"
    assert found["model.driving_wheel"].half_width == pytest.approx(0.05e-3)


@pytest.mark.parametrize(
    ("changes", "half_width", "shape", "basis"),
    [
        ({}, 0.05, "uniform", "common practice"),
        ({"dropper.resistor.tolerance": "1 %"}, 0.01, "uniform", "as marked"),
        ({"dropper.resistor.series": "E12"}, 0.10, "uniform", "series E12, IEC 60063"),
        ({"dropper.resistor.resistance": "33 ohm ± 0.5 ohm"}, 0.5 / 33, "uniform", "the record"),
    ],
)
def test_resistors_are_even_within_what_is_printed_on_them(build_with, changes, half_width, shape, basis):
    found = next(e for e in draw(build_with(changes).record).inputs if e.name == "dropper.resistor.resistance")
    assert found.half_width == pytest.approx(half_width)
    assert (found.shape, found.basis) == (shape, basis)


@pytest.mark.parametrize(
    ("meter", "half_width", "shape"),
    [("rectified", 0.03, "normal"), ("ac meter", 0.10, "uniform"), ("as marked", 0.05, "uniform")],
)
def test_track_volts_by_how_they_were_read(build_with, meter, half_width, shape):
    record = build_with({"supply.meter": meter}).record
    found = tolerance_of("supply.track", record.supply.track, record)
    assert (found.half_width, found.shape) == (pytest.approx(half_width), shape)


def test_an_ac_meter_widens_even_a_stated_tolerance(build_with):
    record = build_with({"supply.meter": "ac meter", "supply.track": "14.5 V ± 1 %"}).record
    assert tolerance_of("supply.track", record.supply.track, record).half_width == pytest.approx(0.10)


def test_a_stall_current_counts_only_where_no_resistance_is_stated(build_with):
    both = build_with({"motor.stall_current": "0.43 A"}).record
    alone = build_with({"motor.stall_current": "0.43 A", "motor.winding_resistance": None}).record
    assert "motor.stall_current" not in [entry.name for entry in draw(both).inputs]
    assert "motor.stall_current" in [entry.name for entry in draw(alone).inputs]


def test_readings_of_one_meter_are_one_input(build_with):
    bench = [{"voltage": f"{v} V", "current": "30 mA", "speed": f"{s} rpm"} for v, s in ((6, 5400), (12, 11480))]
    record = build_with({"motor.bench": bench}).record
    _, found = with_dials(record)
    assert [len(entry.dials) for entry in found if entry.name == "motor.bench.speed"] == [2]


def test_keys_lose_the_numbers_of_lists():
    assert without_places("gear_train.stages.1.friction") == "gear_train.stages.friction"
    assert without_places("motor.bench.0.speed") == "motor.bench.speed"


def test_dials_leave_the_record_as_it_was(build_with):
    record = build_with().record
    draw(record)
    assert isinstance(record.supply.track, Quantity)
    assert record.supply.track.value == 14.5


# Limiting cases


def test_without_tolerances_a_band_is_the_value_itself(build_with):
    record = build_with().record
    solved = solve(record, Ledger())
    found = spread_of(record, solved, posterior=held())
    assert band(found.top_mph) == pytest.approx([solved.top_mph] * 2, rel=1e-5)
    assert set(found.start_step) == {solved.start["start_step"]}
    assert found.causes()[0] == [(READINGS, "what the readings leave open", 0.0)]


def test_one_even_input_gives_its_own_percentiles(build_with):
    # the bank is uniform within 5 %: its 5 and 95 % lie at 0.9 of that
    record = build_with().record
    found = spread_for(record, posterior=held("dropper.resistor.resistance"))
    assert percentiles(found.samples.series_resistance[:, 0], (0.05, 0.95)) == pytest.approx(
        [16.5 * (1 - 0.045), 16.5 * (1 + 0.045)], rel=5e-4
    )


def test_one_normal_input_gives_its_own_percentiles(build_with):
    # a wheel of 20.3 ± 0.203 mm scales the speed and, on the level without a train, changes nothing else: 5 % and 95 %
    # of the speed lie 1.6449 standard deviations of 0.5 % off (normal law)
    changes = {"model.driving_wheel": "20.3 mm ± 0.203 mm", "train.vehicles": 0}
    record = build_with(changes).record
    found = spread_for(record, posterior=held("model.driving_wheel"))
    low, high = band(found.top_mph)
    middle = solve(record, Ledger()).top_mph
    assert [low / middle - 1, high / middle - 1] == pytest.approx([-1.6449 * 0.005, 1.6449 * 0.005], rel=0.03)


def test_spread_of_a_braked_chain_is_that_of_the_worked_propagation(build_with):
    # With the bridge braking, no dropper and a winding kept at 20 degC, n = (d V_b - I R) / K in closed form. JCGM 100:2008,
    # 5.1.2: u^2(n) = sum of (c_i u_i)^2; from memory.
    changes = {
        "decoder.off_mode": "brake",
        "dropper": None,
        "train.vehicles": 0,
        "surroundings.room": "20 degC",
        "surroundings.shell_resistance": "0.01 K/W",
        "motor.thermal_resistance": "0.001 K/W",
        "mechanism": {"drag_torque": "0.2 mN m"},
        "motor.emf_constant": "9.3 mV s/rad ± 6 %",
    }
    record = build_with(changes).record
    found = spread_for(record, posterior=held("motor.emf_constant", "supply.track", "motor.winding_resistance"))
    constant, volts, resistance, drag, idle = 9.3e-3, 14.5, 28.0, 0.2e-3, 30e-3
    bus = volts - 1.4 - 0.2
    # friction is K I_0, so the current is I_0 + drag / K
    speed = (bus - (idle + drag / constant) * resistance) / constant
    slope = -speed / constant + drag * resistance / constant**3
    parts = {
        "motor.emf_constant": slope * 0.03 * constant,
        "supply.track": 0.015 * volts / constant,
        "motor.winding_resistance": -(idle + drag / constant) / constant * 0.05 * resistance,
    }
    whole = sum(part**2 for part in parts.values())
    assert np.std(found.top_mph) / np.mean(found.top_mph) == pytest.approx(whole**0.5 / speed, rel=0.02)
    shares = {name: share for name, _, share in found.causes()[0]}
    for name, part in parts.items():
        assert shares[name] == pytest.approx(part**2 / whole, abs=0.02)


# By the full solver


@pytest.mark.parametrize("changes", [{}, {"decoder.pulse_frequency": "100 Hz"}, {"decoder.off_mode": "brake"}])
def test_samples_are_solved_as_builds_are(build_with, changes):
    """Set one sample's values into the chain of one build and settle it alone, at all steps."""
    record = build_with(changes).record
    solved = solve(record, Ledger())
    found = spread_of(record, solved)
    samples, fan = found.samples, found.fans["built"]
    alone = chain(solved.motor, solved.source, solved.series, solved.load_torque, solved.warmth)
    for place in (0, 40, 101):
        values = samples.chain([samples.train_torque], [samples.series_resistance], 0, np.arange(1, 127))
        one = {
            name: value[place] if np.ndim(value) == 2 else value
            for name, value in vars(values).items()
            if name != "warmth"
        }
        around = type(values.warmth)(*(np.array([field[place, 0]]) for field in vars(values.warmth).values()))
        state = settle(type(alone)(**one, warmth=around))
        mph = state.motor_speed / samples.ratio * samples.wheel[place] / 2 * samples.scale / 0.44704
        assert fan.mph[place] == pytest.approx(mph[fan.steps - 1], rel=1e-3, abs=1e-9)


def test_a_turned_record_solves_to_its_sample(build_with):
    """Write the turned values into a record and solve that: nothing is lost between dials, ledger and solver."""
    changes = {"supply.track": "14.5 V ± 4 %"}
    record = build_with(changes).record
    found = spread_for(record, posterior=held("supply.track", "motor.no_load_speed"))
    places = {entry.name: number for number, entry in enumerate(found.samples.inputs)}
    for place in (3, 77):
        far = found.samples.drawn[place]
        volts = 14.5 * (1 + 0.04 * far[places["supply.track"]])
        speed = 11500 * (1 + 0.10 * far[places["motor.no_load_speed"]])
        turned = build_with({"supply.track": f"{volts:.9f} V", "motor.no_load_speed": f"{speed:.7f} rpm"}).record
        assert found.top_mph[place] == pytest.approx(solve(turned, Ledger()).top_mph, rel=1e-4)


def test_start_of_each_sample_is_found_by_halving_as_by_looking_at_all(build_with):
    changes = {"mechanism.road_current": "95 mA", "mechanism.start_voltage": "3.4 V"}
    record = build_with(changes).record
    found = spread_for(record, posterior=held("mechanism.start_voltage"))
    far = found.samples.drawn[:, 0]
    for place in (0, 64):
        volts = 3.4 * (1 + 0.10 * far[place])
        turned = build_with({**changes, "mechanism.start_voltage": f"{volts:.9f} V"}).record
        assert found.start_step[place] == solve(turned, Ledger()).start["start_step"]


def test_bands_of_diodes_are_found_too(build_with):
    record = build_with({"dropper": {"diodes": {"pairs": 2}, "layout": "row"}}).record
    found = spread_for(record)
    low, high = band(found.top_mph)
    assert low < solve(record, Ledger()).top_mph < high
    assert found.hottest_dropper.min() > 22


# The posterior of a fit


def test_a_posterior_stands_in_for_what_it_holds(build_with):
    record = build_with().record
    keys = ("motor.no_load_speed", "motor.emf_constant")
    wide = spread_for(record)
    fitted = Posterior(("emf_constant",), np.zeros(1), np.array([[0.01**2]]), keys)
    found = spread_of(record, solve(record, Ledger(), refined=Refinement()), posterior=fitted)
    assert "motor.no_load_speed" not in [entry.name for entry in found.samples.inputs]
    assert np.std(np.log(found.samples.emf_constant / 9.26e-3)) < np.std(np.log(wide.samples.emf_constant / 9.26e-3))
    shares = {name: share for name, _, share in found.causes()[0]}
    assert 0 < shares[READINGS] < 0.6
    assert sum(shares.values()) == pytest.approx(1)


def test_a_posterior_moves_the_middle(build_with):
    record = build_with().record
    more = Posterior(("emf_constant",), np.log([1.1]), np.array([[1e-8]]), ("motor.no_load_speed",))
    refined = Refinement(emf_constant=1.1)
    solved = solve(record, Ledger(), refined=refined)
    found = spread_of(record, solved, posterior=more)
    assert np.median(found.top_mph) == pytest.approx(solved.top_mph, rel=0.01)


# What the figures say


def test_bands_hold_their_figures(figures_of: Work):
    figures = figures_of()
    low, high = figures["speed"]["top_scale_mph_band"]
    assert low < figures["speed"]["top_scale_mph"] < high
    low, high = figures["decoder"]["peak_margin_band"]
    assert low < figures["decoder"]["peak_margin"] < high
    low, high = figures["dropper"]["temperature_band_c"]
    assert low < figures["dropper"]["resistor_temperature_c"] < high
    low, high = figures["start"]["start_step_band"]
    assert low <= figures["start"]["start_step"] <= high


def test_every_open_loop_curve_has_a_band_around_it(figures_of: Work):
    figures = figures_of({"before": {"supply": {"direct_current": "12 V"}, "mechanism": {"road_current": "70 mA"}}})
    assert {"before", "without the dropper", "as built"} <= {curve["name"] for curve in figures["curves"]}
    for curve in figures["curves"]:
        if curve["feedback"] == "on":
            continue
        low, high = curve["scale_mph_low"], curve["scale_mph_high"]
        assert len(low) == len(high) == 126
        assert all(a <= b <= c for a, b, c in zip(low, curve["scale_mph"], high, strict=True))
        assert low[-1] < curve["scale_mph"][-1] < high[-1]


def test_the_same_record_gives_the_same_bytes(figures_of: Work):
    assert to_json(figures_of()) == to_json(figures_of())


def test_shares_add_up_and_name_what_to_measure(figures_of: Work):
    found = figures_of()["spread"]
    assert found["samples"] == SAMPLES
    shares = [entry["share"] for entry in found["contributions"]]
    assert shares == sorted(shares, reverse=True)
    assert 0.97 < sum(shares) <= 1
    assert found["explained"] > 0.98
    assert found["narrow"]["name"] == found["contributions"][0]["name"] == "motor.no_load_speed"
    assert found["narrow"]["how_to_measure"] == HOW_TO_FIND["motor.no_load_speed"]
    assert found["narrow"]["label"] in found["finding"]


def test_a_better_measured_input_causes_less(figures_of: Work):
    figures = figures_of({"motor.no_load_speed": "11500 rpm ± 1 %"})
    assert figures["spread"]["narrow"]["name"] != "motor.no_load_speed"
    assert figures["spread"]["half_width_share"] < figures_of()["spread"]["half_width_share"] / 2


def test_tolerances_are_printed_in_a_builders_units(figures_of: Work):
    found = {entry["name"]: entry for entry in figures_of()["spread"]["tolerances"]}
    assert (found["supply.track"]["half_width"], found["supply.track"]["unit"]) == (pytest.approx(3), "%")
    assert (found["model.driving_wheel"]["half_width"], found["model.driving_wheel"]["unit"]) == (pytest.approx(0.1), "mm")
    assert (found["model.mass"]["half_width"], found["model.mass"]["unit"]) == (pytest.approx(2), "g")


def test_without_enough_in_the_record_there_is_no_band(figures_of: Work):
    figures = figures_of({"motor.no_load_current": None})
    assert figures["spread"] is None
    assert figures["start"]["start_step_band"] is None
    assert [entry["id"] for entry in figures["hold_points"]] == ["insulation"]


# Limits


def verdict(figures: Figures, subject: str) -> Any:
    return max(
        (v for v in figures["verdicts"] if v["subject"] == subject),
        key=lambda v: ("ok", "note", "caution", "stop").index(v["level"]),
    )


def test_a_band_across_the_prototypes_speed_is_said(figures_of: Work):
    assert "lies across the prototype's speed" in verdict(figures_of({"prototype.top_speed": "55 mph"}), "top speed")["message"]
    found = verdict(figures_of({"prototype.top_speed": "43 mph"}), "top speed")  # 30 % above that is 55.9
    assert "NEM 661" in found["message"]
    assert "reaches across" in found["message"]
    assert found["level"] == "note"


def test_a_band_across_the_decoders_rating_is_said(figures_of: Work):
    ends = figures_of()["decoder"]["locked_rotor_current_band_a"]
    rating = f"{1000 * (0.3 * ends[0] + 0.7 * ends[1]):.2f} mA"
    found = verdict(figures_of({"decoder.continuous_current": rating, "decoder.peak_current": rating}), "decoder")
    assert found["level"] == "caution"
    assert "across its peak rating" in found["message"]
    assert "across" not in verdict(figures_of(), "decoder")["message"]


def test_a_band_across_the_dropper_rating_is_said(figures_of: Work):
    hot = {"decoder.pulse_frequency": "100 Hz", "decoder.off_mode": "coast"}
    share = figures_of(hot)["dropper"]["share_of_rating"]
    found = verdict(figures_of({**hot, "dropper.resistor.rating": f"{share / 0.97:.5f} W"}), "dropper heat")
    assert "of its rating" in found["message"]
    assert found["level"] in ("caution", "stop")


def test_a_band_across_the_windings_limit_is_said(figures_of: Work):
    limit = figures_of()["motor"]["winding_limit_c"]
    hottest = max(figures_of()["motor"]["winding_temperature_c"])
    room = 22 + limit - hottest - 2
    found = verdict(figures_of({"surroundings.room": f"{room:.1f} degC"}), "winding")
    assert "passes the limit" in found["message"]
    assert found["level"] == "caution"


def test_a_start_that_may_fail_is_said(figures_of: Work):
    # start volts of 11 V on 12.9 V at a motor that warms: most draws start near the top, some not at all
    figures = figures_of({"mechanism.start_voltage": "11 V ± 20 %", "dropper": None, "train.vehicles": 0})
    assert figures["start"]["start_step"] is not None
    assert figures["start"]["start_step_band"][1] is None
    found = verdict(figures, "start")
    assert found["level"] == "caution"
    assert "may not start" in found["message"]
    assert next(line for line in figures["glance"] if line["id"] == "first_step")["value"] == "94 or later of 126"


# Hold points


def test_hold_points_in_the_order_of_work(figures_of: Work):
    points = figures_of()["hold_points"]
    assert {entry["id"] for entry in points} == POINTS
    order = [place.value for place in models.Place]
    places = [order.index(entry["place"]) for entry in points]
    assert places == sorted(places)
    assert not any("held" in entry["quantity"] for entry in points)  # a held rotor is never measured
    for entry in points:
        assert all(entry[key] for key in ("how", "condition", "outside", "quantity"))
        assert (entry["low"] is None or entry["high"] is None) <= ("No upper end" in entry["outside"] or "pulse" in entry["outside"])


MOVES = [
    ("motor-alone-current", {"motor.no_load_current": "45 mA"}),
    ("motor-alone-speed", {"motor.no_load_speed": "9000 rpm"}),
    ("bank-resistance", {"dropper.resistor.resistance": "47 ohm"}),
    ("first-step", {"mechanism.start_voltage": "5 V"}),
    ("track-volts", {"supply.track": "16 V"}),
    ("timed-run-96", {"model.driving_wheel": "18 mm"}),
    ("timed-run-64", {"supply.track": "16 V"}),
    ("timed-run-126", {"dropper.resistor.resistance": "100 ohm"}),
    ("motor-current", {"mechanism.road_current": "80 mA"}),
    ("dropper-temperature", {"surroundings.room": "30 degC"}),
]


@pytest.mark.parametrize(("name", "changes"), MOVES)
def test_every_window_moves_when_the_record_does(points_of: Points, name: str, changes: dict):
    before, after = points_of()[name], points_of(changes)[name]
    assert (before["low"], before["high"]) != (after["low"], after["high"])
    assert before["expected"] != after["expected"]


def test_the_acknowledge_pulse_follows_the_record(points_of: Points):
    sound, weak = points_of()["acknowledge"], points_of({"dropper.resistor.resistance": "470 ohm"})["acknowledge"]
    # 14.5 V less 1.6 V over 28 and 16.5 ohm, then over 28 and 235 ohm: Ohm's law
    assert sound["expected"] == pytest.approx(12.9 / 44.5, rel=0.02)
    assert weak["expected"] == pytest.approx(12.9 / 263, rel=0.02)
    assert "too little" in weak["outside"]
    assert "too little" not in sound["outside"]


def test_a_window_is_widened_by_the_meters_error(points_of: Points):
    # uniform within 5 %: 1 and 99 % lie at 0.98 of that; the meter adds 1 %, or what the record says, of the reading
    plain, poor = (
        points_of(changes)["bank-resistance"]
        for changes in ({}, {"reading_conditions": {"meter_error": "4 %"}})
    )
    ends = 16.5 * (1 - 0.049), 16.5 * (1 + 0.049)
    assert [plain["low"], plain["high"]] == pytest.approx([ends[0] * 0.99, ends[1] * 1.01], rel=1e-3)
    assert [poor["low"], poor["high"]] == pytest.approx([ends[0] * 0.96, ends[1] * 1.04], rel=1e-3)


def test_a_timed_run_is_widened_by_the_hand(points_of: Points):
    hand, gate = (
        points_of({"reading_conditions": {"timing": timing}})["timed-run-126"] for timing in ("stopwatch", "light gate")
    )
    # the two differ by the timing alone, 0.15 s against 0.01 s at either end (common practice)
    assert gate["low"] - hand["low"] == pytest.approx(0.14, abs=1e-6)
    assert hand["high"] - gate["high"] == pytest.approx(0.14, abs=1e-6)


def test_each_reading_line_is_one_the_record_takes(points_of: Points, build_with):
    blanks = {"resistance": "16.4 ohm", "motor_current": "30 mA", "motor_speed": "5400 rpm", "start_step": 4, "track": "14.4 V",
              "time": "3 s", "temperature": "31 degC"}  # fmt: skip
    lines = [entry["reading"] for entry in points_of().values() if entry["reading"]]
    assert len(lines) == 10
    written = []
    for line in lines:
        filled = {key: blanks.get(key, value) if value == "…" else value for key, value in line.items()}
        assert "…" not in filled.values()
        written.append(filled)
    readings = build_with({"readings": written}).record.readings
    assert [reading.hold_point for reading in readings] == [line["hold_point"] for line in lines]


def test_runs_are_timed_at_the_lowest_steps_that_move(points_of: Points):
    free = points_of({"mechanism.road_current": "32 mA", "mechanism.start_voltage": "1 V"})
    assert [entry["reading"]["step"] for name, entry in free.items() if "timed-run" in name] == ["32", "64", "126"]


def test_hold_points_only_for_what_is_there(points_of: Points):
    bare = {name for name in points_of({"dropper": None, "route": ["hard-wired decoder"]}) if "timed" not in name}
    wanting = {"bank-resistance", "dropper-temperature", "motor-alone-current", "motor-alone-speed"}
    assert bare == {name for name in POINTS if "timed" not in name} - wanting


def test_a_throttle_has_no_steps(points_of: Points):
    points = points_of({"decoder": None, "supply": {"direct_current": "12 V"}})
    assert "full throttle" in points["timed-run-126"]["quantity"]
    assert "full throttle" in points["track-volts"]["condition"]
    assert {"first-step", "acknowledge", "insulation"}.isdisjoint(points)
    for entry in points.values():
        assert "feedback" not in entry["condition"]
        assert "feedback" not in entry["reading"]


def test_works_that_may_never_start_leave_the_window_open(points_of: Points):
    stiff = {"mechanism.start_voltage": "12.5 V ± 30 %", "dropper": None}
    found = points_of(stiff)["first-step"]
    assert found["high"] is None
    assert "may not start" in found["outside"]
