"""The drawings of what goes where: complete, true to scale, legible, and in the colours of the standards."""

from __future__ import annotations

import math
import re
import subprocess
import sys
from collections import Counter
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import eseries
import pytest
from drawn import AWKWARD, DEMO, LED, SVG, bank_of, charts_of, demo, gearing_of, lettering, parsed, record_of, wiring_of
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import TextPath

from buildsheets.figures.bank import bank_figures
from buildsheets.figures.format import HoldPoint
from buildsheets.figures.gearing import gear_train
from buildsheets.figures.ledger import Ledger
from buildsheets.physics.parts import RESISTOR_BODIES, band_meanings, colour_bands, resistor_body
from buildsheets.records import models
from buildsheets.sheet.drawings.bank import COLOURS, bank_drawing
from buildsheets.sheet.drawings.gears import gear_sketch
from buildsheets.sheet.drawings.pen import PAPER_WIDTH
from buildsheets.sheet.drawings.wiring import _symbol, wiring_diagram
from buildsheets.sheet.svg import standalone

Box = tuple[float, float, float, float]

# --- colour bands, against a decoder written for this test ------------------------------------------------------------
# IEC 60062 as in an encyclopaedia's and a parts catalogue's summaries (opened): digits and multipliers by ten powers,
# gold and silver for a tenth and a hundredth (pink for a thousandth: from memory); tolerance brown 1, red 2, gold 5,
# silver 10 %, none 20 % (from memory).
DIGIT = {"black": 0, "brown": 1, "red": 2, "orange": 3, "yellow": 4, "green": 5, "blue": 6, "violet": 7, "grey": 8, "white": 9}
POWER = DIGIT | {"gold": -1, "silver": -2, "pink": -3}
TOLERANCE = {"brown": 1.0, "red": 2.0, "gold": 5.0, "silver": 10.0, "none": 20.0}


def decoded(bands: tuple[str, ...]) -> tuple[float, float]:
    """Ohms and per cent, as somebody with the chart in hand reads them."""
    figures = 0
    for colour in bands[:-2]:
        figures = 10 * figures + DIGIT[colour]
    return figures * 10.0 ** POWER[bands[-2]], TOLERANCE[bands[-1]]


@pytest.mark.parametrize(
    ("series", "tolerance", "count"),
    [("E6", 20.0, 4), ("E12", 10.0, 4), ("E24", 5.0, 4), ("E24", 1.0, 5), ("E48", 2.0, 5), ("E96", 1.0, 5)],
)
def test_bands_of_every_preferred_value_read_back(series: str, tolerance: float, count: int) -> None:
    # preferred values of IEC 60063 from an independent library
    values = list(eseries.series(getattr(eseries, series)))
    assert len(values) == int(series[1:])
    for value in values:
        for power in range(-2, 6):
            ohms = float(f"{value / min(values):.2f}e{power + 1}")
            bands = colour_bands(ohms, tolerance)
            assert len(bands) == count
            read, percent = decoded(bands)
            assert read == pytest.approx(ohms, rel=1e-9), (ohms, bands)
            assert percent == tolerance


def test_three_figures_at_a_wide_tolerance_where_the_series_wants_them() -> None:
    assert decoded(colour_bands(332.0, 5.0, 3)) == (332.0, 5.0)  # E48 value, which two figures cannot show
    with pytest.raises(ValueError, match="cannot show"):
        colour_bands(332.0, 5.0)


def test_meanings_say_what_the_bands_say() -> None:
    assert band_meanings(("yellow", "violet", "black", "gold")) == ("4", "7", "×1", "±5 %")
    assert band_meanings(("orange", "orange", "red", "orange", "brown")) == ("3", "3", "2", "×1000", "±1 %")
    assert band_meanings(("red", "red", "gold", "none")) == ("2", "2", "×0.1", "±20 %")
    assert band_meanings(("brown", "black", "yellow", "silver"))[2] == "×10^4"


def test_a_part_is_drawn_in_the_size_of_its_rating() -> None:
    assert resistor_body(0.4) == RESISTOR_BODIES[0.5]
    assert resistor_body(None) == RESISTOR_BODIES[0.5]
    assert resistor_body(10.0) == RESISTOR_BODIES[5.0]
    sizes = [RESISTOR_BODIES[rating] for rating in sorted(RESISTOR_BODIES)]
    assert sizes == sorted(sizes)


