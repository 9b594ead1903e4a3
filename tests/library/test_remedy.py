"""Settings that bring a pair together: never worse, and as predicted when the whole calculation is run with them."""

from __future__ import annotations

import subprocess
import sys
from copy import deepcopy
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sample import sample_figures

from buildsheets.figures.inputs import AS_RECORDED
from buildsheets.figures.ledger import Ledger
from buildsheets.figures.light import light_response
from buildsheets.figures.solving import solve
from buildsheets.library.pairs import CLOSE, Pair, pairs
from buildsheets.library.remedy import WORTH_SETTING, NoRemedy, Remedy, remedies, word
from buildsheets.physics.cvs import duty_curve
from buildsheets.records.library import load_build
from buildsheets.records.models import Abilities, CvSetting, Record

DEMO = Path(__file__).resolve().parents[2] / "builds"
STEPS = np.arange(1, 127)
EVERY = {"start_voltage": True, "top_voltage": True, "middle_voltage": True, "speed_table": True, "trims": False}


def loco(slug: str, power: float, stall: float, top: float, abilities: dict[str, bool] | None = None, cv5: int = 255):
    """An invented locomotive whose speed over drive level is a power law."""
    levels = np.arange(256)
    speeds = top * (np.maximum(levels - stall, 0.0) / (255 - stall)) ** power
    figures = deepcopy(sample_figures())
    figures.update(slug=slug, title=slug.title())
    running = np.interp(255 * duty_curve(vhigh=cv5), levels, speeds)
    figures["curves"] = [{**figures["curves"][0], "name": "as built", "feedback": "off", "scale_mph": running.tolist()}]
    figures["decoder"].update(
        abilities=EVERY if abilities is None else abilities, fixed_curve=False,
        light_response={"drive_level": levels.tolist(), "scale_mph": speeds.tolist()},
        settings=[{"cv": 5, "name": "", "value": cv5, "page": None, "why": ""}],
    )  # fmt: skip
    return figures


def remedied(*both) -> tuple[Pair, Remedy | NoRemedy]:
    found = pairs(both)
    assert len(found) == 1
    return found[0], remedies(found, {figures["slug"]: figures for figures in both})[0]


locos = st.tuples(st.floats(0.5, 1.5), st.floats(5.0, 80.0), st.floats(20.0, 120.0), st.sampled_from([{}, None, {"speed_table": True}]))


@settings(max_examples=60)
@given(locos, locos, st.integers(120, 255))
def test_settings_never_make_a_pair_worse(first, second, cv5):
    pair, found = remedied(loco("one", *first), loco("two", *second, cv5=cv5))
    if isinstance(found, Remedy):
        assert found.difference <= pair.difference - WORTH_SETTING
        assert found.start_gap <= max(pair.start_gap, 4)  # a table begins at step 4.5
        assert all(0 <= value <= 255 for value in found.values.values())


def test_the_faster_is_slowed():
    pair, found = remedied(loco("fast", 1.0, 30, 90), loco("slow", 1.0, 30, 60))
    assert isinstance(found, Remedy)
    assert (found.slug, found.slower, found.table) == ("fast", True, False)
    # by hand: two thirds of its rise, 30 + 150 = 180 at the top
    assert found.values[5] == pytest.approx(180, abs=3)
    assert word(pair, found) == "with settings"


def test_the_other_is_set_where_the_faster_cannot_be():
    _, found = remedied(loco("fast", 1.0, 30, 80, {"speed_table": False}), loco("slow", 1.0, 30, 75, cv5=200))
    assert isinstance(found, Remedy)
    assert found.slug == "slow"
    assert not found.slower
    assert found.values[5] > 200


def test_the_table_must_be_switched_on_and_off():
    only_table = {"speed_table": True, "top_voltage": False, "start_voltage": False, "middle_voltage": False}
    fast, slow = loco("fast", 1.0, 30, 90, only_table), loco("slow", 1.3, 30, 60, {"speed_table": False})
    for cv29, wanted in ((2, 18), (18, None), (None, 22)):  # 16 chooses the table: NMRA S-9.2.2, CV29
        fast["decoder"]["settings"] = [] if cv29 is None else [{"cv": 29, "name": "", "value": cv29, "page": None, "why": ""}]
        fast["decoder"]["configuration"] = {"value": 6, "text": "", "as_set": cv29, "as_set_text": None}
        _, found = remedied(fast, slow)
        assert isinstance(found, Remedy)
        assert (found.table, found.cv29, len(found.values)) == (True, wanted, 28)
    points = loco("fast", 1.0, 30, 90)
    points["decoder"]["settings"] = [{"cv": 29, "name": "", "value": 18, "page": None, "why": ""}]
    _, found = remedied(points, loco("slow", 1.0, 30, 60))
    assert isinstance(found, Remedy)
    assert found.cv29 == 2


