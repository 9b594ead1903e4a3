"""Charts: the same bytes every time, nothing that leaks into the page, words for those who cannot see them."""

from __future__ import annotations

import gzip
import os
import re
import subprocess
import sys
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from sample import empty_figures, sample_figures

from buildsheets.figures.format import Feedback, Figures
from buildsheets.sheet.answer_chart import answer_chart
from buildsheets.sheet.charts import Chart, feedback_chart, heat_chart, pull_chart, speed_chart
from buildsheets.sheet.curve_chart import curve_chart
from buildsheets.sheet.plot import LEADING, EndLabel, ordinate_words, picture
from buildsheets.sheet.scale import spread
from buildsheets.sheet.svg import standalone

LIMIT = 42_000  # bytes of one inline chart
PACKED = 9_500  # bytes of the same on its way to the reader
HERE = Path(__file__).parent


DRAW: dict[str, Callable[[Figures], Chart | None]] = {
    "speed": speed_chart, "heat": heat_chart, "pull": pull_chart, "feedback": feedback_chart, "answer": answer_chart, "curve": curve_chart,
}


def _charts() -> dict[str, Chart]:
    drawn = {name: draw(sample_figures()) for name, draw in DRAW.items()}
    charts = {name: chart for name, chart in drawn.items() if chart is not None}
    assert len(charts) == len(drawn)
    return charts


@pytest.fixture(scope="module")
def charts() -> dict[str, Chart]:
    return _charts()


def test_same_bytes_in_this_and_in_another_process(charts: dict[str, Chart]) -> None:
    assert _charts() == charts
    code = "import test_charts as t, sys; sys.stdout.buffer.write(''.join(c.svg for c in t._charts().values()).encode())"
    paths = [str(HERE), str(HERE.parents[1] / "plugin")]
    run = f"import sys; sys.path[:0] = {paths!r}; {code}"
    for seed in ("0", "1"):
        other = subprocess.run([sys.executable, "-c", run], check=True, capture_output=True, env={**os.environ, "PYTHONHASHSEED": seed})
        assert other.stdout.decode() == "".join(chart.svg for chart in charts.values())


def test_bytes_do_not_depend_on_what_was_drawn_before(charts: dict[str, Chart]) -> None:
    other = sample_figures()
    other["curves"] = other["curves"][:1]
    for order in (list(DRAW), list(reversed(DRAW))):
        for name in order:
            DRAW[name](other)
            assert DRAW[name](sample_figures()) == charts[name]


@pytest.mark.parametrize("name", DRAW)
def test_drawing_fits_into_a_page(charts: dict[str, Chart], name: str) -> None:
    svg = charts[name].svg
    assert len(svg.encode()) <= LIMIT
    assert len(gzip.compress(svg.encode())) <= PACKED
    root = ET.fromstring(svg)  # well-formed XML
    assert root.get("role") == "img"
    assert root.get("viewBox")
    assert root.get("width") == "100%"
    assert not re.search(r"<style|<metadata|<!DOCTYPE|<\?xml|nan|https?://(?!www\.w3\.org)", svg)
    ids = re.findall(r'\bid="([^"]+)"', svg)
    assert len(ids) == len(set(ids))
    assert all(i.startswith(f"bs-{name}-") for i in ids)
    used = re.findall(r'href="#([^"]+)"|url\(#([^)]+)\)', svg)
    assert {a or b for a, b in used} <= set(ids)
    assert set(root.get("aria-labelledby", "").split()) <= set(ids)


def test_no_id_is_shared_between_the_charts(charts: dict[str, Chart]) -> None:
    ids = [found for chart in charts.values() for found in re.findall(r'\bid="([^"]+)"', chart.svg)]
    assert len(ids) == len(set(ids))


def test_words_say_the_finding(charts: dict[str, Chart]) -> None:
    words = charts["speed"].finding.replace("\u202f", " ")
    assert "As built: 61 mph at the top step (likely 56 to 66 mph), moving from step 11." in words
    assert "limit is 55 mph" in words
    assert "Open points: 1" in words
    assert "feedback off" in charts["speed"].svg
    heat = charts["heat"].finding.replace("\u202f", " ")
    assert "hottest at step 98" in heat
    assert "stalled, 171 °C" in heat
    assert "plastic softens 85 °C" in heat


def test_lines_differ_without_colour(charts: dict[str, Chart]) -> None:
    dashes = set(re.findall(r"stroke-dasharray:([^;]+);", charts["speed"].svg))
    assert len(dashes) >= 4  # three curves and the limit; "as built" is the solid one


def test_kilometres_move_the_axis() -> None:
    chart = speed_chart(sample_figures(), "km/h")
    assert chart is not None
    assert "Scale speed, km/h" in chart.svg
    assert "99\u202fkm/h" in chart.finding  # 61.4 mph x 1.609344


def test_nothing_known_gives_no_chart() -> None:
    assert speed_chart(empty_figures()) is None
    assert heat_chart(empty_figures()) is None
    assert pull_chart(empty_figures()) is None
    assert feedback_chart(empty_figures()) is None
    assert answer_chart(empty_figures()) is None


