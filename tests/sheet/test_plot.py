"""Axes written straight as SVG: round numbers, places, gaps, words that keep clear of lines."""

from __future__ import annotations

import re
from math import isclose
from xml.etree import ElementTree as ET

import pytest
from matplotlib.ticker import MaxNLocator

from buildsheets.sheet.plot import PENS, Panel, picture, text_width
from buildsheets.sheet.scale import about, headroom, tick_words, ticks

NAN = float("nan")


@pytest.mark.parametrize("span", [(0, 69.3), (0, 0.0837), (0, 126), (8.1, 14.2), (-3.0, 41.0), (0, 1e-3), (0, 23e4), (39.2, 41.9)])
@pytest.mark.parametrize("most", [1, 3, 4, 6, 9])
def test_round_numbers_are_those_of_a_plotting_library(span: tuple[float, float], most: int) -> None:
    # reference: matplotlib.ticker.MaxNLocator, with our stretches
    theirs = MaxNLocator(most, steps=[1, 2, 2.5, 5, 10], min_n_ticks=1).tick_values(*span)
    inside = [value for value in theirs if span[0] - 1e-9 <= value <= span[1] + 1e-9]
    ours = ticks(span, most)
    assert len(ours) == len(inside)
    assert all(isclose(a, b, abs_tol=1e-12) for a, b in zip(ours, inside, strict=True))


def test_numbers_on_an_axis_say_what_they_are() -> None:
    assert tick_words([0.0, 0.025, 0.05]) == ["0.000", "0.025", "0.050"]
    assert tick_words([-20.0, 0.0, 20.0]) == ["−20", "0", "20"]
    assert tick_words(ticks((0, 0.0837), 6)) == ["0.00", "0.02", "0.04", "0.06", "0.08"]
    assert tick_words([]) == []


def test_spans_hold_all_and_are_never_empty() -> None:
    assert headroom([1.0, None, NAN, 10.0], [20.0]) == (0.0, 21.0)
    assert headroom([]) == (0.0, 1.0)
    assert headroom([0.0, 0.0]) == (0.0, 1.0)
    assert headroom([-10.0, 10.0], share=0.1) == (-10.0, 12.0)
    assert about([10.0, 20.0], share=0.1) == (9.0, 21.0)
    low, high = about([5.0, 5.0], share=0.1)
    assert low < 5.0 < high


def test_data_land_where_they_belong() -> None:
    panel = Panel((10, 20, 100, 50), (0, 200), (-5, 5))
    assert (panel.x(0), panel.x(200), panel.x(50)) == (10, 110, 35)
    assert (panel.y(-5), panel.y(5), panel.y(0)) == (70, 20, 45)
    panel.line([0, 100, 200], [-5, 0, 5], PENS[0])
    assert 'd="M10.00 70.00 60.00 45.00 110.00 20.00"' in panel.drawn[0]


def test_a_line_stops_where_nothing_is_known() -> None:
    panel = Panel((0, 0, 4, 4), (0, 4), (0, 4))
    panel.line([0, 1, 2, 3, 4], [0, 1, NAN, 3, 4], PENS[0])
    assert 'd="M0.00 4.00 1.00 3.00M3.00 1.00 4.00 0.00"' in panel.drawn[0]
    panel.band([0, 1, 2, 3, 4], [0, 0, 0, 0, NAN], [1, 1, NAN, 1, 1], "#000")
    assert panel.drawn[1].count("z") == 2


def _placed(panel: Panel) -> list[ET.Element]:
    root = ET.fromstring(picture("p", (324, 162), panel.axes("x"), "t", "d"))
    return [element for element in root.iter() if element.tag.endswith("text") and "reach" in (element.text or "")]


def test_words_beside_an_upright_line_keep_clear_of_the_lines() -> None:
    for height, wanted_low in ((0.1, True), (9.9, False)):  # where the words want to stand there is a line
        panel = Panel((34, 36, 186, 92), (0, 126), (0, 10))
        panel.line(range(1, 127), [height] * 126, PENS[0])
        panel.plumb(108, "out of reach", low=wanted_low)
        (words,) = _placed(panel)
        assert (float(words.get("y", "0")) > panel.y(5)) != wanted_low


def test_words_too_long_for_either_side_take_two_rows() -> None:
    panel = Panel((34, 36, 186, 92), (0, 126), (0, 10))
    words = "target out of reach from 63"
    assert text_width(words) > 93
    panel.plumb(63, words, low=False)
    rows = re.findall(r"<text[^>]*>([^<]+)</text>", "".join(panel.drawn))
    assert len(rows) == 2
    assert " ".join(rows) == words


def test_lettering_is_not_wider_than_reckoned() -> None:
    # reference: the metrics of DejaVu Sans, wider than the system fonts of today
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import TextPath

    for words in ("wheels slip, 0.47 N", "target out of reach from 83", "CV6 = 124", "before"):
        box = TextPath((0, 0), words, size=9.5, prop=FontProperties(family="DejaVu Sans")).get_extents()
        assert 0.93 * box.width <= text_width(words) <= 1.25 * box.width
