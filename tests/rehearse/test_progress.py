"""What the instructor sees, counted by hand on small histories and rendered from a big invented one."""

import csv
import io
import re
from datetime import UTC, date, datetime, timedelta
from xml.etree import ElementTree

import pytest

from demo.invented_class import NAMES, invent
from voice.data.folders import prompts_dir
from voice.judge import load_limits
from voice.rehearse.listen.syllabus import make_syllabus
from voice.rehearse.progress.pages import progress_page, study_sheet
from voice.rehearse.progress.progress import COLUMNS, most_missed, most_slipped, parts, students, to_csv, within
from voice.rehearse.progress.record import PartRecord, SessionRecord
from voice.route import load_library, load_vehicle, make_plan

VEHICLE = load_vehicle(prompts_dir() / "vehicles" / "tractor-trailer-five-axle.yaml")
PROGRAMME = make_syllabus(make_plan(load_library(), VEHICLE), load_limits())
SECTIONS = [(section.id, section.title) for section in PROGRAMME.sections]
HISTORY = invent(PROGRAMME)


def session(day: int, right: dict[str, bool], slips: tuple[str, ...] = ()) -> SessionRecord:
    return SessionRecord(
        id=f"d{day}",
        started=datetime(2026, 3, 1, tzinfo=UTC) + timedelta(days=day),
        form="test",
        route="r",
        vehicle="v",
        points=sum(right.values()),
        of=len(right),
        seconds=60,
        slips=slips,
        parts=tuple(
            PartRecord(
                key=key, section="cab", title=key.title(), named=True, right=good, slipped=key in slips,
                short=() if good else ("works",),
            )
            for key, good in right.items()
        ),
    )  # fmt: skip


SMALL = {
    "Invented One": [
        session(0, {"horn": False, "wipers": False}, ("horn",)),
        session(5, {"horn": True, "wipers": False}),
        session(9, {"horn": True, "wipers": True}),
    ],
    "Invented Two": [session(2, {"horn": True, "wipers": False})],
}


def test_rows_of_students() -> None:
    one, two = students(SMALL)
    assert (one.name, one.sessions, one.last, one.best, one.slips) == ("Invented One", 3, 1.0, 1.0, 1)
    assert one.recent == pytest.approx(0.5)
    assert (two.recent, two.date) == (0.5, date(2026, 3, 3))


def test_most_missed_and_most_slipped() -> None:
    rows = parts(SMALL)
    assert [(row.key, row.asked, row.missed, row.check) for row in most_missed(rows, 5)] == [
        ("wipers", 4, 3, "works"), ("horn", 4, 1, "works"),
    ]  # fmt: skip
    assert [row.key for row in most_slipped(rows, 5)] == ["horn"]


def test_dates() -> None:
    chosen = within(SMALL, date(2026, 3, 3), date(2026, 3, 6))
    assert {name: [s.id for s in sessions] for name, sessions in chosen.items()} == {
        "Invented One": ["d5"], "Invented Two": ["d2"],
    }  # fmt: skip


def test_csv_reads_back() -> None:
    rows = list(csv.DictReader(io.StringIO(to_csv(SMALL | {"=cmd()": SMALL["Invented Two"]}))))
    assert tuple(rows[0]) == COLUMNS
    assert len(rows) == 10
    assert sum(row["part"] == "wipers" and row["right"] == "0" for row in rows) == 4
    assert {row["student"] for row in rows} == {"Invented One", "Invented Two", "'=cmd()"}


def test_two_hundred_invented_sessions() -> None:
    sessions = [each for of_one in HISTORY.values() for each in of_one]
    assert len(sessions) == 200
    assert set(HISTORY) == set(NAMES)
    assert all(name.startswith("Invented") for name in NAMES)
    assert all(each.invented for each in sessions)
    assert invent(PROGRAMME) == HISTORY
    first = [each for of_one in HISTORY.values() for each in of_one[:5]]
    last = [each for of_one in HISTORY.values() for each in of_one[-5:]]
    assert sum(s.share for s in last) > 2 * sum(s.share for s in first)


def test_the_page_is_one_file_with_three_plots() -> None:
    page = progress_page(HISTORY, SECTIONS)
    plots = re.findall(r"<svg.*?</svg>", page, re.DOTALL)
    assert len(plots) == 3
    for plot in plots:
        ElementTree.fromstring(plot)
    assert not re.search(r"(?:src|href)=\"(?:https?:)?//", page.replace("http://www.w3.org", ""))
    assert all(name in page for name in NAMES)
    assert "Invented sessions" in page
    assert page == progress_page(HISTORY, SECTIONS)


def test_the_map_has_every_part_that_was_rehearsed() -> None:
    _, heat, _ = re.findall(r"<svg.*?</svg>", progress_page(HISTORY, SECTIONS), re.DOTALL)
    texts = "".join(ElementTree.fromstring(heat).itertext())
    for word in ("Alternator", "Glad hands", "Low-air", "Wipers"):
        assert word in texts
    assert all(title.split()[0] in texts for _, title in SECTIONS)


def test_names_are_escaped_on_the_page() -> None:
    page = progress_page({"<script>x</script>": SMALL["Invented Two"]}, [("cab", "Cab")])
    assert "<script>" not in page


def test_the_sheet_has_every_part_in_walking_order_and_every_figure() -> None:
    page = study_sheet(PROGRAMME, VEHICLE.name)
    places = [page.index(f'<td class="name">{part.title}</td>'.replace("'", "&#39;")) for part in PROGRAMME.parts]
    assert places == sorted(places)
    assert "at least 4/32 in" in page
    assert study_sheet(PROGRAMME, VEHICLE.name, section="brake-checks").count('class="name"') == len(
        PROGRAMME.of("brake-checks")
    )
