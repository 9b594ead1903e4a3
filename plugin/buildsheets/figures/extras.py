"""Lamps and stay-alive: the resistors they need, how long the store lasts, and whether its volts are enough."""

from __future__ import annotations

from buildsheets.figures.format import LampFigures, StayAliveFigures
from buildsheets.figures.ledger import Ledger
from buildsheets.figures.solving import Solved, solve
from buildsheets.numerals import engineering, quantity
from buildsheets.physics.parts import preferred_at_or_above, series_resistance
from buildsheets.physics.store import charging_current, charging_power, hold_time, stored_energy
from buildsheets.records import models

HOLD_STEP = 64
"""Speed step whose current the store must give: half throttle."""
TOO_MUCH = 1.25
"""Current over the wanted one from which a fitted resistor is a caution. Common practice."""


def lamp_figures(record: models.Record, bus: float | None, ledger: Ledger) -> list[LampFigures]:
    """Work out the resistor of each lamp circuit; what needs a missing value is None."""
    return [_lamp(place, lamp, bus, ledger) for place, lamp in enumerate(record.lamps)]


def _lamp(place: int, lamp: models.Lamp, bus: float | None, ledger: Ledger) -> LampFigures:
    volts = lamp.led.forward_voltage.value if lamp.led and lamp.led.forward_voltage else None
    wanted = lamp.current.value if lamp.current else None
    if volts is None:
        ledger.lack("lamps.led.forward_voltage", f"lamps.{place}")
    if wanted is None:
        ledger.lack("lamps.current", f"lamps.{place}")
    figures = LampFigures(
        name=lamp.name, needed_ohm=None, nearest_e24_ohm=None, current_a=None, power_w=None, fitted_current_a=None
    )
    if volts is None or bus is None:
        return figures
    drop = volts * (lamp.count if lamp.join == "series" else 1)
    through = None if wanted is None else wanted * (lamp.count if lamp.join == "parallel" else 1)
    if drop >= bus:
        ledger.judge("lamps", "caution", f"{lamp.name}: {quantity(drop, 'V')} of LEDs do not light on {quantity(bus, 'V')}.")
        ledger.lack("lamps.join", f"lamps.{place}")
        return figures
    if through:
        needed = float(series_resistance(bus, drop, through))
        nearest = float(preferred_at_or_above(needed, "E24"))
        figures["needed_ohm"], figures["nearest_e24_ohm"] = needed, nearest
        figures["current_a"], figures["power_w"] = (bus - drop) / nearest, (bus - drop) ** 2 / nearest
    _judge_fitted(figures, lamp, bus - drop, through, ledger)
    return figures


def _judge_fitted(
    figures: LampFigures, lamp: models.Lamp, left: float, through: float | None, ledger: Ledger
) -> None:
    if lamp.resistor is None:
        ledger.lack("lamps.resistor", "lamps")
        return
    fitted = left / lamp.resistor.value
    figures["fitted_current_a"] = fitted
    if through and fitted > TOO_MUCH * through:
        ledger.judge(
            "lamps",
            "caution",
            f"{lamp.name}: the resistor fitted lets {engineering(fitted, 'A', 2)} through, "
            f"{engineering(through, 'A', 2)} were wanted.",
        )


def stay_alive_figures(record: models.Record, solved: Solved, ledger: Ledger) -> StayAliveFigures | None:
    """Work out what the store does; None without one or without its bus."""
    given = record.stay_alive
    if given is None or solved.source is None:
        return None
    bus = solved.source.top_voltage
    peak = max([bus, *_rails(record)])
    size, charging = given.capacitor.capacitance, given.charging_resistor
    if size is None:
        ledger.lack("stay_alive.capacitor.capacitance", "stay_alive.stored_energy_j", "stay_alive.hold_time_s")
    if charging is None:
        ledger.lack("stay_alive.charging_resistor", "stay_alive.charging_current_a", "stay_alive.charging_power_w")
    figures = StayAliveFigures(
        hold_time_s=_hold(given, record, bus, ledger),
        stored_energy_j=float(stored_energy(size.value, bus)) if size else None,
        charging_current_a=float(charging_current(peak, charging.value)) if charging else None,
        charging_power_w=float(charging_power(peak, charging.value)) if charging else None,
        rail_peak_v=peak,
        rated_voltage_v=given.capacitor.rated_voltage.value if given.capacitor.rated_voltage else None,
    )
    _judge_volts(figures, ledger)
    return figures


def _rails(record: models.Record) -> list[float]:
    supply = record.supply or models.Supply()
    return [volts.value for volts in (supply.track, supply.highest, supply.direct_current) if volts is not None]


def _hold(given: models.StayAlive, record: models.Record, bus: float, ledger: Ledger) -> float | None:
    if given.least_voltage is None:
        ledger.lack("stay_alive.least_voltage", "stay_alive.hold_time_s")
    light = solve(record, Ledger(), load="light")
    if light.running is None:
        return None
    current = float(light.running.solution.waveform.bus_current[HOLD_STEP - 1])
    if given.least_voltage is None or given.capacitor.capacitance is None or current <= 0:
        return None
    return float(hold_time(given.capacitor.capacitance.value, bus, given.least_voltage.value, current))


def _judge_volts(figures: StayAliveFigures, ledger: Ledger) -> None:
    rated, peak = figures["rated_voltage_v"], figures["rail_peak_v"]
    if rated is None:
        ledger.lack("stay_alive.capacitor.rated_voltage", "stay_alive.rated_voltage_v")
    elif rated < peak:
        ledger.judge(
            "stay-alive",
            "stop",
            f"The store is rated {quantity(rated, 'V')}; the rails may reach {quantity(peak, 'V')}. It can burst: use one "
            "rated above that.",
        )
    else:
        ledger.judge("stay-alive", "ok", f"The store is rated above the {quantity(peak, 'V')} of the rails.")
