"""The instructor's pages: scores, recordings for nobody else, and credits that are overruled."""

from __future__ import annotations

import csv
import io
import re
import shutil
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from tests.desk.test_office import Structure
from tests.desk.yard import NAMES, Visitor, token
from voice.desk import trail
from voice.desk.accounts import ROLES
from voice.desk.page import Desk
from voice.desk.serve import desk_of
from voice.rehearse.listen.score import Scheme
from voice.rehearse.progress.memory import strengths
from voice.rehearse.progress.overruled import NAMED, Overruling, judged, overrulings_of
from voice.rehearse.progress.record import PartRecord, SessionRecord
from voice.rehearse.progress.students import Student, Students

SCRIPT = "<script>alert(1)</script>"
BEGIN = datetime(2026, 11, 2, 9, tzinfo=UTC)
ID = "20261102T090000Z"


def part(key: str, said: int, of: int = 4, **more: object) -> PartRecord:
    """The first so many of its checks were said."""
    checks = [f"check-{n}" for n in range(of)]
    content = {"key": key, "section": "engine", "title": key.title(), "named": True, "right": said >= 3,
               "said": checks[:said], "short": checks[said:]} | more  # fmt: skip
    return PartRecord.model_validate(content)


def session(*parts: PartRecord, id: str = ID, days: int = 0, **more: object) -> SessionRecord:
    content = {
        "id": id, "started": BEGIN + timedelta(days=days), "form": "test", "route": "tractor-semitrailer",
        "vehicle": "x", "points": sum(each.right for each in parts), "of": len(parts), "seconds": 61.0, "parts": parts,
        "utterances": ("the alternator is tight", SCRIPT),
    } | more  # fmt: skip
    return SessionRecord.model_validate(content)


def decided(part: str, check: str, credited: bool = True, **more: object) -> Overruling:
    content = {"session": ID, "part": part, "check": check, "credited": credited, "by": "Nora Field",
               "reason": "She pointed at it.", "at": BEGIN} | more  # fmt: skip
    return Overruling.model_validate(content)


SCHEME = Scheme.shipped()
PARTS = (part("alternator", 2), part("belts", 4), part("horn", 0, named=False))


# --- the rule, held against the scoring scheme's own words: three quarters of the checks, rounded up ------------------


def test_a_credit_given_makes_a_part_right_and_one_taken_makes_it_wrong() -> None:
    heard = session(*PARTS)
    given = judged(heard, [decided("alternator", "check-2")], SCHEME)
    assert ([each.right for each in given.parts], given.points, given.share) == ([True, True, False], 2, 2 / 3)
    assert given.parts[0].said == ("check-0", "check-1", "check-2")
    assert given.parts[1:] == heard.parts[1:]
    taken = judged(heard, [decided("belts", "check-0", False), decided("belts", "check-1", False)], SCHEME)
    assert (taken.parts[1].right, taken.points) == (False, 0)
    assert heard == session(*PARTS)
    assert judged(heard, [], SCHEME) is heard
    assert judged(heard, [decided("alternator", "check-2", session="another")], SCHEME) is heard


def test_the_last_word_on_a_credit_counts_and_all_are_kept() -> None:
    both = [decided("alternator", "check-2"), decided("alternator", "check-2", False)]
    found = judged(session(*PARTS), both, SCHEME)
    assert (found.points, [each.right for each in found.parts]) == (1, [False, True, False])
    assert overrulings_of(found, "alternator") == tuple(both)
    assert overrulings_of(found, "belts") == ()


def test_the_name_of_a_part_and_a_wrong_figure_can_be_overruled() -> None:
    all_said = part("horn", 4, named=False, right=False)
    assert judged(session(all_said), [decided("horn", NAMED)], SCHEME).parts[0].right
    wrong = part("tread", 3, short=(), wrong=("check-3",), right=False)
    found = judged(session(wrong), [decided("tread", "check-3")], SCHEME).parts[0]
    assert (found.right, found.wrong, found.said) == (True, (), ("check-0", "check-1", "check-2", "check-3"))
    taken = judged(session(wrong), [decided("tread", "check-3", False)], SCHEME).parts[0]
    assert (taken.right, taken.wrong, taken.short) == (True, (), ("check-3",))


def test_what_failed_as_a_whole_is_looked_at_anew_only_if_a_part_of_it_was_overruled() -> None:
    """Scheme: every check of every part of the air brake check, or it is failed."""
    air = part("low-air-warning", 3)
    heard = session(air, part("belts", 2), points=1, failed=("Air brake check",))
    assert judged(heard, [decided("belts", "check-2")], SCHEME).failed == ("Air brake check",)
    assert judged(heard, [decided("low-air-warning", "check-3")], SCHEME).failed == ()
    whole = session(part("low-air-warning", 4))
    assert judged(whole, [decided("low-air-warning", "check-0", False)], SCHEME).failed == ("Air brake check",)


