"""The picture that stands for a sheet: its size, what it shows, and that nothing is cut off."""

from __future__ import annotations

from copy import deepcopy
from io import BytesIO
from typing import Any

import numpy as np
import pytest
from PIL import Image
from sample import empty_figures, sample_figures  # type: ignore[import-not-found]

from buildsheets.library.preview import MOST_LINES, library_preview, library_preview_words
from buildsheets.sheet.preview import (
    BODY_TOP,
    CHART,
    HEIGHT,
    LEADING,
    LEFT,
    RIGHT,
    TITLE_HIGH,
    TITLE_SIZES,
    WIDTH,
    fitted,
    preview,
    preview_rows,
    preview_words,
)

MOST_BYTES = 60_000
LONGEST = 160  # letters of a title, as the record's rules allow
TITLES = {
    "usual": "Harbour branch 0-6-2 tank",
    "long": ("The very long name of a locomotive that was never short of names " * 3)[:LONGEST],
    "wide": "W" * LONGEST,
    "wide words": ("WWWWWWWWW " * LONGEST)[:LONGEST],
    "other letters": "Μηχανή паровоз Überlandbahn Łódź",
    "markup": '<b>&"quoted"</b>\x07\u202e',
}


def titled(title: str) -> Any:
    figures = deepcopy(sample_figures())
    figures["title"] = title
    return figures


def dots(picture: bytes) -> np.ndarray:
    """Return the picture as grey values."""
    return np.asarray(Image.open(BytesIO(picture)).convert("L"))


@pytest.mark.parametrize("title", TITLES.values(), ids=TITLES)
def test_size_and_weight(title: str) -> None:
    picture = preview(titled(title), club="A club " * 20)
    image = Image.open(BytesIO(picture))
    assert (image.format, image.size) == ("PNG", (1200, 630))
    assert image.info == {} or set(image.info) <= {"transparency"}  # no clock, no program's name
    assert len(picture) < MOST_BYTES


@pytest.mark.parametrize("title", TITLES.values(), ids=TITLES)
def test_no_letter_is_cut_off(title: str) -> None:
    grey = dots(preview(titled(title), club="W" * LONGEST))
    margin = LEFT - 4
    assert (grey[:, :margin] == 255).all()
    assert (grey[:, -margin:] == 255).all()
    assert (grey[:20] == 255).all()
    assert (grey[-4:] == 255).all()
    size, lines = fitted(title, RIGHT - LEFT, TITLE_SIZES, bold=True)
    assert "".join(lines).replace(" ", "") == title.replace(" ", "")
    assert size * LEADING * len(lines) <= TITLE_HIGH
    assert (grey[BODY_TOP - 22 : BODY_TOP - 16] == 255).all()  # clear of the rule under it


def test_same_figures_same_bytes_whatever_was_drawn_before() -> None:
    first = preview(titled("One"))
    preview(titled("W" * LONGEST), "km/h", "A club")
    preview(empty_figures())
    assert preview(titled("One")) == first
    assert preview(titled("Two")) != first


def test_curve_and_limit_stand_where_the_figures_say() -> None:
    """The line's height at the last step and the dashes at the limit, measured in the picture; the scale is common to both."""
    figures = titled("x")
    curve = figures["curves"][0]
    curve.update(scale_mph=[step / 126 * 50.0 for step in range(1, 127)], scale_mph_low=None, scale_mph_high=None)
    figures["curves"] = [curve]
    figures["head"]["prototype_top_mph"] = 100.0
    left, top, right, bottom = CHART
    chart = dots(preview(figures))[top:bottom, left + 4 : right]
    middle = chart[:, chart.shape[1] // 2]
    line = 40 + np.flatnonzero(middle[40:] < 160).mean()  # half way across: 25 mph
    dashes = np.flatnonzero((chart < 60).mean(axis=1) > 0.4)[0]
    assert dashes == pytest.approx((bottom - top) * (1 - 1 / 1.06), abs=2)
    assert line == pytest.approx((bottom - top) * (1 - 0.25 / 1.06), abs=3)


def test_a_band_is_shaded_between_its_ends() -> None:
    figures = titled("x")
    curve = figures["curves"][0]
    curve.update(scale_mph=[50.0] * 126, scale_mph_low=[40.0] * 126, scale_mph_high=[100.0] * 126)
    figures["curves"], figures["head"]["prototype_top_mph"] = [curve], None
    left, top, right, bottom = CHART
    column = dots(preview(figures))[top:bottom, (left + right) // 2]
    share = ((column > 195) & (column < 250)).mean()
    assert share == pytest.approx((100 - 40) / 106, abs=0.06)


def test_without_a_curve_it_says_so() -> None:
    figures = empty_figures()
    assert "No speed curve yet" in preview_words(figures)
    assert len(preview(figures)) < MOST_BYTES


def test_rows_are_speed_start_and_the_gravest() -> None:
    levels = {"top_speed": "ok", "first_step": "ok", "mesh": "ok", "cost": "note", "heat": "stop", "decoder": "caution"}
    glance = [{"id": name, "label": name, "value": "1", "level": level, "sentence": ""} for name, level in levels.items()]
    assert [line["id"] for line in preview_rows(glance)] == ["top_speed", "first_step", "heat", "decoder"]


def test_words_say_what_the_picture_shows() -> None:
    figures = titled("Harbour tank")
    words = preview_words(figures)
    assert words.startswith("Harbour tank. ")
    for line in preview_rows(figures["glance"]):
        assert f"{line['label']}: {line['value']} ({line['level']})" in words
    assert "mph" in words
    metric = preview_words(figures, "km/h")
    assert "Top scale speed: 90 to 106 km/h (caution)" in metric  # 56 and 66 mph at 1.609344 km to the mile, as many figures
    assert "mph" not in metric


def test_a_title_that_cannot_be_drawn_gives_way_to_the_name_of_the_record() -> None:
    foreign = titled("蒸気機関車")
    assert preview(foreign) == preview(titled(foreign["slug"]))


def test_the_library_has_a_picture_too() -> None:
    figures = [titled(str(number)) for number in range(3)]
    picture = library_preview(figures, "mph", "A club")
    assert Image.open(BytesIO(picture)).size == (WIDTH, HEIGHT)
    assert picture == library_preview(figures, "mph", "A club")
    assert len(library_preview(figures * MOST_LINES, "mph", "W" * LONGEST)) < MOST_BYTES
    assert library_preview_words(figures, "A club").startswith("A club. 3 build sheets in ")
    assert len(library_preview([], "mph", "A club")) < MOST_BYTES
