"""What a calculation leaves behind beside its numbers: assumptions, gaps, judgements and the written working."""

from __future__ import annotations

from collections.abc import Callable

from buildsheets.figures.format import Assumed, Level, Missing, Verdict, WorkingLine
from buildsheets.numerals import unbroken

HOW_TO_FIND = {
    "model.driving_wheel": "Measure over the tread with a calliper, or roll ten turns along a rule and divide by ten times pi.",
    "model.scale": "Name the scale, or give the true ratio as `ratio: 1:76.2`.",
    "model.mass": "Weigh the whole locomotive on kitchen scales.",
    "gear_train.stages": "Count the teeth of every wheel from motor to axle, or turn the motor by hand and count its turns for ten of the axle.",
    "motor": "Take volts, current and speed of the motor alone, and its winding resistance.",
    "motor.no_load_speed": "Run the motor alone at its nominal volts and take its speed with a tachometer or a video.",
    "motor.no_load_current": "Run the motor alone at its nominal volts with a meter in series.",
    "motor.winding_resistance": "Ohm-meter on the motor's tags, mean of twelve positions of the rotor, leads taken off.",
    "motor.nominal_voltage": "Write down the volts the speed and current were taken at.",
    "supply.track": "Bridge rectifier and DC meter across the rails; add two diode drops to the reading.",
    "supply.direct_current": "DC meter across the rails at full throttle with the locomotive running.",
    "dropper.resistor.rating": "Read the rating from the bag, or measure the body and compare with the series' sizes.",
    "dropper.resistor.resistance": "Read the colour bands, or ohm-meter across one part with power off.",
    "decoder": "Name the decoder, and give from its leaflet its ratings, its pulses and what can be set.",
    "decoder.continuous_current": "Look up the motor rating in the leaflet of the decoder.",
    "decoder.peak_current": "Look up the short-time rating in the leaflet of the decoder.",
    "prototype.top_speed": "Look up the top speed in service of the full-size locomotive.",
    "supply.highest": "Ask what the highest track volts of the layouts are that it may visit.",
    "gear_train.stages.module": "Measure the tip diameter and divide it by teeth plus two.",
    "model.live_frame": "Ohm-meter between the frame and the wheels of one side, then of the other, power off and decoder out.",
    "model.driven_mass": "Weigh the locomotive with only its driven wheels on the pan, the others on blocks of the same height.",
    "train.grade": "Lay a spirit level along the steepest climb and measure rise over length, such as `grade: 1 in 60`.",
    "train.curve_radius": "Lay a straight edge of known length across the inside of the sharpest curve and measure the gap in its middle: "
    "the radius is the length squared over eight times the gap.",
    "train.rolling_resistance": "Tilt a plank until a pushed vehicle keeps rolling: rise over length is the resistance.",
    "lamps.led.forward_voltage": "Feed the LED through 1 kilohm from a 9 V battery and measure the volts across it.",
    "lamps.current": "Choose it on the bench: start at a milliamp and stop where it looks right in a dim room.",
    "lamps.resistor": "Read the colour bands of the resistor fitted.",
    "lamps.join": "Join the LEDs in parallel, each with a resistor of its own, so that the volts suffice.",
    "sound": "Write down the speakers: ohms, watts, how many and how they are joined.",
    "sound.speaker.impedance": "Read it from the back of the speaker; an ohm-meter shows a tenth or two less.",
    "sound.speaker.power": "Read it from the back of the speaker or its leaflet.",
    "decoder.amplifier_power": "Look up the power of the sound output in the leaflet of the decoder.",
    "decoder.least_speaker_impedance": "Look up the least speaker impedance in the leaflet of the decoder.",
    "stay_alive.capacitor.capacitance": "Read it from the part or its leaflet.",
    "stay_alive.capacitor.rated_voltage": "Read it from the part or its leaflet; for a string, the sum.",
    "stay_alive.charging_resistor": "Read the colour bands of the resistor in the charging lead.",
    "stay_alive.least_voltage": "Lower the volts of a bench supply until the decoder gives up.",
    "space.cavity": "Measure length, width and height of the clear room inside the body with a calliper.",
    "space.parts": "Write down the outer size of each part that must go inside; where it sits is worked out.",
    "readings": "Time a run of a few metres at full step, light engine, feedback off, and write it under `readings`; then motor "
    "volts and amps at the same step.",
    "supply.pickup_drop": "Meter from rail to the decoder's input wire on the same side, running; both sides added.",
    "decoder.internal_drop": "Volts on the rails less volts at the decoder's motor leads, both rectified, at the top step with a light load.",
    "decoder.freewheel_drop": "Look up whether the bridge has silicon or Schottky diodes; a meter's diode test across a spare one shows it.",
    "decoder.pulse_class": "Listen: a buzz at low steps is about 100 Hz, silence about 20 kHz. The leaflet says more.",
    "decoder.pulse_frequency": "Look it up in the leaflet, or count pulses on an oscilloscope at the motor's tags.",
    "motor.stall_current": "Measure the winding resistance instead, mean of twelve positions of the rotor; it replaces the stall current.",
    "motor.emf_constant": "Drive the shaft with another motor at a known speed and read the volts at the open tags.",
    "motor.driven_emf.speed": "Take the speed of the driven shaft again, over a longer time.",
    "motor.driven_emf.voltage": "Read the volts at the open tags again, with a meter of good leaflet.",
    "motor.bench.voltage": "Take the volts of the motor alone at its tags again, with a meter of good leaflet.",
    "motor.bench.current": "Take the current of the motor alone again, after a minute's run, as the mean of both directions.",
    "motor.bench.speed": "Take the speed of the motor alone again, by tachometer or over a longer video.",
    "motor.inductance": "Bridge or LCR meter at 1 kHz on the motor's tags, mean of several positions of the rotor.",
    "motor.thermal_resistance": "Run it warm, read the winding's resistance at once: 0.4 % more for each kelvin; divide by the watts lost.",
    "mechanism.road_current": "Measure the current on a rolling road, warm, both ways, at a middling speed.",
    "mechanism.motor_alone_current": "Measure the current of the motor out of the works at the speed it had on the rolling road.",
    "mechanism.drag_torque": "Measure the current on a rolling road; what it takes beyond the motor alone is drag.",
    "mechanism.start_voltage": "Raise smooth direct current at the motor's tags slowly until the works move; mean of ten tries.",
    "gear_train.efficiency": "Spring balance at the coupling against the motor's current: pull × wheel radius / ratio, over torque above idle.",
    "gear_train.stages.efficiency": "Measure the efficiency of the whole train instead: spring balance at the coupling against the motor's current.",
    "gear_train.stages.friction": "Measure the efficiency of the whole train instead: spring balance at the coupling against the motor's current.",
    "gear_train.stages.worm_diameter": "Calliper over the worm's threads, less two modules.",
    "dropper.resistor.thermal_resistance": "Load one resistor with a known power and read its temperature over the air's.",
    "dropper.diodes.diode.thermal_resistance": "Look it up in the leaflet, for the lead length used.",
    "surroundings.room": "Read a thermometer where it runs.",
    "surroundings.shell_resistance": "Thermometer inside the body after half an hour's run: rise over the room, divided by the watts taken.",
    "train.vehicle_mass": "Weigh some vehicles and take the mean.",
    "parts.unit_price": "Write the price of one beside each line of the parts list.",
    "currency": "Name the currency by its three letters, such as `currency: EUR`.",
    "target.speed": "Choose the scale speed it should reach, such as the line's limit.",
    "decoder.abilities": "Look up in the decoder's leaflet which CVs it has.",
    "address": "Choose the number it is called by, often its running number.",
    "prototype.type": "Say what drives the full-size locomotive: steam, diesel, electric or railcar.",
    "prototype.cylinders": "Count the cylinders of the full-size locomotive.",
}
"""How a builder finds each value of the record. Common practice; details in the manual."""


