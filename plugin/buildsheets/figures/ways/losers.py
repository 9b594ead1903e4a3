"""Why the others lost: one line a class, each with what decides it."""

from __future__ import annotations

from buildsheets.figures.format import RejectedClass
from buildsheets.figures.ways.hardware import mesh_words, shaft_words
from buildsheets.figures.ways.judge import CLASSES, LEAST_TRACK
from buildsheets.figures.ways.rank import Scored
from buildsheets.figures.ways.search import Found
from buildsheets.figures.ways.words import name_of
from buildsheets.numerals import number as plain
from buildsheets.numerals import quantity, speed


def rejected_rows(found: Found, shown: list[Scored]) -> list[RejectedClass]:
    """Return the classes of losers that are not empty, in the order they are asked."""
    shown_ways = {id(entry.way) for entry in shown}
    groups: dict[str, list[Scored]] = {name: [] for name in CLASSES}
    for entry in found.scored:
        if entry.way.knob != "built" and id(entry.way) not in shown_ways:
            groups[entry.rejected or "beaten"].append(entry)
    rows = []
    for name in CLASSES:
        row = _row(name, sorted(groups[name], key=lambda entry: entry.order), found, shown)
        if row is not None:
            rows.append(row)
    return rows


def _row(name: str, entries: list[Scored], found: Found, shown: list[Scored]) -> RejectedClass | None:
    if name == "mesh":
        return _mesh(entries, found)
    if name == "motor does not fit":
        return _motors(found)
    if not entries:
        return None
    return RejectedClass({"class": name, "count": len(entries), "because": _because(name, entries, found, shown)})


def _mesh(entries: list[Scored], found: Found) -> RejectedClass | None:
    bad = [pinion for pinion in found.pinions if not pinion.meshes]
    if not found.later_stages:
        text = "A pair behind the first stage does not carry the drive; no way of slowing it cures that"
        return RejectedClass({"class": "mesh", "count": max(len(entries), 1), "because": text + "."})
    if not bad:
        return None
    return RejectedClass(
        {"class": "mesh", "count": len(bad), "because": _sentence("; ".join(mesh_words(pinion) for pinion in bad))}
    )


def _motors(found: Found) -> RejectedClass | None:
    out = dict(found.motors_out)
    meshing = [pinion for pinion in found.pinions if pinion.meshes] or found.pinions
    for motor in found.motors:
        if not any(motor.takes(pinion) for pinion in meshing):
            out[motor.name] = shaft_words(motor, meshing)
    if not out:
        return None
    reasons: dict[str, list[str]] = {}
    for name, why in out.items():
        reasons.setdefault(why, []).append(name)
    text = "; ".join(f"{_names(names)}: {why}" for why, names in reasons.items())
    return RejectedClass({"class": "motor does not fit", "count": len(out), "because": _sentence(text)})


def _names(names: list[str]) -> str:
    """Two by name, more by their number."""
    return " and ".join(names) if len(names) <= 2 else f"{names[0]} and {len(names) - 1} more"


def _beaten(entries: list[Scored], shown: list[Scored]) -> str:
    """The best of another kind than those shown; where there is none, what they are."""
    kinds = {entry.way.family for entry in shown}
    other = next((entry for entry in entries if entry.way.family not in kinds), None)
    if other is None:
        return "they would do, but each is a near relation of one shown and scores less"
    return f"they would do, but score less; the best of another kind is {name_of(other.way)}"


def _because(name: str, entries: list[Scored], found: Found, shown: list[Scored]) -> str:
    """The least bad of a class speaks for it."""
    best = entries[0]
    called, outcome, heat = name_of(best.way), best.outcome, best.outcome.heat
    words = {
        "track too low": lambda: f"it would take less than {quantity(LEAST_TRACK, 'V')} on the track, where lamps, sound and other "
        "locos suffer",
        "off the target": lambda: f"the nearest, {called}, runs {speed(outcome.mph, digits=3)} where "
        f"{speed(found.goal.mph, digits=3)} are wanted",
        "does not start": lambda: f"{called}: the motor never pulls the train away",
        "heat running": lambda: f"{called}, the coolest of them: the dropper reaches {quantity(heat.hottest, '°C')}"
        + ("" if heat.share is None else f", {plain(100 * heat.share, 2)} % of its rating"),
        "heat stalled": lambda: f"{called}, the best of them, gets {plain(heat.overload, 2)} times what a resistor bears for a few "
        "seconds when the loco sticks",
        "winding": lambda: f"{called}: the winding reaches {quantity(heat.winding, '°C')}, its limit is {quantity(heat.winding_limit, '°C')}",
        "decoder current": lambda: f"{called}: {quantity(outcome.locked_current, 'A', 2)} with the shaft held, more than the decoder bears",
        "feedback blind": lambda: f"{called}: the diodes hide the slow motor from the decoder’s feedback; a resistor across them cures it",
        "haulage": lambda: f"{called}: the motor stalls with the stated train{' on the grade' if found.goal.graded else ''}",
        "slips too late": lambda: f"{called}: it stalls before its wheels slip, and a stalled motor burns",
        "beaten": lambda: _beaten(entries, shown),
    }
    return _sentence(words[name]())


def _sentence(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}."