# --- lettering ------------------------------------------------------------------------------------------------------


def text_box(text: ElementTree.Element, size: float) -> Box:
    """Left, top, right, bottom by the metrics of a wide sans serif (DejaVu Sans)."""
    words = "".join(text.itertext())
    weight = "bold" if text.get("font-weight") == "650" else "normal"
    width = TextPath((0, 0), words.replace("\u202f", " "), size=size, prop=FontProperties(family="DejaVu Sans", weight=weight)).get_extents().width
    x, y = float(text.get("x", "nan")), float(text.get("y", "nan"))
    left = {"start": x, "middle": x - width / 2, "end": x - width}[text.get("text-anchor", "start")]
    return left, y - 0.74 * size, left + width, y + 0.2 * size


def collisions(root: ElementTree.Element) -> list[tuple[str, str]]:
    size = float(root.get("font-size", "nan"))
    boxes = [("".join(text.itertext()), text_box(text, size)) for text in lettering(root)]
    return [
        (one, other)
        for index, (one, a) in enumerate(boxes)
        for other, b in boxes[index + 1 :]
        if a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]
    ]


def everything(tmp_path: Path) -> dict[str, ElementTree.Element]:
    records = {slug: demo(slug) for slug in DEMO} | {name: record_of(text, tmp_path) for name, text in AWKWARD.items()}
    return {f"{name}: {kind}": parsed(chart) for name, record in records.items() for kind, chart in charts_of(record).items()}


def test_no_lettering_collides_or_leaves_the_paper(tmp_path: Path) -> None:
    drawings = everything(tmp_path)
    assert len(drawings) > 20
    for name, root in drawings.items():
        assert collisions(root) == [], name
        _, _, width, height = map(float, root.attrib["viewBox"].split())
        assert width == PAPER_WIDTH
        for text in lettering(root):
            left, top, right, bottom = text_box(text, float(root.attrib["font-size"]))
            assert -0.1 <= left < right <= width + 2.0, (name, "".join(text.itertext()))  # DejaVu is wider than most
            assert 0 <= top < bottom <= height, (name, "".join(text.itertext()))


def test_collisions_are_found() -> None:
    apart = '<text x="10" y="10">one</text><text x="10" y="14.2">two</text>'
    over = '<text x="10" y="10">one</text><text x="12" y="11">two</text>'
    head = '<svg xmlns="http://www.w3.org/2000/svg" font-size="3.2">'
    assert collisions(ElementTree.fromstring(f"{head}{apart}</svg>")) == []
    assert collisions(ElementTree.fromstring(f"{head}{over}</svg>")) == [("one", "two")]


def test_drawings_are_nine_point_speak_and_stand_alone(tmp_path: Path) -> None:
    for name, root in everything(tmp_path).items():
        assert float(root.attrib["font-size"]) * 72 / 25.4 >= 9.0
        assert f"--bs-on-paper:{PAPER_WIDTH:g}mm" in root.attrib["style"]
        title, description = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
        assert title is not None
        assert description is not None
        assert root.attrib["aria-labelledby"].split() == [title.attrib["id"], description.attrib["id"]]
        assert len(description.text or "") > 20, name
    for chart in charts_of(demo("harbour-tank")).values():
        alone = standalone(chart.svg).decode("utf-8")
        assert "var(" not in alone
        assert "None" not in alone
        assert ElementTree.fromstring(alone.partition("?>")[2]).get("viewBox")


def test_a_prefix_that_another_part_registered_changes_nothing() -> None:
    wiring = wiring_of(demo("harbour-tank"))
    known = dict(ElementTree._namespace_map)  # type: ignore[attr-defined]
    wanted = wiring_diagram(wiring)
    _symbol.cache_clear()
    try:
        ElementTree.register_namespace("picture", SVG.strip("{}"))
        assert wiring_diagram(wiring) == wanted
    finally:
        ElementTree._namespace_map.clear()  # type: ignore[attr-defined]
        ElementTree._namespace_map.update(known)  # type: ignore[attr-defined]
        _symbol.cache_clear()


