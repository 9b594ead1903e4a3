"""The ways to a target: against brute force, against the full model, and against the rules they must keep."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from buildsheets.figures import Figures, FiguresOptions, work_out
from buildsheets.figures.chain import series_chain
from buildsheets.figures.decoder import decoder_figures
from buildsheets.figures.haulage import haulage
from buildsheets.figures.heating import dropper_figures
from buildsheets.figures.inputs import gather
from buildsheets.figures.ledger import Ledger
from buildsheets.figures.solving import Solved, solve, solve_inputs
from buildsheets.figures.watching import watch
from buildsheets.figures.ways import WaysOptions
from buildsheets.figures.ways.banks import MOST_PARALLEL, MOST_SMALL_PARALLEL, RATINGS, SMALL, strings_of
from buildsheets.figures.ways.candidates import (
    Way,
    as_it_is,
    bases,
    with_cap,
    with_cv5,
    with_dropper,
    with_track,
)
from buildsheets.figures.ways.evaluate import evaluate
from buildsheets.figures.ways.goal import goal_of
from buildsheets.figures.ways.hardware import (
    decoder_choices,
    motor_choices,
    pinion_choices,
)
from buildsheets.figures.ways.judge import CLASSES
from buildsheets.figures.ways.knobs import wanted_values
from buildsheets.figures.ways.options import WEIGHTS
from buildsheets.figures.ways.rank import criteria, dearest_price, settings_key
from buildsheets.figures.ways.search import Found, judged, search, with_weights
from buildsheets.physics.feedback import visible_from_step
from buildsheets.records import models
from buildsheets.records.library import Build, load_build, load_library
from buildsheets.records.quantities import Quantity

from .conftest import changed

LIBRARY = Path(__file__).parents[2] / "builds"
E24 = (10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91)  # IEC 60063, printed table
ABLE = {"start_voltage": True, "top_voltage": True, "middle_voltage": True}
PINION = {"module": "0.4 mm", "bore": "1.5 mm", "shift": "0.4", "unit_price": "2.40"}
STOCK = """\
format: 1
motors:
  slow-can: {nominal_voltage: 12 V, no_load_speed: 7800 rpm, no_load_current: 30 mA, winding_resistance: 28 ohm, diameter: 12 mm,
    length: 20 mm, shaft: 1.5 mm, unit_price: "15.00"}
  weak-can: {nominal_voltage: 12 V, no_load_speed: 8000 rpm, no_load_current: 8 mA, winding_resistance: 150 ohm, diameter: 8 mm,
    length: 15 mm, shaft: 1.5 mm, unit_price: "4.00"}
  hot-can: {nominal_voltage: 12 V, no_load_speed: 8000 rpm, no_load_current: 120 mA, winding_resistance: 28 ohm, diameter: 12 mm,
    length: 20 mm, shaft: 1.5 mm, thermal_resistance: 350 K/W}
  large-can: {nominal_voltage: 12 V, no_load_speed: 6000 rpm, no_load_current: 100 mA, winding_resistance: 9 ohm, diameter: 24 mm,
    length: 38 mm, shaft: 1.5 mm}
  thin-shaft: {nominal_voltage: 12 V, no_load_speed: 9000 rpm, no_load_current: 20 mA, winding_resistance: 40 ohm, diameter: 10 mm,
    length: 15 mm, shaft: 1 mm}
resistors:
  bag-33: {resistance: 33 ohm, rating: 1 W, unit_price: "0.18"}
diodes:
  single: {kind: silicon, unit_price: "0.08", thermal_resistance: 100 K/W}
  bridge: {kind: silicon, package: bridge, unit_price: "0.35", thermal_resistance: 60 K/W}
