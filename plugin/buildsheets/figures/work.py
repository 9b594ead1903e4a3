"""The order of the calculation: one record in, all its figures out."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from buildsheets.figures import bench, costs, trials
from buildsheets.figures.advice import advise
from buildsheets.figures.bands import fill_bands, judge_bands, spread_figures, with_band
from buildsheets.figures.bank import bank_figures
from buildsheets.figures.calibration import calibration
from buildsheets.figures.cautions import cautions
from buildsheets.figures.decoder import decoder_figures, judge_decoder, locked_rotor_current
from buildsheets.figures.extras import lamp_figures, stay_alive_figures
from buildsheets.figures.feedback import closed_loop_curve, feedback_figures, fill_card
from buildsheets.figures.fit import fit_figures
from buildsheets.figures.format import (
    FORMAT,
    CardRow,
    Cost,
    Curve,
    Drive,
    Figures,
    Gearing,
    HighestVolts,
    NamedCurve,
    PartRow,
    Speed,
)
from buildsheets.figures.gaps import settle
from buildsheets.figures.gearing import drive_text
from buildsheets.figures.glance import glance, judge_top_speed, kmh
from buildsheets.figures.haulage import haulage
from buildsheets.figures.head import head, judge_scale, prototype_top
from buildsheets.figures.heating import dropper_figures
from buildsheets.figures.hold_points import hold_points
from buildsheets.figures.inputs import Refinement
from buildsheets.figures.learning import Bench
from buildsheets.figures.ledger import Ledger
from buildsheets.figures.motor import UNKNOWN as NO_MOTOR
from buildsheets.figures.running import listed
from buildsheets.figures.solving import Solved, solve, train_mass
from buildsheets.figures.sound import speaker_figures
from buildsheets.figures.spread import Spread, spread_of
from buildsheets.figures.steps import step_groups
from buildsheets.figures.warmth import winding_figures
from buildsheets.figures.ways import WaysOptions, ways_figures
from buildsheets.figures.wiring import wiring_figures
from buildsheets.numerals import number as plain
from buildsheets.physics.cvs import SPEED_STEPS
from buildsheets.physics.motor import RADIANS_PER_SECOND_PER_RPM
from buildsheets.physics.train import beats_per_turn, chuffs_per_second
from buildsheets.records import models

if TYPE_CHECKING:
    from buildsheets.records.library import Build

CARD_STEPS = (1, 4, 8, 16, 24, 32, 48, 64, 80, 96, 112, 126)


@dataclass(frozen=True)
class FiguresOptions:
    """What a club chooses: length of its timed run [m], its currency, and how it weighs the ways to a target."""

    run_length_m: float = 1.0
    currency: str | None = None
    ways: WaysOptions = field(default_factory=WaysOptions)


def work_out(build: Build, options: FiguresOptions | None = None) -> Figures:
    """Return every figure of a build; what the record does not say is None and listed under `missing`."""
    options = options or FiguresOptions()
    record, ledger = build.record, Ledger()
    notebook = Bench(record)
    learned = notebook.all()
    solved = solve(record, ledger, refined=learned.refined)
    judge_top_speed(solved.top_mph, prototype_top(record), solved.ratio, ledger)
    dropper = (
        dropper_figures(record, solved.series, solved.motor, solved.source, solved.running, ledger)
        if solved.series
        else None
    )
    decoder = decoder_figures(record, solved.motor, solved.source, solved.series, ledger)
    judge_decoder(decoder, ledger)
    motor = NO_MOTOR if solved.motor is None else solved.motor.figures()
    if solved.motor is not None and solved.running is not None and decoder["locked_rotor_current_a"]:
        motor = winding_figures(
            motor, record, solved.motor, solved.running, solved.warmth, decoder["locked_rotor_current_a"], ledger
        )
    gearing = (
        solved.train.figures
        if solved.train
        else Gearing(ratio=None, efficiency=None, back_drive_efficiency=None, stages=[])
    )
    _show_top_step(solved, ledger)
    hauled = haulage(record, solved, ledger)
    lamps = lamp_figures(record, solved.source.top_voltage if solved.source else None, ledger)
    stay_alive = stay_alive_figures(record, solved, ledger)
    speakers = speaker_figures(record, ledger)
    _judge_supply(record, ledger)
    judge_scale(record, ledger)
    rows = costs.part_rows(record)
    cost = _cost(rows, record.currency or options.currency, ledger)
    highest = _highest(record, solved.refined, ledger)
    speed = _speed(solved)
    beats = _beats(record, ledger)
    bench_time = record.bench_time.value / 3600 if record.bench_time else None
    mesh = [row["contact_ratio"] for row in gearing["stages"] if row["contact_ratio"] is not None]
    feedback = feedback_figures(record, solved, ledger)
    spread = spread_of(
        record,
        solved,
        as_found(record) if record.before else None,
        worst_step=dropper["worst_step"] if dropper else None,
        posterior=learned.posterior,
    )
    fill_bands(spread, speed, solved.start, dropper, decoder)
    judge_bands(record, spread, solved.ratio, dropper, decoder, motor, ledger)
    taught = calibration(record, learned, ledger)
    curves = _curves(record, solved, spread, ledger)
    ways, losers = ways_figures(record, build.stock, solved, options.ways, ledger)
    points = hold_points(record, spread, options.run_length_m)
    figures = Figures(
        format=FORMAT,
        slug=build.slug,
        title=record.title,
        head=head(record, build.revision_hash(FORMAT), drive_text(gearing["stages"], gearing["ratio"])),
        glance=glance(
            speed,
            solved.start,
            dropper,
            decoder,
            min(mesh) if mesh else None,
            not gearing["stages"] or any(row["kind"] != "worm" for row in gearing["stages"]),
            cost,
            bench_time,
            highest,
            ledger.verdicts,
        ),
        verdicts=ledger.verdicts,
        cautions=cautions(record),
        assumed=ledger.assumed,
        missing=ledger.missing,
        gearing=gearing,
        motor=motor,
        drive=solved.source.figures()
        if solved.source
        else Drive(
            kind="decoder" if record.decoder else "direct current",
            bus_voltage_v=None,
            pwm_frequency_hz=None,
            off_mode=None,
        ),
        dropper=dropper,
        speed=speed,
        start=solved.start,
        curves=[*curves, *closed_loop_curve(curves, feedback)],
        bench_points=bench.bench_points(record, solved.ratio),
        speed_card=fill_card(_card(speed, solved, beats, options.run_length_m), feedback, options.run_length_m, solved.ratio),
        run_length_m=options.run_length_m,
        decoder=decoder,
        highest_volts=highest,
        feedback=feedback,
        haulage=hauled,
        sound=_sound(solved, beats),
        speakers=speakers,
        lamps=lamps,
        stay_alive=stay_alive,
        fit=fit_figures(record, ledger),
        wiring=wiring_figures(record, lamps, ledger),
        bank=bank_figures(record.dropper, points, ledger),
        parts=rows,
        tools=list(record.tools),
        cost=cost,
        trials=trials.trial_rows(record, notebook),
        working=ledger.working,
        hold_points=points,
        spread=spread_figures(spread, taught["next_reading"] if taught else None),
        options=ways,
        options_rejected=losers,
        calibration=taught,
        steps=step_groups(record, {point["place"] for point in points}),
        notes_markdown=record.notes,
    )
    advise(record, solved, figures, ledger)
    settle(figures, record)
    return figures


def _cost(rows: list[PartRow], currency: str | None, ledger: Ledger) -> Cost:
    cost = costs.cost(rows, currency)
    if cost["unpriced"] or cost["total"] is None:
        ledger.lack("parts.unit_price", "cost.total")
    if currency is None:
        ledger.lack("currency", "cost.currency")
    return cost


def _speed(solved: Solved) -> Speed | None:
    true, running, source = solved.true_speed, solved.running, solved.source
    if true is None or running is None or source is None or solved.series is None or solved.mph is None:
        return None
    wave = running.solution.waveform
    dropped = running.rms_current**2 * solved.series.resistance + wave.mean_diode_power + wave.mean_bypass_power
    return Speed(
        step=list(range(1, SPEED_STEPS + 1)),
        duty=listed(source.duty),
        scale_mph=solved.mph,
        scale_km_h=[kmh(mph) for mph in solved.mph],
        true_mm_per_s=listed(1e3 * true),
        motor_rpm=listed(running.motor_speed / RADIANS_PER_SECOND_PER_RPM),
        mean_current_a=listed(running.mean_current),
        rms_current_a=listed(running.rms_current),
        motor_voltage_v=listed(running.motor_voltage),
        dropper_power_w=listed(dropped),
        top_scale_mph=solved.top_mph,
        top_scale_mph_band=None,
    )


def _curves(record: models.Record, built: Solved, spread: Spread | None, ledger: Ledger) -> list[NamedCurve]:
    """As built first, then what a reader wants beside it; each with its band."""
    fans = spread.fans if spread else {}
    curves = [with_band(_curve("as built", built, record), fans.get("built"))]
    if train_mass(record):
        light = solve(record, Ledger(), load="light", refined=built.refined)
        curves.append(with_band(_curve("as built, light engine", light, record, load="light engine"), fans.get("light")))
    weighed = record.model is not None and record.model.mass is not None
    if weighed and record.train and record.train.grade and record.train.grade.value:
        grade = record.train.grade.text
        climbing = solve(record, Ledger(), graded=True, refined=built.refined)
        curves.append(with_band(_curve(f"as built, {grade}", climbing, record, grade=grade), fans.get("graded")))
    if record.dropper is not None:
        bare = record.model_copy(update={"dropper": None})
        alone = solve(bare, Ledger(), refined=built.refined)
        curves.append(with_band(_curve("without the dropper", alone, bare), fans.get("bare")))
    if record.before is not None:
        found, notes = as_found(record), Ledger()
        curves.append(with_band(_curve("before", solve(found, notes), found), fans.get("before")))
        ledger.assumed.extend(
            {**entry, "name": f"before.{entry['name']}", "label": f"{entry['label']}, before"}
            for entry in notes.assumed
            if entry not in ledger.assumed
        )
    return [curve for curve in curves if any(value is not None for value in curve["scale_mph"])]


def _curve(
    name: str, solved: Solved, record: models.Record, *, load: str | None = None, grade: str = "level"
) -> NamedCurve:
    vehicles = record.train.vehicles if record.train else 0
    return NamedCurve(
        name=name,
        load=load or (f"{vehicles} vehicles" if train_mass(record) else "light engine"),
        grade=grade,
        feedback="off",
        dropper="fitted" if record.dropper else "none",
        direction="forward",
        scale_mph=solved.mph or [],
        scale_mph_low=None,
        scale_mph_high=None,
    )


def as_found(record: models.Record) -> models.Record:
    """Return the record as the locomotive was found, with what did not change taken from the build."""
    before = record.before or models.Before()
    on_dc = before.decoder is None and before.supply is not None and before.supply.direct_current is not None
    changes: dict[str, Any] = {
        "motor": before.motor or record.motor,
        "gear_train": before.gear_train or record.gear_train,
        "mechanism": before.mechanism or (record.mechanism if before.motor is None else None),
        "decoder": None if on_dc else before.decoder or record.decoder,
        "dropper": before.dropper,
        "supply": before.supply or record.supply,
        "decoder_settings": before.decoder_settings,
    }
    return record.model_copy(update=changes)


def _highest(record: models.Record, refined: Refinement, ledger: Ledger) -> HighestVolts | None:
    if record.supply is None or record.supply.highest is None:
        if record.decoder is not None:
            ledger.lack("supply.highest", "highest_volts")
        return None
    volts = record.supply.highest.value
    scratch = Ledger()
    solved = solve(record, scratch, track=volts, refined=refined)
    if solved.running is None or solved.series is None or solved.motor is None or solved.source is None:
        return HighestVolts(track_v=volts, top_scale_mph=None, resistor_temperature_c=None, locked_rotor_current_a=None)
    dropper = dropper_figures(record, solved.series, solved.motor, solved.source, solved.running, scratch)
    return HighestVolts(
        track_v=volts,
        top_scale_mph=solved.top_mph,
        resistor_temperature_c=dropper["resistor_temperature_c"] if dropper else None,
        locked_rotor_current_a=locked_rotor_current(solved.motor, solved.source, solved.series),
    )


def _beats(record: models.Record, ledger: Ledger) -> int | None:
    prototype = record.prototype
    if prototype is None or prototype.type is not models.Traction.STEAM:
        return None
    if prototype.beats_per_turn is None and prototype.cylinders is None:
        ledger.lack("prototype.cylinders", "sound")
        return None
    return prototype.beats_per_turn or beats_per_turn(prototype.cylinders or 2)


def _chuffs(solved: Solved, beats: int | None) -> Curve | None:
    """Beats follow the model's own wheel, which a cam or a sound decoder sees."""
    if beats is None or solved.true_speed is None or solved.wheel is None:
        return None
    return listed(np.asarray(chuffs_per_second(solved.true_speed, solved.wheel, beats)))


