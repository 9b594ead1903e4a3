"""Speakers on the sound output: what they join to, what each must take, and whether the amplifier bears them."""

from __future__ import annotations

from buildsheets.figures.format import SpeakerFigures
from buildsheets.figures.ledger import Ledger
from buildsheets.numerals import given, quantity
from buildsheets.numerals import number as plain
from buildsheets.physics.parts import bank_resistance
from buildsheets.records import models

NEAR = 1e-6
"""Share by which two marked values may differ and still count as equal: 4 ohm on a least of 4 ohm is no fault."""


def speaker_figures(record: models.Record, ledger: Ledger) -> SpeakerFigures | None:
    """Work out the speakers; None without any, owned up to where the decoder has sound."""
    sound, decoder = record.sound, record.decoder or models.Decoder.model_construct()
    if sound is None:
        if decoder.kind == "sound":
            ledger.lack("sound", "speakers")
        return None
    speaker = sound.speaker
    figures = SpeakerFigures(
        count=sound.count,
        join=sound.join if sound.count > 1 else None,
        joined_impedance_ohm=_joined(sound, ledger),
        least_impedance_ohm=decoder.least_speaker_impedance.value if decoder.least_speaker_impedance else None,
        amplifier_power_w=decoder.amplifier_power.value if decoder.amplifier_power else None,
        power_each_w=_share(sound, decoder, ledger),
        rating_each_w=speaker.power.value if speaker.power else None,
        rating_total_w=speaker.power.value * sound.count if speaker.power else None,
    )
    _own_up(figures, ledger)
    _judge(figures, decoder, ledger)
    return figures


def _joined(sound: models.Sound, ledger: Ledger) -> float | None:
    if sound.speaker.impedance is None:
        return None
    each = sound.speaker.impedance.value
    side_by_side = sound.join == "parallel"
    joined = float(bank_resistance(each, sound.count if side_by_side else 1, 1 if side_by_side else sound.count))
    if sound.count > 1:
        ledger.work(
            "Sound",
            "impedance of the speakers together",
            "Z = Z_each / n" if side_by_side else "Z = n Z_each",
            f"{plain(each)} Ω / {sound.count}" if side_by_side else f"{sound.count} × {plain(each)} Ω",
            joined,
            "Ω",
            "impedances in series and parallel",
        )
    return joined


def _share(sound: models.Sound, decoder: models.Decoder, ledger: Ledger) -> float | None:
    """Equal speakers share alike, however they are joined."""
    if decoder.amplifier_power is None:
        return None
    share = decoder.amplifier_power.value / sound.count
    ledger.work(
        "Sound",
        "power each speaker must take at full volume",
        "P_each = P_amplifier / n",
        f"{plain(decoder.amplifier_power.value)} W / {sound.count}",
        share,
        "W",
        "equal speakers share alike; common practice",
    )
    return share


def _own_up(figures: SpeakerFigures, ledger: Ledger) -> None:
    sources = {
        "joined_impedance_ohm": "sound.speaker.impedance",
        "least_impedance_ohm": "decoder.least_speaker_impedance",
        "amplifier_power_w": "decoder.amplifier_power",
        "power_each_w": "decoder.amplifier_power",
        "rating_each_w": "sound.speaker.power",
        "rating_total_w": "sound.speaker.power",
    }
    for key, source in sources.items():
        if figures[key] is None:  # type: ignore[literal-required]
            ledger.lack(source, f"speakers.{key}")


def _judge(figures: SpeakerFigures, decoder: models.Decoder, ledger: Ledger) -> None:
    if decoder.kind == "motor and lamps":
        ledger.judge("sound", "caution", "The record has speakers, but its decoder is for motor and lamps only.")
    joined, least = figures["joined_impedance_ohm"], figures["least_impedance_ohm"]
    if joined is not None and least is not None and joined < least * (1 - NEAR):
        ledger.judge(
            "sound",
            "stop",
            f"The speakers join to {quantity(joined, 'Ω', 2)}; the amplifier bears no less than {given(least, 'Ω')} and can be "
            "destroyed. Join them in series, or fit others.",
        )
        return
    power, rating = figures["amplifier_power_w"], figures["rating_total_w"]
    if power is not None and rating is not None and rating < power * (1 - NEAR):
        ledger.judge(
            "sound",
            "caution",
            f"The speakers bear {given(rating, 'W')} in all, the amplifier gives up to {given(power, 'W')}"
            f"{_into_these(power, joined, least)}: keep the volume below full, a speaker that rattles is near its end.",
        )
    elif joined is not None and least is not None and power is not None and rating is not None:
        ledger.judge("sound", "ok", "Impedance and rating of the speakers suit the amplifier.")


def _into_these(power: float, joined: float | None, least: float | None) -> str:
    """An amplifier is limited by its volts: marked for its least impedance, it gives less into a larger one."""
    if joined is None or least is None or joined <= least * (1 + NEAR):
        return ""
    return f", about {quantity(power * least / joined, 'W', 2)} into these if that is marked for {given(least, 'Ω')}"