"""


@pytest.fixture
def stocked(tmp_path: Path) -> Callable[..., Build]:
    """Build the complete record with changes, a stock beside it."""

    def read(changes: dict[str, Any] | None = None, stock: str = STOCK) -> Build:
        (tmp_path / "stock").mkdir(exist_ok=True)
        (tmp_path / "stock" / "parts.yml").write_text(stock, encoding="utf-8", newline="\n")
        path = tmp_path / "test-loco.yml"
        known = {"motor.shaft": "1.5 mm", "decoder.abilities": dict(ABLE), **(changes or {})}
        path.write_text(changed(known), encoding="utf-8", newline="\n")
        build, problems = load_build(path)
        assert build is not None, [str(problem) for problem in problems]
        return build

    return read


def found_in(build: Build, options: WaysOptions | None = None) -> Found:
    record = build.record
    solved = solve(record, Ledger())
    assert record.target is not None
    return search(record, build.stock, solved, goal_of(record, record.target, solved, Ledger()), options or WaysOptions())


def whole(way: Way) -> Solved:
    """Solve a way's record by the road of the sheet; a cap is a throttle that stops there."""
    inputs = gather(way.record, Ledger(), refined=way.refined)
    if way.cap is not None and inputs.source is not None:
        duty, volts = inputs.source.duty.copy(), inputs.source.bus_voltage.copy()
        duty[way.cap :], volts[way.cap :] = duty[way.cap - 1], volts[way.cap - 1]
        inputs = replace(inputs, source=replace(inputs.source, duty=duty, bus_voltage=volts))
    return solve_inputs(inputs, Ledger())


# --- what is shown is what the sheet's own model says -----------------------------------------------------------------


@pytest.mark.parametrize("slug", ["sluice-goods", "salt-works-pug", "causeway-diesel", "breakwater-shunter"])
def test_shown_ways_agree_with_the_whole_model(slug: str) -> None:
    build = next(build for build in load_library(LIBRARY).builds if build.slug == slug)
    found = found_in(build)
    for entry in [found.built, *found.best]:
        way, outcome = entry.way, entry.outcome
        solved = whole(way)
        assert solved.mph is not None
        assert solved.running is not None
        assert solved.series is not None
        assert solved.motor is not None
        assert solved.source is not None
        if way.record.dropper is not None and way.record.dropper.diodes is not None:
            close = pytest.approx(solved.mph[found.goal.step - 1], rel=1e-4)
            assert outcome.mph == close
            continue
        assert outcome.mph == pytest.approx(solved.mph[found.goal.step - 1], rel=2e-5)
        assert outcome.top_mph == pytest.approx(solved.top_mph, rel=2e-5)
        assert outcome.start_step == solved.start["start_step"]
        light = solve(way.record, Ledger(), load="light", refined=way.refined)
        if way.cap is None:
            assert light.mph is not None
            assert outcome.light_mph == pytest.approx(light.mph[found.goal.step - 1], rel=2e-5)
        assert outcome.heat.winding == pytest.approx(float(solved.running.winding_temperature.max()), abs=0.03)
        decoder = decoder_figures(way.record, solved.motor, solved.source, solved.series, Ledger())
        assert outcome.locked_current == pytest.approx(decoder["locked_rotor_current_a"], rel=1e-6)
        assert outcome.margin == pytest.approx(decoder["peak_margin"], rel=1e-6)
        dropper = dropper_figures(way.record, solved.series, solved.motor, solved.source, solved.running, Ledger())
        if dropper is not None:
            assert outcome.heat.resistor == pytest.approx(dropper["resistor_temperature_c"], abs=0.03)
            assert outcome.heat.share == pytest.approx(dropper["share_of_rating"], rel=1e-4)
            assert outcome.heat.stall == pytest.approx(dropper["stall_temperature_c"], abs=0.01)
        pulled = haulage(way.record, solved, Ledger())
        assert pulled is not None
        assert outcome.stall_force == pytest.approx(pulled["stall_force_n"], rel=1e-4)
        graded = way.record.train is not None and way.record.train.grade is not None
        assert found.goal.vehicles(outcome.stall_force) == pulled["vehicles_on_grade" if graded else "vehicles_level"]


def test_with_feedback_on_speed_is_as_held(stocked: Callable[..., Build]) -> None:
    build = stocked({"feedback": {"on": True}, "target": {"speed": "45 mph", "at_step": "100"}, "decoder.abilities.feedback": True})
    found = found_in(build)
    assert found.goal.held
    best = found.best[0]
    solved = whole(best.way)
    watched = watch(best.way.record, solved, Ledger())
    assert watched is not None
    held = watched.mph(np.minimum(watched.wanted_emf, watched.full_emf()))
    assert best.outcome.mph == pytest.approx(held[99], rel=1e-4)
    assert best.outcome.mph == pytest.approx(45, rel=0.05)


