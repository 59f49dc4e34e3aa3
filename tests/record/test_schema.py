"""The published JSON Schema: up to date, valid itself, and what records keep to."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from tests.record.walks import signed
from voice.record.model import InspectionRecord
from voice.record.schema import record_schema, schema_file, schema_text


@pytest.fixture(scope="module")
def content(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    home: Path = tmp_path_factory.mktemp("home")
    record: InspectionRecord = signed(home, {"brake-lights": ("defect", "lamp out")})
    loaded: dict[str, Any] = json.loads((home / "sessions" / record.id / "record.json").read_text())
    return loaded


def test_the_published_file_is_up_to_date() -> None:
    assert schema_file().read_text(encoding="utf-8") == schema_text(), "run: python -m voice.record.schema"


def test_it_is_a_valid_schema() -> None:
    jsonschema.Draft202012Validator.check_schema(record_schema())


def test_a_record_keeps_to_it(content: dict[str, Any]) -> None:
    validator = jsonschema.Draft202012Validator(
        json.loads(schema_file().read_text()), format_checker=jsonschema.Draft202012Validator.FORMAT_CHECKER
    )
    assert [error.message for error in validator.iter_errors(content)] == []


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("schema_version",), 2),
        (("id",), None),
        (("entries", 0, "outcome"), "passed"),
        (("entries", 0, "part"), "engine"),
        (("summary", "against"), "none"),
        (("vehicle", "kind"), "car"),
        (("unknown",), 1),
        (("entries", 0, "unknown"), 1),
    ],
)
def test_it_refuses_what_the_program_refuses(content: dict[str, Any], path: tuple[str | int, ...], value: Any) -> None:
    changed = copy.deepcopy(content)
    inner: Any = changed
    for key in path[:-1]:
        inner = inner[key]
    inner[path[-1]] = value
    assert not jsonschema.Draft202012Validator(record_schema()).is_valid(changed)
    with pytest.raises(ValueError, match="validation error"):
        InspectionRecord.model_validate(changed)