# --- in the browser ---------------------------------------------------------------------------------------------------


@pytest.fixture
def school(pattern: Path, tmp_path: Path) -> Iterator[tuple[Desk, Students, Student]]:
    home = tmp_path / "home"
    shutil.copytree(pattern, home)
    students = Students(home)
    student = students.enroll("Una Hand")
    name = student.folder / "student.json"  # as it could stand there before such names were refused
    name.write_text(name.read_text().replace("Una Hand", f"Una {SCRIPT[:8]}b>"))
    student = replace(student, name=f"Una {SCRIPT[:8]}b>")
    students.keep(student, session(*PARTS))
    students.keep(student, session(*PARTS, id="later", days=3))
    students.keep_clip(student, ID, 0, np.zeros(1600, np.float32))
    students.enroll("Idle One")
    with desk_of(home, print, depot=False) as desk:
        yield desk, students, student


def overrule(visitor: Visitor, path: str, tick: tuple[str, ...] = ("check-2",), **change: str) -> tuple[int, str]:
    """Fills in the form as a browser does: it sends what is ticked, and all that is hidden.

    tick: what is pressed once, so that it is ticked if it was not, and the other way round.
    """
    form = visitor.get(f"{path}?part=alternator").partition('id="overruled"')[2].partition("</form>")[0]
    fields = dict(re.findall(r'<input type="hidden" name="([^"]*)" value="([^"]*)"', form))
    boxes = {id: bool(checked) for id, checked in re.findall(r'type="checkbox" name="said:([^"]*)"( checked)?', form)}
    assert boxes.keys() >= set(tick)
    fields |= {f"said:{id}": "on" for id, checked in boxes.items() if checked != (id in tick)}
    return visitor.send(f"{path}/overrule", **{**fields, "reason": "She pointed at it & said so.", **change})


def test_an_overruled_credit_changes_score_curve_and_strength_and_stands_in_the_export(
    school: tuple[Desk, Students, Student],
) -> None:
    desk, students, student = school
    line = (student.folder / "sessions.jsonl").read_bytes()
    visitor, path = Visitor(desk, "instructor"), f"/students/{student.id}/{ID}"
    curve = re.findall(r'polyline[^>]*points="([^"]*)"', visitor.get(f"/students/{student.id}"))
    now = datetime.now(UTC)
    before = strengths(students.sessions(student), now)["alternator"]
    assert before.recall < strengths(students.sessions(student), now)["belts"].recall
    status, html = overrule(visitor, path)
    assert status == 200
    assert "2 of 3 parts right" in html
    assert "As it was heard: 1 of 3" in html
    assert "counts as said by Nora Field" in html
    assert "She pointed at it &amp; said so." in html
    changed = re.findall(r'polyline[^>]*points="([^"]*)"', visitor.get(f"/students/{student.id}"))
    assert len(curve) == len(changed) == 1
    assert curve != changed
    assert strengths(students.sessions(student), now)["alternator"].stability > before.stability
    rows = list(csv.DictReader(io.StringIO(visitor.client.get("/students/scores.csv").content.decode("utf-8-sig"))))
    mine = next(row for row in rows if row["session"] == ID and row["part"] == "alternator")
    assert (mine["right"], mine["points"], mine["said"]) == ("1", "2", "check-0 check-1 check-2")
    assert re.fullmatch(r"check-2 credited by Nora Field [\d:T+-]+: She pointed at it & said so\.", mine["overruled"])
    assert all(row["overruled"] == "" for row in rows if row is not mine)
    assert (student.folder / "sessions.jsonl").read_bytes() == line
    assert (student.folder / "overruled.jsonl").stat().st_mode & 0o077 == 0
    status, html = overrule(visitor, path, reason="Heard it again: no.")
    assert "1 of 3 parts right" in html
    assert len((student.folder / "overruled.jsonl").read_text().splitlines()) == 2


def test_all_credits_of_a_part_are_overruled_in_one_form(school: tuple[Desk, Students, Student]) -> None:
    desk, students, student = school
    visitor, path = Visitor(desk, "instructor"), f"/students/{student.id}/{ID}"
    assert overrule(visitor, path, (NAMED, "check-0", "check-2", "check-3"))[0] == 200
    lines = [Overruling.model_validate_json(line) for line in (student.folder / "overruled.jsonl").open()]
    assert {line.check: line.credited for line in lines} == {
        NAMED: False, "check-0": False, "check-2": True, "check-3": True,
    }  # fmt: skip
    assert {line.reason for line in lines} == {"She pointed at it & said so."}
    found = next(each for each in students.sessions(student) if each.id == ID).parts[0]
    assert (found.named, found.said, found.short) == (False, ("check-1", "check-2", "check-3"), ("check-0",))
    noted = [line.about for line in trail.latest(desk.store, 6) if line.page == "overrule" and "check-2" in line.about]
    assert noted == [f"{student.id} {ID} alternator check-2 credited"]
    # What somebody else has decided since the form was shown stays as it is.
    form = visitor.get(f"{path}?part=alternator")
    assert overrule(visitor, path, (NAMED,))[0] == 200
    late = {"token": token(form), "part": "alternator", "was:": "0", "was:check-0": "0", "said:check-0": "on"}
    assert visitor.send(f"{path}/overrule", **late, reason="Heard.")[0] == 200
    found = next(each for each in students.sessions(student) if each.id == ID).parts[0]
    assert (found.named, found.said[0]) == (True, "check-0")


