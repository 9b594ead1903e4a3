"""Decoder settings worked out from what the decoder really has: one value a CV, why, and what the record has set."""

from __future__ import annotations

from collections.abc import Iterable

from buildsheets.figures.curve_advice import (
    PLACES,
    TABLE_CVS,
    Abilities,
    Fitted,
    curve_figures,
    fit_curves,
    wanted_curve,
)
from buildsheets.figures.format import (
    AddressFigures,
    Advised,
    AdvisedError,
    ConfigurationFigures,
    Curve,
    Figures,
    MomentumRow,
)
from buildsheets.figures.instead import instead
from buildsheets.figures.ledger import Ledger
from buildsheets.figures.light import light_response
from buildsheets.figures.momentum import BRAKING, momentum_row, recommended_rates, stopping_time
from buildsheets.figures.solving import Solved
from buildsheets.numerals import engineering, given, quantity
from buildsheets.numerals import number as plain
from buildsheets.physics import cvs
from buildsheets.physics.feedback import saturation_step
from buildsheets.physics.scales import MPH
from buildsheets.records import models

ABILITY_WORDS = {
    "start_voltage": "start volts (CV2)",
    "top_voltage": "top volts (CV5)",
    "middle_voltage": "middle volts (CV6)",
    "speed_table": "speed table (CV67 to CV94)",
    "trims": "trims (CV66, CV95)",
    "momentum": "acceleration and braking rates (CV3, CV4)",
    "feedback_cut_off": "feedback cut-off (CV10)",
    "pulse_period": "pulse period (CV9)",
    "long_address": "long address (CV17, CV18)",
}
"""Abilities that this module gives values for, in a builder's words."""
SHORT_LIMIT = 127
"""Highest short address [-] (NMRA S-9.2.2, CV1)."""
NEVER = 128
"""CV10 above every step: feedback is never cut off [-] (NMRA S-9.2.2)."""
OFF_BY = 1.1
"""Ratio of two pulse frequencies from which they are called unlike; common practice."""

Values = dict[int, int]


def advise(record: models.Record, solved: Solved, figures: Figures, ledger: Ledger) -> None:
    """Fill in what the figures say of the decoder's settings; nothing without a decoder.

    Parameters
    ----------
    record
        The build.
    solved
        The same, solved.
    figures
        Its figures, complete but for these.
    ledger
        Takes assumptions, gaps and judgements.
    """
    decoder = record.decoder
    if decoder is None:
        return
    abilities, values = Abilities(decoder.abilities), _values(record)
    target = figures["decoder"]
    target["light_response"] = light_response(record, solved.refined)
    wanted = wanted_curve(record, solved, figures["feedback"], figures["bench_points"], ledger)
    fitted = fit_curves(record, wanted) if wanted else None
    target["silent"] = [words for name, words in ABILITY_WORDS.items() if not abilities.can(name) and not abilities.cannot(name)]
    if decoder.abilities is None:
        ledger.lack("decoder.abilities", "decoder.advised_error_mph")
    address, long = _address(record, abilities, values, ledger)
    configured = _configuration(fitted, long, abilities, values)
    rows = [*_address_rows(address, long, abilities), (29, configured, "written out below")]
    rows += _pulse_rows(solved, abilities, values)
    if fitted is not None:
        target["curve"] = curve_figures(fitted, _as_set(figures, solved))
        target["advised_error_mph"] = AdvisedError(
            three_point=fitted.points.error if fitted.points else None, table=fitted.table.error if fitted.table else None
        )
        target["instead"] = instead(solved, fitted, figures)
        rows += [*_curve_rows(fitted), *_trim_rows(fitted, abilities), *_cut_off_rows(fitted, abilities)]
        _judge_reach(fitted, ledger)
        _show(fitted, ledger)
    rates = _rates(fitted, abilities)
    rows += [] if rates is None else [
        (3, rates[0], "starting takes half as long again as stopping"),
        (4, rates[1], f"brakes like {given(BRAKING, 'm/s²')} at full size"),
    ]
    target["advised"] = [_advised(cv, value, why, values) for cv, value, why in sorted(rows)]
    target["configuration"] = _configuration_figures(configured, values)
    target["address"] = address
    target["momentum"] = _momentum(figures, solved, fitted, rates, abilities, values)
    target["remarks"] = [*_remarks(target["advised"], values, long, address), *_acknowledge(target["locked_rotor_current_a"])]


