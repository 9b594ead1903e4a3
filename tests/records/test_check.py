from __future__ import annotations

import json

from hypothesis import given, settings
from hypothesis import strategies as st

from buildsheets.records.check import SYNONYMS, validated
from buildsheets.records.declared import field_at, item_type, model_for
from buildsheets.records.models import Gear, Record, SpurStage, WormStage
from buildsheets.records.reader import Document, read_text
from buildsheets.records.schema import record_schema
from buildsheets.records.stock import Shelf, StockEntry, take_in_stock

WORDS = ["stock", "worm", "driven", "driver", "teeth", "stages", "resistor", "diodes", "dropper", "settings", "id", "size", "x", "name"]
HEAD = "format: 1\ntitle: Marsh tank\nstatus: running\n"


def said(text: str) -> list[str]:
    document, problems = read_text(HEAD + text, "f")
    assert problems == []
    assert document is not None
    return [str(problem) for problem in validated(document, Record)[1]]


def test_a_key_with_nothing_after_it_is_left_out() -> None:
    assert said("motor:\nroute:\nmodel: {mass: }\n") == []


def test_a_required_key_with_nothing_after_it_is_pointed_at_itself() -> None:
    assert said("target: {speed: , at_step: 126}\n") == ['f:4:10: "speed" is missing; add speed: 55 mph']


def test_too_much_is_told_in_numbers() -> None:
    stages = ", ".join(["{worm: 1, driven: 24}"] * 9)
    assert said(f"gear_train: {{stages: [{stages}]}}\n") == ["f:4:22: stages has more than 8 entries; take some out"]
    assert said(f"builder: {'a' * 161}\n") == ["f:4:10: builder is longer than 160 characters; shorten it"]
    assert said("gear_train: {stages: [{driver: 11, driven: 38, idlers: [1]}]}\n") == [
        "f:4:57: 1 is out of range; this entry is at least 5"
    ]


def test_an_entry_of_a_list_is_not_called_by_its_number() -> None:
    assert said("tools: [25]\n") == ['f:4:9: 25 is not read as text; put it in quotes: "25"']
    assert said('tools: [""]\n') == ["f:4:9: this entry is empty; write 25 W iron"]


def test_a_key_far_from_all_others_is_shown_all_that_fit() -> None:
    assert said("target: {speed: 55 mph, zzz: 1}\n") == [
        'f:4:25: unknown key "zzz"; keys here are speed, at_step, start_step, curve'
    ]


def test_synonyms_lead_to_keys_that_exist() -> None:
    declared = [*record_schema()["$defs"].values(), record_schema()]
    known = {key for model in declared for key in model.get("properties", {})}
    assert {meant for meants in SYNONYMS.values() for meant in meants} <= known


def test_the_declaration_of_a_place_is_found() -> None:
    data = {"gear_train": {"stages": [{"worm": 1, "driven": {"teeth": 24}}, {"driver": 11, "driven": 38}]}}
    around, field = field_at(Record, data, ("gear_train", "stages", 0, "driven", "teeth"))
    assert around is Gear
    assert field is Gear.model_fields["teeth"]
    assert field_at(Record, data, ("gear_train", "stages", 0, "driven"))[0] is WormStage
    assert field_at(Record, data, ("gear_train", "stages", 1, "driven"))[0] is SpurStage
    assert field_at(Record, data, ("nothing", "here", 3)) == (None, None)
    assert field_at(Record, data, ("gear_train", "stages", 7, "driven")) == (None, None)


def test_types_that_hold_no_groups() -> None:
    assert model_for(int, {}) is None
    assert item_type(int, []) is None
    assert item_type(dict[str, Gear], {}) is Gear


JUNK = st.recursive(
    st.none() | st.booleans() | st.integers(-5, 500) | st.sampled_from(["", "20.3 mm", "20.3", "x", "none", "can"]),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(WORDS), inner, max_size=4),
    max_leaves=12,
)


@settings(max_examples=300, deadline=None)
@given(data=st.dictionaries(st.sampled_from(sorted(Record.model_fields)), JUNK, max_size=6))
def test_any_data_gives_a_record_or_problems(data: dict[str, object]) -> None:
    document, _ = read_text(json.dumps(data), "f")
    if document is None:
        return
    shelf = Shelf({"can": StockEntry("motors", "can", {"shaft": "2 mm"}, Document("stock"))})
    filled = take_in_stock(document, Record, shelf)
    record, problems = validated(filled.document, Record, filled.unfilled)
    assert (record is None) == bool(problems)
    assert [problem for problem in problems if "; " not in problem.message] == []