def test_diode_ways_see_what_the_decoder_sees(stocked: Callable[..., Build]) -> None:
    build = stocked({"feedback": {"on": True}, "target": {"speed": "50 mph"}, "dropper": None, "decoder.abilities.feedback": True})
    found = found_in(build)
    strings = [entry for entry in found.scored if entry.way.knob == "diodes"]
    assert strings
    for entry in strings:
        diodes = entry.way.record.dropper.diodes  # type: ignore[union-attr]
        assert diodes is not None
        watched = watch(entry.way.record, whole(entry.way), Ledger())
        assert watched is not None
        step = visible_from_step(watched.share())
        assert entry.outcome.visible_from == pytest.approx(step, abs=6)  # of 126; one step is looked at, straight lines to it
        if diodes.bypass is not None:
            assert entry.rejected != "feedback blind"


# --- brute force ------------------------------------------------------------------------------------------------------


def every_way(build: Build) -> list[Way]:
    """Every value of every knob on every combination, with nothing solved for and nothing left out."""
    record, stock = build.record, build.stock
    solved = solve(record, Ledger())
    motors, _ = motor_choices(record, stock)
    ways = []
    pinions = pinion_choices(record)
    for base in bases(record, solved, pinions, motors, decoder_choices(record, stock)):
        own = base.decoder is None
        if own:
            ways.append(as_it_is(base))
            ways.append(with_dropper(base, None, "no dropper", 0.0))
            ways += [with_dropper(base, bank, "resistors", price) for bank, price in every_bank(record.dropper)]
        if record.decoder.abilities.top_voltage:  # type: ignore[union-attr]
            ways += [with_cv5(base, value) for value in range(2, 256)]
        if own and base.motor is None and not base.pinion.changed:
            ways += [with_cap(base, step) for step in range(1, record.target.at_step)]  # type: ignore[union-attr]
            assert record.supply is not None
            assert record.supply.track is not None
            ways += [with_track(base, record.supply.track.value, volts / 2) for volts in range(2, 29)]
    return ways


def every_bank(present: models.Dropper | None) -> list[tuple[models.Dropper, float]]:
    banks = []
    for ohms in [value * 10**power for power in (-1, 0, 1) for value in E24]:
        for rating in RATINGS:
            for parallel in range(1, (MOST_PARALLEL if rating > SMALL else MOST_SMALL_PARALLEL) + 1):
                part = models.Resistor(resistance=Quantity(ohms, f"{ohms:g} ohm"), rating=Quantity(rating, f"{rating} W"))
                old = present or models.Dropper.model_construct()
                bank = models.Dropper(
                    resistor=part, parallel=parallel, layout=old.layout, near=old.near, clearance=old.clearance, place=old.place
                )
                if 3 <= ohms / parallel <= 150:
                    banks.append((bank, 0.18 * parallel))  # as the only resistor of the stock, whatever the rating
    return banks


@pytest.mark.parametrize(
    ("changes", "weights"),
    [
        ({"target": {"speed": "45 mph"}}, {}),
        ({"target": {"speed": "45 mph"}, "decoder.abilities": {"top_voltage": False}}, {}),
        ({"target": {"speed": "45 mph"}, "decoder.abilities": {"top_voltage": False}}, {"speed": 0.5, "start": 6, "softness": 6}),
        ({"target": {"speed": "40 mph", "at_step": "90"}, "decoder.pulse_frequency": "100 Hz"}, {"heat": 8}),
        ({"target": {"speed": "52 mph"}, "pinions_on_hand": [{"teeth": "13", **PINION}, {"teeth": "11", **PINION}]}, {"cost": 0}),
        ({"target": {"speed": "46 mph"}, "decoder.off_mode": "brake", "decoder.abilities": {"top_voltage": False}}, {}),
    ],
)
def test_brute_force_finds_the_same_winner(stocked: Callable[..., Build], changes: dict[str, Any], weights: dict[str, Any]) -> None:
    stock = STOCK[: STOCK.index("  weak-can")] + STOCK[STOCK.index("resistors:") : STOCK.index("diodes:")]
    build = stocked(changes, stock)
    options = WaysOptions(**weights)
    found = found_in(build, options)
    ways = every_way(build)
    brute = [
        judged(way, outcome, found.goal, options, found.dearest, True)
        for way, outcome in zip(ways, evaluate(ways, found.goal), strict=True)
    ]
    assert dearest_price(ways) >= found.dearest
    best = min((entry for entry in brute if entry.rejected is None and entry.way.knob != "built"), key=lambda entry: entry.order)
    winner = min((entry for entry in found.scored if entry.rejected is None and entry.way.knob != "built"), key=lambda e: e.order)
    assert len(brute) > 20 * len(found.scored)
    assert same(winner.way) == same(best.way)
    assert winner.score == pytest.approx(best.score, abs=2e-3)
    assert whole(winner.way).mph[found.goal.step - 1] == pytest.approx(winner.outcome.mph, rel=1e-4)  # type: ignore[index]


