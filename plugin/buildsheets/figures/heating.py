"""Heat in the dropper: running at each step, and stalled."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildsheets.figures.chain import Series
from buildsheets.figures.decoder import locked_rotor_current
from buildsheets.figures.drive import Source
from buildsheets.figures.format import DropperFigures, Level, Limit
from buildsheets.figures.ledger import Ledger
from buildsheets.figures.motor import WorkingMotor
from buildsheets.figures.running import Running, listed
from buildsheets.numerals import number as plain
from buildsheets.physics import dropper as droppers
from buildsheets.physics import heat, parts
from buildsheets.physics.diodes import pair_voltage
from buildsheets.records import models

DIODE_THERMAL_RESISTANCE = 100.0
"""Small leaded rectifier to air, short leads [K/W]; common practice."""
DIODE_LIMIT = 125.0
"""Junction limit less a reserve [degC]; common practice."""

Array = NDArray[np.float64]


@dataclass(frozen=True)
class _Part:
    """One kind of part in the dropper over the steps."""

    power_each: Array
    temperature: Array


def dropper_figures(
    record: models.Record,
    series: Series,
    motor: WorkingMotor | None,
    source: Source | None,
    running: Running | None,
    ledger: Ledger,
) -> DropperFigures | None:
    """Work out the heat of the record's dropper; None without one."""
    dropper = record.dropper
    if dropper is None:
        return None
    figures = DropperFigures(
        text=series.text,
        resistance_ohm=series.resistance,
        diode_pairs=series.pairs,
        worst_step=None,
        running_power_w=None,
        power_each_w=None,
        stall_power_w=None,
        bypass_power_w=None,
        resistor_temperature_c=None,
        diode_temperature_c=None,
        stall_temperature_c=None,
        temperature_band_c=None,
        share_of_rating=None,
        air_inside_c=None,
        temperature_over_steps_c=None,
        power_each_over_steps_w=None,
        temperature_limits=_limits(dropper),
    )
    if running is None or motor is None or source is None:
        return figures
    crowding = crowding_factor(dropper, ledger) * float(running.warmth.dropper_factor)
    bank = _bank(dropper, series, running, crowding, ledger)
    string = _string(dropper, series, running, crowding, ledger)
    _fill(figures, series, running, bank, string)
    figures["bypass_power_w"] = _bypass_power(dropper, running, ledger)
    current = locked_rotor_current(motor, source, series)
    figures["stall_power_w"] = float(droppers.bank_power(current, series.resistance)) + series.pairs * current * float(
        pair_voltage(current, series.card)
    )
    if bank is not None:
        _fill_bank(figures, dropper, series, current, running, bank, crowding, ledger)
        air = float(running.air_with(current * (source.top_voltage + source.internal_drop)))
        _fill_stall(figures, dropper, series, current, air, crowding, ledger)
    _judge(figures, dropper, ledger)
    return figures


def crowding_factor(dropper: models.Dropper, ledger: Ledger) -> float:
    """Return the factor on the thermal resistance of parts that lie as the record says."""
    layout = dropper.layout or ledger.assume_word(
        "dropper.layout", "layout of the dropper", "row" if dropper.parallel > 1 else "free", "the usual way"
    )
    return heat.CROWDING[layout]


def _rating(dropper: models.Dropper) -> float | None:
    return dropper.resistor.rating.value if dropper.resistor and dropper.resistor.rating else None


def zero_power(dropper: models.Dropper) -> float:
    """Return the temperature at which the resistors bear nothing more [degC], given or usual."""
    given = dropper.resistor.zero_power_temperature if dropper.resistor else None
    return given.value if given else parts.ZERO_TEMPERATURE


def resistor_to_air(dropper: models.Dropper, ledger: Ledger) -> float | None:
    """Return the thermal resistance of one resistor [K/W], given or from its rating; None where neither is known."""
    resistor, rating = dropper.resistor, _rating(dropper)
    if rating is None:
        ledger.lack("dropper.resistor.rating", "dropper", "highest_volts.resistor_temperature_c")
    if resistor is not None and resistor.thermal_resistance:
        return resistor.thermal_resistance.value
    if rating is None:
        return None
    found = float(parts.resistor_thermal_resistance(rating, parts.RATED_TEMPERATURE, zero_power(dropper)))
    ledger.work(
        "Heat",
        "thermal resistance of one resistor",
        "R_th = (T_zero − T_rated) / P_rated",
        lambda: f"({plain(zero_power(dropper))} − {plain(parts.RATED_TEMPERATURE)}) / {plain(rating)}",
        found,
        "K/W",
        "derating line of IEC 60115 (the safe side)",
    )
    return found


def _bank(dropper: models.Dropper, series: Series, running: Running, crowding: float, ledger: Ledger) -> _Part | None:
    if dropper.resistor is None:
        return None
    power = droppers.resistor_power(running.rms_current, series.resistance, series.parallel, series.in_series)
    resistance = resistor_to_air(dropper, ledger)
    temperature = (
        np.full(power.shape, np.nan)
        if resistance is None
        else heat.body_temperature(running.air_inside, power, resistance, crowding)
    )
    return _Part(power, temperature)


