"""Drawings of whole records and of awkward ones, for the tests that look at them."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree

from buildsheets.figures.bank import bank_figures
from buildsheets.figures.extras import lamp_figures
from buildsheets.figures.format import BankFigures, Gearing, WiringFigures
from buildsheets.figures.gearing import gear_train
from buildsheets.figures.ledger import Ledger
from buildsheets.figures.wiring import wiring_figures
from buildsheets.records import models
from buildsheets.records.library import load_build
from buildsheets.sheet.charts import Chart
from buildsheets.sheet.drawings.bank import bank_drawing
from buildsheets.sheet.drawings.gears import gear_sketch
from buildsheets.sheet.drawings.wiring import wiring_diagram

SVG = "{http://www.w3.org/2000/svg}"
BUILDS = Path(__file__).parents[2] / "builds"
DEMO = sorted(path.stem for path in BUILDS.glob("*.yml"))
HEAD = "format: 1\ntitle: Test tank\nstatus: planned\n"

LED = "led: {colour: warm white, forward_voltage: 3.0 V}, current: 2 mA"
SIX_LAMPS = f"""decoder: {{name: a decoder of a rather long name, plug: NEM 652 (8-pin)}}
model: {{pickups: both, live_frame: right rail}}
lamps:
  - {{name: front lamps, output: front, {LED}, count: 3, join: parallel, resistor: 3k9}}
  - {{name: cab lamp over the fire door with a very long name indeed, output: output 1, {LED}}}
  - {{name: rear, output: rear, {LED}, count: 3, join: series}}
  - {{name: side, output: output 2, {LED}, count: 5, join: parallel}}
  - {{name: second front, output: front, {LED}, resistor: 4k7}}
  - {{name: firebox glow}}
sound: {{speaker: {{impedance: 8 ohm}}, count: 2, join: series}}
stay_alive: {{capacitor: {{rated_voltage: 16.2 V}}, charging_resistor: 100 ohm}}
"""
LONG_DROPPER = """dropper:
  resistor: {resistance: 33 ohm, tolerance: 5 %, rating: 1 W}
  parallel: 3
  in_series: 2
  diodes: {pairs: 4, bypass: 1 kohm}
  layout: block
  near: polystyrene
  clearance: 20 mm
  place: in the tender, between the water scoop and the coal space, on the metal of the frame behind a strip of tape
"""
AWKWARD = {
    "six lamps": SIX_LAMPS,
    "long dropper": f"decoder: {{plug: NEM 651 (6-pin)}}\nmodel: {{live_frame: left rail}}\n{LONG_DROPPER}"
    "sound: {speaker: {impedance: 4 ohm}, count: 3, join: parallel}\n",
    "direct current": f"supply: {{direct_current: 12 V}}\n{LONG_DROPPER}lamps:\n  - {{name: front, {LED}}}\n  - {{name: rear, {LED}, count: 2}}\n",
    "bridges": "supply: {track: 14 V}\ndropper: {diodes: {pairs: 3, diode: {package: bridge}}}\n",
    "nothing known": "",
}


def demo(slug: str) -> models.Record:
    """A record of the demo library."""
    build, problems = load_build(BUILDS / f"{slug}.yml")
    assert build is not None, [str(problem) for problem in problems]
    return build.record


def record_of(text: str, folder: Path) -> models.Record:
    """A record of this text under the usual head."""
    path = folder / "test-tank.yml"
    path.write_text(HEAD + text, encoding="utf-8", newline="\n")
    build, problems = load_build(path)
    assert build is not None, [str(problem) for problem in problems]
    return build.record


def wiring_of(record: models.Record) -> WiringFigures:
    return wiring_figures(record, lamp_figures(record, 12.0, Ledger()), Ledger())


def bank_of(record: models.Record) -> BankFigures | None:
    return bank_figures(record.dropper, [], Ledger())


def gearing_of(record: models.Record) -> Gearing:
    train = gear_train(record.gear_train, Ledger())
    return train.figures if train else Gearing(ratio=None, efficiency=None, back_drive_efficiency=None, stages=[])


def charts_of(record: models.Record) -> dict[str, Chart]:
    """Every drawing that the record gives."""
    charts = {"wiring": wiring_diagram(wiring_of(record)), "bank": bank_drawing(bank_of(record)), "gears": gear_sketch(gearing_of(record))}
    return {name: chart for name, chart in charts.items() if chart is not None}


def parsed(chart: Chart | None) -> ElementTree.Element:
    assert chart is not None
    return ElementTree.fromstring(chart.svg)


def lettering(root: ElementTree.Element) -> list[ElementTree.Element]:
    return list(root.iter(f"{SVG}text"))
