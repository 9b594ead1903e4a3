"""What the build pulls: pull against speed at the top step, where it slips or stalls, and how many vehicles follow."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildsheets.figures.chain import NOTHING, Series
from buildsheets.figures.drive import Source
from buildsheets.figures.format import Haulage
from buildsheets.figures.gearing import Train
from buildsheets.figures.ledger import Ledger
from buildsheets.figures.motor import WorkingMotor
from buildsheets.figures.running import listed, wheel_speed
from buildsheets.figures.solving import Solved, train_mass
from buildsheets.numerals import number as plain
from buildsheets.numerals import quantity
from buildsheets.physics import train as physics
from buildsheets.physics.pwm import periodic_current, solve_emf
from buildsheets.physics.scales import scale_mph
from buildsheets.records import models

POINTS = 41
"""Points of the pull curve."""
BEYOND_SLIP = 2.0
"""Where the pull curve ends, over the slip limit: no pull beyond it can be had, so a distant stall is only named."""
CLOSE = 1.25
"""Stall over slip below which clean rail may turn the order round: adhesion 0.20 to 0.25. Common practice."""

Array = NDArray[np.float64]


@dataclass(frozen=True)
class _Chain:
    """The top step of a solved build, winding as warm as the stated train makes it there."""

    motor: WorkingMotor
    source: Source
    train: Train
    wheel: float
    ratio: float
    winding: float

    def held_force(self, series: Series) -> float:
        """Force at the tread with the rotor held, friction taken off [N]."""
        place = int(np.argmax(self.source.duty * self.source.bus_voltage))
        wave = periodic_current(
            self.source.duty[place],
            self.source.bus_voltage[place],
            0.0,
            self.winding + series.resistance,
            self.motor.inductance,
            self.source.frequency,
            self.source.off_mode,
            self.source.freewheel_drop,
            series.pairs,
            series.card,
        )
        left = self.motor.emf_constant * float(wave.mean_current) - self.motor.running_torque
        return float(physics.tractive_force(max(left, 0.0), self.train.ratio, self.train.efficiency, self.wheel))

    def speed(self, force: Array, series: Series) -> Array:
        """Scale speed at the top step against forces at the tread [mph]."""
        load = physics.motor_torque(
            force, self.wheel, self.train.ratio, self.train.efficiency, self.train.back_drive_efficiency
        )
        solution = solve_emf(
            self.source.duty[-1],
            self.source.bus_voltage[-1],
            self.winding + series.resistance,
            self.motor.inductance,
            self.source.frequency,
            self.source.off_mode,
            self.source.freewheel_drop,
            (self.motor.running_torque + load) / self.motor.emf_constant,
            0.0,
            series.pairs,
            series.card,
        )
        turning = solution.emf / self.motor.emf_constant
        return np.asarray(scale_mph(wheel_speed(turning, self.train.ratio, self.wheel), self.ratio))


@dataclass(frozen=True)
class Weights:
    """What the record says of masses [kg], grade and coefficients [-]."""

    loco: float | None
    driven: float | None
    vehicle: float | None
    behind: float | None
    grade: float | None
    rolling: float
    adhesion: float
    curve: float | None


def haulage(record: models.Record, solved: Solved, ledger: Ledger) -> Haulage | None:
    """Work out what the build hauls; None where it cannot be run at all."""
    running = solved.running
    if (
        running is None
        or solved.motor is None
        or solved.source is None
        or solved.train is None
        or solved.series is None
        or solved.wheel is None
        or solved.ratio is None
    ):
        return None
    chain = _Chain(
        solved.motor, solved.source, solved.train, solved.wheel, solved.ratio, float(running.resistance[-1])
    )
    weights = weigh(record, solved.ratio, solved.refined.rolling, ledger)
    stall = chain.held_force(solved.series)
    slip = None if weights.driven is None else float(physics.adhesion_limit(weights.driven, weights.adhesion))
    pulls = np.linspace(0.0, stall if slip is None else min(stall, BEYOND_SLIP * slip), POINTS)
    level, graded = train_pulls(weights)
    loads = [force for force in (level, graded) if force is not None]
    speeds = listed(chain.speed(np.array([*pulls, *loads]), solved.series))
    at = dict(zip(loads, speeds[POINTS:], strict=True))
    figures = Haulage(
        tractive_force_n=None if slip is None else min(slip, stall),
        slip_limit_n=slip,
        vehicles_level=vehicles_hauled(weights, stall, 0.0, "train.rolling_resistance", "haulage.vehicles_level", ledger),
        vehicles_on_grade=None
        if weights.grade is None
        else vehicles_hauled(
            weights, stall, weights.grade, "train.grade", "haulage.vehicles_on_grade", ledger, curve=weights.curve or 0.0
        ),
        vehicles_on_straight_grade=None
        if weights.grade is None
        else vehicles_hauled(weights, stall, weights.grade, "train.grade", "haulage.vehicles_on_straight_grade", ledger),
        curve_resistance_n=_curve_force(weights),
        stall_force_n=stall,
        slips_before_stall=None if slip is None else slip < stall,
        speed_drop_share=None if level is None else _drop(speeds[0], at[level]),
        speed_drop_share_without_dropper=None if level is None else _drop(*listed(chain.speed(np.array([0.0, level]), NOTHING))),
        steepest_grade=_steepest(weights, stall),
        pull_n=listed(pulls),
        pull_speed_mph=speeds[:POINTS],
        train_pull_level_n=level,
        train_speed_level_mph=None if level is None else at[level],
        train_pull_on_grade_n=graded,
        train_speed_on_grade_mph=None if graded is None else at[graded],
    )
    _show(figures, weights, ledger)
    _judge(figures, record, ledger)
    return figures


def weigh(record: models.Record, ratio: float, refined: float, ledger: Ledger) -> Weights:
    """Return what the record says of masses and resistances; `refined` is what the bench found on the rolling resistance."""
    model, given = record.model or models.Model(), record.train or models.Train()
    if model.mass is None:
        ledger.lack("model.mass", "haulage.vehicles_on_grade", "haulage.vehicles_on_straight_grade",
                    "haulage.curve_resistance_n", "haulage.steepest_grade", "haulage.train_pull_on_grade_n",
                    "haulage.train_speed_on_grade_mph")  # fmt: skip
    if model.driven_mass is None:
        ledger.lack("model.driven_mass", "haulage.tractive_force_n", "haulage.slip_limit_n", "haulage.vehicles_level",
                    "haulage.vehicles_on_grade", "haulage.vehicles_on_straight_grade", "haulage.slips_before_stall",
                    "haulage.steepest_grade")  # fmt: skip
    if given.vehicle_mass is None:
        ledger.lack("train.vehicle_mass", "haulage.vehicles_level", "haulage.vehicles_on_grade",
                    "haulage.vehicles_on_straight_grade", "haulage.curve_resistance_n",
                    "haulage.speed_drop_share", "haulage.speed_drop_share_without_dropper",
                    "haulage.steepest_grade", "haulage.train_pull_level_n", "haulage.train_speed_level_mph",
                    "haulage.train_pull_on_grade_n", "haulage.train_speed_on_grade_mph")  # fmt: skip
    if given.grade is None:
        ledger.lack("train.grade", "haulage.vehicles_on_grade", "haulage.vehicles_on_straight_grade",
                    "haulage.train_pull_on_grade_n", "haulage.train_speed_on_grade_mph")  # fmt: skip
    if given.curve_radius is None and given.curve_resistance is None:
        ledger.lack("train.curve_radius", "haulage.curve_resistance_n")
    return Weights(
        loco=model.mass.value if model.mass else None,
        driven=model.driven_mass.value if model.driven_mass else None,
        vehicle=given.vehicle_mass.value if given.vehicle_mass else None,
        behind=train_mass(record) if given.vehicle_mass or not given.vehicles else None,
        grade=given.grade.value if given.grade else None,
        rolling=refined * _rolling(given, ledger),
        adhesion=_adhesion(model, given, ledger),
        curve=_curve(given, ratio, ledger),
    )


def _curve(given: models.Train, ratio: float, ledger: Ledger) -> float | None:
    """Curve resistance over weight; the rule of full-size railways where none was measured, None without a curve."""
    if given.curve_resistance is not None:
        return given.curve_resistance.value
    if given.curve_radius is None:
        return None
    full_size = given.curve_radius.value * ratio
    return ledger.assume(
        "train.curve_resistance",
        "curve resistance over weight",
        float(physics.curve_coefficient(given.curve_radius.value, ratio)),
        "",
        f"rule of full-size railways, 0.8 lb a short ton for each degree; a curve of {quantity(full_size, 'm', 2)} full size is "
        "far sharper than any it was made for: a first guess, where model practice adds 0.01 to 0.02",
        "computed",
    )


def _curve_force(weights: Weights) -> float | None:
    """What the curve asks of the stated train and its locomotive on the level [N]."""
    if weights.curve is None or weights.behind is None or weights.loco is None:
        return None
    return float(physics.rolling_force(weights.behind + weights.loco, weights.curve))


def _rolling(given: models.Train, ledger: Ledger) -> float:
    if given.rolling_resistance is not None:
        return given.rolling_resistance.value
    if given.vehicle_mass is None:
        return physics.ROLLING_COEFFICIENT
    return ledger.assume(
        "train.rolling_resistance",
        "rolling resistance of the train",
        physics.ROLLING_COEFFICIENT,
        "",
        "pin-point axles, metal tyres",
    )


def _adhesion(model: models.Model, given: models.Train, ledger: Ledger) -> float:
    if given.adhesion is not None:
        return given.adhesion.value
    if model.driven_mass is None:
        return physics.ADHESION
    why = "metal tyres on clean rail" if model.tyres == "plain" else "metal tyres; rubber-type tyres hold better, measure"
    return ledger.assume("train.adhesion", "adhesion of the driven wheels", physics.ADHESION, "", why)


def train_pulls(weights: Weights) -> tuple[float | None, float | None]:
    """Force that the stated train asks on the level and on the grade [N]; a locomotive alone asks none on the level."""
    if weights.behind is None:
        return None, None
    level = float(physics.train_force(weights.behind, 0.0, weights.rolling))
    if weights.grade is None or weights.loco is None:
        return level, None
    graded = physics.train_force(
        weights.behind, weights.grade, weights.rolling, loco_mass=weights.loco, curve=weights.curve or 0.0
    )
    return level, float(graded)


def vehicles_hauled(
    weights: Weights, stall: float, grade: float, cause: str, key: str, ledger: Ledger, *, curve: float = 0.0
) -> int | None:
    """Whole vehicles on a grade and in a curve; None, owned up under `cause`, where they roll on and set no limit."""
    loco = weights.loco if grade or curve else 0.0
    if weights.driven is None or weights.vehicle is None or loco is None:
        return None
    if physics.train_force(weights.vehicle, grade, weights.rolling, curve=curve) <= 0:
        ledger.lack(cause, key)
        return None
    available = min(stall, float(physics.adhesion_limit(weights.driven, weights.adhesion, grade)))
    hauled = physics.vehicles_hauled(available, weights.vehicle, grade, weights.rolling, loco_mass=loco, curve=curve)
    return int(hauled)


def _steepest(weights: Weights, stall: float) -> float | None:
    if weights.loco is None or weights.driven is None or weights.behind is None:
        return None
    by_slip = physics.steepest_grade(
        weights.driven, weights.behind, weights.rolling, loco_mass=weights.loco, adhesion=weights.adhesion
    )
    by_stall = physics.steepest_grade_for_force(stall, weights.behind, weights.rolling, loco_mass=weights.loco)
    return float(min(by_slip, by_stall))


def _drop(light: float | None, loaded: float | None) -> float:
    """Share of the light engine's speed that the train takes; a build that stands has lost nothing it had."""
    return 1 - loaded / light if light and loaded is not None else 0.0


