"""The outcome in a glance: a value, a level word and one plain sentence for each thing a builder asks first."""

from __future__ import annotations

from collections.abc import Sequence

from buildsheets.figures.format import (
    Cost,
    DecoderFigures,
    DropperFigures,
    Glance,
    HighestVolts,
    Level,
    Speed,
    Start,
    Verdict,
)
from buildsheets.figures.heating import hottest_part
from buildsheets.figures.ledger import Ledger
from buildsheets.numerals import UNKNOWN, band, in_speed_unit, money, quantity, speed_band
from buildsheets.numerals import number as plain
from buildsheets.numerals import speed as one_speed
from buildsheets.physics.scales import nem_661_allowance

CLOSE = 1.1
"""Share of the prototype's top speed up to which it is called close; common practice."""
TOO_LITTLE = "The record does not say enough to work it out."
NO_RATING = "Give the rating of the parts to work it out."
VISIBLE_CREEP = 0.1
"""Scale speed from which a creep is seen as motion [mph]; below it is a twitch. Common practice."""
LEVELS: tuple[Level, ...] = ("ok", "note", "caution", "stop")


def judge_top_speed(top: float | None, prototype: float | None, ratio: float | None, ledger: Ledger) -> None:
    """Judge the top speed against the prototype's and what NEM 661 allows above it."""
    if prototype is None:
        ledger.lack("prototype.top_speed", "head.prototype_top_mph")
        return
    if top is None or ratio is None:
        return
    share = top / prototype
    allowed = allowed_share(ratio)
    if share > max(1.5, allowed):
        level: Level = "caution"
        words = "far above the prototype's: cap the throttle, gear down or drop the volts"
    elif share > allowed:
        level = "note"
        words = f"above the {plain(100 * (allowed - 1), 2)} % over the prototype that NEM 661 allows at this size"
    elif share < 0.9:
        level, words = "note", "below the prototype's"
    elif share > CLOSE:
        level, words = "ok", f"within the {plain(100 * (allowed - 1), 2)} % that NEM 661 allows at this size"
    else:
        level, words = "ok", "close to the prototype's"
    ledger.judge(
        "top speed", level, f"Top speed is {plain(share, 2)} times the prototype's {plain(prototype) + ' mph'}, {words}."
    )


def allowed_share(ratio: float) -> float:
    """Return how many times the prototype's speed NEM 661 lets a model of this ratio run."""
    return 1 + float(nem_661_allowance(ratio))


def glance(
    speed: Speed | None,
    start: Start,
    dropper: DropperFigures | None,
    decoder: DecoderFigures,
    mesh_ratio: float | None,
    spur_stages: bool,
    cost: Cost,
    bench_time: float | None,
    highest: HighestVolts | None,
    verdicts: Sequence[Verdict],
) -> list[Glance]:
    """Return the lines in the order a builder asks; a drive of worms alone has no contact ratio to judge."""
    lines = [
        _line("top_speed", "Top scale speed", _both_units(speed), "top speed", verdicts, TOO_LITTLE),
        _line("first_step", "First running step", _step(start), "start", verdicts, TOO_LITTLE),
    ]
    if dropper is not None:
        lines.append(
            _line("heat", "Dropper heat", _heat(dropper), "dropper heat", verdicts, NO_RATING)
        )
    if _about(verdicts, "winding"):
        lines.append(_line("winding", "Motor winding", _winding(verdicts), "winding", verdicts, ""))
    lines += [
        _line(
            "decoder",
            "Decoder against a stall",
            _margin(decoder),
            "decoder",
            verdicts,
            TOO_LITTLE if decoder["locked_rotor_current_a"] is None else "Give the decoder's ratings to compare.",
        ),
    ]
    if spur_stages:
        mesh = UNKNOWN if mesh_ratio is None else plain(mesh_ratio) if mesh_ratio > 0 else "no contact"
        lines.append(_line("mesh", "Contact ratio", mesh, "mesh", verdicts, "Give the module to judge the mesh."))
    if highest is not None:
        lines.append(_highest(highest))
    lines.append(_cost(cost))
    lines.append(
        Glance(
            id="bench_time",
            label="Time on the bench",
            value=quantity(bench_time, "h", 2),
            level="note" if bench_time is None else "ok",
            sentence="As the builder noted it." if bench_time is not None else "Not noted.",
        )
    )
    return lines


