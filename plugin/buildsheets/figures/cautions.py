"""Cautions that a build calls for by what it contains.

The wording is our own; the basis stands with each. Local law, local wiring rules and the instructions of parts come first.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from buildsheets.figures.format import Caution
from buildsheets.records import models
from buildsheets.records.models import Route


@dataclass(frozen=True)
class Rule:
    """One caution and what calls for it."""

    id: str
    shape: Literal["hazard", "do not"]
    title: str
    text: str
    because: str
    basis: str
    applies: Callable[[models.Record], bool]


def _soldering(record: models.Record) -> bool:
    wired = {Route.HARD_WIRED_DECODER, Route.DROPPER, Route.MOTOR_SWAP, Route.SOUND, Route.LAMPS, Route.STAY_ALIVE}
    return bool(wired & set(record.route))


def _hot_part(record: models.Record) -> bool:
    return record.dropper is not None


RULES = (
    Rule(
        "iron",
        "hazard",
        "Hot iron and fumes",
        "The tip is at 300 to 400 °C: stand, glasses, nothing that burns near it, off when you leave. Rosin smoke can cause "
        "asthma: draw it away from your face and air the room. Wash hands after solder that holds lead. Burns: cool running "
        "water at once.",
        "wires are soldered",
        "source opened for fumes; rest common practice",
        _soldering,
    ),
    Rule(
        "insulation",
        "do not",
        "Do not put power on before the insulation check",
        "Both motor tags must be open against both rails and the chassis, over a whole turn, body off and on. One missed "
        "brush strap destroys the decoder.",
        "a decoder drives the motor",
        "common practice",
        lambda record: record.decoder is not None,
    ),
    Rule(
        "track",
        "hazard",
        "Live track",
        "Low volts, but several amps: a short can melt a bogie or set wire insulation alight. Rings off, metal tools off the "
        "track, and test that the supply trips at the far end.",
        "it runs on powered track",
        "common practice",
        lambda record: record.supply is not None or record.decoder is not None,
    ),
    Rule(
        "dropper",
        "hazard",
        "The dropper gets hot",
        "Mount it on metal or glass fibre with air around it, leads long, never against plastic or wires. Let it cool before "
        "you touch it. Feel for heat after one, five and ten minutes of the first run.",
        "a dropper sits in series with the motor",
        "common practice",
        _hot_part,
    ),
    Rule(
        "stall",
        "do not",
        "Do not hold the motor stalled",
        "All the power turns to heat: one or two seconds at most, half a minute apart.",
        "the motor is tested at the bench",
        "common practice",
        lambda record: Route.MOTOR_SWAP in record.route,
    ),
    Rule(
        "magnets",
        "hazard",
        "Strong magnets",
        "Keep motors' magnets and loose ones from children and heart pacemakers; two swallowed magnets are an emergency. They "
        "shatter: glasses.",
        "the motor comes apart or is swapped",
        "common practice",
        lambda record: Route.MOTOR_SWAP in record.route,
    ),
    Rule(
        "charge",
        "hazard",
        "Stored charge",
        "The store keeps its charge after the loco is off the rails: drain it through a resistor before work, mind polarity, "
        "keep its rated volts above the rail peak.",
        "a stay-alive store is fitted",
        "common practice",
        lambda record: record.stay_alive is not None,
    ),
    Rule(
        "white-metal",
        "hazard",
        "White metal and low-melt solder",
        "Castings melt near 170 to 240 °C. Solder that melts at 70 °C holds lead and cadmium: never overheat or file it, its "
        "fume is poisonous.",
        "the shell is white metal",
        "source opened for the alloys; rest common practice",
        lambda record: bool(record.model and record.model.shell_material is models.Material.WHITE_METAL),
    ),
    Rule(
        "mains",
        "do not",
        "Do not open mains equipment",
        "Use a closed, tested supply. Opening, repairing or wiring mains equipment is work for a qualified person.",
        "a track supply is used",
        "common practice",
        lambda record: record.supply is not None or record.decoder is not None,
    ),
    Rule(
        "edges",
        "hazard",
        "Eyes and small parts",
        "Glasses when cutting wire, pressing gears or springs. Small parts are not for young children.",
        "small parts are cut and pressed",
        "common practice",
        lambda record: bool(record.route),
    ),
    Rule(
        "local",
        "do not",
        "Do not set this sheet above the rules",
        "Local law, local wiring rules and the instructions that came with the parts come first. If they and this sheet "
        "differ, follow them.",
        "every build",
        "common practice",
        lambda record: True,
    ),
)


def cautions(record: models.Record) -> list[Caution]:
    """Return the cautions this build calls for, the gravest work first."""
    return [
        Caution(id=rule.id, shape=rule.shape, title=rule.title, text=rule.text, because=rule.because, basis=rule.basis)
        for rule in RULES
        if rule.applies(record)
    ]