def test_the_symbol_library_is_not_imported_with_the_sheet() -> None:
    code = "import sys, buildsheets.sheet.render, buildsheets.sheet.data; sys.exit('schemdraw' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False, env={"PYTHONPATH": "plugin"}).returncode == 0


# --- wiring ---------------------------------------------------------------------------------------------------------
# NEM 652 and 651 (opened): what each colour is for, and its pin.
NEM_652 = {"orange": 1, "yellow": 2, "green": 3, "black": 4, "grey": 5, "white": 6, "blue": 7, "red": 8}
NEM_651 = {"orange": 1, "grey": 2, "red": 3, "black": 4, "white": 5, "yellow": 6}


def colour_words(root: ElementTree.Element) -> Counter[str]:
    found = ("".join(text.itertext()) for text in lettering(root) if text.get("class") == "bs-wire")
    return Counter(word.partition(", ")[0] for word in found)


@pytest.mark.parametrize("name", [*DEMO, *AWKWARD])
def test_every_wire_has_its_colour_in_the_drawing(name: str, tmp_path: Path) -> None:
    wiring = wiring_of(demo(name) if name in DEMO else record_of(AWKWARD[name], tmp_path))
    drawn = colour_words(parsed(wiring_diagram(wiring)))
    for colour, count in Counter(wire["wire_colour"] for wire in wiring["wires"]).items():
        assert drawn[colour] >= count, (colour, drawn)
    assert set(drawn) <= {wire["wire_colour"] for wire in wiring["wires"]}


def test_colours_and_pins_are_those_of_the_standard(tmp_path: Path) -> None:
    record = demo("harbour-tank")
    wires = {wire["name"]: wire for wire in wiring_of(record)["wires"]}
    assert {name: wires[name]["wire_colour"] for name in ("right rail", "left rail", "motor +", "motor −")} == {
        "right rail": "red", "left rail": "black", "motor +": "orange", "motor −": "grey",
    }  # fmt: skip
    assert wires["front lamps −"]["wire_colour"] == "white"
    assert wires["rear lamp −"]["wire_colour"] == "yellow"
    assert wires["front lamps +"]["wire_colour"] == wires["charge store +"]["wire_colour"] == "blue"
    for plug, pins in (("NEM 652 (8-pin)", NEM_652), ("NEM 651 (6-pin)", NEM_651), ("wires", {})):
        text = f"decoder: {{plug: {plug}}}\nlamps:\n" + "".join(
            f"  - {{name: {output}, output: {output}, {LED}}}\n" for output in ("front", "rear", "output 1")
        )
        found = wiring_of(record_of(text, tmp_path))["wires"]
        assert {w["wire_colour"]: w["pin"] for w in found if w["pin"] is not None} == pins
    assert wires["motor + behind the dropper"]["pin"] is None


def test_wires_join_up_from_rails_to_motor() -> None:
    wires = wiring_of(demo("harbour-tank"))["wires"]
    ends = [(wire["from"], wire["to"]) for wire in wires]
    assert ends[:5] == [
        ("right-rail pick-ups", "decoder"), ("left-rail pick-ups", "decoder"), ("decoder", "dropper"),
        ("dropper", "motor, tag that is + forward"), ("decoder", "motor, other tag"),
    ]  # fmt: skip
    plain = wiring_of(demo("quayside-electric"))["wires"]
    assert ("decoder", "motor, tag that is + forward") in [(wire["from"], wire["to"]) for wire in plain]


def test_direct_current_has_its_own_diagram(tmp_path: Path) -> None:
    direct = wiring_of(record_of(AWKWARD["direct current"], tmp_path))
    assert direct["kind"] == "direct current"
    assert {wire["wire_colour"] for wire in direct["wires"]} == {"red", "black"}
    assert [part["fate"] for part in direct["suppression"]] == ["stays"]
    words = ["".join(text.itertext()) for text in lettering(parsed(wiring_diagram(direct)))]
    assert "decoder" not in words
    assert "capacitor across the motor: stays" in words
    unnamed = wiring_of(record_of("supply: {track: 14 V}\n", tmp_path))  # not yet chosen, but a decoder all the same
    assert unnamed["kind"] == "decoder"


