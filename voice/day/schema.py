"""The published JSON Schema of the record of a day: prompts/generated/day-record.schema.json."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from voice.data.folders import prompts_dir
from voice.day.model import SCHEMA_VERSION, DayRecord
from voice.record.schema import DIALECT


def schema_file() -> Path:
    return prompts_dir() / "generated" / "day-record.schema.json"


def day_schema() -> dict[str, Any]:
    """The schema as it is written (JSON Schema 2020-12)."""
    schema = DayRecord.model_json_schema(mode="serialization")
    name = f"urn:gladhand:day-record:{SCHEMA_VERSION}"
    return {"$schema": DIALECT, "$id": name, **schema, "title": "Gladhand record of a day"}


def schema_text() -> str:
    return json.dumps(day_schema(), indent=1, ensure_ascii=False) + "\n"


if __name__ == "__main__":  # python -m voice.day.schema: brings the published file up to date
    schema_file().write_text(schema_text(), encoding="utf-8")
