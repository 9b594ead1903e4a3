"""What spans builds: rows, shopping list, feed and pairs."""

import csv
import json
from copy import deepcopy
from io import StringIO
from xml.etree import ElementTree

import pytest
from sample import empty_figures, sample_figures

from buildsheets.library.feed import ATOM, MOST_ENTRIES, Place, atom_feed
from buildsheets.library.pairs import Pair, pairs
from buildsheets.library.rows import library_csv, library_json, library_row
from buildsheets.library.shopping import ResistorGroup, Total, resistor_groups, shopping_csv, shopping_list, totals

PLACE = Place("https://club.example/", "builds/{slug}/index.html", "A & B club")


def build(slug: str, **parts: object):
    figures = deepcopy(sample_figures())
    figures["slug"], figures["title"] = slug, slug.title()
    for name, value in parts.items():
        figures[name] = value
    return figures


def part(name: str, quantity: int, stock: str | None = None, price: float | None = None):
    return {
        "name": name, "quantity": quantity, "stock": stock, "used_for": "", "unit_price": price, "line_price": None,
        "resistance_ohm": None, "rating_w": None, "series": None,
    }  # fmt: skip


def curve(name: str, speeds: list[float], feedback: str = "off"):
    return {**sample_figures()["curves"][0], "name": name, "feedback": feedback, "scale_mph": speeds}


# Rows


def test_data_files_hold_every_build_and_every_key():
    rows = [library_row(sample_figures()), library_row(empty_figures())]
    data = json.loads(library_json(rows))
    assert [entry["slug"] for entry in data["builds"]] == [row["slug"] for row in rows]
    table = list(csv.DictReader(StringIO(library_csv(rows).decode())))
    assert list(table[0]) == list(rows[0]) == list(data["builds"][0])
    assert table[1]["top_scale_mph"] == ""
    assert float(table[0]["top_scale_mph"]) == pytest.approx(rows[0]["top_scale_mph"], rel=1e-6)


def test_no_cell_is_a_formula():
    row = {**library_row(sample_figures()), "title": "=1+1", "route": ["+x"]}
    assert "'=1+1" in library_csv([row]).decode()
    assert "'+x" in library_csv([row]).decode()


# Shopping list


def test_equal_parts_are_summed_over_builds():
    one = build("one", parts=[part("can", 1, "can-12", 14.5), part("Tape", 1), part("bank", 2, "r-47", 0.12)])
    two = build("two", parts=[part("12 mm can", 2, "can-12", 14.5), part("tape", 1)])
    lines = shopping_list([one, two])
    assert [(line.stock or line.name, line.quantity) for line in lines] == [("can-12", 3), ("r-47", 2), ("Tape", 2)]
    assert lines[0].wanted_by == ("One", "Two")
    assert lines[0].line_price == pytest.approx(43.5)
    assert lines[2].line_price is None


def test_other_price_is_another_line():
    lines = shopping_list([build("a", parts=[part("can", 1, "c", 2.0)]), build("b", parts=[part("can", 1, "c", 3.0)])])
    assert [line.unit_price for line in lines] == [2.0, 3.0]


def test_shopping_table_names_the_currency():
    text = shopping_csv(shopping_list([build("a", parts=[part("can", 3, "c", 0.1)])])).decode()
    assert text.splitlines() == ["part,stock part,quantity,unit price,price,currency,wanted by", "can,c,3,0.1,0.3,GBP,A"]


def test_totals_by_currency():
    here = build("a", parts=[part("can", 3, "c", 0.1), part("tape", 1)])
    there = build("b", parts=[part("can", 2, "c", 0.1)], cost={**here["cost"], "currency": "EUR"})
    lines = shopping_list([here, there])
    assert [(line.currency, line.quantity) for line in lines if line.stock] == [("EUR", 2), ("GBP", 3)]
    assert totals(lines) == [Total("EUR", 0.2), Total("GBP", 0.3)]  # by hand
    assert totals(shopping_list([build("c", parts=[part("tape", 1)])])) == []


def resistor(stock: str, quantity: int, ohms: float, rating: float | None, series: str | None):
    return {**part(stock, quantity, stock), "resistance_ohm": ohms, "rating_w": rating, "series": series}


def test_resistors_lie_together_by_series_and_rating():
    lines = shopping_list([
        build("a", parts=[resistor("r47", 2, 47.0, 1.0, "E6"), resistor("r51", 1, 51.0, 0.5, "E24"), part("can", 1, "can")]),
        build("b", parts=[resistor("r47", 1, 47.0, 1.0, "E6"), resistor("r33", 4, 33.0, 1.0, "E6"), resistor("odd", 1, 50.0, None, None)]),
    ])
    assert resistor_groups(lines) == [
        ResistorGroup("E6", 1.0, ((33.0, 4), (47.0, 3))),
        ResistorGroup("E24", 0.5, ((51.0, 1),)),
        ResistorGroup(None, None, ((50.0, 1),)),
    ]


