"""What the decoder, or a DC controller, puts on the chain at each of the 126 steps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from buildsheets.figures.format import Drive
from buildsheets.figures.gaps import WITH_SPEED
from buildsheets.figures.ledger import Ledger
from buildsheets.numerals import number as plain
from buildsheets.physics.cvs import SPEED_STEPS, duty_curve
from buildsheets.physics.values import larger
from buildsheets.records import models

DECODER_DROP = 1.4
"""Rectifier and output stage together [V]; 0.6 to 1.8 V seen, common practice."""
PICKUP_DROP = 0.2
"""Rail to decoder [V], common practice."""
FREEWHEEL_DROP = 0.7
"""Silicon diode at some tens of milliamps [V], common practice."""
PULSE_FREQUENCY = {"low": 100.0, "high": 20_000.0}
"""Pulse classes [Hz], common practice."""

CURVE_CVS = {
    "start_voltage": (2,),
    "top_voltage": (5,),
    "middle_voltage": (6,),
    "speed_table": tuple(range(67, 95)),
    "trims": (66, 95),
}
"""CVs that shape the curve, by the ability they belong to (NMRA S-9.2.2)."""

OffMode = Literal["coast", "brake", "open"]


@dataclass(frozen=True)
class Source:
    """Voltage source of the chain over the steps."""

    kind: str
    duty: NDArray[np.float64]
    bus_voltage: NDArray[np.float64]
    frequency: float
    off_mode: OffMode
    freewheel_drop: float
    internal_drop: float

    @property
    def top_voltage(self) -> float:
        """Highest voltage of the on phase [V]."""
        return float(self.bus_voltage.max())

    def figures(self) -> Drive:
        """Return the part of the figures that describes the source."""
        pulsed = self.kind == "decoder"
        return Drive(
            kind=self.kind,
            bus_voltage_v=self.top_voltage,
            pwm_frequency_hz=self.frequency if pulsed else None,
            off_mode=self.off_mode if pulsed else None,
        )


def source(
    decoder: models.Decoder | None,
    supply: models.Supply | None,
    settings: Sequence[models.CvSetting],
    ledger: Ledger,
    *,
    track: float | None = None,
) -> Source | None:
    """Work out the source; None when the track volts are not known. `track` [V] replaces the record's."""
    if decoder is None and supply is not None and supply.direct_current is not None:
        return _direct_current(supply.direct_current.value if track is None else track)
    volts = track if track is not None else (supply.track.value if supply and supply.track else None)
    if volts is None:
        ledger.lack("supply.track", "drive", *WITH_SPEED)
        return None
    return _pulsed(decoder or models.Decoder.model_construct(), supply, settings, volts, ledger)


def _direct_current(volts: float) -> Source:
    share = np.arange(1, SPEED_STEPS + 1) / SPEED_STEPS
    return Source("direct current", np.ones(SPEED_STEPS), volts * share, 1.0, "brake", 0.0, 0.0)


def _pulsed(
    decoder: models.Decoder,
    supply: models.Supply | None,
    settings: Sequence[models.CvSetting],
    volts: float,
    ledger: Ledger,
) -> Source:
    drop = (
        decoder.internal_drop.value
        if decoder.internal_drop
        else ledger.assume(
            "decoder.internal_drop", "drop in the decoder", DECODER_DROP, "V", "rectifier and output stage together"
        )
    )
    pickup = (
        supply.pickup_drop.value
        if supply and supply.pickup_drop
        else ledger.assume("supply.pickup_drop", "drop at the pick-ups", PICKUP_DROP, "V", "clean wheels and rails")
    )
    bus = volts - drop - pickup
    ledger.work(
        "Supply",
        "volts at the decoder's output when on",
        "V_b = V_track − V_decoder − V_pick-up",
        lambda: f"{plain(volts)} − {plain(drop)} − {plain(pickup)}",
        bus,
        "V",
        "definition",
    )
    duty = decoder_curve(decoder, _effective(decoder, settings, ledger))
    return Source(
        "decoder",
        duty,
        np.ones(SPEED_STEPS) * larger(bus, 0.0),
        _frequency(decoder, ledger),
        _off_mode(decoder, ledger),
        decoder.freewheel_drop.value
        if decoder.freewheel_drop
        else ledger.assume(
            "decoder.freewheel_drop", "drop of the freewheel diode", FREEWHEEL_DROP, "V", "silicon diode"
        ),
        drop,
    )


def _effective(
    decoder: models.Decoder, settings: Sequence[models.CvSetting], ledger: Ledger
) -> list[models.CvSetting]:
    """Leave out what this decoder is known not to have, and say so."""
    abilities = decoder.abilities
    lacking = {cv for name, cvs in CURVE_CVS.items() if abilities and getattr(abilities, name) is False for cv in cvs}
    idle = [setting.cv for setting in settings if setting.cv in lacking and setting.page is None]
    if idle:
        numbers = ", ".join(f"CV{cv}" for cv in idle)
        ledger.judge(
            "decoder settings", "caution", f"{numbers}: set in the record, but this decoder does not have it; left out here."
        )
    return [setting for setting in settings if setting.cv not in lacking]


def decoder_curve(decoder: models.Decoder, settings: Sequence[models.CvSetting]) -> NDArray[np.float64]:
    """On-time fraction at steps 1 to 126, forward, from the CVs as set or the maker's fixed curve."""
    values = {setting.cv: setting.value for setting in settings if setting.page is None}
    table = [values[cv] for cv in range(67, 95) if cv in values]
    if len(table) == 28 and values.get(29, 16) & 16:
        return _curve(table=tuple(table), forward_trim=values.get(66), reverse_trim=values.get(95))
    if decoder.curve:
        return _curve(points=tuple((point.step, point.share.value) for point in decoder.curve))
    return _curve(values.get(2), values.get(6), values.get(5))


@lru_cache(maxsize=256)
def _curve(*values: Any, **named: Any) -> NDArray[np.float64]:
    """One curve for all variants of a build that are set alike; not to be written to."""
    curve = duty_curve(*values, **named)
    curve.flags.writeable = False
    return curve


def _frequency(decoder: models.Decoder, ledger: Ledger) -> float:
    if decoder.pulse_frequency:
        return decoder.pulse_frequency.value
    if decoder.pulse_class:
        return ledger.assume(
            "decoder.pulse_frequency",
            "pulse frequency",
            PULSE_FREQUENCY[decoder.pulse_class],
            "Hz",
            lambda: f"usual for the class {decoder.pulse_class}",
        )
    return ledger.assume(
        "decoder.pulse_class",
        "pulse frequency",
        PULSE_FREQUENCY["high"],
        "Hz",
        "no pulse class stated; low-frequency pulses would heat motor and dropper more",
    )


def _off_mode(decoder: models.Decoder, ledger: Ledger) -> OffMode:
    if decoder.off_mode:
        return decoder.off_mode
    ledger.assume_word("decoder.off_mode", "off mode", "coast", "the usual one where the leaflet is silent")
    return "coast"
