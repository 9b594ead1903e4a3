"""The speed curves of a build: as built, and what a reader wants beside it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from buildsheets.figures.bands import with_band
from buildsheets.figures.format import Assumed, Curve, NamedCurve, Speed
from buildsheets.figures.glance import kmh
from buildsheets.figures.inputs import gather
from buildsheets.figures.ledger import Assumptions, Ledger, Scratch
from buildsheets.figures.running import listed
from buildsheets.figures.solving import Solved, solve_together, train_mass
from buildsheets.figures.spread import Spread
from buildsheets.physics.cvs import SPEED_STEPS
from buildsheets.physics.motor import RADIANS_PER_SECOND_PER_RPM
from buildsheets.records import models


def speed_figures(solved: Solved) -> Speed | None:
    """Return everything over the steps; None while the speed is not known."""
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


@dataclass(frozen=True)
class Beside:
    """What stands beside the build, as far as the record has it, by name; and what was assumed of the locomotive as found."""

    solved: dict[str, Solved]
    assumed: list[Assumed]


def curve_figures(record: models.Record, built: Solved, others: Beside, spread: Spread | None, ledger: Ledger) -> list[NamedCurve]:
    """As built first, then what a reader wants beside it; each with its band."""
    fans, beside = spread.fans if spread else {}, others.solved
    curves = [with_band(_curve("as built", built, record), fans.get("built"))]
    if "light" in beside:
        curves.append(with_band(_curve("as built, light engine", beside["light"], record, load="light engine"), fans.get("light")))
    if "graded" in beside and record.train and record.train.grade:
        grade, climbing = record.train.grade.text, beside["graded"]
        curves.append(with_band(_curve(f"as built, {grade}", climbing, record, grade=grade), fans.get("graded")))
        if climbing.running is not None and not np.all(climbing.running.solution.converged):
            ledger.judge("grade", "caution", f"On {grade} the train drives the motor, and between pulses nothing holds it: it runs away.")
    if "bare" in beside:
        alone = beside["bare"]
        curves.append(with_band(_curve("without the dropper", alone, alone.record), fans.get("bare")))
    if "before" in beside:
        were = beside["before"]
        curves.append(with_band(_curve("before", were, were.record), fans.get("before")))
        ledger.assumed.extend(
            {**entry, "name": f"before.{entry['name']}", "label": f"{entry['label']}, before"}
            for entry in others.assumed
            if entry not in ledger.assumed
        )
    return [curve for curve in curves if any(value is not None for value in curve["scale_mph"])]


def beside(record: models.Record, built: Solved) -> Beside:
    """Solve the build as a light engine, on its grade, without its dropper, on the highest volts and as it was found, all at once."""
    wanted: dict[str, tuple[models.Record, str, bool]] = {}
    if train_mass(record):
        wanted["light"] = (record, "light", False)
    weighed = record.model is not None and record.model.mass is not None
    if weighed and record.train and record.train.grade and record.train.grade.value:
        wanted["graded"] = (record, "train", True)
    if record.dropper is not None:
        wanted["bare"] = (record.model_copy(update={"dropper": None}), "train", False)
    given = {
        name: gather(variant, Scratch(), load=load, graded=graded, refined=built.refined, mesh=False)
        for name, (variant, load, graded) in wanted.items()
    }
    if record.supply is not None and record.supply.highest is not None:
        given["highest"] = gather(record, Scratch(), track=record.supply.highest.value, refined=built.refined, mesh=False)
    notes = Assumptions()
    if record.before is not None:
        given["before"] = gather(as_found(record), notes)
    return Beside(dict(zip(given, solve_together(list(given.values()), "speed"), strict=True)), notes.assumed)


def _curve(
    name: str, solved: Solved, record: models.Record, *, load: str | None = None, grade: str = "level"
) -> NamedCurve:
    vehicles = record.train.vehicles if record.train else 0
    speeds: Curve = solved.mph or []
    if solved.running is not None:  # no speed where torque finds no balance
        speeds = [mph if closed else None for mph, closed in zip(speeds, solved.running.solution.converged, strict=True)]
    return NamedCurve(
        name=name,
        load=load or (f"{vehicles} vehicles" if train_mass(record) else "light engine"),
        grade=grade,
        feedback="off",
        dropper="fitted" if record.dropper else "none",
        direction="forward",
        scale_mph=speeds,
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
