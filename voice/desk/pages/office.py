"""The office: finds inspections, prints their reports, exports the logbook, and removes what need not be kept."""

from __future__ import annotations

import io
import re
import shutil
import zipfile
from datetime import UTC, datetime
from pathlib import Path
from tempfile import mkdtemp
from urllib.parse import urlencode

from starlette.background import BackgroundTask
from starlette.responses import FileResponse, Response

from voice.desk.accounts import Role
from voice.desk.data import mail
from voice.desk.data.asked import library_of
from voice.desk.data.listed import listed
from voice.desk.data.office import Results, find, read_search
from voice.desk.page import Page, RefusedError, Visit, turn_to
from voice.desk.wording import words
from voice.errors import DataError, SetupError
from voice.logbook.database import depot_url, reading
from voice.logbook.exports import export
from voice.logbook.history import date
from voice.logbook.lookup import known_units
from voice.logbook.pdf import Layout, Selection, file_name, laid_out, signed_records, to_pdf
from voice.logbook.prune import Pruning, carry_out, cut_off, plan
from voice.logbook.wording import level_words
from voice.measure.level import NAMES
from voice.record.model import Certification, InspectionRecord

OFFICE: frozenset[Role] = frozenset({"office", "administrator"})
MOST = 25  # reports in one file: each takes about a second to make
SHOWN = 100  # inspections listed before they are removed; the rest is counted
SHEET, WHOLE = Layout(), Layout(length="whole")
Kept = tuple[InspectionRecord, list[Certification]]


def search(visit: Visit) -> Response:
    return _search(visit)


def _search(visit: Visit, refused: str = "", status: int = 200) -> Response:
    """refused: a sentence that says why there is no export."""
    asked = read_search({} if refused else visit.query, datetime.now().astimezone().date())
    with reading(visit.desk.engine) as session:
        found = Results() if asked.backwards else find(session, asked, _route_titles(visit) if asked.kind else {})
    older = None if found.older is None else urlencode({**asked.fields, "after": found.older})
    return visit.render(
        "office", status=status, refused=refused, unclear=[words("office")[name] for name in asked.wrong],
        fields=asked.fields, backwards=asked.backwards, found=found, older=older, levels=NAMES[1:], level=level_words,
        date=date, most=MOST, wrong=visit.query.get("wrong", ""),
    )  # fmt: skip


def _route_titles(visit: Visit) -> dict[str, str]:
    """By id. Of a mistake in the user's own files the page of the routes tells; here titles are only missing."""
    try:
        return {id: route.title for id, route in library_of(visit.desk.home).routes.items()}
    except DataError:
        return {}


# --- reports ----------------------------------------------------------------------------------------------------------


def report(visit: Visit) -> Response:
    record, given = _one(visit)
    return visit.render(
        "report", record=record, findings=listed(record, given), date=date, subject=mail.subject(record),
        body=mail.body(record, given),
    )  # fmt: skip


def report_pdf(visit: Visit) -> Response:
    record, given = _one(visit)
    layout = WHOLE if visit.query.get("length") == "whole" else SHEET
    return _file(to_pdf(laid_out(record, given, layout)), "application/pdf", file_name(record, layout))


def report_mail(visit: Visit) -> Response:
    record, given = _one(visit)
    name = file_name(record, SHEET)
    message = mail.message(record, to_pdf(laid_out(record, given, SHEET)), name, given)
    return _file(message, "message/rfc822", f"{Path(name).stem}.eml")


def _one(visit: Visit) -> Kept:
    with reading(visit.desk.engine) as session:
        found = next(signed_records(session, Selection(records=(visit.parts["record"],))), None)
    if found is None:
        raise RefusedError(404, "nothing-here")
    return found


def reports(visit: Visit) -> Response:
    """Those that were ticked ("r:ID"), as one PDF or as a zip of several."""
    wanted = [name.removeprefix("r:") for name in visit.query if name.startswith("r:")]
    if not 0 < len(wanted) <= MOST:
        return turn_to("/office?" + urlencode({"wrong": "many" if wanted else "none"}))
    with reading(visit.desk.engine) as session:
        found = list(signed_records(session, Selection(records=wanted)))
    if not found:
        raise RefusedError(404, "nothing-here")
    for record, _ in found:
        visit.note(record.id)
    pages = [(file_name(record, SHEET), laid_out(record, given, SHEET)) for record, given in found]
    if visit.query.get("as") != "zip":
        return _file(to_pdf(*(html for _, html in pages)), "application/pdf", "reports.pdf")
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_STORED) as archive:
        for name, html in pages:
            archive.writestr(name, to_pdf(html))
    return _file(packed.getvalue(), "application/zip", "reports.zip")


