"""The settings of a sheet in rows, sentences and a chart with its numbers."""

from __future__ import annotations

import re

from sample import empty_figures, sample_figures

from buildsheets.figures.format import Figures
from buildsheets.sheet import SheetOptions, data_files, render_sheet
from buildsheets.sheet.curve_chart import curve_chart
from buildsheets.sheet.settings import curve_words, instead_rows, momentum_lines, setting_rows


def section(figures: Figures, options: SheetOptions | None = None) -> str:
    html = render_sheet(figures, options)
    start = html.index('<section class="bs-section bs-section--settings"')
    return html[start : html.index("</section>", start)]


def three_point() -> Figures:
    figures = sample_figures()
    points, table = figures["decoder"]["curve"]["fitted"]
    points.update(chosen=True, cvs=[2, 6, 5], at_steps=[1.0, 63.0, 126.0], values=[21, 0, 214])
    table["chosen"] = False
    return figures


def test_worked_out_and_set_stand_in_one_row() -> None:
    rows = setting_rows(sample_figures()["decoder"])
    assert [row.cv for row in rows] == ["2", "3", "5", "29", "67 to 94", "257"]
    first = rows[0]
    assert (first.name, first.worked, first.as_set) == ("Vstart", "21", "6")
    assert first.why == "step 1 just moves off"
    assert first.note.startswith("first step below")
    assert (rows[1].worked, rows[1].as_set) == ("–", "12")
    assert (rows[3].worked, rows[3].as_set) == ("18", "–")
    assert rows[5].page == "16, 0"


def test_table_is_a_line_with_numbers_and_never_a_control() -> None:
    html = section(sample_figures())
    svg = html[html.index("<svg") :]
    for n in range(1, 29):
        assert re.search(rf">\s*{9 * n}\s*</text>", svg), n
        assert f"CV{66 + n}\u00a0=\u00a0{9 * n}" in html  # and in words, for those who cannot see it
    assert not re.search(r"<(input|select|button|progress|meter|details)\b|role=\"(slider|tab|tablist|checkbox)\"", html)
    assert "see 7.1" in html


def test_cv29_is_written_out() -> None:
    html = section(sample_figures())
    assert "2 + 16 = 18: 28 or 128 steps (2), speed table (16)" in html
    assert "In the record: 2: 28 or 128 steps (2)" in html
    assert "bs-box" not in html


def test_three_points_carry_their_numbers_and_an_unused_one_none() -> None:
    chart = curve_chart(three_point())
    assert chart is not None
    assert "CV2 = 21" in chart.svg
    assert "CV5 = 214" in chart.svg
    assert not re.search(r">\s*CV6 = 0\s*</text>", chart.svg)
    assert "not needed" in section(three_point())


def test_words_name_both_distances_in_the_units_of_the_club() -> None:
    mph = " ".join(curve_words(sample_figures()["decoder"]["curve"], "mph"))
    assert "three-point curve stays within 4.2\u202fmph" in mph
    assert "speed table stays within 0.40\u202fmph" in mph
    assert "bit 4 of CV29 is on" in mph
    kmh = section(sample_figures(), SheetOptions(speed_unit="km/h"))
    assert "0.64\u202fkm/h" in kmh
    assert "mph" not in re.sub(r"<svg.*?</svg>", "", kmh, flags=re.DOTALL)
    figures = sample_figures()
    figures["decoder"]["curve"].update(full_drive_reaches=False, wanted_mph=70.0)
    assert "even full drive does not give it" in " ".join(curve_words(figures["decoder"]["curve"], "mph"))


def test_costs_are_said_as_far_as_they_are_known() -> None:
    table, bank = instead_rows(sample_figures()["decoder"], "mph")
    words = "starts at step 5; no heat; the train takes 5.4 % of the light engine\u2019s speed; off the wanted curve by up to 0.40\u202fmph"
    assert table.costs == words
    assert bank.costs == "starts at step 14; 620\u202fmW of heat"


def test_momentum_is_told_on_the_layout_and_at_full_size() -> None:
    (line,) = momentum_lines(sample_figures()["decoder"])
    assert line.stop == "9.9\u202fs, 1.6\u202fm on the layout, 121\u202fm at full size"


def test_sections_are_numbered_in_order() -> None:
    numbers = re.findall(r'<h3 id="[\w-]+"><span class="bs-number">(7\.\d)<', section(sample_figures()))
    assert numbers == sorted(numbers)
    assert numbers[:3] == ["7.1", "7.2", "7.3"]


def test_nothing_known_leaves_no_chart_and_no_empty_table() -> None:
    html = section(empty_figures())
    assert "names no decoder" in html
    assert 'id="drive-curve"' not in html
    assert "curve.csv" not in data_files(empty_figures())


def test_curve_data_hold_both_curves() -> None:
    head, first = data_files(sample_figures())["curve.csv"].decode().splitlines()[:2]
    assert head == "step,wanted [mph],as set [mph],\"three-point, drive level [1/255]\",three-point [mph]," \
        "\"table, drive level [1/255]\",table [mph]"
    assert first.startswith("1,")
