"""Section 11: trials with prediction beside observation, and what the readings taught."""

from __future__ import annotations

import re
from copy import deepcopy
from typing import Any

from sample import SAMPLE  # type: ignore[import-not-found]

from buildsheets.sheet.environment import template_environment
from buildsheets.sheet.options import SheetOptions
from buildsheets.sheet.render import TEMPLATES, render_sheet


def _page(**changes: Any) -> str:
    """The section alone."""
    figures = deepcopy(SAMPLE) | changes
    template = template_environment(TEMPLATES).get_template("sections/tried.html.jinja")
    text = template.render(figures=figures, options=SheetOptions(), lacking=lambda *_: figures["missing"])
    return re.sub(r"[ \n]+", " ", text)


def test_values_stand_before_and_after() -> None:
    page = _page()
    row = next(part for part in page.split("<tr>") if "EMF constant</span>" in part)
    assert "0.00743" in row
    assert "0.00729" in row
    assert "0.981, 0.962 to 1.00" in row
    assert "much" in row


def test_readings_stand_in_the_notebooks_words_with_what_the_values_give() -> None:
    row = next(part for part in _page().split("<tr>") if "step 126, light, 3 m in 8.8 s" in part)
    assert "trial T2" in row
    assert [text in row for text in ("341", "338", "12\u202fmm/s", "0.25")] == [True] * 4


def test_left_out_readings_say_why_and_the_next_one_is_named() -> None:
    page = _page()
    assert "step 64, light, 2 m in 9.8 s: it does not say whether feedback was on." in page
    assert "The motor current at step 126. It parts friction from volts." in page


def test_other_sections_say_that_they_are_refined() -> None:
    page = render_sheet(deepcopy(SAMPLE))
    assert page.count("Refined by 2 readings of the notebook") == 3  # outcome, charts, card
    assert "Refined by" not in render_sheet(deepcopy(SAMPLE) | {"calibration": None})


def test_without_a_usable_reading_the_sheet_says_so() -> None:
    missing = [{"name": "readings", "needed_for": ["calibration"], "how_to_measure": "Time a run."}]
    page = _page(calibration=None, missing=missing)
    assert "rests on the record alone" in page
    assert "Time a run." in page


def test_trials_show_current_and_warmth_where_somebody_took_them() -> None:
    row = next(part for part in _page().split("<tr>") if "one resistor, 47 ohm" in part)
    assert [re.search(rf"{figure}\s", row) is not None for figure in ("121", "118", "71", "68")] == [True] * 4
    trials = [{**trial, "seen_motor_current_a": None} for trial in deepcopy(SAMPLE["trials"])]
    assert "Motor current" not in next(part for part in _page(trials=trials).split("<table") if "bs-trials" in part)