def test_frame_insulation_and_suppression_are_on_it(tmp_path: Path) -> None:
    words = {"".join(text.itertext()) for text in lettering(parsed(wiring_diagram(wiring_of(demo("harbour-tank")))))}
    assert {"frame, live to", "the right rail", "both brushes insulated", "from the frame"} <= words
    assert "capacitor across the motor: comes off" in words
    ledger = Ledger()
    from buildsheets.figures.wiring import wiring_figures

    found = wiring_figures(record_of("", tmp_path), [], ledger)
    assert found["live_rail"] is None
    assert ("model.live_frame", ["wiring.live_rail"]) in [(entry["name"], entry["needed_for"]) for entry in ledger.missing]


def test_parallel_leds_have_a_resistor_each(tmp_path: Path) -> None:
    root = parsed(wiring_diagram(wiring_of(record_of(AWKWARD["six lamps"], tmp_path))))
    values = Counter("".join(text.itertext()).replace("\u202f", " ") for text in lettering(root))
    assert values["3.9 kΩ"] == 3
    assert values["4.7 kΩ"] == 1
    assert values["not known"] == 1
    # three diodes of 3.0 V on 12 V leave 3 V for 2 mA: 1.5 kilohm, computed by hand, an E24 value
    assert values["take 1.5 kΩ"] == 1


# --- the bank ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("slug", [slug for slug in DEMO if (found := demo(slug).dropper) and found.resistor])
def test_every_band_is_painted_and_spelled_out(slug: str) -> None:
    bank = bank_of(demo(slug))
    assert bank is not None
    root = parsed(bank_drawing(bank))
    colours = [band["colour"] for band in bank["bands"]]
    large = [e for e in root.iter(f"{SVG}rect") if e.get("class") == "bs-band"]
    assert [e.get("data-colour") for e in large] == colours
    assert [e.get("fill") for e in large] == [COLOURS[colour] for colour in colours]
    assert all(e.get("stroke") for e in large)
    words = ["".join(text.itertext()) for text in lettering(root) if text.get("class") == "bs-colour"]
    assert words == [f"{band['colour']}  {band['meaning']}" for band in bank["bands"]]
    small = [e for e in root.iter(f"{SVG}rect") if e.get("data-colour") and not e.get("class")]
    assert len(small) == len(colours) * bank["parallel"] * bank["in_series"]
    lefts = [float(e.get("x", "nan")) for e in large]
    gaps = [b - a for a, b in pairwise(lefts)]
    assert gaps[-1] > 1.5 * gaps[0]  # the tolerance stands apart, so that one knows where to begin


@pytest.mark.parametrize(
    ("resistor", "each", "colours"),
    [
        ("resistance: 332 ohm, series: E48", 332.0, ["orange", "orange", "red", "black", "red"]),
        ("resistance: 33 ohm, tolerance: 1 %", 33.0, ["orange", "orange", "black", "gold", "brown"]),
        ("resistance: 2k2, tolerance: 20 %", 2200.0, ["red", "red", "red", "none"]),
        ("resistance: 33.5 ohm, tolerance: 5 %", 33.5, []),
        ("resistance: 33 ohm, tolerance: 3 %", 33.0, []),
    ],
)
def test_bands_by_series_and_tolerance(resistor: str, each: float, colours: list[str], tmp_path: Path) -> None:
    bank = bank_of(record_of(f"dropper: {{resistor: {{{resistor}}}}}\n", tmp_path))
    assert bank is not None
    assert bank["each_ohm"] == each
    assert [band["colour"] for band in bank["bands"]] == colours
    root = parsed(bank_drawing(bank))
    painted = [e for e in root.iter(f"{SVG}rect") if e.get("class") == "bs-band"]
    assert len(painted) == len([colour for colour in colours if colour != "none"])
    assert bool(bank["bands_note"]) == (not colours or "series" in resistor)
    assert collisions(root) == []


