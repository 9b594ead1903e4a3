"""What the search is given of a sheet: the words people look for, and never more than three thousand bytes."""

from __future__ import annotations

import json
from copy import deepcopy
from types import SimpleNamespace
from typing import Any

import pytest
from markdown import markdown
from material.plugins.search.plugin import SearchIndex
from sample import empty_figures, sample_figures  # type: ignore[import-not-found]

from buildsheets.sheet.prose import render_prose
from buildsheets.sheet.words import MOST_BYTES, search_words, within_reach

LONGEST_LINE, LONGEST_PROSE = 160, 20_000  # letters, by the rules of the record

NOTES = {
    "none": "",
    "usual": "The charge store must be unplugged for service mode.",
    "headings": "\n\n".join(f"# {n}\n\nx" for n in range(2500)),
    "one paragraph": "word " * (LONGEST_PROSE // 5),
    "list": "\n".join(f"- item **{n}**" for n in range(1400)),
    "code": "`a` " * (LONGEST_PROSE // 4),
    "block of code": "    a < b\n" * (LONGEST_PROSE // 10),
    "other letters": "駅 " * (LONGEST_PROSE // 2),
    "nested": "\n".join("    " * (n % 5) + "- x" for n in range(1500)),
    "quoted": "> said & done\n" * (LONGEST_PROSE // 14),
}


def build(**changes: Any) -> Any:
    figures = deepcopy(sample_figures())
    figures.update(changes)
    return figures


def entries(figures: Any) -> list[dict[str, Any]]:
    """Return what the theme's own search makes of the page."""
    html = markdown(render_prose(figures), extensions=["attr_list", "toc", "tables"])
    page = SimpleNamespace(meta={}, content=within_reach(html), toc=[], url="builds/" + "n" * 30 + "/index.html", title="x")
    index = SearchIndex(lang=["en"], separator=" ", pipeline=[], fields={})
    index.add_entry_from_context(page)
    return index.entries


def size(figures: Any) -> int:
    return sum(len(json.dumps(entry, separators=(",", ":"))) for entry in entries(figures))


@pytest.mark.parametrize("title", ["Harbour tank", *(letter * LONGEST_LINE for letter in "W駅🚂")], ids=["usual", "long", "wide", "pictures"])
@pytest.mark.parametrize("notes", NOTES.values(), ids=NOTES)
def test_a_sheet_takes_three_thousand_bytes_at_most(notes: str, title: str) -> None:
    part = {**sample_figures()["parts"][0], "name": "é" * LONGEST_LINE}
    figures = build(title=title, notes_markdown=notes[:LONGEST_PROSE] or None, parts=[part] * 60)
    figures["head"]["summary"] = "a sentence " * (LONGEST_PROSE // 11)
    assert size(figures) <= MOST_BYTES


@pytest.mark.parametrize("notes", NOTES.values(), ids=NOTES)
def test_title_and_words_are_taken_in_whatever_the_notes(notes: str) -> None:
    found = entries(build(title="Harbour tank", notes_markdown=notes[:LONGEST_PROSE] or None))
    assert found[0]["title"] == "Harbour tank"
    assert "Scale:" in found[-1]["text"]


def test_as_much_of_the_notes_as_has_room_is_found() -> None:
    notes = "\n\n".join(f"Paragraph {n} says quillwort{n}." for n in range(200))
    texts = " ".join(entry["text"] for entry in entries(build(notes_markdown=notes)))
    assert "quillwort3." in texts
    assert "quillwort150." not in texts
    assert size(build(notes_markdown=notes)) > 0.8 * MOST_BYTES


def test_short_words_are_left_as_they_are() -> None:
    html = markdown(render_prose(sample_figures()))
    assert within_reach(html) == html


def test_words_are_what_people_look_for() -> None:
    figures = build()
    figures["dropper"]["text"] = "2 × 47 ohm 1 W in series"
    figures["decoder"]["abilities"] = {"speed_table": True, "feedback": True, "trims": False}
    part = figures["parts"][0]
    figures["parts"] = [{**part, "name": "rectifier diode 1 A", "stock": "silicon-1a"}, {**part, "name": "4.7 kohm", "stock": None}]
    figures["lamps"] = []
    words = dict(search_words(figures))
    assert words["It can"] == "speed table (CV67 to CV94), back-EMF feedback"
    assert words["Values"] == "47 ohm = 47 Ω = 47R, 4700 ohm = 4.7 kΩ = 4K7"  # IEC 60062, section on letter and digit code
    assert words["Parts"] == "rectifier diode 1 A (silicon-1a), 4.7 kohm"
    assert words["Status"] == figures["head"]["status"]
    stage = next(s for s in figures["gearing"]["stages"] if s["kind"] == "spur")
    assert f"{stage['driver_teeth']} tooth pinion on {stage['driven_teeth']} tooth wheel" in words["Gears"]


def test_no_table_of_numbers_is_taken_in() -> None:
    text = " ".join(entry["text"] for entry in entries(sample_figures()))
    assert "CV29" not in text
    assert all(str(row["step"]) not in text.split() for row in sample_figures()["speed_card"] if row["step"] > 100)


def test_what_a_record_does_not_say_leaves_no_label() -> None:
    words = dict(search_words(empty_figures()))
    assert "Motor" not in words
    assert all(words.values())
