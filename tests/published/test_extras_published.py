"""Lamps and stay-alive through whole records. Basis codes: C common practice, D derived (computed)."""

from __future__ import annotations

from pathlib import Path

import pytest

from buildsheets.figures import Figures, work_out
from buildsheets.physics.store import hold_time, stored_energy
from buildsheets.records.library import load_build

RECORD = """\
format: 1
title: Lit loco
status: running
model: {{scale: OO, driving_wheel: 20 mm, mass: 350 g, driven_mass: 350 g}}
gear_train: {{stages: [{{worm: 1, driven: 30, module: 0.4 mm, worm_diameter: 4.5 mm}}]}}
motor: {{nominal_voltage: 12 V, no_load_speed: 11500 rpm, no_load_current: 30 mA, winding_resistance: 28 ohm}}
decoder: {{pulse_frequency: 20 kHz, off_mode: coast, internal_drop: 1.4 V{decoder}}}
supply: {{track: 14 V, pickup_drop: 0 V}}
lamps: [{{name: front, led: {{forward_voltage: 2.0 V{led}}}, count: {count}, join: {join}, current: 5 mA, resistor: {resistor}}}]
stay_alive: {{capacitor: {{capacitance: 0.2 F, rated_voltage: {rated}}}, charging_resistor: 100 ohm, least_voltage: 7 V}}
"""


def lit(
    folder: Path,
    *,
    count: int = 1,
    join: str = "series",
    resistor: str = "2k2",
    rated: str = "16.2 V",
    led: str = "",
    decoder: str = "",
) -> Figures:
    path = folder / "lit-loco.yml"
    more = {"led": f", {led}" if led else "", "decoder": f", {decoder}" if decoder else ""}
    text = RECORD.format(count=count, join=join, resistor=resistor, rated=rated, **more)
    path.write_text(text, encoding="utf-8", newline="\n")
    build, problems = load_build(path)
    assert build is not None, problems
    return work_out(build)


def levels(figures: Figures, subject: str) -> list[str]:
    return [verdict["level"] for verdict in figures["verdicts"] if verdict["subject"] == subject]


# Basis D: 12.6 V supply, 2.0 V, 5 mA: 2120 ohm, E24 2K2 (the power of 0.053 W is that of 2120 ohm).
def test_lamp_resistor(tmp_path: Path):
    lamp = lit(tmp_path)["lamps"][0]
    assert lamp["needed_ohm"] == pytest.approx(2120, abs=1)
    assert lamp["nearest_e24_ohm"] == 2200
    assert lamp["current_a"] == lamp["fitted_current_a"] == pytest.approx(10.6 / 2200)
    assert lamp["power_w"] == pytest.approx(10.6**2 / 2200)


# Basis D, Ohm's law: two in series leave 8.6 V for 5 mA; seven do not light. Basis C: two in parallel get a resistor each,
# 2120 ohm as for a single one, for LEDs on a common resistor do not share alike.
def test_several_leds(tmp_path: Path):
    assert lit(tmp_path, count=2)["lamps"][0]["needed_ohm"] == pytest.approx(1720)
    assert lit(tmp_path, count=2)["lamps"][0]["output_current_a"] == pytest.approx(8.6 / 1800)
    beside = lit(tmp_path, count=2, join="parallel")["lamps"][0]
    assert beside["resistors"] == 2
    assert beside["needed_ohm"] == pytest.approx(2120)
    assert beside["current_a"] == pytest.approx(10.6 / 2200)
    assert beside["output_current_a"] == pytest.approx(2 * 10.6 / 2200)
    dark = lit(tmp_path, count=7)
    assert dark["lamps"][0]["needed_ohm"] is None
    assert levels(dark, "lamps") == ["caution"]
    assert levels(lit(tmp_path, resistor="1k"), "lamps") == ["caution"]
    assert levels(lit(tmp_path), "lamps") == []


# Basis C: an LED bears what its leaflet says and an output what the decoder's does; an indicator LED of 20 mA on an output
# of 100 mA is well served, ten in parallel with 100 ohm each are not.
def test_ratings_of_led_and_output(tmp_path: Path):
    rated = {"led": "most_current: 20 mA", "decoder": "output_current: 100 mA"}
    assert levels(lit(tmp_path, resistor="1k", **rated), "lamps") == ["caution"]  # more than wanted, 10.6 mA
    hot = lit(tmp_path, resistor="220 ohm", **rated)  # 48 mA
    assert levels(hot, "lamps") == ["caution", "caution"]
    assert levels(lit(tmp_path, resistor="220 ohm", count=3, join="parallel", **rated), "lamps")[-1] == "stop"


# Basis D: the formulas of the sheet redone with its own numbers.
def test_lamps_and_store_show_their_working(tmp_path: Path):
    lines = {line["name"]: line for line in lit(tmp_path, count=2)["working"] if line["section"] in ("Lamps", "Stay-alive")}
    assert lines["front: resistor needed"]["result"] == pytest.approx((12.6 - 2 * 2.0) / 0.005)
    assert lines["front: resistor needed"]["numbers"].replace("\u202f", " ") == "(12.6 V − 2 × 2.00 V) / 0.00500 A"
    assert lines["front: heat in it"]["result"] == pytest.approx(8.6**2 / 1800)
    assert lines["charge energy, full"]["result"] == pytest.approx(0.1 * 12.6**2)
    assert len(lines) == 8