def _string(dropper: models.Dropper, series: Series, running: Running, crowding: float, ledger: Ledger) -> _Part | None:
    """A pair shares its heat between two diodes only over both directions: all of it is laid on one."""
    if dropper.diodes is None:
        return None
    resistance = diode_to_air(dropper.diodes, ledger)
    power = running.solution.waveform.mean_diode_power / series.pairs
    part = _Part(power, heat.body_temperature(running.air_inside, power, resistance, crowding))
    place = _worst(part)
    ledger.work(
        "Heat",
        f"temperature of one diode at step {place + 1}",
        "T = T_air + P R_th c, P the mean of |i| V_d, all of a pair's on one",
        lambda: f"{plain(float(running.air_inside[place]))} + {plain(float(power[place]))} × {plain(resistance)} × {plain(crowding)}",
        float(part.temperature[place]),
        "°C",
        "thermal resistance; crowding c common practice",
    )
    return part


def path_to_air(dropper: models.Dropper, ledger: Ledger) -> float | None:
    """Return what one watt in the part that the sheet watches warms it over the air inside [K/W], crowding included."""
    if dropper.resistor is not None:
        each = resistor_to_air(dropper, ledger)
    else:
        given = dropper.diodes.diode.thermal_resistance if dropper.diodes and dropper.diodes.diode else None
        each = given.value if given else DIODE_THERMAL_RESISTANCE
        each *= pairs_in_body(dropper.diodes) if dropper.diodes else 1
    return None if each is None else each * crowding_factor(dropper, ledger)


def diode_to_air(string: models.DiodeString, ledger: Ledger) -> float:
    """Return how much one pair's power warms its body [K/W], thermal resistance given or assumed."""
    given = string.diode.thermal_resistance if string.diode else None
    if given is not None:
        return given.value * pairs_in_body(string)
    return pairs_in_body(string) * ledger.assume(
        "dropper.diodes.diode.thermal_resistance",
        "diode to air",
        DIODE_THERMAL_RESISTANCE,
        "K/W",
        "small leaded rectifier",
    )


def pairs_in_body(string: models.DiodeString) -> int:
    """Pairs that share one body: a bridge with + and − joined holds two, and their heat leaves through one case."""
    return 2 if string.diode is not None and string.diode.package == "bridge" else 1


def _bypass_power(dropper: models.Dropper, running: Running, ledger: Ledger) -> float | None:
    """Heat in the resistor across the string at the step where it is most [W]; None without one."""
    across = dropper.diodes.bypass if dropper.diodes else None
    if across is None:
        return None
    power = running.solution.waveform.mean_bypass_power
    place = int(np.argmax(power))
    ledger.work(
        "Heat",
        f"power in the resistor across the diodes at step {place + 1}",
        "P = U_rms² / R_b",
        lambda: f"{plain(math.sqrt(float(power[place]) * across.value))}² / {plain(across.value)}",
        float(power[place]),
        "W",
        "Ohm's law; volts of the string from its characteristic",
    )
    return float(power[place])


def _worst(part: _Part) -> int:
    """Place of the hottest step: warm air counts as well as power; by power where the temperature is not known."""
    return int(np.argmax(part.power_each if np.isnan(part.temperature).all() else part.temperature))


def _fill(figures: DropperFigures, series: Series, running: Running, bank: _Part | None, string: _Part | None) -> None:
    main = bank or string
    if main is None:
        return
    place = _worst(main)
    wave = running.solution.waveform
    total = running.rms_current**2 * series.resistance + wave.mean_diode_power + wave.mean_bypass_power
    figures["worst_step"] = place + 1
    figures["running_power_w"] = float(total[place])
    figures["power_each_w"] = float(main.power_each[place])
    figures["air_inside_c"] = float(running.air_inside[place])
    figures["power_each_over_steps_w"] = listed(main.power_each)
    hot = listed(main.temperature)
    figures["temperature_over_steps_c"] = None if hot[place] is None else hot
    if bank is not None:
        figures["resistor_temperature_c"] = hot[place]
    if string is not None:
        figures["diode_temperature_c"] = float(np.max(string.temperature))


