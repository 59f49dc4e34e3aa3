"""The days that a depot knows: the records and certifications in its logbook. Changes of duty stay on their device."""

from __future__ import annotations

import zlib
from datetime import UTC, date, datetime, time, timedelta

from pydantic import ValidationError
from sqlalchemy import select
from sqlalchemy.orm import Session

from voice.day.facts import Known, in_order
from voice.errors import tell
from voice.logbook.schema import CertificationRow, DocumentRow, RecordRow, VehicleRow
from voice.record.load import first_fault
from voice.record.model import Certification, InspectionRecord
from voice.record.repairs import Repair

_EITHER_SIDE = timedelta(days=2)  # a day begins up to half a day from UTC's, and yesterday's trip may still go on


def known_of(session: Session, day: date) -> Known:
    """What a logbook has of a day and of those beside it. A record that cannot be read is told and left out."""
    begins = datetime.combine(day, time(), UTC)
    bodies = session.scalars(
        select(DocumentRow.body)
        .join(RecordRow, RecordRow.key == DocumentRow.record)
        .where(RecordRow.started >= begins - _EITHER_SIDE, RecordRow.started < begins + _EITHER_SIDE)
    )
    records = []
    for body in bodies:
        try:
            records.append(InspectionRecord.model_validate_json(zlib.decompress(body)))
        except (ValidationError, zlib.error) as error:
            why = first_fault(error) if isinstance(error, ValidationError) else "its text"
            tell(f"a record of the logbook is broken at {why}. The day is told without it.")
    given = session.execute(
        select(VehicleRow.id, CertificationRow)
        .join(VehicleRow, VehicleRow.key == CertificationRow.vehicle)
        .where(CertificationRow.at >= begins - _EITHER_SIDE)
    )
    repairs = [
        Repair(
            vehicle,
            "",
            Certification(key=row.defect, verdict=row.verdict, name=row.name, at=row.at, remark=row.remark),
        )
        for vehicle, row in given
    ]
    return Known(in_order(records), (), tuple(repairs))
