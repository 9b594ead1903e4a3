"""Where used: every stock part, with the builds that have it and what readings say of its data."""

from copy import deepcopy
from pathlib import Path

import pytest
from sample import sample_figures

from buildsheets.library.used import stock_pages, uses_of
from buildsheets.records.library import load_library

STOCK = """\
format: 1
motors:
  can: {name: A can, nominal_voltage: 12 V, no_load_speed: 9000 rpm, no_load_current: 50 mA, stall_current: 1 A, source: measured}
  other: {nominal_voltage: 6 V}
decoders:
  plain: {name: Plain, abilities: {start_voltage: true, speed_table: false}}
"""
ONE = "format: 1\ntitle: One\nstatus: running\nmotor: {stock: can}\ndecoder: {stock: plain}\nparts: [{name: can, stock: can}]\n"
TWO = "format: 1\ntitle: Two\nstatus: planned\nmotor: {stock: other}\nbefore: {motor: {stock: can}}\n"


def learned(name: str, factor: float, told: bool = True) -> dict[str, object]:
    return {"name": name, "label": name.upper(), "factor": factor, "told": told, "low": 0.9 * factor, "high": 1.1 * factor}


@pytest.fixture
def library(tmp_path: Path):
    (tmp_path / "stock").mkdir()
    (tmp_path / "stock" / "parts.yml").write_text(STOCK, encoding="utf-8")
    for name, text in (("one", ONE), ("two", TWO), ("three", ONE)):
        (tmp_path / f"{name}.yml").write_text(text, encoding="utf-8")
    found = load_library(tmp_path)
    assert found.problems == []
    return found


def pages(library, calibrations: dict[str, list[dict[str, object]]] | None = None):
    figures = {}
    for build in library.builds:
        figures[build.slug] = deepcopy(sample_figures())
        figures[build.slug].update(slug=build.slug, title=build.record.title)
        values = (calibrations or {}).get(build.slug)
        figures[build.slug]["calibration"] = None if values is None else {"parameters": values}
    used = {build.slug: uses_of(build) for build in library.builds}
    return {page.name: page for page in stock_pages(library.shelf, used, figures)}


def test_every_part_has_a_page_with_its_data(library):
    found = pages(library)
    assert list(found) == ["plain", "can", "other"]  # decoders before motors
    assert found["can"].title == "A can"
    assert found["can"].source == "measured"
    assert ("Nominal volts", "12 V") in found["can"].data
    assert ("Abilities", "start voltage yes, speed table no") in found["plain"].data


def test_uses_say_where_the_part_stands(library):
    uses = {use.slug: use.as_what for use in pages(library)["can"].uses}
    assert uses == {"one": ("motor", "parts list"), "three": ("motor", "parts list"), "two": ("before: motor",)}


def test_unused_part_has_no_uses(library, tmp_path):
    (tmp_path / "two.yml").unlink()
    assert pages(load_library(tmp_path))["other"].uses == ()


def test_readings_of_several_builds_are_put_together(library):
    found = pages(
        library,
        {
            "one": [learned("emf_constant", 1.10), learned("rolling", 2.0), learned("resistance", 1.3, told=False)],
            "two": [learned("emf_constant", 0.5)],  # its can was taken out: these are another motor's readings
            "three": [learned("emf_constant", 0.90)],
        },
    )["can"].found
    assert [(entry.label, entry.low, entry.high) for entry in found] == [("EMF_CONSTANT", 0.90, 1.10)]
    assert [(one.slug, one.factor) for one in found[0].each] == [("one", 1.10), ("three", 0.90)]
    assert found[0].middle == pytest.approx((1.10 * 0.90) ** 0.5)


def test_a_part_with_data_of_its_own_tells_nothing_of_the_stock(library, tmp_path):
    (tmp_path / "one.yml").write_text(ONE.replace("{stock: can}", "{stock: can, stall_current: 0.8 A}", 1), encoding="utf-8")
    found = pages(load_library(tmp_path), {slug: [learned("emf_constant", 1.1)] for slug in ("one", "three")})["can"]
    assert {use.slug: use.as_what[0] for use in found.uses} == {"one": "motor, with data of its own", "three": "motor", "two": "before: motor"}
    assert [one.slug for one in found.found[0].each] == ["three"]


def test_resistors_of_droppers_are_told_of_too(tmp_path):
    (tmp_path / "stock").mkdir()
    (tmp_path / "stock" / "r.yml").write_text("format: 1\nresistors:\n  r47: {resistance: 47 ohm}\n", encoding="utf-8")
    (tmp_path / "one.yml").write_text("format: 1\ntitle: x\nstatus: running\ndropper: {resistor: {stock: r47}}\n", encoding="utf-8")
    found = pages(load_library(tmp_path), {"one": [learned("dropper_resistance", 1.02)]})["r47"]
    assert [one.factor for entry in found.found for one in entry.each] == [1.02]