def same(way: Way) -> tuple[object, ...]:
    """What is set, whatever the bag it came from."""
    return settings_key(way)


def test_strings_that_are_left_out_are_off_the_target_or_farther(stocked: Callable[..., Build]) -> None:
    build = stocked({"target": {"speed": "60 mph"}, "dropper": None, "decoder.abilities": None})
    found = found_in(build)
    kept = [entry for entry in found.scored if entry.way.knob == "diodes" and not entry.way.base.changed]
    pairs = {entry.way.record.dropper.diodes.pairs for entry in kept}  # type: ignore[union-attr]
    base = found.built.way.base
    for count in set(range(1, 7)) - pairs:
        knob, bank = next(strings_of(count, False, None, build.stock))
        outcome = evaluate([with_dropper(base, bank.dropper, knob, bank.price)], found.goal)[0]
        nearest = min(abs(entry.outcome.mph - found.goal.mph) for entry in kept)
        assert abs(outcome.mph - found.goal.mph) >= nearest


# --- values solved for the target -------------------------------------------------------------------------------------


def test_wanted_resistance_against_a_root_finder(stocked: Callable[..., Build]) -> None:
    """The whole model with scipy's brentq around it."""
    build = stocked({"target": {"speed": "50 mph"}, "decoder.pulse_frequency": "100 Hz"})
    found = found_in(build)
    base = found.built.way.base
    ohms = float(wanted_values([base], found.goal).resistance[0])

    def miss(value: float) -> float:
        bank = models.Dropper(resistor=models.Resistor(resistance=Quantity(value, f"{value} ohm")))
        return solve(build.record.model_copy(update={"dropper": bank}), Ledger()).mph[125] - 50  # type: ignore[index]

    assert ohms == pytest.approx(brentq(miss, 1.0, 200.0, xtol=1e-4), rel=0.01)


def test_wanted_on_time_in_brake_mode_by_hand(stocked: Callable[..., Build]) -> None:
    """In brake mode the mean is linear: d V = E + I R (any control textbook); CV5 is a share of 255 of the supply (NMRA S-9.2.2)."""
    build = stocked({"target": {"speed": "40 mph"}, "decoder.off_mode": "brake", "dropper": None})
    found = found_in(build)
    entry = next(entry for entry in found.best if entry.way.knob == "CV5" and not entry.way.base.changed)
    solved = whole(entry.way)
    assert solved.motor is not None
    assert solved.running is not None
    emf = solved.motor.emf_constant * float(solved.running.motor_speed[-1])
    current = (solved.motor.running_torque + solved.load_torque) / solved.motor.emf_constant
    volts = emf + current * float(solved.running.resistance[-1])
    assert entry.way.cv5 == round(255 * volts / solved.source.top_voltage)  # type: ignore[union-attr]
    assert entry.outcome.mph == pytest.approx(40, rel=0.01)


def test_a_bridge_is_two_pairs_whose_heat_leaves_through_one_case(stocked: Callable[..., Build]) -> None:
    """Common practice: + and - joined, the current passes two diodes each way."""
    build = stocked({"dropper": None})
    strings = dict(strings_of(2, False, None, build.stock))
    single, bridge = strings["diodes"].dropper, strings["bridge"].dropper
    chains = [series_chain(dropper, Ledger()) for dropper in (single, bridge)]
    assert chains[0] == chains[1]
    base = found_in(build).built.way.base
    ways = [with_dropper(base, dropper, "diodes", 0.0) for dropper in (single, bridge)]
    one, other = evaluate(ways, goal_of(build.record, build.record.target, solve(build.record, Ledger()), Ledger()))  # type: ignore[arg-type]
    assert one.mph == other.mph
    rise = [outcome.heat.diode - outcome.heat.air for outcome in (one, other)]  # type: ignore[operator]
    assert rise[1] == pytest.approx(rise[0] * 2 * 60 / 100, rel=1e-6)


# --- rules ------------------------------------------------------------------------------------------------------------