# Feed: elements that RFC 4287 (section 4.1) demands, source from memory


def dated(slug: str, **dates: str | None):
    figures = build(slug)
    figures["head"] = {**figures["head"], "started": None, "finished": None, "changed": None, **dates}
    return figures


def test_feed_has_what_the_standard_demands():
    feed = ElementTree.fromstring(atom_feed([dated("old", started="2026-01-02"), dated("new", changed="2026-05-01")], PLACE))
    for name in ("id", "title", "updated", "author"):
        assert len(feed.findall(f"{{{ATOM}}}{name}")) == 1
    entries = feed.findall(f"{{{ATOM}}}entry")
    assert [entry.findtext(f"{{{ATOM}}}title") for entry in entries] == ["New", "Old"]
    for entry in entries:
        for name in ("id", "title", "updated"):
            assert len(entry.findall(f"{{{ATOM}}}{name}")) == 1
    assert feed.findtext(f"{{{ATOM}}}updated") == "2026-05-01T00:00:00Z"
    assert entries[0].findtext(f"{{{ATOM}}}id") == "https://club.example/builds/new/index.html"
    assert feed.findtext(f"{{{ATOM}}}title") == "A & B club"


def test_undated_builds_stay_out_and_the_list_is_capped():
    many = [dated(f"b{n}", started=f"2025-01-{1 + n % 28:02}") for n in range(MOST_ENTRIES + 9)]
    feed = ElementTree.fromstring(atom_feed([dated("never"), *many], PLACE))
    assert len(feed.findall(f"{{{ATOM}}}entry")) == MOST_ENTRIES
    assert "never" not in ElementTree.tostring(feed, encoding="unicode")


def test_control_letters_do_not_break_the_feed():
    odd = dated("odd", started="2026-01-01")
    odd["title"] = "a\x0b<b>\x01"
    ElementTree.fromstring(atom_feed([odd], PLACE))


# Pairs


def two(first: list[float], second: list[float]):
    one, other = build("one", curves=[curve("as built", first)]), build("other", curves=[curve("as built", second)])
    return one, other


def match(one, other) -> Pair | None:
    found = pairs([one, other])
    return found[0] if found else None


def test_twins_run_together():
    pair = match(*two([0, 1, 2, 3], [0, 1, 2, 3]))
    assert pair is not None
    assert (pair.difference, pair.start_gap, pair.first_common_step) == (0, 0, 2)


def test_difference_is_a_share_of_the_faster_at_the_worst_step():
    pair = match(*two([0, 0, 10, 20, 40], [0, 2, 8, 19, 40]))
    assert pair is not None
    assert pair.difference == pytest.approx(0.2)  # (10 − 8) / 10, by hand
    assert (pair.at_step, pair.start_gap) == (3, 1)


def test_light_engine_off_feedback_is_what_counts():
    one, other = two([1, 2], [1, 2])
    one["curves"] = [curve("as built", [9, 9]), curve("as built, light engine", [1, 2]), curve("as built", [5, 5], "on")]
    pair = match(one, other)
    assert pair is not None
    assert pair.difference == 0


def test_other_scales_and_unknown_speeds_make_no_pair():
    one, other = two([1, 2], [1, 2])
    other["head"] = {**other["head"], "scale_ratio": 160.0}
    assert match(one, other) is None
    one, other = two([1, 2], [1, 2])
    other["curves"] = []
    assert match(one, other) is None
    assert match(*two([0, 0], [1, 2])) is None


def test_pairs_come_best_first():
    builds = [build(str(n), curves=[curve("as built", [s, 2 * s])]) for n, s in enumerate((10, 10.5, 20))]
    found = pairs(builds)
    assert [(pair.one, pair.other) for pair in found] == [("0", "1"), ("1", "2"), ("0", "2")]
    assert [pair.difference for pair in found] == sorted(pair.difference for pair in found)


def test_each_build_hears_of_its_best_partners_only():
    speeds = (10, 11, 12, 20, 40)
    builds = [build(str(n), curves=[curve("as built", [s, 2 * s])]) for n, s in enumerate(speeds)]
    found = pairs(builds, per_build=1)
    # by hand: 0's nearest is 1, 1's and 2's each other (1/12 < 1/11), 3's is 2, 4's is 3
    assert {(pair.one, pair.other) for pair in found} == {("0", "1"), ("1", "2"), ("2", "3"), ("3", "4")}
