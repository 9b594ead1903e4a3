"""The decoder settings in rows and sentences: worked out beside what the record has set."""

from __future__ import annotations

from dataclasses import dataclass

from buildsheets.figures.format import CurveAdvice, DecoderFigures, FittedCurve, Instead
from buildsheets.numerals import engineering, number, quantity, speed

TABLE = range(67, 95)
"""CVs of the speed table (NMRA S-9.2.2)."""
NONE = "–"
LACK_WORDS = {
    "start_voltage": "start volts (CV2)",
    "top_voltage": "top volts (CV5)",
    "middle_voltage": "middle volts (CV6)",
    "speed_table": "speed table",
    "feedback": "feedback",
    "feedback_cut_off": "feedback cut-off (CV10)",
    "pulse_period": "pulse period (CV9)",
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
        worked = "see 7.1" if curve["chosen"] else "not needed"
        why = "the three-point curve is not close enough" if curve["chosen"] else "the three-point curve is close enough"
    as_set = "set" if numbers & set(TABLE) & {row["cv"] for row in decoder["settings"]} else NONE
    return SettingRow("67 to 94", None, "Speed table", worked, as_set, why, "")


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
    shape = "an even rise" if advice["kind"] == "straight" else "a rise with slow low steps, a third of it at half the steps,"
    held = "held by feedback" if advice["feedback"] == "on" else "feedback off"
    words = [
        f"Wanted: {shape} from {speed(advice['first_mph'], unit)} at step {advice['from_step']}, the slowest it moves off with, to "
        f"{speed(advice['reached_mph'], unit)} at step {advice['at_step']}; the stated train on the level, warm, {held}."
    ]
    if not advice["full_drive_reaches"]:
        words.append(f"The record wants {speed(advice['wanted_mph'], unit)}; even full drive does not give it.")
    words += _choice(advice["fitted"], unit)
    return words


def _choice(fitted: list[FittedCurve], unit: str) -> list[str]:
    if not fitted:
        return ["The decoder has no curve that can be set, or the record does not say so."]
    distances = [f"{_name(curve)} stays within {speed(curve['error_mph'], unit)} of that" for curve in fitted]
    words = _sentence_case(", ".join(distances)) + "."
    chosen = next(curve for curve in fitted if curve["chosen"])
    if len(fitted) > 1:
        words += f" Use {_name(chosen)}: bit 4 of CV29 is {'on' if chosen['kind'] == 'table' else 'off'}."
    return [words]


def _sentence_case(text: str) -> str:
    return text[:1].upper() + text[1:]


def _name(curve: FittedCurve) -> str:
    return "the speed table" if curve["kind"] == "table" else "the three-point curve"


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
    return [InsteadRow(LACK_WORDS.get(way["lacks"], way["lacks"]), way["instead"], way["text"], _costs(way, unit)) for way in decoder["instead"]]


def _costs(way: Instead, unit: str) -> str:
    parts = []
    if way["start_step"] is not None:
        parts.append(f"starts at step {way['start_step']}")
    if way["heat_w"] is not None:
        parts.append(f"{engineering(way['heat_w'], 'W', 2)} of heat" if way["heat_w"] else "no heat")
    if way["speed_drop_share"]:
        parts.append(f"the train takes {number(100 * way['speed_drop_share'], 2)} % of the light engine\u2019s speed")
    if way["error_mph"] is not None:
        parts.append(f"off the wanted curve by up to {speed(way['error_mph'], unit)}")
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
            "as in the record" if row["name"] == "as set" else row["name"],
            f"{row['cv3']} and {row['cv4']}",
            _run(row["start_s"], row["start_true_m"], row["start_full_size_m"]),
            _run(row["stop_s"], row["stop_true_m"], row["stop_full_size_m"]),
        )
        for row in decoder["momentum"]
    ]


def _run(seconds: float, true: float, full_size: float) -> str:
    return f"{quantity(seconds, 's', 2)}, {quantity(true, 'm', 2)} on the layout, {quantity(full_size, 'm', 2)} at full size"
