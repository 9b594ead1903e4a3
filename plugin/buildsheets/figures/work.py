"""The order of the calculation: one record in, all its figures out."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from buildsheets.figures import bench, costs, trials
from buildsheets.figures.advice import advise
from buildsheets.figures.bands import fill_bands, judge_bands, spread_figures
from buildsheets.figures.bank import bank_figures
from buildsheets.figures.calibration import calibration
from buildsheets.figures.card import beats_figure, card_rows, sound_figures
from buildsheets.figures.cautions import cautions
from buildsheets.figures.curves import as_found, beside, curve_figures, speed_figures
from buildsheets.figures.decoder import decoder_figures, judge_decoder, locked_rotor_current
from buildsheets.figures.extras import lamp_figures, stay_alive_figures
from buildsheets.figures.feedback import closed_loop_curve, feedback_figures, fill_card
from buildsheets.figures.fit import fit_figures
from buildsheets.figures.format import (
    FORMAT,
    Cost,
    DecoderFigures,
    Drive,
    DropperFigures,
    Figures,
    Gearing,
    Glance,
    HighestVolts,
    MotorFigures,
    PartRow,
    Speed,
)
from buildsheets.figures.gaps import settle
from buildsheets.figures.gearing import drive_text
from buildsheets.figures.glance import glance, judge_top_speed
from buildsheets.figures.haulage import haulage
from buildsheets.figures.head import head, judge_scale, prototype_top
from buildsheets.figures.heating import dropper_figures
from buildsheets.figures.hold_points import hold_points
from buildsheets.figures.learning import Bench
from buildsheets.figures.ledger import Ledger, Scratch
from buildsheets.figures.motor import UNKNOWN as NO_MOTOR
from buildsheets.figures.solving import Solved, solve
from buildsheets.figures.sound import speaker_figures
from buildsheets.figures.spread import Spread, spread_of
from buildsheets.figures.steps import step_groups
from buildsheets.figures.warmth import winding_figures
from buildsheets.figures.ways import WaysOptions, ways_figures
from buildsheets.figures.wiring import wiring_figures
from buildsheets.numerals import number as plain
from buildsheets.physics.motor import RADIANS_PER_SECOND_PER_RPM
from buildsheets.physics.uncertainty import Posterior
from buildsheets.records import models

if TYPE_CHECKING:
    from buildsheets.records.library import Build

@dataclass(frozen=True)
class FiguresOptions:
    """What a club chooses: length of its timed run [m], its currency, and how it weighs the ways to a target."""

    run_length_m: float = 1.0
    currency: str | None = None
    ways: WaysOptions = field(default_factory=WaysOptions)


@dataclass(frozen=True)
class _Core:
    """What a solved build is judged by first."""

    dropper: DropperFigures | None
    decoder: DecoderFigures
    motor: MotorFigures
    gearing: Gearing
    speed: Speed | None


def work_out(build: Build, options: FiguresOptions | None = None) -> Figures:
    """Return every figure of a build; what the record does not say is None and listed under `missing`."""
    options = options or FiguresOptions()
    record, ledger = build.record, Ledger()
    notebook = Bench(record)
    learned = notebook.all()
    solved = solve(record, ledger, refined=learned.refined)
    core = _core(record, solved, ledger)
    hauled = haulage(record, solved, ledger)
    lamps = lamp_figures(record, solved.source.top_voltage if solved.source else None, ledger)
    stay_alive = stay_alive_figures(record, solved, ledger)
    speakers = speaker_figures(record, ledger)
    _judge_supply(record, ledger)
    judge_scale(record, ledger)
    rows = costs.part_rows(record, build.stock)
    cost = _cost(rows, record.currency or options.currency, ledger)
    others = beside(record, solved)
    highest = _highest(record, others.solved.get("highest"), ledger)
    beats = beats_figure(record, ledger)
    feedback = feedback_figures(record, solved, ledger)
    spread = _spread(record, solved, core, learned.posterior, ledger)
    taught = calibration(record, learned, ledger)
    curves = curve_figures(record, solved, others, spread, ledger)
    ways, losers = ways_figures(record, build.stock, solved, options.ways, ledger)
    points = hold_points(record, spread, options.run_length_m)
    card = card_rows(core.speed, solved, beats, options.run_length_m)
    figures = Figures(
        format=FORMAT,
        slug=build.slug,
        title=record.title,
        head=head(record, build.revision_hash(FORMAT), drive_text(core.gearing["stages"], core.gearing["ratio"])),
        glance=_glance(record, solved, core, cost, highest, ledger),
        verdicts=ledger.verdicts,
        cautions=cautions(record),
        assumed=ledger.assumed,
        missing=ledger.missing,
        gearing=core.gearing,
        motor=core.motor,
        drive=_drive(record, solved),
        dropper=core.dropper,
        speed=core.speed,
        start=solved.start,
        curves=[*curves, *closed_loop_curve(curves, feedback)],
        bench_points=bench.bench_points(record, solved.ratio),
        heat_points=bench.heat_points(record),
        speed_card=fill_card(card, feedback, options.run_length_m, solved.ratio),
        run_length_m=options.run_length_m,
        decoder=core.decoder,
        highest_volts=highest,
        feedback=feedback,
        haulage=hauled,
        sound=sound_figures(solved, beats),
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


def _core(record: models.Record, solved: Solved, ledger: Ledger) -> _Core:
    judge_top_speed(solved.top_mph, prototype_top(record), solved.ratio, ledger)
    dropper = (
        dropper_figures(record, solved.series, solved.motor, solved.source, solved.running, ledger)
        if solved.series
        else None
    )
    decoder = decoder_figures(record, solved.motor, solved.source, solved.series, ledger)
    judge_decoder(decoder, ledger)
    motor = NO_MOTOR if solved.motor is None else solved.motor.figures()
    held = decoder["locked_rotor_current_a"]
    if solved.motor is not None and solved.running is not None and held:
        motor = winding_figures(motor, record, solved.motor, solved.running, solved.warmth, held, ledger)
    _show_top_step(solved, ledger)
    unknown = Gearing(ratio=None, efficiency=None, back_drive_efficiency=None, stages=[])
    return _Core(dropper, decoder, motor, solved.train.figures if solved.train else unknown, speed_figures(solved))


def _spread(
    record: models.Record, solved: Solved, core: _Core, posterior: Posterior | None, ledger: Ledger
) -> Spread | None:
    """Draw the samples, and put the bands where single values stand."""
    spread = spread_of(
        record,
        solved,
        as_found(record) if record.before else None,
        worst_step=core.dropper["worst_step"] if core.dropper else None,
        posterior=posterior,
    )
    fill_bands(spread, core.speed, solved.start, core.dropper, core.decoder)
    judge_bands(record, spread, solved.ratio, core.dropper, core.decoder, core.motor, ledger)
    return spread


def _glance(
    record: models.Record, solved: Solved, core: _Core, cost: Cost, highest: HighestVolts | None, ledger: Ledger
) -> list[Glance]:
    stages = core.gearing["stages"]
    mesh = [row["contact_ratio"] for row in stages if row["contact_ratio"] is not None]
    return glance(
        core.speed,
        solved.start,
        core.dropper,
        core.decoder,
        min(mesh) if mesh else None,
        not stages or any(row["kind"] != "worm" for row in stages),
        cost,
        record.bench_time.value / 3600 if record.bench_time else None,
        highest,
        ledger.verdicts,
    )


def _drive(record: models.Record, solved: Solved) -> Drive:
    if solved.source is not None:
        return solved.source.figures()
    kind = "decoder" if record.decoder else "direct current"
    return Drive(kind=kind, bus_voltage_v=None, pwm_frequency_hz=None, off_mode=None)


def _cost(rows: list[PartRow], currency: str | None, ledger: Ledger) -> Cost:
    cost = costs.cost(rows, currency)
    if cost["unpriced"] or cost["total"] is None:
        ledger.lack("parts.unit_price", "cost.total")
    if currency is None:
        ledger.lack("currency", "cost.currency")
    return cost


def _highest(record: models.Record, solved: Solved | None, ledger: Ledger) -> HighestVolts | None:
    if solved is None or record.supply is None or record.supply.highest is None:
        if record.decoder is not None:
            ledger.lack("supply.highest", "highest_volts")
        return None
    volts = record.supply.highest.value
    if solved.running is None or solved.series is None or solved.motor is None or solved.source is None:
        return HighestVolts(track_v=volts, top_scale_mph=None, resistor_temperature_c=None, locked_rotor_current_a=None)
    dropper = dropper_figures(record, solved.series, solved.motor, solved.source, solved.running, Scratch())
    return HighestVolts(
        track_v=volts,
        top_scale_mph=solved.top_mph,
        resistor_temperature_c=dropper["resistor_temperature_c"] if dropper else None,
        locked_rotor_current_a=locked_rotor_current(solved.motor, solved.source, solved.series),
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