def _fill_bank(
    figures: DropperFigures,
    dropper: models.Dropper,
    series: Series,
    current: float,
    running: Running,
    bank: _Part,
    crowding: float,
    ledger: Ledger,
) -> None:
    stalled = droppers.bank_power(current, series.resistance)
    place = _worst(bank)
    ledger.work(
        "Heat",
        f"power in the bank at step {place + 1}",
        "P = I_rms² R_s",
        lambda: f"{plain(float(running.rms_current[place]))}² × {plain(series.resistance)}",
        float(running.rms_current[place]) ** 2 * series.resistance,
        "W",
        "Joule's law; the RMS current of pulses, not the mean",
    )
    ledger.work(
        "Heat",
        "power in the bank, shaft held, full on",
        "P = I_stall² R_s",
        lambda: f"{plain(current)}² × {plain(series.resistance)}",
        float(stalled),
        "W",
        "Joule's law",
    )
    rating, resistance = _rating(dropper), resistor_to_air(dropper, ledger)
    if rating is not None:
        air = float(running.air_inside[place])
        derated = float(parts.derated_power(rating, air, parts.RATED_TEMPERATURE, zero_power(dropper)))
        figures["share_of_rating"] = float(bank.power_each[place]) / derated if derated > 0 else None
        ledger.work(
            "Heat",
            "share of the derated rating",
            "P_each / P_derated(T_air)",
            lambda: f"{plain(float(bank.power_each[place]))} / {plain(derated)} at {plain(air)} °C",
            figures["share_of_rating"],
            "",
            "IEC 60115 derating",
        )
    if resistance is not None:
        ledger.work(
            "Heat",
            "temperature of one resistor",
            "T = T_air + P R_th c",
            lambda: f"{plain(figures['air_inside_c'])} + {plain(figures['power_each_w'])} × {plain(resistance)} × {plain(crowding)}",
            figures["resistor_temperature_c"],
            "°C",
            "thermal resistance; crowding c common practice",
        )


def _fill_stall(
    figures: DropperFigures,
    dropper: models.Dropper,
    series: Series,
    current: float,
    air: float,
    crowding: float,
    ledger: Ledger,
) -> None:
    """Where a resistor ends if the loco sticks at full step and nobody cuts the power; all of that heat warms the air."""
    resistance = resistor_to_air(dropper, ledger)
    if resistance is None:
        return
    each = float(droppers.bank_power(current, series.resistance)) / series.parts
    figures["stall_temperature_c"] = float(heat.body_temperature(air, each, resistance, crowding))
    ledger.work(
        "Heat",
        "temperature of one resistor, shaft held until nothing rises any more",
        "T = T_air + P R_th c, the air warmed by all that the track gives",
        lambda: f"{plain(air)} + {plain(each)} × {plain(resistance)} × {plain(crowding)}",
        figures["stall_temperature_c"],
        "°C",
        "thermal resistance; crowding c common practice",
    )


def _limits(dropper: models.Dropper) -> list[Limit]:
    limits = []
    material = heat.MATERIALS.get(dropper.near.value) if dropper.near else None
    if dropper.near is not None and material is not None:
        label = f"keep below beside {dropper.near.value}"
        limits.append(Limit(label=label, value=material.keep_below, basis="common practice"))
    threshold = heat.burn_threshold("ceramics glass stone", 60)
    limits.append(Limit(label="burns at one minute's touch (not verified)", value=threshold.low, basis="from memory"))
    return limits


def _judge(figures: DropperFigures, dropper: models.Dropper, ledger: Ledger) -> None:
    """Rating, neighbour and stall decide; a burn threshold from memory raises a caution and no more."""
    hottest = hottest_part(figures)
    if hottest is None:
        return
    level: Level = "ok"
    words = [f"{plain(hottest)} °C at step {figures['worst_step']}"]
    share = figures["share_of_rating"]
    if share is not None:
        words.append(f"{plain(100 * share, 2)} % of the rating at that air")
        level = "stop" if share > 1 else "caution" if share > 0.75 else "ok"
    if dropper.near is not None and _softens(hottest, dropper.near.value):
        words.append(f"too hot to lie against {dropper.near.value}")
        level = "stop" if dropper.clearance is None or dropper.clearance.value < 3e-3 else _at_least(level, "caution")
    if dropper.resistor is None and hottest > DIODE_LIMIT:
        level = "stop"
    stall, bears = figures["stall_temperature_c"], _bears_stalled(dropper)
    if stall is not None and stall > bears:
        words.append(f"if the loco sticks at full step it heads for {plain(stall)} °C: cut the power")
        level = _at_least(level, "caution")
    if hottest >= heat.burn_threshold("ceramics glass stone", 60).low:
        words.append("hot to the touch")
        level = _at_least(level, "caution")
    ledger.judge("dropper heat", level, f"The dropper reaches {'; '.join(words)}.")


def _bears_stalled(dropper: models.Dropper) -> float:
    """Lower of the resistor's own end and where its neighbour goes soft [degC]."""
    material = heat.MATERIALS.get(dropper.near.value) if dropper.near else None
    soft = material.softens_from if material else None
    return min(zero_power(dropper), soft if soft is not None else math.inf)


def _softens(temperature: float, material: str) -> bool:
    """Brass, and what the table does not know, bears any dropper."""
    return material in heat.MATERIALS and heat.too_hot_for(temperature, material)


def hottest_part(figures: DropperFigures) -> float | None:
    """Return the higher of resistor and diode temperature [degC]; None where neither is known."""
    known = (figures["resistor_temperature_c"], figures["diode_temperature_c"])
    return max((temperature for temperature in known if temperature is not None), default=None)


def _at_least(level: Level, other: Level) -> Level:
    order: tuple[Level, ...] = ("ok", "note", "caution", "stop")
    return max(level, other, key=order.index)
