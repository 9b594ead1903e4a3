"""The card laid on its side holds what the upright one holds."""

from copy import deepcopy

from sample import empty_figures, sample_figures

from buildsheets.sheet import render_sheet
from buildsheets.sheet.card import card_lines


def lines(figures, unit="mph"):
    return {line.label: line.cells for line in card_lines(figures, unit)}


def test_every_step_has_a_cell_in_every_line():
    figures = sample_figures()
    assert {len(cells) for cells in lines(figures).values()} == {len(figures["speed_card"])}
    assert card_lines(empty_figures()) == []


def test_units_follow_the_club():
    figures = deepcopy(sample_figures())
    figures["speed_card"] = [{**figures["speed_card"][-1], "scale_mph": 50.0, "feedback_on_scale_mph": None}]
    assert lines(figures)["Scale speed, mph"] == ["50"]
    assert lines(figures, "km/h")["Scale speed, km/h"] == ["80"]  # 50 × 1.609344 = 80.5, two figures


def test_what_stands_and_what_creeps():
    figures = deepcopy(sample_figures())
    row = {**figures["speed_card"][0], "scale_mph": 0.0, "seconds_over_run": None, "chuffs_per_second": None,
           "feedback_on_scale_mph": None, "feedback_on_seconds_over_run": None}
    figures["start"]["creep_from_step"] = 3
    figures["speed_card"] = [{**row, "step": step} for step in (1, 3, 4)]
    assert lines(figures) == {"Scale speed, mph": ["stands", "creeps", "creeps"]}


def test_feedback_on_has_lines_of_its_own():
    figures = deepcopy(sample_figures())
    for row in figures["speed_card"]:
        row.update(feedback_on_scale_mph=20.0, feedback_on_seconds_over_run=4.0)
    assert "Scale speed, feedback on, mph" in lines(figures)
    assert "Scale speed, feedback off, mph" in lines(figures)


def test_both_cards_are_on_the_sheet():
    html = render_sheet(sample_figures())
    assert html.count("Chuffs per second") == 2
