"""The mechanic: certify that a defect was repaired or that repair is unnecessary; take a certification back."""

from __future__ import annotations

from starlette.responses import Response

from voice.data.fields import MAX_NAME
from voice.desk.accounts import Role
from voice.desk.data.certifying import Known, add, known, now
from voice.desk.data.fresh import forget, refresh
from voice.desk.data.reported import Documents, Reported, reported_of
from voice.desk.page import Page, RefusedError, Visit, turn_to
from voice.desk.pages.office import report_pdf
from voice.desk.wording import words
from voice.logbook.database import reading
from voice.logbook.history import moment, state_words
from voice.logbook.wording import level_words
from voice.record.model import Certification
from voice.record.repairs import Withdrawal

MECHANIC: frozenset[Role] = frozenset({"mechanic"})
LONGEST = 4000  # characters of a remark


def _known(visit: Visit, defect: str) -> Known:
    """Raises RefusedError for a unit or defect that is not known."""
    if not 0 < len(defect) <= MAX_NAME:
        raise RefusedError(404, "nothing-here")
    with reading(visit.desk.engine) as session:
        return known(visit.desk, session, visit.parts["unit"], defect)


def report(visit: Visit) -> Response:
    """The report that a defect stands in, as PDF; the office has its own way to it, with a letter and an export."""
    return report_pdf(visit)


def certify_form(visit: Visit) -> Response:
    refresh(visit.desk)
    defect = visit.query.get("defect", "")
    return _certify_form(visit, _known(visit, defect), defect)


def _certify_form(visit: Visit, found: Known, defect: str, wrong: str = "", status: int = 200) -> Response:
    return visit.render(
        "certify", status=status, unit=visit.parts["unit"], defect=defect, known=found, wrong=wrong, moment=moment,
        level=level_words, state=state_words, longest=LONGEST, reported=_reported(visit, found),
    )  # fmt: skip


def _reported(visit: Visit, found: Known) -> Reported | None:
    if found.open is None:
        return None
    with reading(visit.desk.engine) as session:
        return reported_of(Documents(session), visit.parts["unit"], found.open, found.facts)


def certify(visit: Visit) -> Response:
    defect, verdict = visit.form.get("defect", ""), visit.form.get("verdict", "")
    parts, remark = (visit.form.get(name, "").strip() for name in ("parts", "remark"))
    found = _known(visit, defect)
    if found.open is None:
        return _overtaken(visit, found, defect)
    if verdict not in ("repaired", "unnecessary"):
        return _certify_form(visit, found, defect, "verdict", 422)
    if len(parts) + len(remark) > LONGEST:
        return _certify_form(visit, found, defect, "long", 422)
    if verdict == "unnecessary" and not remark:
        return _certify_form(visit, found, defect, "why", 422)
    text = words("mechanic")["with_parts"].format(parts=parts, remark=remark).strip() if parts else remark
    given = Certification(
        key=defect,
        verdict="repaired" if verdict == "repaired" else "repair-unnecessary",
        name=visit.who.name,
        at=now(),
        remark=text,
    )
    return _done(visit, given, defect, "certified")


def withdraw_form(visit: Visit) -> Response:
    refresh(visit.desk)
    defect, of = visit.query.get("defect", ""), visit.query.get("of", "")
    return _withdraw_form(visit, _known(visit, defect), defect, of)


def _withdraw_form(visit: Visit, found: Known, defect: str, of: str, wrong: str = "", status: int = 200) -> Response:
    if not found.stands(of):
        raise RefusedError(404, "nothing-here")
    return visit.render(
        "withdraw", status=status, unit=visit.parts["unit"], defect=defect, known=found, of=of, wrong=wrong,
        state=state_words, longest=LONGEST,
    )  # fmt: skip


def withdraw(visit: Visit) -> Response:
    defect, of, remark = (visit.form.get(name, "").strip() for name in ("defect", "of", "remark"))
    found = _known(visit, defect)
    if not found.stands(of):
        return _overtaken(visit, found, defect)
    if not remark:
        return _withdraw_form(visit, found, defect, of, "reason", 422)
    if len(remark) > LONGEST:
        return _withdraw_form(visit, found, defect, of, "long", 422)
    return _done(
        visit, Withdrawal(key=defect, certification=of, name=visit.who.name, at=now(), remark=remark), defect,
        "withdrawn",
    )  # fmt: skip


def _done(visit: Visit, given: Certification | Withdrawal, defect: str, done: str) -> Response:
    meanwhile = add(visit.desk, visit.parts["unit"], given, visit.form.get("state", ""))
    if meanwhile is not None:
        return _overtaken(visit, meanwhile, defect)
    forget(visit.desk)
    visit.note(f"{visit.parts['unit']} {defect} {given.verdict}", "changed")
    unit = next(page for page in visit.desk.pages if page.name == "unit")
    return turn_to(f"{unit.address(unit=visit.parts['unit'])}?done={done}")


def _overtaken(visit: Visit, found: Known, defect: str) -> Response:
    """Somebody else was quicker, or a new record came in: what is known now, and nothing was written."""
    return visit.render(
        "overtaken", status=409, unit=visit.parts["unit"], defect=defect, known=found, moment=moment, state=state_words,
        entered={name: visit.form.get(name, "") for name in ("parts", "remark")},
    )  # fmt: skip


PAGES = [
    Page("/reports/{record}", "report-read", MECHANIC, report),
    Page("/units/{unit}/certify", "certify-form", MECHANIC, certify_form),
    Page("/units/{unit}/certify", "certify", MECHANIC, certify, method="POST"),
    Page("/units/{unit}/withdraw", "withdraw-form", MECHANIC, withdraw_form),
    Page("/units/{unit}/withdraw", "withdraw", MECHANIC, withdraw, method="POST"),
]
