"""What is worked out for many at once is what each would give alone: samples, and variants of a build."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from buildsheets.figures.inputs import gather
from buildsheets.figures.ledger import Ledger
from buildsheets.figures.running import chain, run, run_together
from buildsheets.figures.samples import draw
from buildsheets.figures.tolerances import Turned, with_dials
from buildsheets.records.library import Build, load_library

DEMO = Path(__file__).resolve().parents[2] / "builds"
BUILDS = {build.slug: build for build in load_library(DEMO).builds}
MOTOR = ("resistance", "inductance", "emf_constant", "friction_torque", "running_torque", "breakaway_torque")
FEED = ("top_voltage", "frequency", "freewheel_drop", "internal_drop")
AROUND = ("room", "shell_resistance", "motor_resistance", "dropper_factor")


@pytest.mark.parametrize("slug", BUILDS)
@pytest.mark.parametrize("place", [0, 11, 31])
def test_a_column_of_samples_holds_what_each_sample_gives_alone(slug: str, place: int) -> None:
    record = BUILDS[slug].record
    samples = draw(record)
    if samples is None:
        assert gather(record, Ledger(), mesh=False).motor is None
        return
    dialled, kinds = with_dials(record)
    dials, shifts = {kind.name: kind.dials for kind in kinds}, {}
    for entry, far in zip(samples.inputs, samples.drawn[place].tolist(), strict=True):
        if entry.assumed:
            shifts[entry.name] = (entry, far)
        for dial in dials.get(entry.name, ()):
            dial.turn(far)
    alone = gather(dialled, Turned(shifts), mesh=False)
    for names, part, many in ((MOTOR, alone.motor, samples), (FEED, alone.source, samples), (AROUND, alone.warmth, samples.warmth)):
        for name in names:
            assert getattr(many, name)[place, 0] == pytest.approx(getattr(part, name), rel=1e-12), name
    assert alone.series is not None
    assert samples.series_resistance[place, 0] == pytest.approx(alone.series.resistance, rel=1e-12)
    assert samples.wheel[place, 0] == pytest.approx(alone.wheel, rel=1e-12)
    assert samples.train_torque[place, 0] == pytest.approx(alone.load_torque, rel=1e-12)


def test_samples_that_belong_to_no_motor_are_left_out(build_with: Callable[..., Build]) -> None:
    # K = (V - I R) / w: with 12 V, 100 mA and 80 ohm, each good to three tenths, a few in a hundred would turn backwards
    read = {"nominal_voltage": "12 V", "no_load_speed": "9000 rpm"}
    loose = {"no_load_current": "100 mA ± 30 %", "winding_resistance": "80 ohm ± 30 %"}
    samples = draw(build_with({"motor": {**read, **loose}}).record)
    assert samples is not None
    assert 100 < samples.count < 128
    assert np.all(samples.emf_constant > 0.0)
    assert np.all(np.isfinite(samples.breakaway_torque))
    assert all(len(getattr(samples, name)) == samples.count for name in ("drawn", "resistance", "top_voltage", "grade_torque"))


def test_variants_solved_together_are_what_each_is_alone() -> None:
    given = [gather(BUILDS[slug].record, Ledger(), load=load, mesh=False) for slug in BUILDS for load in ("train", "light")]
    parts = [
        (one.motor, one.source, one.series, one.load_torque, one.warmth)
        for one in given
        if one.motor and one.source and one.series and np.isfinite(one.load_torque)
    ]
    together = run_together([chain(*part) for part in parts])
    assert len(together) > 10
    for found, part in zip(together, parts, strict=True):
        alone = run(*part)
        assert found.settled == alone.settled
        for name in ("motor_speed", "mean_current", "rms_current", "winding_temperature", "air_inside", "resistance"):
            assert getattr(found, name) == pytest.approx(getattr(alone, name), rel=1e-9, abs=1e-12), name