def _show(figures: Haulage, weights: Weights, ledger: Ledger) -> None:
    ledger.work(
        "Haulage",
        "force at the tread with the rotor held at full step",
        "F_stall = (K I_mean(d, 0) − T_f − T_mech) i η / r_w",
        "winding as warm as the stated train makes it at step 126",
        figures["stall_force_n"],
        "N",
        "mechanics; docs: calculations",
    )
    if weights.driven is None:
        return
    ledger.work(
        "Haulage",
        "force at which the driven wheels slip, level",
        "F_slip = μ m_driven g",
        f"{plain(weights.adhesion)} × {plain(weights.driven)} kg × {plain(physics.GRAVITY)}",
        figures["slip_limit_n"],
        "N",
        "Coulomb friction; adhesion common practice",
    )
    if weights.vehicle is not None and figures["vehicles_level"] is not None:
        ledger.work(
            "Haulage",
            "vehicles on the level",
            "min(F_slip, F_stall) / (c m_vehicle g)",
            f"{plain(figures['tractive_force_n'])} N / ({plain(weights.rolling)} × {plain(weights.vehicle)} kg × "
            f"{plain(physics.GRAVITY)})",
            float(figures["vehicles_level"]),
            "whole vehicles",
            "sum of resistances, railway handbook",
        )
    _show_curve(figures, weights, ledger)
    _show_grade(figures, weights, ledger)


