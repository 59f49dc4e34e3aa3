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
from voice.logbook.lookup import stands, units_named
from voice.logbook.schema import CertificationRow, DocumentRow, RecordRow, RecordUnitRow, VehicleRow
from voice.record.by_unit import shares, today_key
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

    vehicles: by id; of a unit all that it was part of.
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
    whole = "-whole" if layout.format == "pdf" and layout.length == "whole" else ""
    return f"{re.sub(r'[^A-Za-z0-9._-]+', '-', record.id)}{whole}.{layout.format}"


def signed_records(session: Session, wanted: Selection) -> Iterator[tuple[InspectionRecord, list[Certification]]]:
    """The records wanted, oldest first, each with the certifications given since.

    Those whose text was pruned are left out: they have no report any more.
    """
    query = (
        select(RecordRow.key, DocumentRow.body)
        .join(DocumentRow, DocumentRow.record == RecordRow.key)
        .order_by(RecordRow.started, RecordRow.id)
    )
    if wanted.vehicles:
        about = (
            select(RecordUnitRow.record)
            .join(VehicleRow, VehicleRow.key == RecordUnitRow.vehicle)
            .where(VehicleRow.id.in_(units_named(session, wanted.vehicles)))
        )
        query = query.where(RecordRow.key.in_(about))
    if wanted.records:
        query = query.where(RecordRow.id.in_(wanted.records))
    if wanted.since is not None:
        query = query.where(RecordRow.started >= wanted.since)
    if wanted.until is not None:
        query = query.where(RecordRow.started < wanted.until)
    for _, body in session.execute(query.execution_options(yield_per=50)):
        try:
            record = InspectionRecord.model_validate_json(zlib.decompress(body))
        except ValidationError as error:  # stored by an earlier version that did not look
            tell(f"a record of the logbook has no report: it is broken at {first_fault(error)}.")
            continue
        yield record, _certifications(session, record)


def _certifications(session: Session, record: InspectionRecord) -> list[Certification]:
    """The first given since, and not withdrawn, for each defect that the record found or carried, by its own keys."""
    if record.ended is None:
        return []
    first: dict[str, Certification] = {}
    for share in shares(record):
        keys = {own.key for _, own in (*share.found, *share.carried)}
        rows = session.scalars(
            select(CertificationRow)
            .join(VehicleRow, VehicleRow.key == CertificationRow.vehicle)
            .where(
                VehicleRow.id == share.part.id,
                CertificationRow.defect.in_(keys),
                CertificationRow.at >= record.ended,
                stands(),
            )
            .order_by(CertificationRow.at.desc())
        )
        for row in rows if keys else ():
            key = today_key(record.vehicle, share.part.id, row.defect)
            given = {"verdict": row.verdict, "name": row.name, "at": row.at, "remark": row.remark}
            first[key] = Certification.model_validate({"key": key, **given})
    return list(first.values())
