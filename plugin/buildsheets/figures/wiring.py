"""Who is joined to whom: every wire of a build with its colour, its ends and what to mind."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from buildsheets.figures.format import (
    LampFigures,
    Suppression,
    Wire,
    WiringDropper,
    WiringFigures,
    WiringLamp,
    WiringSpeakers,
    WiringStore,
)
from buildsheets.figures.ledger import Ledger
from buildsheets.numerals import unbroken
from buildsheets.physics.parts import bank_resistance
from buildsheets.records import models

RED, BLACK, ORANGE, GREY, BLUE = "red", "black", "orange", "grey", "blue"
"""Right rail, left rail, motor + and − when forward, common + of the outputs (NMRA S-9.1.1 as quoted; NEM 652 opened)."""
BY_LEAFLET = "by leaflet"
"""In place of a colour where no standard gives one: makers differ."""
OUTPUT_COLOURS = {"front": "white", "rear": "yellow", "output 1": "green", "output 2": "violet"}
"""Negative side of the function outputs (NEM 652, opened; violet from memory)."""
PINS = {
    "NEM 652": {RED: 8, BLACK: 4, ORANGE: 1, GREY: 5, "white": 6, "yellow": 2, BLUE: 7, "green": 3},
    "NEM 651": {RED: 3, BLACK: 4, ORANGE: 1, GREY: 2, "white": 5, "yellow": 6},
}
"""Pins of the plugs (NEM 652, NEM 651, opened)."""

RIGHT, LEFT = "right-rail pick-ups", "left-rail pick-ups"
RAILS = {"right rail": "right", "left rail": "left", "neither": "neither"}
FRAMES = {
    "right": "The frame is live to the right rail.",
    "left": "The frame is live to the left rail.",
    "neither": "The frame is live to neither rail.",
    None: "Which rail the frame is live to is not written down: find it with a meter before anything is joined.",
}
INSULATED = "Both brushes, and every wire to them, stay insulated from the frame."
INSULATED_ON_DC = "The brush that is not on the frame’s own rail stays insulated from the frame; insulate both if a decoder may follow."
WIRE_SOURCES = (
    "NMRA S-9.1.1 and NEM 652 (wire colours; violet from memory)",
    "NEM 651, NEM 652 (pins)",
    "common practice (insulation, suppression parts, stay-alive)",
)


def wiring_figures(record: models.Record, lamps: Sequence[LampFigures], ledger: Ledger) -> WiringFigures:
    """Return how a build is wired.

    Parameters
    ----------
    record : Record
        The build.
    lamps : sequence of LampFigures
        Its lamp circuits as worked out; they say which resistor to take where none is fitted yet.
    ledger : Ledger
        Takes note of what the record lacks.
    """
    on_dc = _on_dc(record)
    live = RAILS.get(record.model.live_frame) if record.model and record.model.live_frame else None
    if live is None:
        ledger.lack("model.live_frame", "wiring.live_rail")
    circuits = [_lamp(lamp, found, on_dc) for lamp, found in zip(record.lamps, lamps, strict=True)]
    for place, circuit in enumerate(circuits):
        if circuit["resistor_ohm"] is None:
            ledger.lack("lamps.resistor", f"wiring.lamps.{place}.resistor_ohm")
    return WiringFigures(
        kind="direct current" if on_dc else "decoder",
        decoder=record.decoder.name if record.decoder else None,
        plug=record.decoder.plug if record.decoder else None,
        pickups=_pickups(record),
        frame=FRAMES[live],
        live_rail=live,
        insulation=INSULATED_ON_DC if on_dc else INSULATED,
        dropper=_dropper(record.dropper),
        lamps=circuits,
        speakers=None if on_dc else _speakers(record),
        store=None if on_dc else _store(record),
        suppression=_suppression(on_dc),
        wires=[
            *_pick_up_wires(record, live),
            *_motor_wires(record),
            *(wire for circuit in circuits for wire in _lamp_wires(record, circuit)),
            *_speaker_wires(record),
            *_store_wires(record),
        ],
        sources=list(WIRE_SOURCES),
    )


def _on_dc(record: models.Record) -> bool:
    """Whether it runs on direct current; a decoder that is not yet named is one all the same."""
    return record.decoder is None and record.supply is not None and record.supply.direct_current is not None


def _pickups(record: models.Record) -> str:
    where = record.model.pickups if record.model else None
    return {None: "", "both": "loco and tender"}.get(where, where or "")


def _dropper(dropper: models.Dropper | None) -> WiringDropper | None:
    if dropper is None:
        return None
    each = dropper.resistor.resistance if dropper.resistor else None
    diodes = dropper.diodes
    return WiringDropper(
        text=dropper_words(dropper),
        resistance_ohm=float(bank_resistance(each.value, dropper.parallel, dropper.in_series)) if each else None,
        resistors=dropper.parallel * dropper.in_series if dropper.resistor else 0,
        diode_pairs=diodes.pairs if diodes else 0,
        bypass_ohm=diodes.bypass.value if diodes and diodes.bypass else None,
    )


def dropper_words(dropper: models.Dropper) -> str:
    """Return what the dropper consists of, in a few words.

    Parameters
    ----------
    dropper : Dropper
        Of the record.
    """
    words = []
    if dropper.resistor is not None:
        value = dropper.resistor.resistance.text if dropper.resistor.resistance else "resistor, value not known"
        if dropper.parallel > 1:
            words.append(f"{dropper.parallel} × {value} side by side")
        elif dropper.in_series == 1:
            words.append(value)
        if dropper.in_series > 1:
            group = "such groups" if dropper.parallel > 1 else f"× {value}"
            words.append(f"{dropper.in_series} {group} one after another")
    if dropper.diodes is not None:
        pairs = dropper.diodes.pairs
        words.append(f"{pairs} anti-parallel diode pair{'s' if pairs > 1 else ''}")
    return unbroken(", ".join(words))


def _lamp(lamp: models.Lamp, found: LampFigures, on_dc: bool) -> WiringLamp:
    colour = OUTPUT_COLOURS.get(lamp.output or "", BY_LEAFLET)
    return WiringLamp(
        name=lamp.name,
        wire_colour=BLACK if on_dc else colour,
        leds=lamp.count,
        join=lamp.join,
        led_colour=lamp.led.colour if lamp.led else None,
        resistor_ohm=lamp.resistor.value if lamp.resistor else found["nearest_e24_ohm"],
        fitted=lamp.resistor is not None,
    )


def _speakers(record: models.Record) -> WiringSpeakers | None:
    if record.sound is None:
        return None
    impedance = record.sound.speaker.impedance
    return WiringSpeakers(
        count=record.sound.count, join=record.sound.join, impedance_ohm=impedance.value if impedance else None
    )


def _store(record: models.Record) -> WiringStore | None:
    given = record.stay_alive
    if given is None:
        return None
    rated = given.capacitor.rated_voltage
    return WiringStore(
        charging_ohm=given.charging_resistor.value if given.charging_resistor else None,
        rated_voltage_v=rated.value if rated else None,
    )


def _suppression(on_dc: bool) -> list[Suppression]:
    if on_dc:
        return [
            Suppression(
                part="capacitors and chokes at the motor",
                fate="stays",
                why="They keep the brushes’ sparks out of radio and television; take care that no lead touches the frame.",
            )
        ]
    return [
        Suppression(
            part="capacitor across the motor’s tags", fate="comes off", why="It loads every pulse and blurs what feedback reads."
        ),
        Suppression(
            part="capacitor from a tag to the frame", fate="comes off", why="It joins the motor’s output to a rail through the frame."
        ),
        Suppression(
            part="chokes in the motor leads",
            fate="comes off",
            why="They round the pulses; a few leaflets want them left in, and then the leaflet wins.",
        ),
    ]


def _wire(record: models.Record, start: str, end: str, colour: str, name: str, note: str = "") -> Wire:
    return {
        "from": start,
        "to": end,
        "wire_colour": colour,
        "name": name,
        "pin": _pin(record, colour) if "decoder" in (start, end) else None,
        "note": unbroken(note),
    }


def _pin(record: models.Record, colour: str) -> int | None:
    plug = record.decoder.plug if record.decoder else None
    found = next((pins for name, pins in PINS.items() if plug and plug.startswith(name)), {})
    return found.get(colour)


def _first(record: models.Record) -> str:
    """Return what the motor's + wire comes to first."""
    return "dropper" if record.dropper else "motor, tag that is + forward"


