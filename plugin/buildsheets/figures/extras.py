"""Lamps and stay-alive: the resistors they need, how long the store lasts, and whether its volts are enough."""

from __future__ import annotations

from buildsheets.figures.format import LampFigures, StayAliveFigures
from buildsheets.figures.ledger import Ledger, Scratch
from buildsheets.figures.solving import Solved, solve
from buildsheets.numerals import engineering, quantity
from buildsheets.numerals import number as plain
from buildsheets.physics.parts import preferred_at_or_above, series_resistance
from buildsheets.physics.store import charging_current, charging_power, hold_time, stored_energy
from buildsheets.records import models

HOLD_STEP = 64
"""Speed step whose current the store must give: half throttle."""
TOO_MUCH = 1.25
"""Current over the wanted one from which a fitted resistor is a caution. Common practice."""
WITH_RESISTOR = ("needed_ohm", "nearest_e24_ohm", "current_a", "power_w", "output_current_a")
"""What waits for the resistor that is to be chosen."""


def lamp_figures(record: models.Record, bus: float | None, ledger: Ledger) -> list[LampFigures]:
    """Work out the resistor of each lamp circuit; what needs a missing value is None."""
    output = record.decoder.output_current.value if record.decoder and record.decoder.output_current else None
    return [_lamp(place, lamp, bus, output, ledger) for place, lamp in enumerate(record.lamps)]


def _lamp(place: int, lamp: models.Lamp, bus: float | None, output: float | None, ledger: Ledger) -> LampFigures:
    volts = lamp.led.forward_voltage.value if lamp.led and lamp.led.forward_voltage else None
    wanted = lamp.current.value if lamp.current else None
    figures = LampFigures(
        name=lamp.name,
        resistors=lamp.count if lamp.join == "parallel" else 1,
        needed_ohm=None,
        nearest_e24_ohm=None,
        current_a=None,
        power_w=None,
        output_current_a=None,
        fitted_current_a=None,
    )
    _own_up(place, lamp, bus, ledger)
    if volts is None or bus is None:
        return figures
    in_line = lamp.count if lamp.join == "series" else 1
    drop = volts * in_line
    if drop >= bus:
        ledger.judge("lamps", "caution", f"{lamp.name}: {quantity(drop, 'V')} of LEDs do not light on {quantity(bus, 'V')}.")
        ledger.lack("lamps.join", f"lamps.{place}")
        return figures
    words = f"{plain(bus)} V − {in_line} × {plain(volts)} V"
    if wanted:
        _choose_resistor(figures, wanted, bus, drop, words, ledger)
    if lamp.resistor is not None:
        figures["fitted_current_a"] = (bus - drop) / lamp.resistor.value
        _show_fitted(figures, lamp.resistor.value, words, ledger)
    _judge_lamp(figures, lamp, wanted, output, ledger)
    return figures


def _own_up(place: int, lamp: models.Lamp, bus: float | None, ledger: Ledger) -> None:
    worked_out = [f"lamps.{place}.{key}" for key in WITH_RESISTOR]
    if bus is None:
        ledger.lack("supply.track", *worked_out, f"lamps.{place}.fitted_current_a")
    if lamp.led is None or lamp.led.forward_voltage is None:
        ledger.lack("lamps.led.forward_voltage", *worked_out, f"lamps.{place}.fitted_current_a")
    if lamp.current is None:
        ledger.lack("lamps.current", *worked_out)
    if lamp.resistor is None:
        ledger.lack("lamps.resistor", f"lamps.{place}.fitted_current_a")


def _choose_resistor(
    figures: LampFigures, wanted: float, bus: float, drop: float, words: str, ledger: Ledger
) -> None:
    needed = float(series_resistance(bus, drop, wanted))
    nearest, left = float(preferred_at_or_above(needed, "E24")), bus - drop
    figures["needed_ohm"], figures["nearest_e24_ohm"] = needed, nearest
    figures["current_a"], figures["power_w"] = left / nearest, left**2 / nearest
    figures["output_current_a"] = figures["resistors"] * left / nearest
    name, each = figures["name"], ", one for each LED" if figures["resistors"] > 1 else ""
    ledger.work(
        "Lamps",
        f"{name}: resistor needed{each}",
        "R = (V_b − n V_LED) / I_wanted",
        f"({words}) / {plain(wanted)} A",
        needed,
        "Ω",
        "Ohm’s law",
    )
    ledger.work(
        "Lamps",
        f"{name}: current through the next larger one of E24",
        "I = (V_b − n V_LED) / R",
        f"({words}) / {plain(nearest)} Ω",
        figures["current_a"],
        "A",
        "Ohm’s law; values of IEC 60063",
    )
    ledger.work(
        "Lamps",
        f"{name}: heat in it",
        "P = (V_b − n V_LED)² / R",
        f"({words})² / {plain(nearest)} Ω",
        figures["power_w"],
        "W",
        "Joule’s law",
    )