def _values(record: models.Record) -> Values:
    return {setting.cv: setting.value for setting in record.decoder_settings if setting.page is None}


def _advised(cv: int, value: int, why: str, values: Values) -> Advised:
    standard = cvs.standard_cv(cv)
    return Advised(cv=cv, name=standard.name if standard else "", value=value, as_set=values.get(cv), page=None, why=why)


def _as_set(figures: Figures, solved: Solved) -> Curve:
    """Speed over the steps with the settings of the record, held by feedback where it is on [mph]."""
    feedback = figures["feedback"]
    held = feedback["closed_loop_scale_mph"] if feedback else None
    return held or solved.mph or []


# The curve


def _curve_rows(fitted: Fitted) -> list[tuple[int, int, str]]:
    rows: list[tuple[int, int, str]] = []
    if fitted.points is not None:
        whys = {2: _start_why, 5: _top_why, 6: _middle_why}
        rows += [(cv, value, whys[cv](fitted, value)) for cv, value in fitted.points.values.items() if cv in fitted.free]
    if fitted.table is not None:
        rows += [
            (cv, value, f"step {given(PLACES[cv])} of {cvs.SPEED_STEPS}") for cv, value in fitted.table.values.items()
        ]
    if fitted.points is not None and fitted.table is not None:
        wanted_ones = TABLE_CVS if fitted.use_table else (2, 5, 6)
        rows = [(cv, value, why if cv in wanted_ones else f"{why}; idle while the other curve is chosen") for cv, value, why in rows]
    return rows


def _start_why(fitted: Fitted, value: int) -> str:
    if fitted.wanted.held:
        return "feedback does the starting"
    step = max(fitted.wanted.line.first_step, 1)
    return f"step {step} just moves off ({_volts(value, fitted)} at step 1)"


def _middle_why(fitted: Fitted, value: int) -> str:
    if not value:
        return "0 = not used: one straight line comes nearest"
    return f"the pair of straight lines that comes nearest ({_volts(value, fitted)})"


def _top_why(fitted: Fitted, value: int) -> str:
    wanted = fitted.wanted
    if wanted.speed > wanted.response.top:
        return "all there is does not reach the wanted speed"
    step = wanted.line.at_step
    if step < cvs.SPEED_STEPS:
        return f"with CV6, step {step} runs at the wanted speed"
    return f"step {step} runs at the wanted speed ({_volts(value, fitted)})"


def _volts(value: int, fitted: Fitted) -> str:
    return quantity(float(cvs.drive_volts(value, fitted.wanted.bus)), "V")


def _trim_rows(fitted: Fitted, abilities: Abilities) -> list[tuple[int, int, str]]:
    if not abilities.can("trims"):
        return []
    trims = fitted.wanted.trims
    if trims.differ and fitted.table is not None:
        why = ("timed runs: forward is the faster", "timed runs: reverse is the faster")
        return [
            (66, trims.forward, why[0] if trims.forward < cvs.UNITY_TRIM else "as it is"),
            (95, trims.reverse, why[1] if trims.reverse < cvs.UNITY_TRIM else "as it is"),
        ]
    why_none = "both directions run alike, as far as the timing tells" if trims.timed else "no trim: not timed both ways yet"
    return [(66, cvs.UNITY_TRIM, why_none), (95, cvs.UNITY_TRIM, why_none)]


def _cut_off_rows(fitted: Fitted, abilities: Abilities) -> list[tuple[int, int, str]]:
    """CV10 for the curve worked out, which asks for no more than there is where the decoder lets it."""
    if not abilities.can("feedback_cut_off") or not fitted.wanted.held or fitted.chosen is None:
        return []
    full = fitted.wanted.response.level_for(fitted.wanted.response.top)
    step = saturation_step(fitted.chosen.level, float(full) + 1.0)
    if step is None:
        return [(10, NEVER, "this curve asks for no more than there is: no cut-off needed")]
    return [(10, max(step - 1, 1), f"from step {step} on there is no more to give")]