def _pick_up_wires(record: models.Record, live: str | None) -> Iterator[Wire]:
    if _on_dc(record):
        return
    for rail, colour, wheels in (("right", RED, RIGHT), ("left", BLACK, LEFT)):
        note = f"The frame is this side: a tag on bare metal, under a screw, joins {colour} to it." if live == rail else ""
        yield _wire(record, wheels, "decoder", colour, f"{rail} rail", note)


def _motor_wires(record: models.Record) -> Iterator[Wire]:
    on_dc = _on_dc(record)
    plus, minus = (RED, BLACK) if on_dc else (ORANGE, GREY)
    clear = "" if on_dc else "Brush insulated from the frame."
    yield _wire(
        record, RIGHT if on_dc else "decoder", _first(record), plus, "right rail" if on_dc else "motor +",
        "" if record.dropper else clear or "Plus on the right rail is forward.",
    )
    if record.dropper:
        yield _wire(
            record, "dropper", "motor, tag that is + forward", plus, "motor + behind the dropper",
            f"{clear} Joints sleeved; the bodies stay bare, they must shed heat.".strip(),
        )
    yield _wire(
        record, LEFT if on_dc else "decoder", "motor, other tag", minus, "left rail" if on_dc else "motor −",
        f"{clear} Runs backwards: change the two motor wires over.".strip(),
    )