FIRES: dict[str, dict[str, Any]] = {
    "mesh": {"pinions_on_hand": [{"teeth": "8", **PINION, "shift": "0"}]},
    "motor does not fit": {},
    "track too low": {"target": {"speed": "38 mph"}},
    "off the target": {"target": {"speed": "40 mph"}},
    "does not start": {"target": {"speed": "45 mph", "at_step": "105"}, "mechanism.start_voltage": "11 V"},
    "heat running": {"target": {"speed": "35 mph"}, "surroundings.room": "60 degC"},
    "heat stalled": {"target": {"speed": "52 mph"}, "motor.winding_resistance": "12 ohm"},
    "winding": {"target": {"speed": "52 mph"}, "motor.thermal_resistance": "500 K/W"},
    "decoder current": {"target": {"speed": "50 mph"}, "decoder.peak_current": "0.3 A", "decoder.continuous_current": "0.2 A"},
    "feedback blind": {
        "target": {"speed": "50 mph", "start_step": "1"}, "feedback": {"on": True}, "decoder.abilities.feedback": True, "dropper": None,
    },
    "haulage": {"target": {"speed": "40 mph"}, "model.mass": "3 kg", "model.driven_mass": "3 kg", "train.grade": "1 in 12"},
    "slips too late": {"target": {"speed": "33 mph"}, "model.mass": "1 kg", "model.driven_mass": "1 kg"},
    "beaten": {"target": {"speed": "50 mph"}},
}


def test_every_class_has_a_record() -> None:
    assert set(FIRES) == set(CLASSES)


@pytest.mark.parametrize("name", CLASSES)
def test_each_class_of_loser_is_told_of(stocked: Callable[..., Build], name: str) -> None:
    figures = work_out(stocked(FIRES[name]))
    rows = {row["class"]: row for row in figures["options_rejected"]}
    assert name in rows, rows
    row = rows[name]
    assert row["count"] >= 1
    assert not row["because"][0].islower()
    assert row["because"].endswith(".")
    assert list(rows) == [known for known in CLASSES if known in rows]


def test_motors_that_do_not_fit_are_named_with_the_reason(stocked: Callable[..., Build]) -> None:
    figures = work_out(stocked({"gear_train.stages.0.driver": {"teeth": "12", "bore": "1.5 mm", "fit": "press"}}))
    text = next(row["because"] for row in figures["options_rejected"] if row["class"] == "motor does not fit")
    assert "large-can: it is larger than the present motor" in text.replace("Large", "large")
    assert "thin-shaft: its shaft of 1 mm does not suit the bore of" in text


def test_a_cavity_lets_in_what_is_no_larger(stocked: Callable[..., Build]) -> None:
    room = {"length": "60 mm", "width": "26 mm", "height": "25 mm"}
    build = stocked({"space": {"cavity": room}})
    fitting, others = motor_choices(build.record, build.stock)
    assert "large-can" in [choice.key for choice in fitting]
    build = stocked({"space": {"cavity": {**room, "height": "20 mm"}}})
    fitting, others = motor_choices(build.record, build.stock)
    assert others["large-can"] == "it is larger than the cavity"


RULE = st.fixed_dictionaries({
    "target.speed": st.integers(25, 75).map(lambda mph: f"{mph} mph"),
    "motor.winding_resistance": st.integers(14, 60).map(lambda ohms: f"{ohms} ohm"),
    "decoder.peak_current": st.sampled_from(["0.3 A", "0.6 A", "2 A"]),
    "decoder.continuous_current": st.just("0.2 A"),
    "decoder.off_mode": st.sampled_from(["coast", "brake", "open"]),
    "decoder.pulse_frequency": st.sampled_from(["100 Hz", "20 kHz"]),
    "surroundings.room": st.integers(5, 55).map(lambda degrees: f"{degrees} degC"),
    "dropper.clearance": st.sampled_from(["0 mm", "4 mm"]),
})  # fmt: skip