def _judge_reach(fitted: Fitted, ledger: Ledger) -> None:
    wanted = fitted.wanted
    if wanted.speed > wanted.response.top * (1 + 1e-9):
        ledger.judge(
            "wanted speed",
            "note",
            f"Even with full drive (CV5 at {cvs.FULL_DRIVE}) it stays at {plain(100 * wanted.response.top / wanted.speed, 2)} % of the "
            "wanted speed with the stated train; the curve is worked out for what there is.",
        )
    elif float(wanted.response.speed_at(wanted.least)) > wanted.speed:
        ledger.judge("wanted speed", "caution", "The slowest it moves off with is faster than the wanted speed: only gears help.")


def _show(fitted: Fitted, ledger: Ledger) -> None:
    wanted = fitted.wanted
    if fitted.points is not None and 5 in fitted.points.values:
        value = fitted.points.values[5]
        ledger.work(
            "Decoder settings",
            "mean volts that CV5 asks for",
            "V = V_b × CV5 / 255",
            f"{plain(wanted.bus)} × {value} / {cvs.FULL_DRIVE}",
            float(cvs.drive_volts(value, wanted.bus)),
            "V",
            "NMRA S-9.2.2",
        )
    ledger.work(
        "Decoder settings",
        "time to stop from the top step that CV4 is chosen for",
        "t = v / a × 126 / step",
        f"{plain(wanted.line.speed)} × {MPH} / {BRAKING} × {cvs.SPEED_STEPS} / {wanted.line.at_step}",
        stopping_time(wanted.line.speed, wanted.line.at_step),
        "s",
        "braking at full size: common practice",
    )


# Momentum


def _rates(fitted: Fitted | None, abilities: Abilities) -> tuple[int, int] | None:
    if fitted is None or not abilities.can("momentum"):
        return None
    return recommended_rates(fitted.wanted.line.speed, fitted.wanted.line.at_step)


def _momentum(
    figures: Figures,
    solved: Solved,
    fitted: Fitted | None,
    rates: tuple[int, int] | None,
    abilities: Abilities,
    values: Values,
) -> list[MomentumRow]:
    speed, rows = _as_set(figures, solved), []
    if not speed or solved.ratio is None:
        return []
    adjustments = (values.get(23, 0), values.get(24, 0))
    if 3 in values and 4 in values and not abilities.cannot("momentum"):
        rows.append(momentum_row("as set", (values[3], values[4]), adjustments, speed, solved.ratio))
    if rates is not None and fitted is not None:
        if fitted.chosen is not None:
            speed = [float(value) for value in fitted.wanted.response.speed_at(fitted.chosen.level)]
        rows.append(momentum_row("recommended", rates, adjustments, speed, solved.ratio))
    return rows


# Pulses


def _pulse_rows(solved: Solved, abilities: Abilities, values: Values) -> list[tuple[int, int, str]]:
    source = solved.source
    if not abilities.can("pulse_period") or source is None:
        return []
    value = cvs.pwm_value(1 / source.frequency)
    reached = 1 / cvs.pwm_period(value)
    why = f"pulses of {_hertz(reached)}"
    if max(reached, source.frequency) > OFF_BY * min(reached, source.frequency):
        why += f": the standard's formula ends there, {_hertz(source.frequency)} is reckoned with here"
    if 9 in values and values[9] != value:
        why += f"; as set it means {_hertz(1 / cvs.pwm_period(values[9]))}"
    return [(9, value, why)]


def _hertz(frequency: float) -> str:
    return engineering(frequency, "Hz")


# Address and configuration


def _address(
    record: models.Record, abilities: Abilities, values: Values, ledger: Ledger
) -> tuple[AddressFigures | None, bool | None]:
    """Return the address, and whether CV29 is to call it long; None where that is unknown."""
    long_as_set = bool(values.get(29, 0) & 32) and 192 <= values.get(17, 0) <= 231 and 18 in values
    address = record.address
    if address is None and long_as_set:
        address = cvs.long_address(values[17], values[18]) or None
    elif address is None:
        address = values.get(1) or None
    if address is None:
        ledger.lack("address", "decoder.address")
        return None, None
    long = address > SHORT_LIMIT or (record.address is None and long_as_set)
    if long and abilities.cannot("long_address"):
        ledger.judge(
            "address",
            "caution",
            f"Address {address} needs a long address, which this decoder lacks: choose one up to {SHORT_LIMIT}.",
        )
    return AddressFigures(address=address, kind="long" if long else "short", text=_address_text(address, long)), long


