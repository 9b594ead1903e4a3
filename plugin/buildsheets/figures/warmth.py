"""Temperatures around the works, and what the winding bears."""

from __future__ import annotations

import numpy as np

from buildsheets.figures.format import MotorFigures
from buildsheets.figures.ledger import Ledger
from buildsheets.figures.motor import Warmth, WorkingMotor
from buildsheets.figures.running import HOTTEST, Running, listed
from buildsheets.numerals import number as plain
from buildsheets.physics import heat
from buildsheets.records import models

SHELL_KIND = {
    "printed resin": "resin",
    "white metal": "metal",
    "zinc alloy": "metal",
    "brass": "metal",
}
"""Materials that are not plain plastic, as the table of shells knows them."""


def warmth(record: models.Record, motor: WorkingMotor | None, ratio: float | None, ledger: Ledger) -> Warmth:
    """Return room, shell and motor, each given or assumed."""
    around = record.surroundings or models.Surroundings()
    room = (
        around.room.value
        if around.room
        else ledger.assume("surroundings.room", "room temperature", heat.ROOM_TEMPERATURE, "degC", "a warm room")
    )
    shell = around.shell_resistance.value if around.shell_resistance else _shell(record, ratio, ledger)
    return Warmth(room, shell, _winding_resistance(record, motor, ledger))


def _shell(record: models.Record, ratio: float | None, ledger: Ledger) -> float:
    material = record.model.shell_material if record.model else None
    kind = SHELL_KIND.get(material.value if material else "", "plastic")
    return ledger.assume(
        "surroundings.shell_resistance",
        "air inside the body, per watt inside",
        float(heat.shell_resistance(kind, ratio or heat.SHELL_REFERENCE_RATIO)),
        "K/W",
        lambda: f"closed {kind} body of this scale",
    )


def _winding_resistance(record: models.Record, motor: WorkingMotor | None, ledger: Ledger) -> float:
    given = record.motor.thermal_resistance if record.motor else None
    if given is not None:
        return given.value
    if motor is None:
        return 0.0
    return ledger.assume(
        "motor.thermal_resistance",
        "winding to air",
        float(heat.winding_thermal_resistance(*motor.size)),
        "K/W",
        lambda: f"can of {plain(1e3 * motor.size[0])} × {plain(1e3 * motor.size[1])} mm",
    )


def winding_figures(
    figures: MotorFigures,
    record: models.Record,
    motor: WorkingMotor,
    running: Running,
    around: Warmth,
    stall_current: float,
    ledger: Ledger,
) -> MotorFigures:
    """Add what the winding bears, running and held."""
    given = record.motor.insulation_class if record.motor else None
    known = given if given in heat.INSULATION_CLASSES else None
    if known is None:
        ledger.assume_word("motor.insulation_class", "insulation class", "B", "the usual enamelled wire")
    limit = heat.winding_limit(known or "B")
    held_power = stall_current**2 * motor.resistance
    allowed = heat.time_to_limit(
        held_power,
        around.motor_resistance,
        heat.winding_heat_capacity(*motor.size, motor.kind),
        around.room,
        around.room,
        limit,
    )
    figures["winding_power_w"] = listed(running.winding_power)
    figures["winding_temperature_c"] = listed(running.winding_temperature)
    figures["winding_limit_c"] = limit
    figures["stall_time_limit_s"] = float(allowed) if np.isfinite(allowed) else None
    _judge(running, limit, ledger)
    return figures


def _judge(running: Running, limit: float, ledger: Ledger) -> None:
    place = int(np.argmax(running.winding_temperature))
    hottest = float(running.winding_temperature[place])
    where = f"at step {place + 1}, after it has run there until warm"
    if not running.settled or hottest >= HOTTEST:
        ledger.judge("winding", "stop", f"The winding's temperature runs away {where}: it would burn out.")
    elif hottest > limit:
        ledger.judge(
            "winding",
            "stop",
            f"The winding reaches {plain(hottest)} °C {where}; its limit is {plain(limit)} °C. Short runs only.",
        )
    elif hottest > limit - 25:
        ledger.judge(
            "winding", "caution", f"The winding reaches {plain(hottest)} °C {where}; its limit is {plain(limit)} °C."
        )
    else:
        ledger.judge(
            "winding", "ok", f"The winding reaches {plain(hottest)} °C at most; its limit is {plain(limit)} °C."
        )
