"""Honest gaps: whatever input is taken out of a full record, each figure that goes empty has its entry in `missing`.

The rule is the project's own format: a null needs an entry that names what would fill it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml

from buildsheets.figures import Figures, work_out
from buildsheets.figures.ledger import HOW_TO_FIND
from buildsheets.records.library import Build, load_build
from buildsheets.sheet.gains import in_words
from conftest import changed  # type: ignore[import-not-found]

MORE = {
    "decoder.kind": "sound",
    "decoder.amplifier_power": "1 W",
    "decoder.least_speaker_impedance": "8 ohm",
    "decoder.output_current": "100 mA",
    "sound": {"speaker": {"impedance": "8 ohm", "power": "1 W"}, "count": 2, "join": "series"},
    "lamps": [
        {"name": "front", "led": {"forward_voltage": "3.0 V", "most_current": "20 mA"}, "count": 2, "join": "parallel",
         "current": "2 mA", "resistor": "4k7"},
        {"name": "rear", "led": {"forward_voltage": "2.0 V"}, "current": "2 mA", "resistor": "5k6"},
    ],
    "stay_alive": {
        "capacitor": {"capacitance": "0.1 F", "rated_voltage": "20 V"}, "charging_resistor": "100 ohm", "least_voltage": "7 V",
    },
    "feedback": {"on": "true", "cut_off_step": 90, "sample": {"every": "10 ms", "window": "0.8 ms"}, "input": "100 kohm"},
}  # fmt: skip
FULL = changed(MORE)

JUDGED = (
    "head", "gearing", "motor", "drive", "dropper", "speed", "start", "curves", "speed_card", "decoder", "highest_volts",
    "feedback", "haulage", "sound", "speakers", "lamps", "stay_alive", "cost", "run_length_m", "parts", "bench_points",
)  # fmt: skip
"""Groups that are worked out from the record; drawings and lists of words have rows of what there is."""
BY_RIGHTS = re.compile(
    "|".join((
        r"head\.(aside_because|builder|started|finished|changed|revision_letter|summary|bench_time_h|number|drive_in|scale"
        r"|prototype_class|prototype_type)",  # what the builder writes, not what is worked out
        r"(motor\.name|motor\.kind|decoder\.name|parts\.\d+\.\w+)",
        r"curves\.\d+\.scale_mph_(low|high)",  # the curve as built has a band, others have none
        r"gearing\.stages\.1\..*",  # a worm has no contact ratio
        r"decoder\.(advised\.\d+\.(as_set|page)|settings\.\d+\.page|configuration\.as_set\w*|instead\..*)",
        r"start\.creep_(from_step|scale_mph)",  # it starts without creeping
        r"start\.start_step_band",
        r"speed_card\.\d+\.(seconds_over_run|feedback_on_\w+)",  # it does not move there, or feedback is off
        r"feedback\.(on|able|cut_off_cv10|bypass_offered_ohm|reading_with_bypass_v|visible_from_step_with_bypass"
        r"|closed_loop_scale_mph|loop\.grade|tuning\..*|cut_off_set|window_ms)",  # as the record says, or nothing of the kind
        r"dropper\.(diode_temperature_c|bypass_power_w)",  # no diodes
        r"speakers\.join",  # a single one
    ))
)
"""Figures that are empty because there is nothing of the kind."""
NOTHING_LEFT = {
    "dropper": {"dropper", "highest_volts.resistor_temperature_c"},  # no dropper: no heat of it
    "dropper.parallel": {"motor.stall_time_limit_s"},  # twice the resistance: the motor bears a stall for ever
    "feedback": {"feedback.loop", "feedback.tuning"},  # not known to be on: no matter for the sheet
    "stay_alive": {"stay_alive"},
}
"""Removed parts of the locomotive, and the figures of them."""


def paths(value: Any, at: str = "") -> Iterator[str]:
    """Every key of a record, groups included."""
    for name, entry in value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ():
        key = f"{at}.{name}".lstrip(".")
        if isinstance(value, dict):
            yield key
        yield from paths(entry, key)


NEEDED = {"format", "title", "status"}
"""Without these it is no record."""
INPUTS = [
    path for path in paths(yaml.load(FULL, Loader=yaml.BaseLoader))
    if path.partition(".")[0] not in {*NEEDED, "number", "route", "bench_time"}
]  # fmt: skip


def nulls(value: Any, key: str = "") -> Iterator[str]:
    """Every key that is null, and every one whose list is empty or holds nothing but nulls."""
    if value is None or (isinstance(value, list) and value and all(entry is None for entry in value)):
        yield key
    elif isinstance(value, dict):
        for name, entry in value.items():
            yield from nulls(entry, f"{key}.{name}".lstrip("."))
    elif isinstance(value, list):
        for place, entry in enumerate(value):
            if isinstance(entry, dict):
                yield from nulls(entry, f"{key}.{place}")


def owned_up(figures: Figures, key: str) -> bool:
    key = re.sub(r"speed_card\.\d+\.chuffs_per_second", "sound", key)  # the card repeats them
    return any(key == name or key.startswith(f"{name}.") for entry in figures["missing"] for name in entry["needed_for"])


@pytest.fixture(scope="module")
def without(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str | None], Figures | None]:
    """Work out the full record without one key; None where it is then no record.

    The search of ways to the target takes three quarters of the time and is a gap only without a target: that is where it
    runs, and in the full record.
    """
    path = tmp_path_factory.mktemp("gaps") / "test-loco.yml"

    def work(removed: str | None) -> Figures | None:
        build = read(path, removed)
        if build is None:
            return None
        with pytest.MonkeyPatch.context() as patch:
            if removed and not removed.startswith("target"):
                patch.setattr("buildsheets.figures.work.ways_figures", lambda *_: ([], []))
            return work_out(build)

    return work


def read(path: Path, removed: str | None) -> Build | None:
    path.write_text(changed({removed: None} if removed else {}, text=FULL), encoding="utf-8", newline="\n")
    return load_build(path)[0]


def unowned(figures: Figures) -> list[str]:
    judged = {name: figures[name] for name in JUDGED}  # type: ignore[literal-required]
    return [key for key in nulls(judged) if not BY_RIGHTS.fullmatch(key) and not owned_up(figures, key)]


def test_full_record_lacks_nothing(without: Callable[[str | None], Figures | None]) -> None:
    figures = without(None)
    assert figures is not None
    assert unowned(figures) == []


def test_inputs_cover_the_record() -> None:
    assert len(INPUTS) > 100


@pytest.mark.parametrize("removed", INPUTS)
def test_each_removed_input_is_owned_up_to(removed: str, without: Callable[[str | None], Figures | None]) -> None:
    figures = without(removed)
    if figures is None:
        return
    assert [key for key in unowned(figures) if key not in NOTHING_LEFT.get(removed, set())] == []
    for entry in figures["missing"]:
        assert entry["needed_for"], entry["name"]
        assert [key for key in entry["needed_for"] if in_words(key) is None] == []
        assert entry["name"] in {*HOW_TO_FIND, "version", "none"}


def test_few_inputs_are_needed_for_a_record_at_all(tmp_path: Path) -> None:
    needed = [path for path in INPUTS if read(tmp_path / "test-loco.yml", path) is None]
    assert all(re.fullmatch(r"gear_train\.stages(\.\d+\.(driver|driven|worm))?|feedback\.on|parts\.\d+\.name|"
                            r"decoder_settings\.\d+\.(cv|value)|lamps\.\d+\.name|sound\.speaker|stay_alive\.capacitor|"
                            r"target\.speed|dropper\.resistor", path) for path in needed), needed  # fmt: skip
