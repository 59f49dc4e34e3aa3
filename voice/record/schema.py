"""The record's published JSON Schema, made from the model: prompts/generated/inspection-record.schema.json."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from voice.data.folders import prompts_dir
from voice.record.model import SCHEMA_VERSION, InspectionRecord

DIALECT = "https://json-schema.org/draft/2020-12/schema"
IDENTIFIER = f"urn:gladhand:inspection-record:{SCHEMA_VERSION}"


def schema_file() -> Path:
    return prompts_dir() / "generated" / "inspection-record.schema.json"


def record_schema() -> dict[str, Any]:
    """The schema of a record as it is written (JSON Schema 2020-12)."""
    schema = InspectionRecord.model_json_schema(mode="serialization")
    return {"$schema": DIALECT, "$id": IDENTIFIER, **schema, "title": "Gladhand inspection record"}


def schema_text() -> str:
    return json.dumps(record_schema(), indent=1, ensure_ascii=False) + "\n"


if __name__ == "__main__":  # python -m voice.record.schema: brings the published file up to date
    schema_file().write_text(schema_text(), encoding="utf-8")