def test_a_form_that_is_shown_again_keeps_what_was_ticked(school: tuple[Desk, Students, Student]) -> None:
    desk, _, student = school
    status, html = overrule(
        Visitor(desk, "instructor"), f"/students/{student.id}/{ID}", ("check-0", "check-2"), reason=""
    )
    assert status == 422
    assert "Give a reason" in html
    ticked = re.findall(r'name="said:([^"]*)" checked', html)
    assert ticked == [NAMED, "check-1", "check-2"]


def test_nothing_is_overruled_without_a_reason_or_for_a_credit_that_is_none(
    school: tuple[Desk, Students, Student],
) -> None:
    desk, _, student = school
    visitor, path = Visitor(desk, "instructor"), f"/students/{student.id}/{ID}"
    for change, status in (
        ({"reason": "  "}, 422), ({"reason": "x" * 1001}, 422), ({"was:nothing": "0"}, 404), ({"part": "nothing"}, 404),
        ({"reason": "a\u202eb"}, 422), ({"token": "0"}, 403),
    ):  # fmt: skip
        assert overrule(visitor, path, ("check-2",), **change)[0] == status, change
    status, html = overrule(visitor, path, ())
    assert (status, "Tick or untick at least one" in html) == (422, True)
    for who in (role for role in ROLES if role != "instructor"):
        other = Visitor(desk, who)
        form = token(other.get("/routes"))
        fields = {"part": "alternator", "was:check-2": "0", "said:check-2": "on", "reason": "So."}
        assert other.send(f"{path}/overrule", token=form, **fields)[0] == 403
    assert not (student.folder / "overruled.jsonl").exists()


def test_recordings_are_for_the_instructor_and_no_path_leads_elsewhere(school: tuple[Desk, Students, Student]) -> None:
    desk, _, student = school
    visitor, path = Visitor(desk, "instructor"), f"/students/{student.id}/{ID}"
    heard = visitor.client.get(f"{path}/001.flac")
    assert (heard.status_code, heard.headers["content-type"], heard.content[:4]) == (200, "audio/flac", b"fLaC")
    assert heard.headers["cache-control"] == "no-store"
    assert f'src="{path}/001.flac"' in visitor.get(path)
    assert f"{path}/002.flac" not in visitor.get(path)
    for who in (role for role in ROLES if role != "instructor"):
        assert Visitor(desk, who).client.get(f"{path}/001.flac").status_code == 403
    assert Visitor(desk).client.get(f"{path}/001.flac", follow_redirects=False).status_code == 303
    secret = desk.home / "device.key"
    (student.folder / "clips" / ID / "003.flac").symlink_to(secret)
    for wrong in (
        "002.flac", "003.flac", "0001.flac", "..%2f..%2fstudent.json", "..%2f001.flac", "%2e%2e/001.flac",
        "001.flac%00", "...flac", "*.flac",
    ):  # fmt: skip
        assert visitor.client.get(f"{path}/{wrong}").status_code == 404, wrong
    for wrong in (
        f"/students/..%2fstudents%2f{student.id}/{ID}/001.flac", f"/students/{student.id}/later/001.flac",
        "/students/nobody", f"/students/{student.id}/never", "/students/scores.csv?student=nobody",
    ):  # fmt: skip
        assert visitor.client.get(wrong).status_code == 404, wrong


def test_names_and_words_are_text_and_the_pages_can_be_used_by_ear(school: tuple[Desk, Students, Student]) -> None:
    desk, students, student = school
    (students.enroll("Torn One").folder / "sessions.jsonl").write_text('{"version": 1, "id": 3}\n')
    visitor, path = Visitor(desk, "instructor"), f"/students/{student.id}/{ID}"
    for page in ("/students", f"/students/{student.id}", path, f"{path}?part=alternator"):
        html = visitor.get(page)
        assert Structure(html).faults() == [], page
        assert SCRIPT[:8] not in html
        assert "&lt;script" in html
    shown = visitor.get("/students")
    assert "Idle One" in shown
    assert "this rehearsal cannot be read" in shown
    assert NAMES["instructor"] in shown
