"""Ways in a member's words: what each is called, and what speaks for and against it."""

from __future__ import annotations

from buildsheets.figures.format import Level
from buildsheets.figures.ways.candidates import Way
from buildsheets.figures.ways.goal import Goal
from buildsheets.figures.ways.judge import NEAR_ENOUGH
from buildsheets.figures.ways.rank import Scored
from buildsheets.numerals import number as plain
from buildsheets.numerals import quantity
from buildsheets.physics.cvs import SPEED_STEPS

WARM = 0.75
"""Share of what a part bears from which a way is called hot; as the sheet's caution."""
TOUCH = 60.0
"""Temperature from which a part is called hot to the touch [degC]; common practice."""
SOFT = 0.15
"""Share of the speed that a train may take before it is worth a word; common practice."""

FOR = {
    "CV5": "Nothing to open: CV5 spreads the wanted range over all steps",
    "cap": "Nothing to do but tell the driver",
    "track": "Nothing to do to the loco",
    "resistors": "Slows the top and spares the decoder",
    "diodes": "Drops nearly the same under any load, so the train slows it little",
    "bridge": "One small part with its + and − leads joined does the work of two diode pairs, and the train slows it little",
    "no dropper": "Takes a source of heat out of the body",
    "as it is": "A remedy for good, with no part left to run hot",
}
REST = {
    "CV5": "CV5 does the rest",
    "resistors": "the resistors do the rest",
    "as it is": "nothing else need be done",
    "no dropper": "needs no dropper",
}
AGAINST = {
    "track": "every other loco, lamp and sound on the layout gets the lower volts too",
    "resistors": "costs pull where pull is wanted",
    "diodes": "the speed comes in jumps of one pair",
    "bridge": "the speed comes in jumps of two pairs",
}


def name_of(way: Way) -> str:
    """Return what a way is called; "as built" for the build."""
    if way.knob == "built":
        return "as built"
    base = way.base
    parts = [base.motor.name] if base.motor else []
    parts += [base.decoder.name] if base.decoder else []
    parts += [f"{base.pinion.teeth}-tooth pinion"] if base.pinion.changed else []
    return " + ".join([*parts, _knob(way)] if _knob(way) else parts)


def _knob(way: Way) -> str:
    if way.knob == "CV5":
        return f"CV5 at {way.cv5}" + (f", CV6 at {way.cv6}" if way.cv6 is not None else "")
    if way.knob == "cap":
        return f"the throttle no further than step {way.cap}"
    if way.knob == "track":
        return f"{quantity(way.track, 'V')} on the track"
    return "" if way.knob == "as it is" else dropper_text(way)


def dropper_text(way: Way) -> str:
    """Return the dropper of a way in words, with a resistor across it where there is one."""
    dropper, series = way.record.dropper, way.inputs.series
    if dropper is None:
        return "no dropper"
    text = series.text
    if dropper.resistor is None and dropper.diodes is not None and way.knob == "bridge":
        count = dropper.diodes.pairs // 2
        text = f"{count} bridge {'rectifier' if count == 1 else 'rectifiers'} as a dropper"
    if dropper.diodes is not None and dropper.diodes.bypass is not None:
        text += f", {dropper.diodes.bypass.text} across"
    return text


def why_of(entry: Scored, goal: Goal) -> str:
    """Return one plain sentence for and against a way; for the build, whether it can stay."""
    if entry.way.knob == "built":
        return _built(entry, goal)
    good, bad = _good(entry.way), _bad(entry, goal)
    return f"{good}; {_listed(bad)}." if bad else f"{good}."


def level_of(entry: Scored, goal: Goal) -> Level:
    """Return how far a way can be taken without a second thought."""
    if entry.rejected in ("off the target", "haulage", "slips too late", "feedback blind"):
        return "caution"
    if entry.rejected is not None:
        return "stop"
    pinion = entry.way.base.pinion
    if entry.outcome.heat.worst_share > WARM or (pinion.changed and pinion.stage and pinion.stage["level"] == "caution"):
        return "caution"
    return "note" if _bad(entry, goal) else "ok"


def _listed(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])}, and {words[-1]}"


def _built(entry: Scored, goal: Goal) -> str:
    off = entry.outcome.mph - goal.mph
    if entry.rejected == "mesh":
        return "It cannot stay: its gears do not carry the drive over from tooth to tooth."
    if abs(off) > NEAR_ENOUGH * goal.mph:
        side = "faster" if off > 0 else "slower"
        return f"As it stands it runs {quantity(abs(off), 'mph', 2)} {side} than wanted."
    if entry.rejected is not None:
        return f"It runs as fast as wanted, but fails by {entry.rejected}."
    bad = _bad(entry, goal)
    return f"It meets the target and can stay{'; ' + _listed(bad) if bad else ''}."


def _good(way: Way) -> str:
    base = way.base
    good = FOR[way.knob]
    if base.motor is not None:
        good = f"The motor brings it near the speed and {REST[way.knob]}"
    elif base.decoder is not None:
        good = "It can set its top volts, which the present decoder is not known to do"
    elif base.pinion.changed and way.knob != "as it is":
        good += ", and the pinion is on hand"
    return good


def _bad(entry: Scored, goal: Goal) -> list[str]:
    way, found = entry.way, entry.outcome
    bad = [AGAINST[way.knob]] if way.knob in AGAINST else []
    if way.cap is not None:
        bad.append(f"{SPEED_STEPS - way.cap} of {SPEED_STEPS} steps stay unused and a guest will not know")
    if found.start_step is not None and found.start_step > goal.start_step:
        bad.append(f"it first runs at step {found.start_step}")
    if found.drop > SOFT:
        bad.append(f"the train takes {plain(100 * found.drop, 2)} % of its speed")
    bad += _warm(entry)
    if way.base.pinion.changed and way.base.pinion.stage and way.base.pinion.stage["level"] == "caution":
        bad.append("check the mesh by hand for tight spots and noise")
    if way.base.motor is not None:
        bad.append("a new mount must be made")
    return bad


def _warm(entry: Scored) -> list[str]:
    heat = entry.outcome.heat
    bad = []
    if heat.hottest is not None and heat.hottest > TOUCH:
        bad.append(f"the dropper reaches {quantity(heat.hottest, '°C', 2)}")
    if heat.winding_share > WARM:
        bad.append(f"the winding reaches {quantity(heat.winding, '°C', 3)}")
    if heat.stall is not None and heat.stall > STALLED_HOT:
        bad.append(f"cut the power at once if it sticks, or it heads for {quantity(heat.stall, '°C', 2)}")
    return bad


STALLED_HOT = 155.0
"""Where a film resistor's derating line ends [degC]; IEC 60115, the usual part."""
