from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import yaml
from pydantic import BaseModel

from buildsheets.records.models import Record, Stock
from buildsheets.records.reader import read_text
from buildsheets.records.schema import record_schema, stock_schema
from buildsheets.records.starter import Beginning, starter_record

ROOT = Path(__file__).parents[2]
DRAFTS = [jsonschema.Draft7Validator, jsonschema.Draft202012Validator]
HEAD = {"format": 1, "title": "Marsh tank", "status": "running"}
drafts = pytest.mark.parametrize("draft", DRAFTS, ids=["draft-07", "2020-12"])


def faults(draft: Any, schema: dict[str, Any], data: object) -> list[str]:
    return [error.message for error in draft(schema).iter_errors(data)]


@drafts
def test_the_schemas_are_schemas(draft: Any) -> None:
    draft.check_schema(record_schema())
    draft.check_schema(stock_schema())


def every_model(schema: dict[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    yield from schema["$defs"].items()


@drafts
@pytest.mark.parametrize("schema", [record_schema(), stock_schema()], ids=["record", "stock"])
def test_every_example_fits_its_own_field(draft: Any, schema: dict[str, Any]) -> None:
    checked = 0
    for _, declared in [("", schema), *every_model(schema)]:
        for key, field in declared.get("properties", {}).items():
            for example in field.get("examples", []):
                within = {**field, "$defs": schema["$defs"]}
                assert faults(draft, within, example) == [], key
                checked += 1
    assert checked > 40


@drafts
def test_the_demo_library_fits(draft: Any) -> None:
    for folder, schema in (("builds", record_schema()), ("builds/stock", stock_schema())):
        for path in sorted((ROOT / folder).glob("*.yml")):
            data = _as_an_editor_reads(path.read_text(encoding="utf-8"))
            assert faults(draft, schema, data) == [], path.name


@drafts
@pytest.mark.parametrize(
    "more",
    [
        {"modle": {}},
        {"model": {"driving_wheel": 20.3}},
        {"model": {"driving_wheel": "20.3"}},
        {"model": {"driving_wheel": "20.3 V"}},
        {"gear_train": {"stages": [{"driver": 11}]}},
        {"gear_train": {"stages": [{"driver": "11 T", "driven": 38}]}},
        {"decoder_settings": [{"cv": 3, "value": 256}]},
        {"status": "runing"},
        {"motor": {"stock": 7}},
        {"parts": [{"quantity": 2}]},
        {"dates": {"started": "2.3.2026"}},
        {"model": {"ratio": "76.2"}},
    ],
)
def test_a_bad_record_does_not_fit(draft: Any, more: dict[str, Any]) -> None:
    assert faults(draft, record_schema(), {**HEAD, **more})


@drafts
def test_where_stock_is_named_nothing_else_is_required(draft: Any) -> None:
    named = {"motor": {"stock": "can"}, "parts": [{"stock": "film"}], "sound": {"speaker": {"stock": "cube"}}}
    assert faults(draft, record_schema(), {**HEAD, **named}) == []


@drafts
def test_stock_parts_do_not_refer_to_stock(draft: Any) -> None:
    assert faults(draft, stock_schema(), {"format": 1, "motors": {"can": {"stock": "other"}}})
    assert faults(draft, stock_schema(), {"format": 1, "motors": {"can": {"nominal_voltage": "12 V"}}}) == []


@drafts
def test_the_starter_fits(draft: Any) -> None:
    document, _ = read_text(starter_record(Beginning("Tank", "OO"), "x.json"), "f")
    assert document is not None
    assert faults(draft, record_schema(), document.data) == []


def test_every_field_is_described_for_the_editor() -> None:
    for model in (Record, Stock):
        for owner, key, field in _fields(model, set()):
            assert field.title, (owner, key)
            assert field.description, (owner, key)


def test_the_schema_is_plain_json_and_names_the_draft_every_editor_knows() -> None:
    schema = record_schema()
    assert next(iter(schema)) == "$schema"
    assert "draft-07" in schema["$schema"]
    assert json.loads(json.dumps(schema, allow_nan=False)) == schema
    unknown_to_draft_07 = ("prefixItems", "unevaluatedProperties", "dependentRequired")
    assert not any(word in json.dumps(schema) for word in unknown_to_draft_07)


def test_no_reference_has_neighbours_that_draft_07_would_not_read() -> None:
    def references(node: object) -> Iterator[dict[str, object]]:
        if isinstance(node, dict):
            if "$ref" in node:
                yield node
            for inner in node.values():
                yield from references(inner)
        elif isinstance(node, list):
            for inner in node:
                yield from references(inner)

    assert all(len(node) == 1 for node in references(record_schema()))


def _fields(model: type[BaseModel], seen: set[type[BaseModel]]) -> Iterator[tuple[str, str, Any]]:
    from typing import get_args

    if model in seen:
        return
    seen.add(model)
    for key, field in model.model_fields.items():
        yield model.__name__, key, field
        waiting = [field.annotation]
        while waiting:
            inner = waiting.pop()
            waiting += get_args(inner)
            if isinstance(inner, type) and issubclass(inner, BaseModel):
                yield from _fields(inner, seen)


class _EditorLoader(yaml.SafeLoader):
    """Reads as YAML 1.2 core does, floats included: an editor sees 0.3 as a number."""


_EditorLoader.yaml_implicit_resolvers = {}
_EditorLoader.add_implicit_resolver("tag:yaml.org,2002:bool", __import__("re").compile("^(true|false)$"), list("tf"))
_EditorLoader.add_implicit_resolver("tag:yaml.org,2002:int", __import__("re").compile("^-?[0-9]+$"), list("-0123456789"))
_EditorLoader.add_implicit_resolver(
    "tag:yaml.org,2002:float", __import__("re").compile(r"^-?[0-9]+\.[0-9]*$"), list("-0123456789")
)


def _as_an_editor_reads(text: str) -> object:
    return yaml.load(text, Loader=_EditorLoader)