Text = str | Callable[[], str]
"""Words, or what makes them: a ledger that drops them, as for one sample of many, saves the time."""


def _words(text: Text) -> str:
    return text if isinstance(text, str) else text()


NOTHING_WANTING = "none"
"""Name of an entry for a figure that is empty by rights; not a key of the record."""


class Ledger:
    """Collects, in order, what the sheet must own up to."""

    def __init__(self) -> None:
        self.assumed: list[Assumed] = []
        self.missing: list[Missing] = []
        self.verdicts: list[Verdict] = []
        self.working: list[WorkingLine] = []

    def assume(self, name: str, label: str, value: float, unit: str, why: Text, basis: str = "common practice") -> float:
        """Note a default and return it, so that it stands where it is used."""
        if all(entry["name"] != name for entry in self.assumed):
            reason = unbroken(_words(why))
            self.assumed.append(Assumed(name=name, label=label, value=value, unit=unit, why=reason, basis=basis))
        return value

    def assume_word(self, name: str, label: str, value: str, why: str, basis: str = "common practice") -> str:
        """Note a default that is a word and return it."""
        if all(entry["name"] != name for entry in self.assumed):
            self.assumed.append(Assumed(name=name, label=label, value=value, unit="", why=why, basis=basis))
        return value

    def lack(self, name: str, *needed_for: str) -> None:
        """Note that a value of the record is missing and which figures wait for it."""
        for entry in self.missing:
            if entry["name"] == name:
                entry["needed_for"].extend(key for key in needed_for if key not in entry["needed_for"])
                return
        self.missing.append(Missing(name=name, needed_for=list(needed_for), how_to_measure=HOW_TO_FIND[name]))

    def explain(self, key: str, why: str) -> None:
        """Note that a figure stays empty by rights: no measurement would fill it."""
        self.missing.append(Missing(name=NOTHING_WANTING, needed_for=[key], how_to_measure=why))

    def judge(self, subject: str, level: Level, message: Text) -> None:
        """Note a judgement."""
        self.verdicts.append(Verdict(subject=subject, level=level, message=unbroken(_words(message))))

    def work(
        self, section: str, name: str, formula: str, numbers: Text, result: float | None, unit: str, source: str
    ) -> None:
        """Note one formula with its numbers, once, for whoever wants to redo it with a pocket calculator."""
        line = WorkingLine(
            section=section, name=name, formula=formula, numbers=unbroken(_words(numbers)), result=result, unit=unit, source=source
        )
        if line not in self.working:
            self.working.append(line)


class Assumptions(Ledger):
    """Keeps what was assumed and no more."""

    def judge(self, subject: str, level: Level, message: Text) -> None:
        """Drop it."""

    def lack(self, name: str, *needed_for: str) -> None:
        """Drop it."""

    def explain(self, key: str, why: str) -> None:
        """Drop it."""

    def work(
        self, section: str, name: str, formula: str, numbers: Text, result: float | None, unit: str, source: str
    ) -> None:
        """Drop it."""


class Scratch(Assumptions):
    """Keeps nothing: for a variant that only lends its numbers."""

    def assume(self, name: str, label: str, value: float, unit: str, why: Text, basis: str = "common practice") -> float:
        """Return the default."""
        return value

    def assume_word(self, name: str, label: str, value: str, why: str, basis: str = "common practice") -> str:
        """Return the default."""
        return value
