"""The outcome in a glance: a value, a level word and one plain sentence for each thing a builder asks first."""

from __future__ import annotations

from collections.abc import Sequence

from buildsheets.figures.format import Cost, DecoderFigures, DropperFigures, Glance, HighestVolts, Level, Start, Verdict
from buildsheets.figures.heating import hottest_part
from buildsheets.figures.ledger import Ledger
from buildsheets.numerals import UNKNOWN, in_speed_unit, money, quantity, speed
from buildsheets.numerals import number as plain
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
    allowed = 1 + nem_661_allowance(ratio)
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
        "top speed", level, f"Top speed is {plain(share, 2)} times the prototype's {plain(prototype)} mph, {words}."
    )


def glance(
    top: float | None,
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
        _line("top_speed", "Top scale speed", _both_units(top), "top speed", verdicts, TOO_LITTLE),
        _line("first_step", "First running step", _step(start), "start", verdicts, TOO_LITTLE),
    ]
    if dropper is not None:
        lines.append(
            _line("heat", "Dropper heat", quantity(hottest_part(dropper), "°C"), "dropper heat", verdicts, NO_RATING)
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
        mesh = plain(mesh_ratio) if mesh_ratio is not None else UNKNOWN
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


def _both_units(mph: float | None) -> str:
    return UNKNOWN if mph is None else f"{speed(mph)} ({speed(mph, 'km/h')})"


def _step(start: Start) -> str:
    if start["start_step"] is None:
        return UNKNOWN
    if start["creep_from_step"] is None or start["creep_scale_mph"] is None:
        return f"{start['start_step']} of 126"
    word = "creeps" if start["creep_scale_mph"] >= VISIBLE_CREEP else "twitches"
    return f"{start['start_step']} of 126, {word} from {start['creep_from_step']}"


def _margin(decoder: DecoderFigures) -> str:
    margin = decoder["peak_margin"] if decoder["peak_margin"] is not None else decoder["continuous_margin"]
    return UNKNOWN if margin is None else f"{plain(margin, 2)} × the demand"


def _winding(verdicts: Sequence[Verdict]) -> str:
    return {"ok": "cool enough", "note": "warm", "caution": "hot", "stop": "too hot"}[
        _about(verdicts, "winding")[0]["level"]
    ]


def _highest(highest: HighestVolts) -> Glance:
    top, hot, current = highest["top_scale_mph"], highest["resistor_temperature_c"], highest["locked_rotor_current_a"]
    parts = [f"top speed {speed(top)}"] if top is not None else []
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