def _cost(cost: Cost) -> Glance:
    unpriced, lines = cost["unpriced"], cost["priced"] + cost["unpriced"]
    words = "All lines are priced." if not unpriced else f"{unpriced} of {lines} lines have no price."
    return Glance(
        id="cost",
        label="Cost",
        value=money(cost["total"], cost["currency"]),
        level="note" if unpriced or not lines else "ok",
        sentence=words if lines else "No parts are listed yet.",
    )


def _about(verdicts: Sequence[Verdict], subject: str) -> list[Verdict]:
    found = [verdict for verdict in verdicts if verdict["subject"] == subject]
    return sorted(found, key=lambda verdict: -LEVELS.index(verdict["level"]))


def _line(id_: str, label: str, value: str, subject: str, verdicts: Sequence[Verdict], otherwise: str) -> Glance:
    """The gravest verdict on a subject speaks for it."""
    about = _about(verdicts, subject)
    level: Level = about[0]["level"] if about else "note"
    return Glance(id=id_, label=label, value=value, level=level, sentence=about[0]["message"] if about else otherwise)


def _both_units(speed: Speed | None) -> str:
    """The band where there is one: a single figure would claim more than is known."""
    if speed is None or speed["top_scale_mph"] is None:
        return UNKNOWN
    top, ends = speed["top_scale_mph"], speed["top_scale_mph_band"]
    if ends is None:
        return f"{one_speed(top)} ({one_speed(top, 'km/h')})"
    return f"{speed_band(ends)} ({speed_band(ends, 'km/h')})"


def _step(start: Start) -> str:
    if start["start_step"] is None:
        return UNKNOWN
    words = f"{_steps(start)} of 126"
    if start["creep_from_step"] is None or start["creep_scale_mph"] is None:
        return words
    word = "creeps" if start["creep_scale_mph"] >= VISIBLE_CREEP else "twitches"
    return f"{words}, {word} from {start['creep_from_step']}"


def _steps(start: Start) -> str:
    ends = start["start_step_band"]
    if ends is None or ends[0] is None:
        return str(start["start_step"])
    low = f"{ends[0]:.0f}"
    if ends[1] is None:
        return f"{low} or later"
    return low if ends[0] == ends[1] else f"{low} to {ends[1]:.0f}"


def _heat(dropper: DropperFigures) -> str:
    ends = dropper["temperature_band_c"]
    return quantity(hottest_part(dropper), "°C") if ends is None else band(ends, "°C")


def _margin(decoder: DecoderFigures) -> str:
    margin, ends = decoder["peak_margin"], decoder["peak_margin_band"]
    if margin is None:
        margin, ends = decoder["continuous_margin"], decoder["continuous_margin_band"]
    return UNKNOWN if margin is None else f"{plain(margin, 2) if ends is None else band(ends, '')} × the demand"


def _winding(verdicts: Sequence[Verdict]) -> str:
    return {"ok": "cool enough", "note": "warm", "caution": "hot", "stop": "too hot"}[
        _about(verdicts, "winding")[0]["level"]
    ]


def _highest(highest: HighestVolts) -> Glance:
    top, hot, current = highest["top_scale_mph"], highest["resistor_temperature_c"], highest["locked_rotor_current_a"]
    parts = [f"top speed {one_speed(top)}"] if top is not None else []
    parts += [f"dropper {quantity(hot, '°C')}"] if hot is not None else []
    parts += [f"{quantity(current, 'A', 2)} with the shaft held"] if current is not None else []
    return Glance(
        id="highest_volts",
        label="At the highest track volts",
        value=quantity(highest["track_v"], "V"),
        level="note",
        sentence=f"There: {', '.join(parts)}." if parts else "Not worked out.",
    )


def kmh(mph: float | None) -> float | None:
    """Return a speed in km/h."""
    return None if mph is None else in_speed_unit(mph, "km/h")