def _sound(solved: Solved, beats: int | None) -> dict[str, Curve] | None:
    chuffs = _chuffs(solved, beats)
    return None if chuffs is None else {"chuffs_per_second": chuffs}


def _card(speed: Speed | None, solved: Solved, beats: int | None, run_length: float) -> list[CardRow]:
    if speed is None:
        return []
    chuffs = _chuffs(solved, beats)
    return [_card_row(step, speed, chuffs, run_length) for step in CARD_STEPS]


def _card_row(step: int, speed: Speed, chuffs: Curve | None, run_length: float) -> CardRow:
    true = speed["true_mm_per_s"][step - 1]
    return CardRow(
        step=step,
        scale_mph=speed["scale_mph"][step - 1],
        scale_km_h=speed["scale_km_h"][step - 1],
        seconds_over_run=1e3 * run_length / true if true else None,
        chuffs_per_second=chuffs[step - 1] if chuffs else None,
        feedback_on_scale_mph=None,
        feedback_on_seconds_over_run=None,
    )


def _show_top_step(solved: Solved, ledger: Ledger) -> None:
    running, true = solved.running, solved.true_speed
    if running is None or true is None or solved.motor is None or solved.train is None or solved.ratio is None:
        return
    current, emf = float(running.mean_current[-1]), float(running.solution.emf[-1])
    ledger.work(
        "Speed at step 126",
        "EMF in balance with the load",
        "K I_mean(d, E) = T_f + T_mech + T_L",
        f"I_mean {plain(current)} A, winding at {plain(float(running.winding_temperature[-1]))} °C",
        emf,
        "V",
        "periodic steady state of the pulsed R-L-EMF chain in closed form; docs: calculations",
    )
    ledger.work(
        "Speed at step 126",
        "motor speed",
        "n = (E / K) × 60 / 2π",
        f"{plain(emf, 4)} / {plain(solved.motor.emf_constant, 4)} × 9.549",
        float(running.motor_speed[-1]) / RADIANS_PER_SECOND_PER_RPM,
        "rpm",
        "linear motor model",
    )
    ledger.work(
        "Speed at step 126",
        "scale speed",
        "v = (ω / i) (D / 2) × ratio",
        f"{plain(float(running.motor_speed[-1]), 4)} rad/s / {plain(solved.train.ratio, 4)} "
        f"× {plain((solved.wheel or 0) / 2, 4)} m × {plain(solved.ratio, 4)} / 0.44704 m/s in a mph",
        solved.top_mph,
        "mph",
        "geometry",
    )
    if not np.all(running.solution.converged):
        ledger.judge("speed", "stop", "The speed calculation did not close at every step; do not rely on this sheet.")


def _judge_supply(record: models.Record, ledger: Ledger) -> None:
    if record.supply and record.supply.meter == "ac meter":
        ledger.judge(
            "supply",
            "caution",
            "The track volts were read with a plain AC meter, which reads the square wave of DCC wrongly by up to a tenth; "
            "take them again with a bridge and a DC meter.",
        )
    if record.feedback is not None and record.feedback.on:
        ledger.judge(
            "feedback",
            "note",
            "Feedback is on: below its saturation the decoder holds the speed of the step, and a dropper slows only the top "
            "end. Card and chart of speeds show both; heat and pull are for feedback off.",
        )