def test_pull_says_what_gives_way_first(charts: dict[str, Chart]) -> None:
    words = charts["pull"].finding.replace("\u202f", " ")
    assert "The wheels slip first, at 0.47 N; the motor would stall at 0.72 N." in words
    assert "takes 0.18 N on the grade and runs at 48 mph" in words
    figures = sample_figures()
    assert figures["haulage"] is not None
    figures["haulage"].update(slips_before_stall=False, slip_limit_n=0.9)
    stalls = pull_chart(figures, "km/h")
    assert stalls is not None
    assert "The motor stalls first, at" in stalls.finding
    assert "99\u202fkm/h" in stalls.finding  # 61.4 mph x 1.609344
    figures["haulage"].update(slips_before_stall=None, slip_limit_n=None, train_pull_level_n=None, train_pull_on_grade_n=-0.1)
    unknown = pull_chart(figures)
    assert unknown is not None
    assert unknown.finding.endswith("where the wheels slip is not known.")


def test_little_known_still_draws() -> None:
    figures = sample_figures()
    figures["curves"] = [{**figures["curves"][1], "scale_mph": [None] * 126}, figures["curves"][1]]
    figures["bench_points"] = []
    figures["head"]["prototype_top_mph"] = None
    assert figures["dropper"] is not None
    figures["dropper"].update(worst_step=None, stall_temperature_c=None, temperature_limits=[])
    chart, heat = speed_chart(figures), heat_chart(figures)
    assert chart is not None
    assert "No timed run" in chart.finding
    assert heat is not None
    assert "stalled, not known" in heat.finding


def test_hostile_curve_name_stays_text() -> None:
    figures = sample_figures()
    figures["curves"][0]["name"] = "<script>$x$&"
    chart = speed_chart(figures)
    assert chart is not None
    assert "<script" not in chart.svg
    ET.fromstring(chart.svg)


def test_labels_do_not_touch_and_stay_in_the_drawing() -> None:
    placed = spread([0.5, 0.5, 0.51, 0.99, 0.0], [1, 2, 1, 1, 1], 0.072)
    order = sorted(placed)
    assert all(b - a > 0.07 for a, b in pairwise(order))
    assert 0 <= order[0] <= order[-1] <= 1.06


@pytest.mark.parametrize("curves", [4, 12])
def test_labels_of_many_curves_stand_apart_and_in_the_drawing(curves: int) -> None:
    figures = sample_figures()
    figures["curves"] = [{**figures["curves"][0], "name": f"as built, {number} wagons up a grade"} for number in range(curves)]
    chart = speed_chart(figures)
    assert chart is not None
    root = ET.fromstring(chart.svg)
    texts = [element for element in root.iter() if element.tag.endswith("text")]
    beside = max(float(text.get("x", "0")) for text in texts)
    rows = sorted(float(text.get("y", "0")) for text in texts if float(text.get("x", "0")) == beside)
    assert len(rows) >= 2 * curves
    assert all(b - a >= LEADING - 0.02 for a, b in pairwise(rows))
    assert 0 < rows[0] < rows[-1] < float(root.get("viewBox", "").split()[3])


def test_file_of_its_own_needs_no_page(charts: dict[str, Chart]) -> None:
    alone = standalone(charts["speed"].svg).decode()
    assert "var(" not in alone
    ET.fromstring(alone.encode())


def test_a_file_of_its_own_has_the_title_that_the_page_writes_over_the_chart(charts: dict[str, Chart]) -> None:
    long = "Zugkraft über der Geschwindigkeit bei höchster Fahrstufe, Lastregelung aus & weiter"
    for chart in charts.values():
        assert chart.title
        inside = [text.text for text in ET.fromstring(chart.svg).iter() if text.tag.endswith("text")]
        assert chart.title not in inside
        for title in (chart.title, long):
            root = ET.fromstring(standalone(chart.svg, title))
            over = [text for text in root.iter() if text.tag.endswith("text") and text.text == title]
            assert len(over) == 1
            left, top, width, height = map(float, root.attrib["viewBox"].split())
            assert top < float(over[0].attrib["y"]) - 10 < 0
            # Arial bold, mean letter of running text: 0.55 em, from memory
            assert left + width >= float(over[0].attrib["x"]) + 0.55 * 10.5 * len(title)
            assert top + height == float(ET.fromstring(chart.svg).attrib["viewBox"].split()[3])


def test_two_charts_lie_beside_each_other_on_either_paper(charts: dict[str, Chart]) -> None:
    for name in charts.keys() - {"curve"}:
        wide = float(re.search(r"--bs-on-paper:(\d+)pt", charts[name].svg)[1])  # type: ignore[index]
        # ISO 216: A4 is 210 mm wide; margins and the gap are those of the style sheet
        assert 2 * wide / 72 * 25.4 + 5.0 <= 210.0 - 14.0 - 10.0


def test_a_grade_is_not_torn_apart() -> None:
    assert EndLabel(1.0, "as built, 1 in 50", "").lines == ["as built,", "1\u00a0in\u00a050"]
    assert EndLabel(1.0, "in the record", "").lines == ["in the record"]


