"""What an instructor wants to know, counted from rehearsals. Pure."""

from __future__ import annotations

import csv
import io
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from statistics import fmean

from voice.rehearse.progress.overruled import overrulings_of
from voice.rehearse.progress.record import PartRecord, SessionRecord

History = Mapping[str, Sequence[SessionRecord]]  # student's name -> rehearsals, oldest first


@dataclass(frozen=True, slots=True)
class StudentRow:
    """Shares are 0..1 of the parts that could be right.

    slips: in all rehearsals.
    seconds: in all.
    """

    name: str
    sessions: int
    last: float
    best: float
    recent: float
    slips: int
    seconds: float
    date: date


@dataclass(frozen=True, slots=True)
class PartRow:
    """How a part went over several rehearsals.

    asked: rehearsals the part was in.
    missed: of these, not right.
    check: the key point most often left out.
    """

    key: str
    title: str
    section: str
    asked: int
    missed: int
    slipped: int
    check: str

    @property
    def share(self) -> float:
        return self.missed / self.asked


def within(history: History, first: date | None, last: date | None) -> dict[str, list[SessionRecord]]:
    """Only rehearsals of these days, both included; students without any are left out."""
    kept = {
        name: [
            session
            for session in sessions
            if (first is None or session.started.date() >= first) and (last is None or session.started.date() <= last)
        ]
        for name, sessions in history.items()
    }
    return {name: sessions for name, sessions in kept.items() if sessions}


def students(history: History) -> list[StudentRow]:
    """A row for each student, by name."""
    rows = []
    for name, sessions in sorted(history.items()):
        shares = [session.share for session in sessions]
        rows.append(
            StudentRow(
                name,
                len(sessions),
                shares[-1],
                max(shares),
                fmean(shares[-3:]),
                sum(len(session.slips) for session in sessions),
                sum(session.seconds for session in sessions),
                sessions[-1].started.date(),
            )
        )
    return rows


def parts(history: History) -> list[PartRow]:
    """A row for each part of any rehearsal, in the order of first meeting (walking order within a rehearsal)."""
    records: dict[str, list[PartRecord]] = defaultdict(list)
    for record in _longest_first(session for sessions in history.values() for session in sessions):
        for part in record.parts:
            records[part.key].append(part)
    rows = []
    for key, found in records.items():
        short = Counter(point for part in found for point in (*part.short, *part.wrong) if part.named)
        rows.append(
            PartRow(
                key,
                found[0].title,
                found[0].section,
                len(found),
                sum(not part.right for part in found),
                sum(part.slipped for part in found),
                short.most_common(1)[0][0] if short else "",
            )
        )
    return rows


def _longest_first(sessions: Iterable[SessionRecord]) -> list[SessionRecord]:
    """A whole recital shows the order of all parts, so it comes before rehearsals of a few."""
    return sorted(sessions, key=lambda session: -len(session.parts))


def most_missed(rows: Sequence[PartRow], count: int) -> list[PartRow]:
    return sorted((row for row in rows if row.missed), key=lambda row: (-row.share, -row.missed, row.key))[:count]


def most_slipped(rows: Sequence[PartRow], count: int) -> list[PartRow]:
    return sorted((row for row in rows if row.slipped), key=lambda row: (-row.slipped / row.asked, row.key))[:count]


COLUMNS = (
    "student", "session", "started", "form", "route", "vehicle", "section", "seconds", "part", "part_section", "named",
    "right", "said", "left_out", "wrong_number", "out_of_order", "with_help", "points", "of", "overruled",
)  # fmt: skip


def to_csv(history: History) -> str:
    """One row for each part of each rehearsal, as it counts; lists are joined with a blank.

    points, of: of the whole rehearsal. overruled: what the instructor decided of the part, by whom, when and why.
    """
    out = io.StringIO()
    table = csv.writer(out, lineterminator="\r\n")  # RFC 4180
    table.writerow(COLUMNS)
    for name, sessions in sorted(history.items()):
        for session in sessions:
            for part in session.parts:
                table.writerow(
                    [
                        _safe(name), session.id, session.started.isoformat(), session.form, session.route,
                        session.vehicle, session.section or "", session.seconds, part.key, part.section,
                        int(part.named), int(part.right), " ".join(part.said), " ".join(part.short),
                        " ".join(part.wrong), int(part.slipped), int(part.prompted), f"{session.points:g}",
                        f"{session.of:g}", _safe(_overruled(session, part.key)),
                    ]
                )  # fmt: skip
    return out.getvalue()


def _overruled(session: SessionRecord, part: str) -> str:
    return "; ".join(
        f"{each.check or 'name'} {'credited' if each.credited else 'not credited'} by {each.by} "
        f"{each.at.isoformat(timespec='minutes')}: {' '.join(each.reason.split())}"
        for each in overrulings_of(session, part)
    )


def _safe(text: str) -> str:
    """A name that a spreadsheet would take for a formula is made text."""
    return f"'{text}" if text.startswith(("=", "+", "-", "@", "\t", "\r")) else text
