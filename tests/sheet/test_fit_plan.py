"""The fit plan: true to size, legible, and every part on it."""

from __future__ import annotations

import re
from typing import cast
from xml.etree import ElementTree

import pytest
from sample import sample_figures

from buildsheets.figures.format import FitFigures
from buildsheets.sheet.drawings.fit_plan import PAPER_WIDTH, fit_plan, fit_ratio
from buildsheets.sheet.svg import standalone

SVG = "{http://www.w3.org/2000/svg}"


def fit() -> FitFigures:
    return cast(FitFigures, sample_figures()["fit"])


def drawn_text(figures: FitFigures) -> str:
    chart = fit_plan(figures)
    assert chart is not None
    return chart.svg


def drawn(figures: FitFigures) -> ElementTree.Element:
    return ElementTree.fromstring(drawn_text(figures))


def rects(root: ElementTree.Element) -> list[tuple[float, ...]]:
    return [tuple(float(e.get(key, "nan")) for key in ("x", "y", "width", "height")) for e in root.iter(f"{SVG}rect")]


def test_one_unit_is_one_millimetre() -> None:
    root = drawn(fit())
    _, _, width, height = map(float, root.attrib["viewBox"].split())
    assert root.attrib["width"] == f"{width:g}mm"
    assert root.attrib["height"] == f"{height:g}mm"
    sizes = {rect[2:] for rect in rects(root)}
    assert {(60.0, 20.0), (60.0, 22.0), (30.0, 6.0), (30.0, 15.0), (20.0, 12.0), (50.0, 2.0)} <= sizes
    [bar] = [e for e in root.iter(f"{SVG}rect") if e.get("class") == "bs-bar"]
    assert bar.get("width") == "50"


def test_views_are_aligned_and_the_right_way_up() -> None:
    root = drawn(fit())
    side = next(rect for rect in rects(root) if rect[2:] == (60.0, 20.0))
    plan = next(rect for rect in rects(root) if rect[2:] == (60.0, 22.0))
    assert side[0] == plan[0]
    assert side[1] + side[3] < plan[1]
    decoder = next(rect for rect in rects(root) if rect[2:] == (30.0, 6.0))  # 13 mm up, 6 mm thick, in 20 mm
    assert decoder[1] - side[1] == pytest.approx(1.0, abs=0.02)
    assert decoder[0] - side[0] == pytest.approx(1.0, abs=0.02)


def test_every_part_is_numbered_in_both_views_and_no_lettering_collides() -> None:
    root = drawn(fit())
    words = [e for e in root.iter(f"{SVG}text") if e.get("font-weight")]
    numbers = [cast(str, e.text).split()[0] for e in words]
    assert sorted(numbers) == ["1", "1", "2", "2", "3", "3"]
    boxes = []
    for e in words:
        half = len(cast(str, e.text)) * 0.5 * 3.2 / 2  # half an em a letter, on the small side of a sans serif
        x, y = float(e.attrib["x"]), float(e.attrib["y"])
        boxes.append((x - half, x + half, y - 2.4, y))
    for index, a in enumerate(boxes):
        for b in boxes[index + 1 :]:
            assert a[0] >= b[1] or b[0] >= a[1] or a[2] >= b[3] or b[2] >= a[3]


def test_covered_parts_are_dashed() -> None:
    dashes = [e for e in drawn(fit()).iter(f"{SVG}rect") if e.get("stroke-dasharray")]
    assert [(e.get("width"), e.get("height")) for e in dashes] == [("20", "12")]  # the motor under the decoder, in plan only


def test_too_large_for_the_paper_is_reduced_and_says_so() -> None:
    large = fit()
    large["cavity_mm"] = [320.0, 80.0, 70.0]
    chart = fit_plan(large)
    assert chart is not None
    assert fit_ratio(large) == 2
    assert "1 : 2" in chart.finding
    root = ElementTree.fromstring(chart.svg)
    assert float(root.attrib["width"].removesuffix("mm")) <= PAPER_WIDTH
    assert (160.0, 35.0) in {rect[2:] for rect in rects(root)}
    [bar] = [e for e in root.iter(f"{SVG}rect") if e.get("class") == "bs-bar"]
    assert bar.get("width") == "50"  # the bar checks the paper, not the drawing


def test_lettering_is_nine_points() -> None:
    root = drawn(fit())
    assert float(root.attrib["font-size"]) * 72 / 25.4 >= 9.0
    assert not [e for e in root.iter() if e is not root and e.get("font-size")]


def test_hostile_names_stay_words_and_nothing_known_draws_nothing() -> None:
    figures = fit()
    figures["placed"][1]["name"] = "<script>&"
    assert "<script>" not in drawn_text(figures)
    assert fit_plan(None) is None


def test_stands_alone_with_plain_colours() -> None:
    chart = fit_plan(fit())
    assert chart is not None
    assert not re.search(r"var\(", standalone(chart.svg).decode())