def _show_fitted(figures: LampFigures, fitted: float, words: str, ledger: Ledger) -> None:
    ledger.work(
        "Lamps",
        f"{figures['name']}: current through the resistor fitted",
        "I = (V_b − n V_LED) / R_fitted",
        f"({words}) / {plain(fitted)} Ω",
        figures["fitted_current_a"],
        "A",
        "Ohm’s law",
    )


def _judge_lamp(
    figures: LampFigures, lamp: models.Lamp, wanted: float | None, output: float | None, ledger: Ledger
) -> None:
    fitted = figures["fitted_current_a"]
    if wanted and fitted and fitted > TOO_MUCH * wanted:
        ledger.judge(
            "lamps",
            "caution",
            f"{lamp.name}: the resistor fitted lets {engineering(fitted, 'A', 2)} through, "
            f"{engineering(wanted, 'A', 2)} were wanted.",
        )
    each = fitted or figures["current_a"]
    most = lamp.led.most_current.value if lamp.led and lamp.led.most_current else None
    if each and most and each > most:
        ledger.judge(
            "lamps",
            "caution",
            f"{lamp.name}: {engineering(each, 'A', 2)} through an LED that bears {engineering(most, 'A', 2)}; take a larger "
            "resistor.",
        )
    if each and output and each * figures["resistors"] > output:
        ledger.judge(
            "lamps",
            "stop",
            f"{lamp.name}: {engineering(each * figures['resistors'], 'A', 2)} on an output that bears "
            f"{engineering(output, 'A', 2)}; it can be destroyed.",
        )


def stay_alive_figures(record: models.Record, solved: Solved, ledger: Ledger) -> StayAliveFigures | None:
    """Work out what the store does; None without one or without its bus."""
    given = record.stay_alive
    if given is None:
        return None
    if solved.source is None:
        ledger.lack("supply.track", "stay_alive")
        return None
    bus = solved.source.top_voltage
    peak = max([bus, *_rails(record)])
    size, charging = given.capacitor.capacitance, given.charging_resistor
    if size is None:
        ledger.lack("stay_alive.capacitor.capacitance", "stay_alive.stored_energy_j", "stay_alive.hold_time_s")
    if charging is None:
        ledger.lack("stay_alive.charging_resistor", "stay_alive.charging_current_a", "stay_alive.charging_power_w")
    figures = StayAliveFigures(
        hold_time_s=_hold(given, solved, bus, ledger),
        stored_energy_j=float(stored_energy(size.value, bus)) if size else None,
        charging_current_a=float(charging_current(peak, charging.value)) if charging else None,
        charging_power_w=float(charging_power(peak, charging.value)) if charging else None,
        rail_peak_v=peak,
        rated_voltage_v=given.capacitor.rated_voltage.value if given.capacitor.rated_voltage else None,
    )
    _show_store(figures, given, bus, ledger)
    _judge_volts(figures, ledger)
    return figures


def _show_store(figures: StayAliveFigures, given: models.StayAlive, bus: float, ledger: Ledger) -> None:
    size, charging, peak = given.capacitor.capacitance, given.charging_resistor, figures["rail_peak_v"]
    if size is not None:
        ledger.work(
            "Stay-alive",
            "charge energy, full",
            "W = C V_b² / 2",
            f"{plain(size.value)} F × ({plain(bus)} V)² / 2",
            figures["stored_energy_j"],
            "J",
            "definition of capacitance",
        )
    if charging is not None:
        ledger.work(
            "Stay-alive",
            "charging current at the first instant",
            "I = V_peak / R",
            f"{plain(peak)} V / {plain(charging.value)} Ω",
            figures["charging_current_a"],
            "A",
            "Ohm’s law on an empty store",
        )
        ledger.work(
            "Stay-alive",
            "heat in the charging resistor at the first instant",
            "P = V_peak² / R",
            f"({plain(peak)} V)² / {plain(charging.value)} Ω",
            figures["charging_power_w"],
            "W",
            "Joule’s law on an empty store",
        )


def _rails(record: models.Record) -> list[float]:
    supply = record.supply or models.Supply()
    return [volts.value for volts in (supply.track, supply.highest, supply.direct_current) if volts is not None]


def _hold(given: models.StayAlive, solved: Solved, bus: float, ledger: Ledger) -> float | None:
    if given.least_voltage is None:
        ledger.lack("stay_alive.least_voltage", "stay_alive.hold_time_s")
    light = solve(solved.record, Scratch(), load="light", refined=solved.refined, wanted="speed")
    if light.running is None:
        return None
    current = float(light.running.solution.waveform.bus_current[HOLD_STEP - 1])
    if given.least_voltage is None or given.capacitor.capacitance is None or current <= 0:
        return None
    size, least = given.capacitor.capacitance.value, given.least_voltage.value
    lasts = float(hold_time(size, bus, least, current))
    ledger.work(
        "Stay-alive",
        f"how long it runs on at step {HOLD_STEP}, light engine",
        "t = C (V_b − V_least) / I_bus",
        f"{plain(size)} F × ({plain(bus)} V − {plain(least)} V) / {plain(current)} A",
        lasts,
        "s",
        "Q = C V; the current from the decoder’s bus as if it stayed the same",
    )
    return lasts


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