SPEAKERS = """\
decoder: {{kind: {kind}, amplifier_power: 1 W, least_speaker_impedance: 8 ohm}}
sound: {{speaker: {{impedance: {each}, power: {power}}}, count: {count}, join: {join}}}
"""


def sounding(
    folder: Path, each: str, power: str = "1 W", *, count: int = 1, join: str = "series", kind: str = "sound"
) -> Figures:
    path = folder / "sounding-loco.yml"
    speakers = SPEAKERS.format(kind=kind, each=each, power=power, count=count, join=join)
    path.write_text(f"format: 1\ntitle: Sounding loco\nstatus: running\n{speakers}", encoding="utf-8", newline="\n")
    build, problems = load_build(path)
    assert build is not None, problems
    return work_out(build)


# Basis C: two 8 ohm speakers make 16 ohm in series and 4 ohm in parallel, and share the power alike. An amplifier for
# 8 ohm and more can be destroyed by 4 ohm; two of 4 ohm in series suit it.
@pytest.mark.parametrize(
    ("each", "count", "join", "joined", "level"),
    [
        ("8 ohm", 1, "series", 8, "ok"),
        ("8 ohm", 2, "series", 16, "ok"),
        ("8 ohm", 2, "parallel", 4, "stop"),
        ("4 ohm", 2, "series", 8, "ok"),
        ("4 ohm", 1, "series", 4, "stop"),
    ],
)
def test_speakers_on_an_amplifier(tmp_path: Path, each: str, count: int, join: str, joined: float, level: str):
    figures = sounding(tmp_path, each, count=count, join=join)
    assert figures["speakers"]["joined_impedance_ohm"] == pytest.approx(joined)
    assert figures["speakers"]["power_each_w"] == pytest.approx(1 / count)
    assert figures["speakers"]["rating_total_w"] == pytest.approx(count)
    assert levels(figures, "sound") == [level]
    assert ("can be destroyed" in str(figures["verdicts"])) is (level == "stop")


# Basis C: a speaker must bear the amplifier's power. Basis D: P = V^2 / Z, half of it into twice the impedance.
def test_speaker_too_weak_for_its_amplifier(tmp_path: Path):
    assert levels(sounding(tmp_path, "8 ohm", "0.5 W"), "sound") == ["caution"]
    assert levels(sounding(tmp_path, "8 ohm", "0.5 W", count=2), "sound") == ["ok"]
    weak = sounding(tmp_path, "16 ohm", "0.7 W")
    message = next(verdict["message"] for verdict in weak["verdicts"] if verdict["subject"] == "sound")
    assert "about 0.50\u202fW into these" in message
    assert levels(sounding(tmp_path, "8 ohm", kind="motor and lamps"), "sound") == ["caution", "ok"]


def test_speaker_without_marks_says_what_to_look_up(tmp_path: Path):
    path = tmp_path / "sounding-loco.yml"
    path.write_text(
        "format: 1\ntitle: Sounding loco\nstatus: running\nsound: {speaker: {name: old one}}\n", encoding="utf-8", newline="\n"
    )
    build, _ = load_build(path)
    assert build is not None
    figures = work_out(build)
    waiting = {key: entry["name"] for entry in figures["missing"] for key in entry["needed_for"] if "speakers" in key}
    assert waiting == {
        "speakers.joined_impedance_ohm": "sound.speaker.impedance",
        "speakers.least_impedance_ohm": "decoder.least_speaker_impedance",
        "speakers.amplifier_power_w": "decoder.amplifier_power",
        "speakers.power_each_w": "decoder.amplifier_power",
        "speakers.rating_each_w": "sound.speaker.power",
        "speakers.rating_total_w": "sound.speaker.power",
    }
    assert levels(figures, "sound") == []


def test_sound_decoder_without_speakers_asks_for_them(tmp_path: Path):
    path = tmp_path / "mute-loco.yml"
    path.write_text("format: 1\ntitle: Mute loco\nstatus: running\ndecoder: {kind: sound}\n", encoding="utf-8", newline="\n")
    build, _ = load_build(path)
    assert build is not None
    figures = work_out(build)
    assert figures["speakers"] is None
    assert ["speakers"] in [entry["needed_for"] for entry in figures["missing"]]


# Basis D: 0.2 F from 13.5 to 7 V at 100 mA lasts 13 s and stores 18.2 J.
def test_store():
    assert hold_time(0.2, 13.5, 7, 0.1) == pytest.approx(13, abs=0.1)
    assert stored_energy(0.2, 13.5) == pytest.approx(18.2, abs=0.1)
    assert hold_time(0.2, 6, 7, 0.1) == 0


# Basis D: 100 ohm on 14 V draws 0.14 A and 1.96 W at the first instant. Basis C: rated volts above the rail peak.
def test_charging_and_rating(tmp_path: Path):
    figures = lit(tmp_path)
    store = figures["stay_alive"]
    assert store["charging_current_a"] == pytest.approx(0.14, abs=0.01)
    assert store["charging_power_w"] == pytest.approx(1.96, abs=0.01)
    assert store["stored_energy_j"] == pytest.approx(0.1 * 12.6**2)
    current = 0.2 * (12.6 - 7) / store["hold_time_s"]
    assert 0.010 < current < 0.060  # half throttle draws at most the light engine's current, 30 to 60 mA with drag (C)
    assert levels(figures, "stay-alive") == ["ok"]
    assert levels(lit(tmp_path, rated="12 V"), "stay-alive") == ["stop"]
