"""Readings for the demo library, from the simulator plus noise: run by hand, print, and carry over into the records.

    python tests/figures/demo_readings.py builds [name of a record ...]

The locomotives of the demo do not exist, so somebody has to measure them. Here a simulator does that knows more than the
plugin's model: each locomotive gets a true self that lies off its record by some of what the record leaves open, brushes
that drop volts, cogging, friction that grows with speed; its notebook then holds what a stopwatch and a multimeter show.
The same library gives the same readings.
"""

from __future__ import annotations

import sys
import zlib
from pathlib import Path

import numpy as np
from simulator import Array, Seen, World, first_running_step, run  # type: ignore[import-not-found]

from buildsheets.figures.heating import path_to_air
from buildsheets.figures.inputs import Inputs, gather
from buildsheets.figures.ledger import Ledger
from buildsheets.figures.predicting import Predictor
from buildsheets.figures.priors import FACTORS, prior
from buildsheets.figures.readings import Observation, Situation, notebook
from buildsheets.records import models
from buildsheets.records.library import load_library
from buildsheets.records.models import Record

HALF = 0.5  # of what the record leaves open: a club that measures well
STOPWATCH = 0.15  # s, one standard deviation
METER = 0.01  # one standard deviation, the same for all readings of a kind
PROBE = 1.0  # K
SECONDS = {100.0: 2.0}  # slow pulses take long to settle
REVERSE = 0.98  # brushes a little off the middle
MPH = 0.44704


class Locomotive:
    """The true self of a record."""

    def __init__(self, slug: str, record: Record) -> None:
        self.record = record
        self.rng = np.random.default_rng(zlib.crc32(slug.encode()))
        given = gather(record, Ledger(), mesh=False)
        logs = HALF * self.rng.multivariate_normal(np.zeros(len(FACTORS)), prior(record, given).covariance)
        self.factor = dict(zip(FACTORS, np.exp(logs), strict=True))
        coreless = given.motor is not None and given.motor.kind == "coreless"
        self.viscous = self.rng.uniform(0.0, 0.15)
        self.cogging = 0.0 if coreless else self.rng.uniform(0.03, 0.10)
        self.brush = self.rng.uniform(0.03, 0.1) if coreless else self.rng.uniform(0.1, 0.2)
        self.predictor = Predictor(record, [])

    def world(self, given: Inputs, situation: Situation) -> World:
        """The locomotive in one situation, shape (1,)."""
        motor, feed, series, factor = given.motor, given.source, given.series, self.factor
        assert motor is not None
        assert feed is not None
        assert series is not None
        constant = motor.emf_constant * factor["emf_constant"]
        friction, works = (part * factor["running_torque"] for part in (motor.friction_torque, motor.mechanism_torque))
        works = 0.0 if situation.load == "motor alone" else works
        volts = feed.top_voltage * factor["bus_voltage"] if situation.volts is None else situation.volts
        full_speed = 0.85 * volts / constant
        cogging = self.cogging * (friction + works)
        away = motor.breakaway_torque * factor["breakaway_torque"]
        if self.record.mechanism and self.record.mechanism.start_voltage:  # measured volts overcame brushes and poles as well
            away -= cogging + constant * self.brush / (motor.resistance * factor["resistance"])
        values = {
            "resistance": motor.resistance * factor["resistance"],
            "emf_constant": constant,
            "inductance": motor.inductance,
            "inertia": motor.inertia,
            "friction": friction * (1 - self.viscous),
            "works": works * (1 - self.viscous),
            "viscous": self.viscous * (friction + works) / full_speed,
            "breakaway": max(away, friction + works),
            "cogging": cogging,
            "ripple": 0.04,
            "poles": 10.0,
            "brush_drop": self.brush,
            "bus_voltage": volts,
            "internal_drop": feed.internal_drop if situation.volts is None else 0.0,
            "freewheel_drop": feed.freewheel_drop,
            "series": series.resistance * factor["dropper_resistance"] if situation.volts is None else 0.0,
            "room": given.warmth.room,
            "shell_heat": given.warmth.shell_resistance * factor["shell_heat"],
            "motor_heat": given.warmth.motor_resistance * factor["motor_heat"],
        }
        return World(**{name: np.array([float(value)]) for name, value in values.items()})

    def load(self, given: Inputs, situation: Situation) -> Array:
        """Torque of the train at the motor, shape (1,)."""
        return np.array([given.load_torque * self.factor["rolling"] if situation.load == "train" else 0.0])

    def settle(self, situation: Situation) -> tuple[Inputs, Seen]:
        """Let it run as the situation says until nothing changes."""
        given = self.predictor.inputs(situation)
        assert given.source is not None
        assert given.series is not None
        world, load = self.world(given, situation), self.load(given, situation)
        smooth = situation.volts is not None
        place = round(situation.step or 126) - 1
        duty = 1.0 if smooth else float(given.source.duty[place])
        frequency = 12_000.0 if smooth else given.source.frequency
        mode = "brake" if smooth else given.source.off_mode
        guess = np.clip(0.9 * duty * world.bus_voltage / world.emf_constant, 1.0, None)
        seen = run(
            world, np.array([duty]), load, frequency, mode,
            pairs=0 if smooth else given.series.pairs, seconds=SECONDS.get(frequency, 0.3), speed=guess,
        )  # fmt: skip
        return given, seen

    def start(self, situation: Situation) -> int:
        """Let it start at each step in turn."""
        given = self.predictor.inputs(situation)
        assert given.source is not None
        assert given.series is not None
        world, load = self.world(given, situation), self.load(given, situation)
        duties = np.asarray(given.source.duty[:48], dtype=float)
        steps = first_running_step(
            world, duties, load, given.source.frequency, given.source.off_mode, pairs=given.series.pairs
        )
        return int(steps[0])

    def hot(self, given: Inputs, seen: Seen) -> float:
        """Temperature of one part of the dropper."""
        dropper, series = given.record.dropper, given.series
        assert dropper is not None
        assert series is not None
        each = float(seen.series_power[0]) / series.parts if dropper.resistor else float(seen.diode_power[0]) / series.pairs
        return float(seen.air[0]) + each * (path_to_air(dropper, Ledger()) or 0.0) * float(self.factor["dropper_heat"])


