"""The order of work: steps that this build calls for, with the builder's own at their places.

The order is safe: nothing is powered before the check that guards it. Wording is our own and common practice.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass

from buildsheets.figures.format import StepFigures, StepGroup
from buildsheets.records import models
from buildsheets.records.models import Place, Route

TITLES = {
    Place.SURVEY: "Survey, before anything comes off",
    Place.DISMANTLING: "Dismantling",
    Place.MOTOR: "Motor",
    Place.GEARS: "Gears",
    Place.DROPPER: "Dropper",
    Place.WIRING: "Wiring, everything dead",
    Place.INSULATION: "Insulation, before any power",
    Place.PROGRAMMING: "Programming track",
    Place.FIRST_RUN: "First run",
    Place.RUNNING_IN: "Running in and measuring",
    Place.FINISHING: "Finishing",
}

When = Callable[[models.Record], bool]


@dataclass(frozen=True)
class Rule:
    """One step and what calls for it."""

    place: Place
    text: str
    when: When
    power: bool = False  # whether the locomotive or its motor is under power in this step


def _always(record: models.Record) -> bool:
    return True


def _decoder(record: models.Record) -> bool:
    return record.decoder is not None


def _direct(record: models.Record) -> bool:
    return record.decoder is None


def _route(*routes: Route) -> When:
    return lambda record: bool(set(routes) & set(record.route))


def _steam(record: models.Record) -> bool:
    return record.prototype is not None and record.prototype.type is models.Traction.STEAM


def _stages(record: models.Record) -> list[models.SpurStage | models.WormStage]:
    return list(record.gear_train.stages) if record.gear_train else []


def _worm(record: models.Record) -> bool:
    return any(isinstance(stage, models.WormStage) for stage in _stages(record))


def _spur(record: models.Record) -> bool:
    return any(isinstance(stage, models.SpurStage) for stage in _stages(record))


def _bank(record: models.Record) -> bool:
    return record.dropper is not None and record.dropper.resistor is not None


def _string(record: models.Record) -> bool:
    return record.dropper is not None and record.dropper.diodes is not None


def _stay_alive(record: models.Record) -> bool:
    return record.stay_alive is not None


def _lamps(record: models.Record) -> bool:
    return bool(record.lamps)


def _both(one: When, other: When) -> When:
    return lambda record: one(record) and other(record)


_new_motor = _route(Route.MOTOR_SWAP)
_new_gears = _route(Route.MOTOR_SWAP, Route.PINION_CHANGE, Route.REGEARING)
_hard_wired = _route(Route.HARD_WIRED_DECODER)
_plugged = _route(Route.PLUG_IN_DECODER)

RULES = (
    Rule(
        Place.SURVEY,
        "Run it as found, both ways, and write down the lowest volts or step that moves it, its current, and every noise.",
        lambda record: record.before is not None,
        power=True,
    ),
    Rule(
        Place.SURVEY,
        "Hold the wheels on half the volts for one second at most and read the current: about twice that is what the old "
        "motor takes stalled on full volts.",
        lambda record: record.before is not None and _new_motor(record),
        power=True,
    ),
    Rule(Place.SURVEY, "With power off, ohm-meter from each rail's wheels to the frame: note which side is live to it.", _decoder),
    Rule(
        Place.SURVEY,
        "Out of gear, push it along a level track and down a slight slope: it must roll freely, with no tight spot over a "
        "whole turn. Check back-to-back with a gauge.",
        _always,
    ),
    Rule(Place.SURVEY, "Look along the rods: all cranks of a side at the same angle, no rod under stress at any quarter.", _steam),
    Rule(Place.SURVEY, "Look at the worm and its wheel: worn flanks, dried grease, play along the shaft.", _worm),
    Rule(
        Place.SURVEY,
        "Measure shaft, pinion bore and the room for motor and parts before buying or filing anything.",
        _new_motor,
    ),
    Rule(
        Place.SURVEY,
        "Keep a way back: photograph every stage, bag and label what comes off, note which way round it sat.",
        _always,
    ),
    Rule(Place.DISMANTLING, "Off the rails, power off. Take the body off and lay the screws out in their order.", _always),
    Rule(
        Place.DISMANTLING,
        "Drain the charge store through a resistor before you touch the wiring; read zero with a meter.",
        _stay_alive,
    ),
    Rule(
        Place.DISMANTLING,
        "Unsolder the leads of the old motor and lift it out without bending the mount.",
        _new_motor,
    ),
    Rule(
        Place.DISMANTLING,
        "Take off capacitors and chokes across or beside the motor that would disturb the decoder's pulses, and keep them with the "
        "parts for the way back. Local rules on interference come first.",
        _decoder,
    ),
    Rule(
        Place.MOTOR,
        "Motor alone on the bench, free and held gently: run it both ways on smooth direct current for a minute, then take "
        "volts, amps and speed.",
        _new_motor,
        power=True,
    ),
    Rule(
        Place.MOTOR,
        "Draw the old pinion with a puller, never lever it. Press the new one with the far end of the shaft supported, so "
        "that no force goes through the can. Glasses on.",
        _new_gears,
    ),
    Rule(
        Place.MOTOR,
        "Fix the motor without strain. The shaft keeps a little end play, a tenth or two of a millimetre to be felt, not more.",
        _new_motor,
    ),
    Rule(
        Place.GEARS,
        "Set the mesh with a strip of thin paper between the teeth; take it out, and the wheel rocks just perceptibly at four "
        "places of one turn.",
        _both(_new_gears, _spur),
    ),
    Rule(
        Place.GEARS,
        "Set the worm over the middle of its wheel, feel the play at four places of one turn, and check the end play of the "
        "worm shaft both ways.",
        _both(_new_gears, _worm),
    ),
    Rule(
        Place.GEARS,
        "One small drop of plastic-safe oil on each bearing, a trace of grease on the teeth, nothing on commutator and "
        "brushes. Turn it by hand both ways.",
        _always,
    ),
    Rule(
        Place.DROPPER,
        "Join the resistors as section 5 draws it, with long leads; sleeve the leads, leave the bodies bare to the air.",
        _bank,
    ),
    Rule(
        Place.DROPPER,
        "Join the diodes as section 5 draws it, each pair in opposite directions; a meter's diode test shows the same drop "
        "both ways across the string, or nothing if the string is beyond its reach.",
        _string,
    ),
    Rule(
        Place.DROPPER,
        "Fix the dropper to metal or glass fibre where section 5 puts it, and measure the air to the nearest plastic.",
        lambda record: record.dropper is not None,
    ),
    Rule(
        Place.WIRING,
        "Lay the wires as listed in section 5, long enough to lift the body off, clear of gears and wheels. Leave the "
        "decoder's two motor leads off until the insulation check has passed.",
        _both(_decoder, _hard_wired),
    ),
    Rule(
        Place.WIRING,
        "Lead the socket's motor pins to the motor through the dropper, if there is one. The decoder stays out until the insulation "
        "check has passed.",
        _both(_decoder, _plugged),
    ),
    Rule(Place.WIRING, "Each lamp gets the resistor of section 7 in its lead; mind which lead of an LED is which.", _lamps),
    Rule(
        Place.WIRING,
        "Seal the loudspeaker into its box all round; its leads must not touch the frame.",
        lambda record: record.sound is not None,
    ),
    Rule(
        Place.WIRING,
        "Give the charge store a plug of its own: it has to come off for the programming track. Mind its polarity.",
        _stay_alive,
    ),
    Rule(
        Place.INSULATION,
        "Decoder out, body off: ohm-meter from either motor tag to each rail's wheels and to the frame, over a whole turn of "
        "the motor by hand. All open.",
        _decoder,
    ),
    Rule(Place.INSULATION, "From left rail's wheels to right rail's wheels: open. From each wheel to its pick-up lead: below one ohm.", _decoder),
    Rule(Place.INSULATION, "Squeeze the body on and take all of them again.", _decoder),
    Rule(
        Place.INSULATION,
        "From left rail's wheels to right rail's wheels the meter must show the motor, not a short; turn it by hand and look again.",
        _direct,
    ),
    Rule(
        Place.PROGRAMMING,
        "Only now join the decoder's motor leads, sleeved.",
        _both(_decoder, _hard_wired),
    ),
    Rule(Place.PROGRAMMING, "Only now plug the decoder in, pin 1 to its mark.", _both(_decoder, _plugged)),
    Rule(
        Place.PROGRAMMING,
        "On the programming track, charge store unplugged: read CV8 or CV1. No answer: look at pick-ups and plug before "
        "anything else.",
        _decoder,
        power=True,
    ),
    Rule(
        Place.PROGRAMMING,
        "Write the address, read it back, then the settings of section 7, a few at a time.",
        _decoder,
        power=True,
    ),
    Rule(
        Place.FIRST_RUN,
        "On the track, with a supply that trips at an amp or less: step 1, then up slowly. A hand on the switch; off at the "
        "first smell, jerk or stop.",
        _decoder,
        power=True,
    ),
    Rule(
        Place.FIRST_RUN,
        "On a bench supply limited to 0.3 A: from nothing up to 4 V, both ways, before it sees a track.",
        _direct,
        power=True,
    ),
    Rule(
        Place.FIRST_RUN,
        "Forward must be forward. If not, swap the motor leads (power off), or set the direction bit of CV29.",
        _decoder,
        power=True,
    ),
    Rule(Place.FIRST_RUN, "Lamps: right end, right direction, none too bright.", _lamps, power=True),
    Rule(
        Place.RUNNING_IN,
        "Half speed, light engine, about half an hour each way, feeling motor and works with the back of a finger; a "
        "drop of oil where it squeaks.",
        _always,
        power=True,
    ),
    Rule(
        Place.RUNNING_IN,
        "Feel for the dropper's heat near it, not on it, after one, five and ten minutes, then measure.",
        lambda record: record.dropper is not None,
        power=True,
    ),
    Rule(
        Place.RUNNING_IN,
        "Feedback off for the measurements, warm, level and straight: three timed runs each way at each step asked for; the "
        "mean goes into the record.",
        _decoder,
        power=True,
    ),
    Rule(
        Place.FINISHING,
        "Weigh it, and add ballast over the driven wheels until it balances between them; keep weight off bearings and wires.",
        _always,
    ),
    Rule(Place.FINISHING, "Body on, and once more the insulation check: a wire may have moved.", _decoder),
    Rule(
        Place.FINISHING,
        "Write every blank of this sheet into the record; the next builder starts where you stop.",
        _always,
    ),
)


def step_groups(record: models.Record, measured_at: Collection[str] = ()) -> list[StepGroup]:
    """Return the order of work: one group a place that has something to do, generated steps before the builder's own.

    `measured_at` names the places that have a hold point and therefore a group, even without a step.
    """
    groups = (_group(record, place) for place in Place)
    return [group for group in groups if group["steps"] or group["pictures"] or group["place"] in measured_at]


def _group(record: models.Record, place: Place) -> StepGroup:
    generated = [
        StepFigures(text=rule.text, own=False, power=rule.power)
        for rule in RULES
        if rule.place is place and rule.when(record)
    ]
    own = [StepFigures(text=step.do, own=True, power=False) for step in record.steps if step.at is place]
    pictures = [{"file": picture.file, "shows": picture.shows} for picture in record.pictures if picture.step is place]
    return StepGroup(place=place.value, title=TITLES[place], steps=generated + own, pictures=pictures)
