"""Places and clearances of a record, by hand: sums and differences of the lengths written here."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from buildsheets.figures.format import Figures

Work = Callable[..., Figures]

CAVITY = {"length": "60 mm", "width": "20 mm", "height": "20 mm"}


def box(name: str, length: str, width: str, height: str, **rest: str) -> dict[str, Any]:
    return {"name": name, "size": {"length": length, "width": width, "height": height}, **rest}


def fitted(figures_of: Work, parts: list[dict[str, Any]], keep_outs: list[dict[str, Any]] | None = None) -> Figures:
    return figures_of({"space": {"cavity": CAVITY, "keep_outs": keep_outs or [], "parts": parts}})


def verdict(figures: Figures) -> tuple[str, str]:
    [found] = [v for v in figures["verdicts"] if v["subject"] == "fit"]
    return found["level"], found["message"]


def test_no_cavity_no_fit_and_says_so(figures_of: Work) -> None:
    assert figures_of()["fit"] is None
    assert any(entry["name"] == "space.cavity" for entry in figures_of()["missing"])
    empty = figures_of({"space": {"cavity": CAVITY}})
    assert empty["fit"] is None
    assert any(entry["name"] == "space.parts" for entry in empty["missing"])


def test_given_places_are_kept_and_the_rest_is_worked_out(figures_of: Work) -> None:
    parts = [
        box("motor", "20 mm", "12 mm", "12 mm", along="30 mm", across="4 mm"),
        box("decoder", "25 mm", "15 mm", "5 mm", gap="1 mm"),
    ]
    fit = fitted(figures_of, parts)["fit"]
    assert fit is not None
    motor, decoder = fit["placed"]
    assert motor["at_mm"] == [30.0, 4.0, 0.0]
    assert (motor["given"], decoder["given"]) == (True, False)
    assert decoder["at_mm"] == [1.0, 1.0, 0.0]  # rear left on the floor, a millimetre of air to both sides
    assert fit["problems"] == []
    assert verdict(fitted(figures_of, parts))[0] == "ok"


def test_overlap_is_told_by_the_way_apart(figures_of: Work) -> None:
    # 32 - 30 = 2 mm along are shared; across and up more
    parts = [
        box("motor", "20 mm", "12 mm", "12 mm", along="30 mm", across="4 mm"),
        box("speaker", "12 mm", "12 mm", "8 mm", along="20 mm", across="4 mm"),
    ]
    figures = fitted(figures_of, parts)
    assert figures["fit"] is not None
    [problem] = figures["fit"]["problems"]
    assert problem["by_mm"] == pytest.approx(2.0)
    assert "motor and speaker overlap by 2" in problem["text"]
    assert verdict(figures)[0] == "stop"


def test_short_air_is_a_caution(figures_of: Work) -> None:
    # 30 - 29.4 = 0.6 mm are left of the millimetre wanted
    parts = [
        box("motor", "20 mm", "12 mm", "12 mm", along="30 mm", across="4 mm"),
        box("decoder", "19.4 mm", "12 mm", "8 mm", along="10 mm", across="4 mm", gap="1 mm"),
    ]
    figures = fitted(figures_of, parts)
    assert figures["fit"] is not None
    [problem] = figures["fit"]["problems"]
    assert problem["by_mm"] == pytest.approx(0.4)
    assert verdict(figures)[0] == "caution"


def test_a_part_beyond_the_wall_and_one_without_room(figures_of: Work) -> None:
    parts = [
        box("motor", "20 mm", "12 mm", "12 mm", along="43 mm", across="4 mm"),  # ends at 63 of 60
        box("flywheel box", "70 mm", "10 mm", "10 mm"),  # 10 mm longer than the cavity; a slant is not tried
    ]
    figures = fitted(figures_of, parts)
    assert figures["fit"] is not None
    assert [problem["by_mm"] for problem in figures["fit"]["problems"]] == pytest.approx([3.0, 10.0], abs=0.06)
    assert [entry["name"] for entry in figures["fit"]["unplaced"]] == ["flywheel box"]
    assert figures["fit"]["unplaced"][0]["too_large_alone"]
    level, message = verdict(figures)
    assert level == "stop"
    assert "1 more" in message


def test_no_room_beside_what_is_in_the_way(figures_of: Work) -> None:
    # the worm takes 50 of 60 mm over the whole cross-section: a cube of 12 is 2 mm too large for what is left
    figures = fitted(figures_of, [box("store", "12 mm", "12 mm", "12 mm")], [box("worm", "50 mm", "20 mm", "20 mm")])
    assert figures["fit"] is not None
    [entry] = figures["fit"]["unplaced"]
    assert entry["short_by_mm"] == pytest.approx(2.0, abs=0.06)
    assert not entry["too_large_alone"]


def test_every_pair_is_listed_once_and_names_tell_apart(figures_of: Work) -> None:
    parts = [box("resistor", "8 mm", "4 mm", "4 mm"), box("resistor", "8 mm", "4 mm", "4 mm")]
    fit = fitted(figures_of, parts, [box("worm", "10 mm", "8 mm", "8 mm", along="40 mm")])["fit"]
    assert fit is not None
    pairs = {(row["first"], row["second"]) for row in fit["clearances"]}
    assert {"resistor", "resistor (2)"} == {part["name"] for part in fit["placed"]}
    assert ("resistor", "resistor (2)") in pairs
    assert ("resistor (2)", "worm") in pairs
    # two parts against each other, either against the worm, the sides and the floor
    assert len(pairs) == len(fit["clearances"]) == 1 + 2 + 4


def test_turned_parts_say_so(figures_of: Work) -> None:
    fit = fitted(figures_of, [box("strip", "20 mm", "58 mm", "4 mm")])["fit"]
    assert fit is not None
    assert fit["placed"][0]["turned"]
    assert fit["placed"][0]["size_mm"] == [58.0, 20.0, 4.0]