def test_an_ordinate_of_many_words_takes_a_second_line_over_the_first() -> None:
    short, none = ordinate_words("Scale speed, mph", 268.0)
    long, rise = ordinate_words("Volt bei der Geschwindigkeit jeder Fahrstufe, Lastregelung aus", 268.0)
    assert (len(short), none) == (1, 0.0)
    assert len(long) == 2
    assert rise == LEADING
    drawn = picture("x", (268.0, 100.0), long, "t", "d", rise)
    heights = sorted(float(text.attrib["y"]) for text in ET.fromstring(drawn).iter() if text.tag.endswith("text"))
    assert heights[1] == pytest.approx(heights[0] + LEADING, abs=0.01)
    left, top, _width, height = map(float, ET.fromstring(drawn).attrib["viewBox"].split())
    assert (left, top + height) == (0.0, 100.0)
    assert heights[0] > top + 0.7 * 9.5  # capitals are about 0.7 em high, from memory


def test_answers_are_drawn_and_told() -> None:
    figures = sample_figures()
    chart = answer_chart(figures)
    assert chart is not None
    words = chart.finding.replace("\u202f", " ")
    assert "runs 19 % past it" in words
    assert "with I at 0.55 of that it runs 2 % past it" in words.replace("2.0 %", "2 %")
    assert "with feedback on, set either way, it dips by 6 % and comes back" in words.replace("6.0 %", "6 %")
    assert "with feedback off it loses 9 % of its speed for good" in words.replace("9.0 %", "9 %")


def feedback_of(figures: Figures) -> Feedback:
    found = figures["feedback"]
    assert found is not None
    return found


def test_one_setting_is_one_line_and_a_level_line_one_panel() -> None:
    figures = sample_figures()
    loop = feedback_of(figures)["loop"]
    assert loop is not None
    loop.update(i_ratio=1.0, grade=None)
    loop["start"]["advised"].update(settling_time_s=None)
    loop["start"]["off"].update(stalls=True)
    chart = answer_chart(figures, "km/h")
    assert chart is not None
    assert "feedback on it" in chart.finding
    assert "goes on swinging; with feedback off it stands." in chart.finding
    assert "as without" not in chart.svg
    assert "Meeting" not in chart.svg


def test_the_abscissa_of_two_answers_is_lettered_once_under_both() -> None:
    chart = answer_chart(sample_figures())
    assert chart is not None
    texts = {text.text: float(text.attrib["y"]) for text in ET.fromstring(chart.svg).iter() if text.tag.endswith("text")}
    assert chart.svg.count(">Time, s<") == 1
    assert texts["Time, s"] == max(texts.values())


def test_curve_with_feedback_on_is_told_apart_and_titled() -> None:
    figures = sample_figures()
    chart = speed_chart(figures)
    assert chart is not None
    assert "feedback off and on" in chart.svg
    assert "held up to step 96 and gets all there is above." in chart.finding
    feedback_of(figures).update(cut_off_set=80)
    cut = speed_chart(figures)
    assert cut is not None
    assert "held up to step 80; above step 80 feedback is cut off." in cut.finding
    figures["curves"] = [curve for curve in figures["curves"] if curve["feedback"] == "off"]
    off = speed_chart(figures)
    assert off is not None
    assert "feedback off and on" not in off.svg
    assert "held up" not in off.finding


def test_measured_heat_is_drawn_and_said() -> None:
    figures = sample_figures()
    with_points = heat_chart(figures)
    figures["heat_points"] = []
    without = heat_chart(figures)
    assert with_points is not None
    assert without is not None
    assert "Measured, drawn as points: 61.0\u202f°C at step 126." in with_points.finding
    assert "Measured" not in without.finding
    assert len(with_points.svg) > len(without.svg)


def test_numbers_of_the_drawing_are_no_finer_than_a_hundredth(charts: dict[str, Chart]) -> None:
    for chart in charts.values():
        attributes = [value for element in ET.fromstring(chart.svg).iter() for value in element.attrib.values()]
        assert not re.search(r"\.\d{3}", " ".join(attributes))


def test_lettering_is_text_in_the_font_of_the_page(charts: dict[str, Chart]) -> None:
    for chart in charts.values():
        lettering = [element for element in ET.fromstring(chart.svg).iter() if element.tag.endswith("text")]
        assert len(lettering) > 10
        assert all("var(--bs-font, " in element.get("style", "") for element in lettering)
        assert not re.search(r"DejaVu|#0102", chart.svg)


def test_no_drawing_library_is_loaded_where_there_is_nothing_to_draw() -> None:
    code = (
        "import test_charts as t; assert not [draw(t.empty_figures()) for draw in t.DRAW.values() if draw(t.empty_figures())];"
        "print([name for name in sys.modules if name.startswith('matplotlib')])"
    )
    paths = [str(HERE), str(HERE.parents[1] / "plugin")]
    run = subprocess.run([sys.executable, "-c", f"import sys; sys.path[:0] = {paths!r}; {code}"], check=True, capture_output=True, text=True)
    assert run.stdout.strip() == "[]"