@settings(max_examples=6, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(changes=RULE)
def test_no_way_shown_breaks_a_rule(stocked: Callable[..., Build], changes: dict[str, str]) -> None:
    found = found_in(stocked({**changes, "pinions_on_hand": [{"teeth": "10", **PINION}, {"teeth": "13", **PINION}]}))
    for entry in found.best:
        outcome, way = entry.outcome, entry.way
        solved = whole(way)
        assert solved.mph is not None
        assert solved.running is not None
        assert abs(solved.mph[125] - found.goal.mph) <= 0.0501 * found.goal.mph
        assert solved.start["start_step"] is not None
        assert float(solved.running.winding_temperature.max()) <= outcome.heat.winding_limit + 0.1
        assert outcome.margin is None or outcome.margin >= 1
        dropper = dropper_figures(way.record, solved.series, solved.motor, solved.source, solved.running, Ledger())  # type: ignore[arg-type]
        assert dropper is None or (dropper["share_of_rating"] or 0) <= 1.0001
        assert outcome.heat.overload is None or outcome.heat.overload <= 1
        pulled = haulage(way.record, solved, Ledger())
        assert pulled is not None
        assert pulled["stall_force_n"] >= min(pulled["train_pull_on_grade_n"] or 0, found.goal.slip or 0) - 1e-9
        assert way.track is None or way.track >= 12
        assert way.base.pinion.meshes


@pytest.mark.parametrize("name", WEIGHTS)
def test_doubling_a_weight_never_worsens_that_thing(stocked: Callable[..., Build], name: str) -> None:
    found = found_in(stocked({"target": {"speed": "45 mph"}, "pinions_on_hand": [{"teeth": "13", **PINION}]}))

    def winner(options: WaysOptions) -> float:
        entries = [entry for entry in with_weights(found, options) if entry.rejected is None]
        best = min(entries, key=lambda entry: entry.score)
        return criteria(best.way, best.outcome, found.goal, found.dearest)[name]

    before = winner(WaysOptions())
    for factor in (2, 4, 100):
        after = winner(replace(WaysOptions(), **{name: factor * getattr(WaysOptions(), name)}))
        assert after <= before + 1e-12
        before = after


# --- figures ----------------------------------------------------------------------------------------------------------


def test_without_a_target_it_is_missing(build_with: Callable[..., Build]) -> None:
    figures = work_out(build_with({"target": None}))
    assert figures["options"] == []
    assert figures["options_rejected"] == []
    entry = next(entry for entry in figures["missing"] if "options" in entry["needed_for"])
    assert entry["name"] == "target.speed"


def test_without_a_speed_it_waits_for_what_the_speed_waits_for(build_with: Callable[..., Build]) -> None:
    figures = work_out(build_with({"supply.track": None}))
    assert figures["options"] == []
    assert "options" in next(entry["needed_for"] for entry in figures["missing"] if entry["name"] == "supply.track")


def ranked(stocked: Callable[..., Build], **options: Any) -> Figures:
    return work_out(stocked({"target": {"speed": "45 mph"}}), FiguresOptions(ways=WaysOptions(**options)))


def test_the_build_stands_among_the_ways(stocked: Callable[..., Build]) -> None:
    figures = ranked(stocked)
    options = figures["options"]
    assert [option["rank"] for option in options] == list(range(1, len(options) + 1))
    assert sum(option["built"] for option in options) == 1
    built = next(option for option in options if option["built"])
    assert built["name"] == "as built"
    assert built["results"]["speed_at_step_mph"] == pytest.approx(figures["speed"]["top_scale_mph"], rel=2e-5)  # type: ignore[index]
    assert set(built["settings"].values()) == {None}
    doing = [option["score"] for option in options if option["rejected"] is None]
    assert doing == sorted(doing)
    for option in options:
        found = option["results"]
        assert found["speed_error_mph"] == pytest.approx(found["speed_at_step_mph"] - 45)
        assert option["why"].endswith(".")


def test_as_many_are_shown_as_the_club_wants(stocked: Callable[..., Build]) -> None:
    assert len(ranked(stocked, shown=1)["options"]) == 2
    assert len(ranked(stocked, shown=3)["options"]) == 4


@pytest.mark.parametrize(
    ("written", "message"),
    [
        ({"speed": -1}, "speed must be a weight of 0 or more"),
        ({"heat": "hot"}, "heat must be a weight"),
        ({"shown": 0}, "shown must be a whole number from 1 to 8"),
        ({"shown": 2.5}, "shown must be a whole number"),
        ({"colour": 1}, "colour is not known; known are speed, start, heat, softness, cost, shown"),
        (dict.fromkeys(WEIGHTS, 0), "must weigh more than 0"),
        ({"cost": True}, "cost must be a weight"),
    ],
)
def test_weights_that_make_no_sense_are_refused(written: dict[str, Any], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        WaysOptions.written(written)


def test_the_revision_follows_the_stock_that_ways_are_chosen_from(stocked: Callable[..., Build]) -> None:
    target = stocked().revision_hash(1)
    assert stocked({}, STOCK.replace("7800 rpm", "7900 rpm")).revision_hash(1) != target
    none = stocked({"target": None}).revision_hash(1)
    assert stocked({"target": None}, STOCK.replace("7800 rpm", "7900 rpm")).revision_hash(1) == none