def _address_text(address: int, long: bool) -> str:
    if not long:
        return f"Short address {address}: CV1 = {address}."
    high, low = cvs.long_address_cvs(address)
    return (
        f"Long address {address} = {high - 192} × 256 + {low}: CV17 = 192 + {high - 192} = {high}, CV18 = {low}. "
        "Write CV17 first, then CV18; they take effect together."
    )


def _address_rows(address: AddressFigures | None, long: bool | None, abilities: Abilities) -> list[tuple[int, int, str]]:
    if address is None:
        return []
    if not long:
        return [(1, address["address"], "short address")]
    if not abilities.can("long_address"):
        return []
    high, low = cvs.long_address_cvs(address["address"])
    return [(17, high, f"192 + {high - 192}; write before CV18"), (18, low, f"{address['address']} less {high - 192} × 256")]


def _configuration(fitted: Fitted | None, long: bool | None, abilities: Abilities, values: Values) -> int:
    """CV29: steps, curve and address as worked out, the other choices as the record has set them."""
    present = values.get(29, 0)
    table, called_long = bool(present & 16), bool(present & 32)
    if abilities.cannot("speed_table"):
        table = False
    elif fitted is not None and abilities.can("speed_table"):
        table = fitted.use_table
    if abilities.cannot("long_address"):
        called_long = False
    elif long is not None and abilities.can("long_address"):
        called_long = long
    return cvs.configuration_value(
        reversed_direction=bool(present & 1),
        other_power=bool(present & 4),
        bidirectional=bool(present & 8),
        speed_table=table,
        long_address=called_long,
    )


def configuration_sum(value: int) -> str:
    """Return CV29 as a written sum: "2 + 4 = 6: 28 or 128 steps (2), other power source allowed (4)"."""
    terms = [(weight, meaning) for weight, meaning in cvs.configuration_terms(value) if weight]
    if value & cvs.RESERVED_BIT:
        terms.append((cvs.RESERVED_BIT, "reserved by the standard"))
    if not terms:
        return "0: " + ", ".join(meaning for _, meaning in cvs.configuration_terms(value))
    total = " + ".join(str(weight) for weight, _ in terms)
    return f"{total}{f' = {value}' if len(terms) > 1 else ''}: " + ", ".join(f"{meaning} ({weight})" for weight, meaning in terms)


def _configuration_figures(value: int, values: Values) -> ConfigurationFigures:
    present = values.get(29)
    return ConfigurationFigures(
        value=value,
        text=configuration_sum(value),
        as_set=present,
        as_set_text=None if present is None else configuration_sum(present),
    )


# What the standard leaves open


def _remarks(advised: Iterable[Advised], values: Values, long: bool | None, address: AddressFigures | None) -> list[str]:
    found = []
    cut_off = next((row["value"] for row in advised if row["cv"] == 10), values.get(10))
    if cut_off is not None and 1 <= cut_off < cvs.SPEED_STEPS:
        of_28, of_14 = cvs.feedback_cut_off_step(cut_off, 28), cvs.feedback_cut_off_step(cut_off, 14)
        found.append(
            f"CV10 = {cut_off} counts steps of the 128-step mode. The standard gives no formula for the others; with the low bits "
            f"dropped it is about step {of_28} of 28 and {of_14} of 14. Try on the track."
        )
    if 65 in values:
        found.append("CV65, kick start: the standard gives no formula. Try on the track.")
    own = [cv for cv in sorted(values) if 47 <= cv <= 64 or cv >= 112]
    if own:
        found.append(f"{', '.join(f'CV{cv}' for cv in own)}: the standard gives no meaning; only the decoder's leaflet does.")
    if long and address is not None and address["address"] <= SHORT_LIMIT:
        found.append("A long address below 128 is allowed, but many command stations refuse it.")
    return found


def _acknowledge(current: float | None) -> list[str]:
    """Whether the motor can answer on the programming track, at the volts of the layout."""
    if current is None or current >= cvs.ACKNOWLEDGE_CURRENT:
        return []
    return [
        f"On the programming track the decoder answers by a pulse of at least {engineering(cvs.ACKNOWLEDGE_CURRENT, 'A', 2)} through the "
        f"motor; this one draws no more than {engineering(current, 'A', 2)}. Reading back may fail though writing works."
    ]