def _file(content: bytes, kind: str, name: str) -> Response:
    """For the reader to keep; the name has plain letters only."""
    return Response(content, media_type=kind, headers={"Content-Disposition": f'attachment; filename="{name}"'})


# --- export -----------------------------------------------------------------------------------------------------------


def exported(visit: Visit) -> Response:
    """The tables of 'gladhand logbook export': one JSON file, or a zip of CSV files. Of one unit, or all."""
    text = words("office")["export"]
    unit, format = visit.query.get("unit", "").strip(), visit.query.get("format", "csv")
    if format not in ("csv", "json"):
        return _search(visit, text["no_format"], 422)
    vehicles = [unit] if unit else []
    with reading(visit.desk.engine) as session:
        if not known_units(session, vehicles):
            return _search(visit, text["no_unit"].format(unit=unit), 404)
    folder = Path(mkdtemp(prefix="gladhand-export-"))
    try:
        out = folder / "logbook.zip"
        with reading(visit.desk.engine) as session:
            if format == "json":
                (out,) = export(session, folder, "json", datetime.now(UTC), vehicles)
            else:
                files = export(session, folder, "csv", datetime.now(UTC), vehicles)
                with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
                    for file in files:
                        archive.write(file, file.name)
    except BaseException:
        shutil.rmtree(folder, ignore_errors=True)
        raise
    done = BackgroundTask(shutil.rmtree, folder, ignore_errors=True)
    return FileResponse(out, filename=out.name, background=done)


# --- retention --------------------------------------------------------------------------------------------------------


def retention(visit: Visit) -> Response:
    return _retention(visit, visit.query.get("older", "").strip())


def _retention(visit: Visit, older: str, wrong: str = "", status: int = 200) -> Response:
    """What would be removed; nothing is, before the second form."""
    found, trouble = None, ""
    if older:
        try:
            found = _plan(visit, older)
        except SetupError as error:
            trouble, status = str(error), 422
    return visit.render(
        "retention", status=status, older=older, found=found, trouble=trouble, wrong=wrong, shown=SHOWN, date=date,
        gone=_gone(found), done="".join(re.findall(r"^\d{1,9}$", visit.query.get("done", ""))),
    )  # fmt: skip


def _plan(visit: Visit, older: str) -> Pruning:
    """Raises SetupError for a time that is none, or shorter than the rule's."""
    desk = visit.desk
    before = cut_off(older, datetime.now(UTC))
    linked = not desk.depot and depot_url(desk.home) is not None
    with reading(desk.engine) as session:
        return plan(session, before, home=None if desk.depot else desk.home, depot_known=linked)


def _gone(found: Pruning | None) -> list[str]:
    """Ids of the inspections that something would be removed of, the oldest first."""
    return [] if found is None else sorted({*found.remove, *(folder.name for folder in found.folders)})


def remove(visit: Visit) -> Response:
    """Only what was shown: if it is another number by now, it is shown again."""
    older = visit.form.get("older", "").strip()
    if visit.desk.depot:  # the desk's role there may read only
        return _retention(visit, older, "depot", 403)
    if visit.form.get("sure") != "yes":
        return _retention(visit, older, "unsure", 422)
    try:
        found = _plan(visit, older)
    except SetupError:
        return _retention(visit, older)
    count = len(_gone(found))
    if visit.form.get("count") != str(count):
        return _retention(visit, older, "changed", 409)
    carry_out(visit.desk.engine, found)
    visit.note(f"older than {older}: {count} removed", "changed")
    return turn_to("/office/retention?" + urlencode({"done": count}))


PAGES = [
    Page("/office", "office", OFFICE, search, menu="office"),
    Page("/office/reports", "reports", OFFICE, reports),
    Page("/office/reports/{record}", "report", OFFICE, report),
    Page("/office/reports/{record}/pdf", "report-pdf", OFFICE, report_pdf),
    Page("/office/reports/{record}/mail", "report-mail", OFFICE, report_mail),
    Page("/office/export", "export", OFFICE, exported),
    Page("/office/retention", "retention", OFFICE, retention),
    Page("/office/retention", "remove", OFFICE, remove, method="POST"),
]
