"""The rules that hold between fields of a record, and the reference made from their declarations."""

from __future__ import annotations

import re
from typing import Any

import pytest
from pydantic import ValidationError

from buildsheets.records.models import Dropper, Gear, Picture, Record, SpurStage, Stock, TrialSettings, WormStage
from buildsheets.records.reference import field_reference

HEAD: dict[str, Any] = {"format": 1, "title": "Marsh tank", "status": "running"}


def pinion_on_shaft(shaft: str, bore: str, fit: str | None) -> Record:
    driver = {"teeth": 11, "bore": bore} | ({"fit": fit} if fit else {})
    train = {"stages": [{"driver": driver, "driven": 38}]}
    return Record.model_validate({**HEAD, "motor": {"shaft": shaft}, "gear_train": train})


# Common practice: a press fit is the shaft's size or a few hundredths less; an adhesive wants a gap of up to a tenth.
@pytest.mark.parametrize(
    ("bore", "fit", "good"),
    [
        ("1.5 mm", "press", True), ("1.46 mm", "press", True), ("1.44 mm", "press", False), ("1.52 mm", "press", False),
        ("1.52 mm", "adhesive", True), ("1.62 mm", "adhesive", False), ("1.5 mm", "grub screw", True),
        ("2 mm", None, False), ("1.5 mm", None, True), ("1.48 mm", None, True),
    ],
)  # fmt: skip
def test_shaft_and_bore_must_agree(bore: str, fit: str | None, good: bool) -> None:
    if good:
        assert pinion_on_shaft("1.5 mm", bore, fit).motor is not None
    else:
        with pytest.raises(ValidationError, match="disagree"):
            pinion_on_shaft("1.5 mm", bore, fit)


def test_nothing_is_said_of_shaft_and_bore_where_one_is_unknown() -> None:
    stages = {"stages": [{"driver": 11, "driven": 38}]}
    assert Record.model_validate({**HEAD, "motor": {"shaft": "2 mm"}, "gear_train": stages}).motor is not None
    assert Record.model_validate({**HEAD, "gear_train": stages}).motor is None


def test_declarations_take_each_other_as_values() -> None:
    stage = SpurStage(driver=Gear(teeth=11), driven=38)
    train = {"stages": [stage, WormStage(worm=1, driven=24)]}
    record = Record.model_validate({**HEAD, "gear_train": train})
    assert record.gear_train is not None
    assert [type(stage) for stage in record.gear_train.stages] == [SpurStage, WormStage]
    dropper = Dropper.model_validate({"resistor": {"resistance": "47 ohm"}})
    assert TrialSettings(dropper=dropper).dropper is dropper
    assert TrialSettings(dropper="none").dropper == "none"


def test_a_picture_lies_in_the_library() -> None:
    assert Picture(file="pictures/a.jpg", shows="a").file == "pictures/a.jpg"
    for bad in ("../a.jpg", "pictures/../../a.jpg", "/a.jpg", "C:/a.jpg", "pictures\\a.jpg", "pictures//a.jpg"):
        with pytest.raises(ValidationError, match="does not lead to a file"):
            Picture(file=bad, shows="a")


def test_the_field_reference_has_a_row_for_every_key() -> None:
    reference = field_reference()
    rows = re.findall(r"^\| \**`(\w+)`", reference, re.MULTILINE)
    assert {*Record.model_fields, *Stock.model_fields, *WormStage.model_fields} <= set(rows)
    assert "| **`title`** |" in reference
    assert "`5 ft 2 in`" in reference
    assert "a length in `mm`, `cm`" in reference
    targets = {heading.lower().replace(" ", "-") for heading in re.findall(r"^## (.*)$", reference, re.MULTILINE)}
    assert set(re.findall(r"\]\(#([^)]*)\)", reference)) <= targets
