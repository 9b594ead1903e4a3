"""The decoder of a build: margins against a stalled motor, CVs as set, and what it lacks."""

from __future__ import annotations

from buildsheets.figures.chain import Series
from buildsheets.figures.drive import Source
from buildsheets.figures.format import AdvisedError, DecoderFigures, Setting
from buildsheets.figures.ledger import Ledger
from buildsheets.figures.motor import WorkingMotor
from buildsheets.numerals import number as plain
from buildsheets.physics.cvs import standard_cv
from buildsheets.physics.diodes import pair_voltage
from buildsheets.physics.dropper import margin
from buildsheets.physics.pwm import periodic_current
from buildsheets.records import models

LACKS = {
    "start_voltage": "No start volts (CV2): the lowest steps do less; a lighter running mechanism is the only remedy.",
    "top_voltage": "No top volts (CV5): gearing, a dropper or a cap at the command station must hold the top speed.",
    "middle_voltage": "No middle volts (CV6): the curve between start and top is a straight line.",
    "speed_table": "No speed table (CV67 to 94): the three-point curve, if it has one, must do.",
    "momentum": "No acceleration and braking rates (CV3, CV4): the throttle hand does it.",
    "feedback": "No back-EMF feedback: it slows on the grade; gearing and a flywheel help.",
    "feedback_cut_off": "No feedback cut-off (CV10): feedback is on at all steps or at none.",
    "pulse_period": "No pulse period (CV9): the maker's frequency stands.",
    "long_address": "No long address (CV17, CV18): addresses 1 to 127 only.",
    "trims": "No trims (CV66, CV95): forward and reverse cannot be matched.",
}


def decoder_figures(
    record: models.Record, motor: WorkingMotor | None, source: Source | None, series: Series | None, ledger: Ledger
) -> DecoderFigures:
    """Work out what the decoder must bear and list its settings; `advice.advise` fills in what is worked out for them."""
    decoder = record.decoder
    locked = bare = None
    if motor is not None and source is not None and series is not None:
        locked = locked_rotor_current(motor, source, series)
        bare = source.top_voltage / motor.resistance
        ledger.work(
            "Decoder",
            "current with the shaft held, full on",
            "I_stall = (V_b − V_d) / (R + R_s)",
            _stall_numbers(motor, source, series, locked),
            locked,
            "A",
            "Ohm's law",
        )
    return DecoderFigures(
        name=(decoder.name or decoder.stock) if decoder else None,
        abilities=_abilities(decoder),
        fixed_curve=bool(decoder and decoder.curve),
        locked_rotor_current_a=locked,
        locked_rotor_current_without_dropper_a=bare,
        continuous_margin=_margin(decoder, "continuous_current", locked, ledger),
        peak_margin=_margin(decoder, "peak_current", locked, ledger),
        locked_rotor_current_band_a=None,
        continuous_margin_band=None,
        peak_margin_band=None,
        settings=[_setting(setting) for setting in record.decoder_settings],
        lacks=_lacks(decoder),
        instead=[],
        silent=[],
        advised=[],
        advised_error_mph=AdvisedError(three_point=None, table=None),
        curve=None,
        light_response=None,
        configuration=None,
        address=None,
        momentum=[],
        remarks=[],
    )


def _stall_numbers(motor: WorkingMotor, source: Source, series: Series, current: float) -> str:
    drop = series.pairs * float(pair_voltage(current, series.card)) if series.pairs else 0.0
    return f"({plain(source.top_voltage)} − {plain(drop)}) / ({plain(motor.resistance)} + {plain(series.resistance)})"


def locked_rotor_current(motor: WorkingMotor, source: Source, series: Series) -> float:
    """Current with the shaft held and the bridge full on, winding cold [A]."""
    wave = periodic_current(
        1.0,
        source.top_voltage,
        0.0,
        motor.resistance + series.resistance,
        motor.inductance,
        source.frequency,
        source.off_mode,
        source.freewheel_drop,
        series.pairs,
        series.card,
    )
    return float(wave.mean_current)


def judge_decoder(figures: DecoderFigures, ledger: Ledger) -> None:
    """Judge the margins: peak decides whether a stall destroys, continuous whether it must be short."""
    peak, lasting = figures["peak_margin"], figures["continuous_margin"]
    known = peak if peak is not None else lasting
    if known is None or figures["locked_rotor_current_a"] is None:
        return
    current = f"{plain(figures['locked_rotor_current_a'], 2)} A with the shaft held"
    if known < 1:
        ledger.judge("decoder", "stop", f"{current}: more than the decoder's rating. A stall can destroy it.")
    elif lasting is not None and lasting < 1:
        ledger.judge(
            "decoder", "caution", f"{current}: the decoder bears it only for a moment. Cut power at once if it sticks."
        )
    else:
        ledger.judge("decoder", "ok", f"{current}: within the decoder's rating.")


def _margin(decoder: models.Decoder | None, name: str, demand: float | None, ledger: Ledger) -> float | None:
    rating = getattr(decoder, name) if decoder else None
    if decoder is not None and rating is None:
        margin_key = f"decoder.{name.removesuffix('_current')}_margin"
        ledger.lack(f"decoder.{name}", margin_key, f"{margin_key}_band")
    return float(margin(rating.value, demand)) if rating is not None and demand else None


def _setting(setting: models.CvSetting) -> Setting:
    standard = standard_cv(setting.cv) if setting.page is None else None
    return Setting(
        cv=setting.cv,
        name=standard.name if standard else "not in the standard: see the decoder's leaflet",
        value=setting.value,
        page=setting.page,
        why=setting.why or "",
    )


def _abilities(decoder: models.Decoder | None) -> dict[str, bool]:
    stated = decoder.abilities if decoder and decoder.abilities else models.Abilities()
    return {name: bool(able) for name in LACKS if (able := getattr(stated, name)) is not None}


def _lacks(decoder: models.Decoder | None) -> list[str]:
    if decoder is None or decoder.abilities is None:
        return []
    return [text for name, text in LACKS.items() if getattr(decoder.abilities, name) is False]