def test_window_is_that_of_the_hold_point_else_of_the_marked_parts(tmp_path: Path) -> None:
    record = record_of("dropper: {resistor: {resistance: 33 ohm, tolerance: 5 %}, parallel: 2}\n", tmp_path)
    bank = bank_of(record)
    assert bank is not None
    # two equal parts of 33 ohm side by side are 16.5 ohm, each 5 % off at most: computed by hand
    assert (bank["value_ohm"], bank["low_ohm"], bank["high_ohm"]) == pytest.approx((16.5, 15.675, 17.325))
    point = HoldPoint(
        id="bank-resistance", place="dropper", quantity="", unit="ohm", low=15.9, high=17.0, expected=16.5, how="", condition="",
        outside="", reading={},
    )  # fmt: skip
    held = bank_figures(record.dropper, [point], Ledger())
    assert held is not None
    assert (held["low_ohm"], held["high_ohm"]) == (15.9, 17.0)
    assert "15.9 to 17.0" in (bank_drawing(held).finding if bank_drawing(held) else "")


def test_unknown_resistor_says_what_it_waits_for(tmp_path: Path) -> None:
    ledger = Ledger()
    bank = bank_figures(record_of("dropper: {resistor: {rating: 1 W}}\n", tmp_path).dropper, [], ledger)
    assert bank is not None
    assert bank["value_ohm"] is None
    assert "bank.value_ohm" in ledger.missing[0]["needed_for"]
    assert "not known" in " ".join("".join(text.itertext()) for text in lettering(parsed(bank_drawing(bank))))


def test_air_to_the_neighbour_is_true_to_scale() -> None:
    bank = bank_of(demo("harbour-tank"))
    assert bank is not None
    root = parsed(bank_drawing(bank))
    heading = next(words for text in lettering(root) if (words := "".join(text.itertext())).startswith("How they join"))
    scale = float(re.findall(r"([\d.]+)", heading)[0])
    [air] = [e for e in root.iter(f"{SVG}path") if e.get("class") == "bs-air"]
    ends = [float(part.split()[1]) for part in air.attrib["d"][1:].split("L")]
    assert abs(ends[1] - ends[0]) == pytest.approx(scale * 4.0, rel=0.01)  # the record's 4 mm
    bodies = {(e.get("width"), e.get("height")) for e in root.iter(f"{SVG}rect") if e.get("rx") and not e.get("class")}
    assert (f"{9 * scale:g}", f"{3.5 * scale:g}") in bodies  # the stock's 3.5 by 9 mm


def test_diodes_lie_both_ways(tmp_path: Path) -> None:
    bank = bank_of(demo("estuary-railcar"))
    assert bank is not None
    assert (bank["diode_pairs"], bank["diode_bodies"]) == (3, 6)
    root = parsed(bank_drawing(bank))
    bars = [e for e in root.iter(f"{SVG}rect") if e.get("class") == "bs-cathode"]
    by_row: dict[str, list[float]] = {}
    for bar in bars:
        by_row.setdefault(bar.attrib["y"], []).append(float(bar.attrib["x"]))
    upper, lower = by_row.values()
    assert len(upper) == len(lower) == 3
    assert all(high > low for high, low in zip(upper, lower, strict=True))
    bridges = bank_of(record_of(AWKWARD["bridges"], tmp_path))
    assert bridges is not None
    assert (bridges["bridges"], bridges["diode_bodies"]) == (True, 2)  # two pairs to a body, three pairs wanted
    signs = Counter("".join(text.itertext()) for text in lettering(parsed(bank_drawing(bridges))))
    assert (signs["~"], signs["+"], signs["−"]) == (4, 2, 2)
    long = bank_of(record_of(AWKWARD["long dropper"], tmp_path))
    assert long is not None
    assert [band["colour"] for band in long["bypass_bands"]] == ["brown", "black", "red", "gold"]


# --- gears ------------------------------------------------------------------------------------------------------------


def circles(root: ElementTree.Element, kind: str) -> list[tuple[float, float, float]]:
    return [tuple(float(e.attrib[key]) for key in ("cx", "cy", "r")) for e in root.iter(f"{SVG}circle") if e.get("class") == kind]  # type: ignore[misc]


def scale_of(root: ElementTree.Element) -> float:
    [bar] = [e for e in root.iter(f"{SVG}rect") if e.get("class") == "bs-bar"]
    return float(bar.attrib["width"]) / float(bar.attrib["data-mm"])


