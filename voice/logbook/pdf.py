"""Inspection reports as PDF, by WeasyPrint from the same HTML that the record prints; one, or many in a batch."""

from __future__ import annotations

import logging
import re
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Literal

from pydantic import ValidationError
from sqlalchemy import select
from sqlalchemy.orm import Session

from voice.errors import SetupError, tell
from voice.logbook.lookup import stands
from voice.logbook.schema import CertificationRow, DocumentRow, RecordRow, VehicleRow
from voice.record.load import first_fault
from voice.record.model import Certification, InspectionRecord
from voice.record.report import Paper, render_html

Format = Literal["pdf", "html"]
Length = Literal["sheet", "whole"]


def to_pdf(*pages: str) -> bytes:
    """Pages as one PDF, one after the other, each numbered by itself. Raises SetupError.

    A page is self-contained; whatever it might want to fetch is refused.
    """
    try:
        from weasyprint import HTML, URLFetcher
    except (ImportError, OSError) as error:
        raise SetupError(
            "WeasyPrint or the Pango library it needs is missing.", "pip install gladhand[logbook], or print the HTML."
        ) from error
    fetcher = URLFetcher(allowed_protocols=("data",))
    logging.getLogger("weasyprint").setLevel(logging.ERROR)  # it warns of every rule that is for screens only
    documents = [HTML(string=html, url_fetcher=fetcher).render() for html in pages]
    pdf: bytes = documents[0].copy([page for each in documents for page in each.pages]).write_pdf()
    return pdf


@dataclass(frozen=True, slots=True)
class Selection:
    """Which records are meant; what is left empty leaves none out.

    vehicles: by id.
    records: by id.
    since: begun then or later.
    until: begun before.
    """

    vehicles: Sequence[str] = ()
    records: Sequence[str] = ()
    since: datetime | None = None
    until: datetime | None = None


@dataclass(frozen=True, slots=True)
class Layout:
    """How a report is written.

    length: for PDF; the HTML is always whole.
    """

    format: Format = "pdf"
    length: Length = "sheet"
    paper: Paper = "letter"


def write_reports(session: Session, out: Path, wanted: Selection, layout: Layout) -> Iterator[Path]:
    """The reports of the records wanted, as files in `out`, oldest first. Raises SetupError."""
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise SetupError(f"{out} cannot be made: {error.strerror}.", "Give another folder.") from error
    for record, certifications in signed_records(session, wanted):
        html = laid_out(record, certifications, layout)
        file = out / file_name(record, layout)
        file.write_bytes(to_pdf(html) if layout.format == "pdf" else html.encode())
        yield file


def laid_out(record: InspectionRecord, certifications: Sequence[Certification], layout: Layout) -> str:
    """The report as HTML, from which the PDF is made."""
    annex = layout.format == "html" or layout.length == "whole"
    return render_html(record, certifications, paper=layout.paper, annex=annex)


def file_name(record: InspectionRecord, layout: Layout) -> str:
    return f"{re.sub(r'[^A-Za-z0-9._-]+', '-', record.id)}.{layout.format}"


def signed_records(session: Session, wanted: Selection) -> Iterator[tuple[InspectionRecord, list[Certification]]]:
    """The records wanted, oldest first, each with the certifications given since.

    Those whose text was pruned are left out: they have no report any more.
    """
    query = (
        select(RecordRow.key, RecordRow.vehicle, DocumentRow.body)
        .join(DocumentRow, DocumentRow.record == RecordRow.key)
        .join(VehicleRow, VehicleRow.key == RecordRow.vehicle)
        .order_by(RecordRow.started, RecordRow.id)
    )
    if wanted.vehicles:
        query = query.where(VehicleRow.id.in_(wanted.vehicles))
    if wanted.records:
        query = query.where(RecordRow.id.in_(wanted.records))
    if wanted.since is not None:
        query = query.where(RecordRow.started >= wanted.since)
    if wanted.until is not None:
        query = query.where(RecordRow.started < wanted.until)
    for _, vehicle, body in session.execute(query.execution_options(yield_per=50)):
        try:
            record = InspectionRecord.model_validate_json(zlib.decompress(body))
        except ValidationError as error:  # stored by an earlier version that did not look
            tell(f"a record of the logbook has no report: it is broken at {first_fault(error)}.")
            continue
        yield record, _certifications(session, vehicle, record)


def _certifications(session: Session, vehicle: int, record: InspectionRecord) -> list[Certification]:
    """The first given since, and not withdrawn, for each defect that the record found or carried."""
    keys = {defect.key for defect in record.defects} | {carried.key for carried in record.carried}
    if not keys or record.ended is None:
        return []
    rows = session.scalars(
        select(CertificationRow)
        .where(
            CertificationRow.vehicle == vehicle,
            CertificationRow.defect.in_(keys),
            CertificationRow.at >= record.ended,
            stands(vehicle),
        )
        .order_by(CertificationRow.at.desc())
    )
    first = {
        row.defect: Certification(key=row.defect, verdict=row.verdict, name=row.name, at=row.at, remark=row.remark)
        for row in rows
    }
    return list(first.values())