def _lamp_wires(record: models.Record, lamp: WiringLamp) -> Iterator[Wire]:
    each = lamp["leds"] > 1 and lamp["join"] == "parallel"
    last = "last LED" if lamp["leds"] > 1 and not each else "every LED" if each else "LED"
    first = "first LED" if lamp["leds"] > 1 and not each else "every LED" if each else "LED"
    own = "its own resistor" if each else "resistor"
    if _on_dc(record):
        yield _wire(record, RIGHT, f"{lamp['name']}: {own}, then anode of {first}", RED, lamp["name"])
        yield _wire(
            record, f"{lamp['name']}: cathode of {last}", LEFT, lamp["wire_colour"], f"{lamp['name']} −",
            "Lights with plus on the right rail only; a diode the other way round across it keeps reverse volts off.",
        )
        return
    note = "Cathode: the short lead, the flat of the rim."
    if lamp["wire_colour"] == BY_LEAFLET:
        note += " Which wire it is, the decoder’s leaflet says."
    yield _wire(record, "decoder", f"{lamp['name']}: cathode of {last}", lamp["wire_colour"], f"{lamp['name']} −", note)
    blue = "No pin of this plug: the decoder’s solder pad." if _no_blue(record) else ""
    yield _wire(record, "decoder", f"{lamp['name']}: {own}, then anode of {first}", BLUE, f"{lamp['name']} +", blue)


def _no_blue(record: models.Record) -> bool:
    return bool(record.decoder and record.decoder.plug and record.decoder.plug.startswith("NEM 651"))


def _speaker_wires(record: models.Record) -> Iterator[Wire]:
    if record.sound is None or _on_dc(record):
        return
    for number in (1, 2):
        note = "Neither wire may touch frame, rail or blue: the amplifier is destroyed." if number == 1 else ""
        if number == 2 and record.sound.count > 1:
            note = f"The speakers are in {record.sound.join}; + to the same side of each, else they cancel."
        yield _wire(record, "decoder", "loudspeaker", BY_LEAFLET, f"loudspeaker {number}", note)


def _store_wires(record: models.Record) -> Iterator[Wire]:
    if record.stay_alive is None or _on_dc(record):
        return
    yield _wire(
        record, "decoder", "charge store +, through the charging resistor", BLUE, "charge store +",
        "A diode across the resistor, its bar to blue, lets the charge back; many stores have both inside. "
        "Unplugged for service mode.",
    )
    yield _wire(
        record, "decoder", "charge store −", BY_LEAFLET, "charge store −",
        "To the decoder’s own ground pad, never to a rail, the frame or a function wire.",
    )
