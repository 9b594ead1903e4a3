"""JSON Schema of records and stock files, for editors and for other programs.

Keywords that drafts 07 and 2020-12 read alike; the file names draft-07, which every editor knows.
"""

from __future__ import annotations

from typing import Any

from buildsheets.records.models import Record, Stock

DRAFT = "http://json-schema.org/draft-07/schema#"

Schema = dict[str, Any]


def record_schema() -> Schema:
    """Return the schema of a record; where a stock part is named, nothing else is required."""
    schema = Record.model_json_schema()
    for declared in _declarations(schema):
        if "stock" in declared.get("properties", {}) and "required" in declared:
            declared["anyOf"] = [{"required": ["stock"]}, {"required": declared.pop("required")}]
    return _finished(schema, "Build sheet record")


def stock_schema() -> Schema:
    """Return the schema of a stock file; parts there cannot refer to other parts."""
    schema = Stock.model_json_schema()
    for declared in _declarations(schema):
        declared.get("properties", {}).pop("stock", None)
    return _finished(schema, "Build sheet stock file")


def _declarations(schema: Schema) -> list[Schema]:
    return [schema, *schema.get("$defs", {}).values()]


def _finished(schema: Schema, title: str) -> Schema:
    whole: Schema = {"$schema": DRAFT, **_wrapped(schema)}
    whole["title"] = title
    return whole


def _wrapped(node: Any) -> Any:
    """Put each reference that has neighbours into `allOf`: draft-07 readers ignore what stands beside one."""
    if isinstance(node, list):
        return [_wrapped(item) for item in node]
    if not isinstance(node, dict):
        return node
    plain = {key: _wrapped(value) for key, value in node.items()}
    if "$ref" in plain and len(plain) > 1 and isinstance(plain["$ref"], str):
        return {"allOf": [{"$ref": plain.pop("$ref")}], **plain}
    return plain