@pytest.mark.parametrize("slug", [slug for slug in DEMO if all(r["module_mm"] for r in gearing_of(demo(slug))["stages"])])
def test_wheels_and_centres_are_true_to_scale(slug: str) -> None:
    rows = gearing_of(demo(slug))["stages"]
    root = parsed(gear_sketch({"ratio": 1.0, "efficiency": 1.0, "back_drive_efficiency": 1.0, "stages": rows}))
    scale = scale_of(root)
    # a pitch circle is module times teeth across (definition, ISO 54); a worm has none in side view
    teeth = []
    for row in rows:
        if row["kind"] != "worm" and not row["shares_driver"]:
            teeth.append(row["driver_teeth"] * row["module_mm"])
        teeth.append(row["driven_teeth"] * row["module_mm"])
    drawn = circles(root, "bs-pitch")
    assert [2 * radius / scale for _, _, radius in drawn] == pytest.approx(teeth, rel=0.01)
    assert all(tip[2] > pitch[2] for tip, pitch in zip(circles(root, "bs-tip"), drawn, strict=True))
    lines = [e.attrib["d"][1:].split("L") for e in root.iter(f"{SVG}path") if e.get("class") == "bs-centres"]
    lengths = [math.dist(*([float(n) for n in end.split()] for end in line)) / scale for line in lines]
    assert lengths == pytest.approx([row["centre_distance_mm"] for row in rows], rel=0.01)


def test_centres_of_a_worm_are_half_of_both_diameters() -> None:
    # (d + D) / 2, a machine-elements textbook (opened): 4.5 mm worm, 24 teeth of 0.4 mm
    assert gearing_of(demo("harbour-tank"))["stages"][1]["centre_distance_mm"] == pytest.approx((4.5 + 24 * 0.4) / 2)


def test_wheels_of_one_shaft_share_a_centre_and_idlers_are_drawn_once() -> None:
    pug = circles(parsed(gear_sketch(gearing_of(demo("salt-works-pug")))), "bs-pitch")
    assert len(pug) == 6
    assert pug[1][:2] == pug[2][:2]
    assert pug[3][:2] == pug[4][:2]
    diesel = circles(parsed(gear_sketch(gearing_of(demo("causeway-diesel")))), "bs-pitch")
    assert len(diesel) == 4  # worm wheel, first gear on its shaft, idler, last gear
    assert diesel[0][:2] == diesel[1][:2]
    assert len({centre for *centre, _ in map(tuple, diesel) for centre in [tuple(centre)]}) == 3


def test_every_wheel_has_its_teeth_and_every_mesh_its_verdict() -> None:
    gearing = gearing_of(demo("sluice-goods"))
    root = parsed(gear_sketch(gearing))
    words = Counter("".join(text.itertext()) for text in lettering(root))
    for count in (8, 38, 14, 42, 16, 40):
        assert words[f"{count} teeth"] == 1
    for level, number in Counter(row["level"] for row in gearing["stages"]).items():
        assert words[str(level)] == number
    assert words["no contact"] == 1
    shapes = [e for e in root.iter(f"{SVG}g") if "scale(" in e.get("transform", "")]
    assert len(shapes) == len(gearing["stages"])


def test_without_a_module_it_says_that_it_is_not_to_scale() -> None:
    root = parsed(gear_sketch(gearing_of(demo("reedbed-diesel"))))
    assert [e for e in root.iter(f"{SVG}rect") if e.get("class") == "bs-bar"] == []
    words = ["".join(text.itertext()) for text in lettering(root)]
    assert any(word.startswith("Not to scale") for word in words)
    assert not any("mm" in word for word in words)
    assert gear_sketch({"ratio": None, "efficiency": None, "back_drive_efficiency": None, "stages": []}) is None


def test_a_train_too_large_for_the_usual_bars_still_has_one() -> None:
    # 5 on 400 teeth of 1 mm is 202.5 mm from centre to centre (definition, ISO 54): drawn at a tenth
    train = models.GearTrain.model_validate({"stages": [{"driver": 5, "driven": 400, "module": "1 mm"}]})
    root = parsed(gear_sketch(gear_train(train, Ledger()).figures))  # type: ignore[union-attr]
    assert scale_of(root) == pytest.approx(0.1)
    assert 2 * circles(root, "bs-pitch")[1][2] / 0.1 == pytest.approx(400.0, rel=0.01)