def test_reasons_why_there_are_none():
    none = dict.fromkeys(EVERY, False)
    cases = (
        (loco("one", 1.0, 30, 60), loco("two", 1.0, 30, 60), NoRemedy("alike")),
        (loco("one", 1.0, 30, 60, none), loco("two", 1.0, 30, 90, none), NoRemedy("not able", ("one", "two"))),
        (loco("one", 1.0, 30, 60, {}), loco("two", 1.0, 30, 90, none), NoRemedy("not stated", ("one",))),
    )
    for one, two, wanted in cases:
        assert remedied(one, two)[1] == wanted
    fixed = loco("two", 1.0, 30, 90, {**EVERY, "speed_table": False})
    fixed["decoder"]["fixed_curve"] = True
    assert remedied(loco("one", 1.0, 30, 60, none), fixed)[1] == NoRemedy("not able", ("one", "two"))


def test_words():
    near, far = Pair("a", "b", CLOSE, 1, 1, 0), Pair("a", "b", 0.6, 1, 1, 0)
    mended = Remedy("a", {5: 99}, table=False, cv29=None, slower=True, difference=0.04, at_step=3, start_gap=0)
    assert word(near, NoRemedy("no gain")) == "together"
    assert word(far, mended) == "with settings"
    assert word(far, NoRemedy("no gain")) == "not together"


# The other road: the whole calculation with the new values in the record

TOLERANCE = 0.02
"""Difference of the remaining differences: straight lines between solved levels, where the steps lie between them."""


def as_figures(slug: str, record: Record, able: tuple[str, ...]):
    figures = deepcopy(sample_figures())
    figures.update(slug=slug, title=record.title)
    light = solve(record, Ledger(), load="light")
    figures["curves"] = [{**figures["curves"][0], "name": "as built", "feedback": "off", "scale_mph": light.mph}]
    figures["decoder"].update(
        abilities={name: name in able for name in EVERY}, fixed_curve=False, light_response=light_response(record, AS_RECORDED),
        settings=[{"cv": s.cv, "name": "", "value": s.value, "page": s.page, "why": ""} for s in record.decoder_settings],
    )  # fmt: skip
    return figures


@pytest.mark.parametrize(("names", "able"), [
    (("causeway-diesel", "harbour-tank"), ("start_voltage", "middle_voltage", "top_voltage")),
    (("harbour-tank", "causeway-diesel"), ("start_voltage", "top_voltage")),
    (("causeway-diesel", "harbour-tank"), ("speed_table",)),
    (("sluice-goods", "harbour-tank"), ("start_voltage", "middle_voltage", "top_voltage", "speed_table")),
])  # fmt: skip
def test_what_remains_is_what_the_whole_calculation_finds(names, able):
    records: dict[str, Record] = {}
    for name in names:
        build, problems = load_build(DEMO / f"{name}.yml")
        assert build is not None, problems
        assert build.record.decoder is not None
        abilities = Abilities(**{ability: ability in able for ability in EVERY})
        decoder = build.record.decoder.model_copy(update={"abilities": abilities})
        records[name] = build.record.model_copy(update={"decoder": decoder})
    figures = {names[0]: as_figures(names[0], records[names[0]], able), names[1]: as_figures(names[1], records[names[1]], ())}
    pair = pairs(list(figures.values()))[0]
    found = remedies([pair], figures)[0]
    assert isinstance(found, Remedy)
    record = records[found.slug]
    kept = [s for s in record.decoder_settings if s.cv not in found.values and s.cv != 29 and not 67 <= s.cv <= 94]
    new = [CvSetting(cv=cv, value=value) for cv, value in found.values.items()]
    configured = [CvSetting(cv=29, value=found.cv29 if found.cv29 is not None else 2)]
    changed = record.model_copy(update={"decoder_settings": [*kept, *new, *configured]})
    again = pairs([as_figures(found.slug, changed, able), *(figures[n] for n in names if n != found.slug)])[0]
    assert again.difference == pytest.approx(found.difference, abs=TOLERANCE)
    assert abs(again.start_gap - found.start_gap) <= 1  # the step at which it just runs or just does not
    assert again.difference < pair.difference


def test_it_needs_no_large_library():
    code = "import sys, buildsheets.library.remedy; print({'scipy', 'matplotlib'} & set(sys.modules))"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout == "set()\n"
