"""Speed of the light engine over drive level: the same model at other levels, so it must meet the curve of the steps."""

from __future__ import annotations

import numpy as np
import pytest

from buildsheets.figures.inputs import AS_RECORDED
from buildsheets.figures.ledger import Ledger
from buildsheets.figures.light import light_response
from buildsheets.figures.solving import solve
from conftest import changed  # type: ignore[import-not-found]


@pytest.mark.parametrize("changes", [{}, {"dropper": None}, {"decoder.pulse_class": "low"}])
def test_at_levels_of_the_steps_it_is_the_curve_of_the_steps(changes, build_from):
    record = build_from(changed({**changes, "decoder_settings": None})).record
    found = light_response(record, AS_RECORDED)
    assert found is not None
    levels, speeds = np.array(found["drive_level"]), np.array(found["scale_mph"], dtype=float)
    assert levels[0] == 0
    assert levels[-1] == 255
    assert np.all(np.diff(levels) > 0)
    alone = solve(record, Ledger(), load="light")
    assert alone.mph is not None
    assert alone.source is not None
    running = np.array(alone.mph, dtype=float) > 0
    between = np.interp(255 * alone.source.duty, levels, speeds)
    assert between[running][3:] == pytest.approx(np.array(alone.mph, dtype=float)[running][3:], rel=0.01)
    assert speeds[-1] == pytest.approx(alone.mph[-1], rel=1e-6)  # the top step is full drive


def test_settings_do_not_matter(build_from):
    bare = light_response(build_from(changed({"decoder_settings": None})).record, AS_RECORDED)
    slowed = light_response(build_from(changed({"decoder_settings": [{"cv": 5, "value": 120}]})).record, AS_RECORDED)
    assert slowed == bare


def test_none_while_speeds_are_not_known(build_from):
    assert light_response(build_from(changed({"motor": None})).record, AS_RECORDED) is None