def line(locomotive: Locomotive, seen: Observation, meters: dict[str, float]) -> str:
    """One observation as the notebook would hold it."""
    record, rng = locomotive.record, locomotive.rng
    reading = record.readings[seen.place]
    if seen.kind == "start":
        return f"start_step: {locomotive.start(seen.situation)}"
    if seen.kind == "bank_resistance":
        series = locomotive.predictor.inputs(seen.situation).series
        whole = series.resistance if series else 0.0
        return f"resistance: {whole * locomotive.factor['dropper_resistance'] * (1 + rng.normal(0, 0.005)):.1f} ohm"
    given, shown = locomotive.settle(seen.situation)
    speed = float(shown.speed[0]) * (REVERSE if "reverse" in seen.text else 1.0)
    ratio, wheel = (given.train.ratio if given.train else 1.0), given.wheel or 0.0
    if seen.kind == "speed" and reading.distance:
        time = reading.distance.value / (speed / ratio * wheel / 2) + rng.normal(0, STOPWATCH)
        return f"distance: {reading.distance.text}, time: {time:.1f} s"
    value = {
        "motor_speed": speed * 60 / (2 * np.pi),
        "wheel_speed": speed / ratio * 60 / (2 * np.pi),
        "motor_voltage": float(shown.motor_voltage[0]) * meters["V"],
        "mean_current": float(shown.mean_current[0]) * 1e3 * meters["A"],
    }
    if seen.kind == "dropper_temperature":
        return f"temperature: {locomotive.hot(given, shown) + rng.normal(0, PROBE):.0f} degC"
    return f"{seen.kind}: {value[seen.kind]:.4g}"


def trial(locomotive: Locomotive, tried: models.Trial, meters: dict[str, float]) -> str:
    """What would be seen in a trial, light engine."""
    situation = Situation(tried.id, "light", None, 126.0, None, at_decoder=False)
    given, seen = locomotive.settle(situation)
    train, wheel = given.train, given.wheel
    assert train is not None
    assert wheel is not None
    assert given.ratio is not None
    speed = float(seen.speed[0]) / train.ratio * wheel / 2
    speed *= 1 + locomotive.rng.normal(0, 0.015)
    for noted in notebook(locomotive.record).observations:  # a run that was timed in that trial is what was seen in it
        if noted.kind == "speed" and noted.situation == situation and "reverse" not in noted.text:
            speed = noted.value
    words = [
        f"top_speed: {speed * given.ratio / MPH:.0f} mph",
        f"start_step: {locomotive.start(situation)}",
        f"motor_current: {float(seen.mean_current[0]) * 1e3 * meters['A']:.0f} mA",
    ]
    if given.record.dropper is not None:
        words.append(f"dropper_temperature: {locomotive.hot(given, seen) + locomotive.rng.normal(0, PROBE):.0f} degC")
    return ", ".join(words)


def main(folder: Path, *slugs: str) -> None:
    """Print readings and trials of a library, or of some of its records."""
    for build in load_library(folder).builds:
        notes = notebook(build.record)
        if (slugs and build.slug not in slugs) or not (notes.observations or build.record.trials):
            continue
        locomotive = Locomotive(build.slug, build.record)
        meters = {unit: 1 + METER * locomotive.rng.normal() for unit in ("V", "A")}
        print(f"\n{build.slug}: " + ", ".join(f"{name} {value:.3f}" for name, value in locomotive.factor.items()))
        for tried in build.record.trials:
            print(f"  {tried.id}: {trial(locomotive, tried, meters)}")
        for seen in notes.observations:
            print(f"  [{seen.text}] {line(locomotive, seen, meters)}")


if __name__ == "__main__":
    main(Path(sys.argv[1]), *sys.argv[2:])
