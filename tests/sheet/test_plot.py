"""Axes: round numbers, places, gaps, words that keep clear of lines, settings that are ours alone."""

from __future__ import annotations

import re
from itertools import pairwise
from xml.etree import ElementTree as ET

import matplotlib as mpl
import pytest

from buildsheets.sheet.parts import Lettering
from buildsheets.sheet.plot import PENS, Panel, drawing, picture, text_width
from buildsheets.sheet.scale import about, headroom, tick_words, ticks

NAN = float("nan")


@pytest.mark.parametrize("span", [(0, 69.3), (0, 0.0837), (0, 126), (8.1, 14.2), (-3.0, 41.0), (0, 1e-3), (0, 23e4), (39.2, 41.9)])
@pytest.mark.parametrize("most", [1, 3, 4, 6, 9])
def test_round_numbers_lie_inside_and_evenly(span: tuple[float, float], most: int) -> None:
    found = ticks(span, most)
    assert 1 <= len(found) <= most + 1
    assert span[0] - 1e-9 <= found[0] <= found[-1] <= span[1] + 1e-9
    stretches = {round((b - a) / span[1], 9) for a, b in pairwise(found)}
    assert len(stretches) <= 1
    assert [float(words.replace("−", "-")) for words in tick_words(found)] == pytest.approx(found, abs=1e-9)


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
    assert _paths(panel) == ["M 10 70L60 45L110 20"]


def test_a_line_stops_where_nothing_is_known() -> None:
    panel = Panel((0, 0, 4, 4), (0, 4), (0, 4))
    panel.line([0, 1, 2, 3, 4], [0, 1, NAN, 3, 4], PENS[0])
    assert _paths(panel) == ["M 0 4L1 3M 3 1L4 0"]
    panel.drawn.clear()
    panel.band([0, 1, 2, 3, 4], [0, 0, 0, 0, NAN], [1, 1, NAN, 1, 1], PENS[0].colour)
    drawn = _paths(panel)
    assert "nan" not in "".join(drawn)
    places = [tuple(map(float, place.split())) for path in drawn for place in re.findall(r"[\d.]+ [\d.]+", path)]
    assert {x for x, _ in places} == {0.0, 1.0, 3.0}


def _drawn(panel: Panel) -> ET.Element:
    with drawing():
        return ET.fromstring(picture("p", (324, 162), panel.axes("x"), "t", "d"))


def _paths(panel: Panel) -> list[str]:
    """What is drawn between grid and frame."""
    with drawing():
        root = ET.fromstring(picture("p", (324, 162), panel.drawn, "t", "d"))
    return [element.get("d", "").strip().replace(" M", "M") for element in root.iter() if element.tag.endswith("path")]


def _placed(panel: Panel) -> list[ET.Element]:
    root = _drawn(panel)
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
    rows = [drawn.words for drawn in panel.drawn if isinstance(drawn, Lettering)]
    assert len(rows) == 2
    assert " ".join(rows) == words


def test_lettering_is_not_wider_than_reckoned() -> None:
    # reference: the metrics of DejaVu Sans, wider than the system fonts of today
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import TextPath

    for words in ("wheels slip, 0.47 N", "target out of reach from 83", "CV6 = 124", "before"):
        box = TextPath((0, 0), words, size=9.5, prop=FontProperties(family="DejaVu Sans")).get_extents()
        assert 0.93 * box.width <= text_width(words) <= 1.25 * box.width


def test_settings_of_whoever_builds_change_nothing() -> None:
    def drawn() -> str:
        panel = Panel((34, 36, 186, 92), (0, 126), (-5, 10))
        with drawing():
            panel.band([0, 60, 126], [0, 1, 2], [1, 2, 3], PENS[0].colour)
            panel.line(range(200), [number % 7 for number in range(200)], PENS[1])
            panel.reading(60, 5, 1, filled=True)
            panel.plumb(60, "here", low=True)
            return picture("p", (324, 162), panel.axes("x"), "t", "d")

    plain = drawn()
    odd = {
        "lines.linewidth": 7, "lines.marker": "h", "lines.markersize": 20, "lines.dash_capstyle": "round", "lines.solid_capstyle": "round",
        "lines.solid_joinstyle": "bevel", "lines.dash_joinstyle": "bevel", "markers.fillstyle": "left", "patch.linewidth": 9, "font.size": 30,
        "font.weight": "bold", "font.style": "italic", "font.stretch": "condensed", "font.family": ["serif"], "text.color": "red",
        "text.parse_math": True, "path.sketch": (1, 100, 2), "path.simplify": False, "axes.unicode_minus": False, "figure.facecolor": "red",
        "svg.fonttype": "path", "svg.hashsalt": "salt", "axes.formatter.use_mathtext": True, "axes.formatter.limits": (0, 0),
        "savefig.bbox": "tight", "figure.constrained_layout.use": True, "lines.scale_dashes": True, "figure.dpi": 300, "savefig.dpi": 300,
    }
    with mpl.rc_context(odd):
        assert drawn() == plain
        assert mpl.rcParams["font.size"] == 30  # and ours change nothing of theirs
    assert "−5" in plain


def test_names_are_text_whatever_letters_and_signs_they_hold() -> None:
    names = ["$x$ & <b>", "#010203", "機関車", "words", "1.23456", "; : L  id=\"x", "</text>"]
    with drawing():
        svg = picture("p", (324, 162), [Lettering(10, 10 * row, name) for row, name in enumerate(names, start=1)], "t", "d")
    assert [element.text for element in ET.fromstring(svg).iter() if element.tag.endswith("text")] == names
