"""The instructor: students, curves, what is missed, a rehearsal heard again beside its score, credits overruled.

Only for the instructor: no other role sees a student's scores or hears a recording, the administrator neither.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any
from urllib.parse import quote

from starlette.responses import FileResponse, Response

from voice.desk.accounts import Role
from voice.desk.data import school
from voice.desk.page import Page, RefusedError, Visit, turn_to
from voice.errors import shown
from voice.logbook.history import date
from voice.measure.telling import minutes
from voice.rehearse.progress.overruled import NAMED, Overruling, overrulings_of
from voice.rehearse.progress.progress import most_missed, to_csv
from voice.rehearse.progress.report import percent, points
from voice.rehearse.wording import pages_file

INSTRUCTOR: frozenset[Role] = frozenset({"instructor"})
WORST = 10  # parts listed as most missed
LONGEST = 1000  # characters of a reason


def students(visit: Visit) -> Response:
    found = school.whole_class(visit.desk)
    return visit.render("students", found=found, worst=_worst(found.lanes), **_shown())


def student(visit: Visit) -> Response:
    who, sessions, curves, lanes = school.one_student(visit.desk, visit.parts["student"])
    return visit.render(
        "student", student=who, sessions=sessions, curves=curves, lanes=lanes, worst=_worst(lanes), **_shown()
    )


def _shown() -> dict[str, Any]:
    """What every page of these prints with."""
    return {
        "date": date,
        "percent": percent,
        "points": points,
        "minutes": minutes,
        "progress": pages_file().progress,
        "overrulings": overrulings_of,
        "width": school.WIDTH,
        "height": school.HEIGHT,
    }


def _worst(lanes: tuple[school.Lane, ...]) -> list[tuple[str, object]]:
    titles = {row.key: lane.title for lane in lanes for row in lane.parts}
    return [(titles[row.key], row) for row in most_missed([row for lane in lanes for row in lane.parts], WORST)]


def rehearsal(visit: Visit) -> Response:
    return _rehearsal(visit, visit.query.get("part"))


def _rehearsal(visit: Visit, part: str | None, wrong: str = "", status: int = 200) -> Response:
    found = school.replay(visit.desk, visit.parts["student"], visit.parts["rehearsal"])
    return visit.render(
        "rehearsal", status=status, found=found, chosen=part, checks=[] if part is None else found.checks(part),
        named=NAMED, wrong=wrong, longest=LONGEST, words_of=school.check_words, **_shown(),
    )  # fmt: skip


def recording(visit: Visit) -> Response:
    """Played on the page; kept by no cache, and not offered as a download."""
    found = school.recording(visit.desk, visit.parts["student"], visit.parts["rehearsal"], visit.parts["clip"])
    return FileResponse(found, media_type="audio/flac")


def overrule(visit: Visit) -> Response:
    """All credits of a part in one form. Only those that were ticked or unticked are decided: another instructor may
    have decided about the others since the form was shown."""
    part, reason = visit.form.get("part", ""), visit.form.get("reason", "").strip()
    found = school.replay(visit.desk, visit.parts["student"], visit.parts["rehearsal"])
    shown_as = {name.removeprefix("was:"): was == "1" for name, was in visit.form.items() if name.startswith("was:")}
    if not shown_as.keys() <= {check.id for check in found.checks(part)}:
        raise RefusedError(404, "nothing-here")
    ticked = {check: f"said:{check}" in visit.form for check in shown_as}
    changed = {check: credited for check, credited in ticked.items() if credited != shown_as[check]}
    if not changed:
        return _rehearsal(visit, part, "none", 422)
    if not 0 < len(reason) <= LONGEST or any(shown(line) != line for line in reason.splitlines()):
        return _rehearsal(visit, part, "reason", 422)
    decided = [
        Overruling(
            session=found.session.id, part=part, check=check, credited=credited, by=visit.who.name, reason=reason,
            at=datetime.now(UTC),
        )
        for check, credited in changed.items()
    ]  # fmt: skip
    school.kept(visit.desk).overrule(found.student, decided)
    for check, credited in changed.items():
        decision = "credited" if credited else "not-credited"
        visit.note(f"{found.student.id} {found.session.id} {part} {check or 'name'} {decision}", "changed")
    return turn_to(f"{ONE.address(**visit.parts)}?part={quote(part, safe='')}#overruled")


def scores(visit: Visit) -> Response:
    """All rehearsals of all students, or of one, as they count."""
    found = school.kept(visit.desk)
    wanted = visit.query.get("student")
    history = {each.name: found.sessions(each) for each in found.all() if wanted in (None, each.id)}
    if wanted is not None and not history:
        raise RefusedError(404, "nothing-here")
    headers = {"Content-Disposition": 'attachment; filename="scores.csv"'}
    return Response("\ufeff" + to_csv(history), media_type="text/csv; charset=utf-8", headers=headers)


ONE = Page("/students/{student}/{rehearsal}", "rehearsal", INSTRUCTOR, rehearsal)
PAGES = [
    Page("/students", "students", INSTRUCTOR, students, menu="instructor"),
    Page("/students/scores.csv", "scores", INSTRUCTOR, scores),
    Page("/students/{student}", "student", INSTRUCTOR, student),
    ONE,
    Page("/students/{student}/{rehearsal}/overrule", "overrule", INSTRUCTOR, overrule, method="POST"),
    Page("/students/{student}/{rehearsal}/{clip}.flac", "rehearsal-recording", INSTRUCTOR, recording),
]