def _show_curve(figures: Haulage, weights: Weights, ledger: Ledger) -> None:
    if figures["curve_resistance_n"] is None:
        return
    ledger.work(
        "Haulage",
        "what the curve asks of the stated train",
        "F_curve = c_curve (m_loco + m_train) g",
        f"{plain(weights.curve)} × ({plain(weights.loco)} + {plain(weights.behind)}) kg × {plain(physics.GRAVITY)}",
        figures["curve_resistance_n"],
        "N",
        "sum of resistances, railway handbook",
    )


def _show_grade(figures: Haulage, weights: Weights, ledger: Ledger) -> None:
    if figures["vehicles_on_grade"] is None or weights.grade is None or weights.vehicle is None:
        return
    slope, curve = float(physics.grade_angle(weights.grade)), weights.curve or 0.0
    sine, cosine = plain(math.sin(slope), 4), plain(math.cos(slope), 5)
    ledger.work(
        "Haulage",
        "vehicles on the grade, in the curve where one is stated",
        "(min(F_slip cos α, F_stall) / g − m_loco (sin α + c_curve cos α)) / (m_vehicle (sin α + (c + c_curve) cos α))",
        f"(min({plain(figures['slip_limit_n'])} N × {cosine}, {plain(figures['stall_force_n'])} N) / {plain(physics.GRAVITY)} − "
        f"{plain(weights.loco)} kg × ({sine} + {plain(curve)} × {cosine})) / "
        f"({plain(weights.vehicle)} kg × ({sine} + {plain(weights.rolling + curve)} × {cosine}))",
        float(figures["vehicles_on_grade"]),
        "whole vehicles",
        "sum of resistances, railway handbook",
    )


