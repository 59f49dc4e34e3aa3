"""Full texts for those records of a bulk filling that found a defect which is still open: a unit's page reads them.

The others' are left out: a million would be 6 GB that no page touches.
"""

from __future__ import annotations

import json
import zlib
from collections import defaultdict
from typing import Any

from sqlalchemy import Engine, select

from tests.logbook.invented import truck, walks
from voice.logbook.database import writing
from voice.logbook.insert import insert_many
from voice.logbook.schema import DefectRow, DocumentRow, FactRow, RecordRow, VehicleRow
from voice.measure.level import Level
from voice.record.model import InspectionRecord


def write_texts(engine: Engine) -> int:
    """Returns how many."""
    pattern = next(made for made in walks(truck(1), 7) if isinstance(made, InspectionRecord))
    with writing(engine) as session:
        found = session.execute(
            select(RecordRow.key, RecordRow.id, VehicleRow.profile, FactRow.defect, FactRow.title, FactRow.level)
            .select_from(DefectRow)
            .join(FactRow, (FactRow.vehicle == DefectRow.vehicle) & (FactRow.defect == DefectRow.defect))
            .join(RecordRow, "record:" + RecordRow.id == FactRow.source)
            .join(VehicleRow, VehicleRow.key == DefectRow.vehicle)
            .where(DefectRow.closed.is_(None), FactRow.kind == "found", FactRow.at >= DefectRow.opened)
        ).all()
        said: dict[tuple[int, str], dict[str, dict[str, Any]]] = defaultdict(dict)
        profiles = {}
        for key, id, profile, defect, title, level in found:
            step, _, fault = defect.partition("#")
            one = {"key": defect, "step": step, "defect": fault, "title": title, "level": Level(level).word}
            said[key, id][step] = one
            profiles[key] = profile
        rows: list[dict[str, Any]] = []
        for (key, id), defects in said.items():
            content = pattern.model_dump(mode="json") | {"id": id, "vehicle": profiles[key]}
            for entry in content["entries"]:
                if entry["step"] in defects:
                    entry |= {"outcome": "defect", "defects": [defects[entry["step"]]]}
            rows.append({"record": key, "body": zlib.compress(json.dumps(content).encode(), 3)})
        if rows:
            InspectionRecord.model_validate_json(zlib.decompress(rows[0]["body"]))
        insert_many(session, DocumentRow, rows)
    return len(rows)
