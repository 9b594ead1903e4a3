from __future__ import annotations

import pytest
from pydantic import TypeAdapter, ValidationError

from buildsheets.records.scales import SCALES, ScaleName, UnknownScaleError, alike, scale_named, scale_names


@pytest.mark.parametrize(
    ("spelled", "name"),
    [("oo", "OO"), ("00", "OO"), (" OO scale", "OO"), ("OO gauge", "OO"), ("n (british)", "N (British)"),
     ("British N", "N (British)"), ("n british", "N (British)"), ("p4/s4", "P4"), ("S4", "P4"), ("ho", "HO"), ("h0", "H0"),
     ("O", "O"), ("o", "O"), ("0", "0"), ("s7", "Scale 7"), ("scale 7", "Scale 7"), ("2mm fine", "2 mm fine"),
     ("TT British", "TT (British 3 mm)"), ("7 mm", "O (British)"), ("gauge 1", "1"), ("iim", "G")],
)
def test_a_friendly_spelling_is_understood(spelled: str, name: str) -> None:
    assert scale_named(spelled).name == name


def test_every_name_leads_to_its_own_row() -> None:
    spellings = [(spelling, scale) for scale in SCALES for spelling in (scale.name, *scale.aliases)]
    assert [scale_named(spelling) for spelling, _ in spellings] == [scale for _, scale in spellings]
    assert len(set(scale_names())) == len(SCALES)


def test_an_unknown_name_suggests_the_nearest() -> None:
    with pytest.raises(UnknownScaleError) as caught:
        scale_named("OOO")
    assert (caught.value.name, caught.value.suggestion) == ("OOO", "OO")
    with pytest.raises(UnknownScaleError, match="known names: Z, N,"):
        scale_named("quarter inch")


@pytest.mark.parametrize(
    ("name", "others"),
    [("N", {"N (British)"}), ("TT", {"TT (British 3 mm)"}), ("O", {"0", "O (British)"}), ("1", {"1 (British 10 mm)"}),
     ("HO", {"H0"}), ("Z", set())],
)
def test_a_plain_name_knows_who_shares_its_letter(name: str, others: set[str]) -> None:
    assert {scale.name for scale in alike(name)} == others


def test_a_field_takes_names_and_the_numbers_that_are_names() -> None:
    field = TypeAdapter(ScaleName)
    assert field.validate_python("oo") == "OO"
    assert field.validate_python(0) == "0"
    assert field.validate_python(1) == "1"
    for bad in (True, ["OO"], "XX"):
        with pytest.raises(ValidationError):
            field.validate_python(bad)
    assert field.json_schema()["anyOf"][0]["enum"] == scale_names()