def _judge(figures: Haulage, record: models.Record, ledger: Ledger) -> None:
    slip, stall = figures["slip_limit_n"], figures["stall_force_n"]
    if slip is None or stall is None:
        return
    forces = f"stall at {plain(stall, 2)} N, slip at {plain(slip, 2)} N"
    if not figures["slips_before_stall"]:
        ledger.judge(
            "haulage",
            "caution",
            f"The motor stalls before the wheels slip ({forces}): overloaded or held, it stands under current and can burn. "
            "Cut the power at once when it stops.",
        )
    elif stall < CLOSE * slip:
        ledger.judge(
            "haulage", "note", f"The wheels slip a little before the motor stalls ({forces}); on clean rail it may stall first."
        )
    else:
        ledger.judge("haulage", "ok", f"The wheels slip before the motor stalls ({forces}).")
    _judge_train(figures, record, ledger)


def _judge_train(figures: Haulage, record: models.Record, ledger: Ledger) -> None:
    wanted = record.train.vehicles if record.train else 0
    level, graded = figures["vehicles_level"], figures["vehicles_on_grade"]
    if level is not None and level < wanted:
        ledger.judge("haulage", "stop", f"It hauls {level} vehicles on the level; the record wants {wanted}.")
    elif graded is not None and graded < wanted:
        place = "on the stated grade" if figures["curve_resistance_n"] is None else "on the stated grade and curve"
        ledger.judge("haulage", "caution", f"It hauls {graded} vehicles {place}; the record wants {wanted}.")
