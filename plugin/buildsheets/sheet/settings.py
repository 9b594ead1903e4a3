"""The decoder settings in rows and sentences: worked out beside what the record has set."""

from __future__ import annotations

from dataclasses import dataclass

from buildsheets.figures.format import CurveAdvice, DecoderFigures, FittedCurve, Instead
from buildsheets.languages import _, noted, translated
from buildsheets.numerals import engineering, number, quantity, speed

TABLE = range(67, 95)
"""CVs of the speed table (NMRA S-9.2.2)."""
NONE = "–"
LACK_WORDS = {
    "start_voltage": noted("start volts (CV2)"),
    "top_voltage": noted("top volts (CV5)"),
    "middle_voltage": noted("middle volts (CV6)"),
    "speed_table": noted("speed table"),
    "feedback": noted("feedback"),
    "feedback_cut_off": noted("feedback cut-off (CV10)"),
    "pulse_period": noted("pulse period (CV9)"),
}


@dataclass(frozen=True)
class SettingRow:
    """One row of the table of settings, all words."""

    cv: str
    page: str | None
    name: str
    worked: str
    as_set: str
    why: str
    note: str  # the record's own reason


def setting_rows(decoder: DecoderFigures) -> list[SettingRow]:
    """Return the rows by number, paged CVs last; the speed table is one row that points to its chart.

    Parameters
    ----------
    decoder : DecoderFigures
        The decoder of one build.
    """
    advised = {row["cv"]: row for row in decoder["advised"]}
    kept = {row["cv"]: row for row in decoder["settings"] if row["page"] is None}
    rows = []
    for cv in sorted({*advised, *kept} - set(TABLE)):
        worked, own = advised.get(cv), kept.get(cv)
        name = worked["name"] if worked else own["name"] if own else ""
        rows.append(
            SettingRow(
                str(cv), None, name, str(worked["value"]) if worked else NONE, str(own["value"]) if own else NONE,
                worked["why"] if worked else "", own["why"] if own else "",
            )
        )
    table = _table_row(decoder, {*advised, *kept})
    if table is not None:
        rows.insert(sum(int(row.cv) < TABLE[0] for row in rows), table)
    paged = [row for row in decoder["settings"] if row["page"] is not None]
    rows += [SettingRow(str(row["cv"]), row["page"], row["name"], NONE, str(row["value"]), "", row["why"]) for row in paged]
    return rows


def _table_row(decoder: DecoderFigures, numbers: set[int]) -> SettingRow | None:
    if not numbers & set(TABLE):
        return None
    curve = next((c for c in decoder["curve"]["fitted"] if c["kind"] == "table"), None) if decoder["curve"] else None
    worked, why = NONE, ""
    if curve is not None:
        worked = _("see 7.1") if curve["chosen"] else _("not needed")
        why = _("the three-point curve is not close enough") if curve["chosen"] else _("the three-point curve is close enough")
    as_set = _("set") if numbers & set(TABLE) & {row["cv"] for row in decoder["settings"]} else NONE
    return SettingRow(_("67 to 94"), None, _("Speed table"), worked, as_set, why, "")


def curve_words(advice: CurveAdvice | None, unit: str) -> list[str]:
    """Return what was wanted, and which curve to use.

    Parameters
    ----------
    advice : CurveAdvice or None
        The wanted curve and the fits of one build.
    unit : str
        "mph" or "km/h".
    """
    if advice is None:
        return []
    shape = _("an even rise") if advice["kind"] == "straight" else _("a rise with slow low steps, a third of it at half the steps,")
    words = [
        _(
            "Wanted: {shape} from {first} at step {from_step}, the slowest it moves off with, to {reached} at step {at_step}; the "
            "stated train on the level, warm, {held}.",
            shape=shape,
            first=speed(advice["first_mph"], unit),
            from_step=advice["from_step"],
            reached=speed(advice["reached_mph"], unit),
            at_step=advice["at_step"],
            held=_("held by feedback") if advice["feedback"] == "on" else _("feedback off"),
        )
    ]
    if not advice["full_drive_reaches"]:
        words.append(_("The record wants {speed}; even full drive does not give it.", speed=speed(advice["wanted_mph"], unit)))
    words += _choice(advice["fitted"], unit)
    return words


def _choice(fitted: list[FittedCurve], unit: str) -> list[str]:
    if not fitted:
        return [_("The decoder has no curve that can be set, or the record does not say so.")]
    distances = [_("{curve} stays within {speed} of that", curve=_name(curve), speed=speed(curve["error_mph"], unit)) for curve in fitted]
    words = _sentence_case(", ".join(distances)) + "."
    chosen = next(curve for curve in fitted if curve["chosen"])
    if len(fitted) > 1:
        table = chosen["kind"] == "table"
        words += " " + (_("Use the speed table: bit 4 of CV29 is on.") if table else _("Use the three-point curve: bit 4 of CV29 is off."))
    return [words]


def _sentence_case(text: str) -> str:
    return text[:1].upper() + text[1:]


def _name(curve: FittedCurve) -> str:
    return _("the speed table") if curve["kind"] == "table" else _("the three-point curve")


@dataclass(frozen=True)
class InsteadRow:
    """One way to do without a CV, all words."""

    lacks: str
    instead: str
    text: str
    costs: str


def instead_rows(decoder: DecoderFigures, unit: str) -> list[InsteadRow]:
    """Return the ways to do without what the decoder lacks, with what they cost.

    Parameters
    ----------
    decoder : DecoderFigures
        The decoder of one build.
    unit : str
        "mph" or "km/h".
    """
    return [
        InsteadRow(translated(LACK_WORDS.get(way["lacks"], way["lacks"])), way["instead"], way["text"], _costs(way, unit))
        for way in decoder["instead"]
    ]


def _costs(way: Instead, unit: str) -> str:
    parts = []
    if way["start_step"] is not None:
        parts.append(_("starts at step {step}", step=way["start_step"]))
    if way["heat_w"] is not None:
        parts.append(_("{power} of heat", power=engineering(way["heat_w"], "W", 2)) if way["heat_w"] else _("no heat"))
    if way["speed_drop_share"]:
        parts.append(_("the train takes {taken} % of the light engine’s speed", taken=number(100 * way["speed_drop_share"], 2)))
    if way["error_mph"] is not None:
        parts.append(_("off the wanted curve by up to {speed}", speed=speed(way["error_mph"], unit)))
    return "; ".join(parts) or NONE


@dataclass(frozen=True)
class MomentumLine:
    """One row of the table of momentum, all words."""

    name: str
    cvs: str
    start: str
    stop: str


def momentum_lines(decoder: DecoderFigures) -> list[MomentumLine]:
    """Return the rows of the table of momentum.

    Parameters
    ----------
    decoder : DecoderFigures
        The decoder of one build.
    """
    return [
        MomentumLine(
            _("as in the record") if row["name"] == "as set" else _("recommended"),
            _("{cv3} and {cv4}", cv3=row["cv3"], cv4=row["cv4"]),
            _run(row["start_s"], row["start_true_m"], row["start_full_size_m"]),
            _run(row["stop_s"], row["stop_true_m"], row["stop_full_size_m"]),
        )
        for row in decoder["momentum"]
    ]


def _run(seconds: float, true: float, full_size: float) -> str:
    return _(
        "{time}, {layout} on the layout, {full_size} at full size",
        time=quantity(seconds, "s", 2),
        layout=quantity(true, "m", 2),
        full_size=quantity(full_size, "m", 2),
    )
