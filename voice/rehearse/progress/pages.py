"""The study sheet and the instructor's page: one HTML file each, nothing to load from elsewhere."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from voice.data.folders import prompts_dir
from voice.measure.telling import minutes
from voice.rehearse.listen.part import Syllabus
from voice.rehearse.progress.progress import History, most_missed, most_slipped, parts, students
from voice.rehearse.progress.report import percent
from voice.rehearse.recite.recite import translated
from voice.rehearse.wording import LanguageFile, pages_file

WORST = 12


@dataclass(frozen=True, slots=True)
class SheetRow:
    title: str
    say: tuple[str, ...]
    figures: tuple[str, ...]
    full: str


def study_sheet(
    syllabus: Syllabus, vehicle: str, *, section: str | None = None, language: LanguageFile | None = None
) -> str:
    """The printable sheet: every part in walking order, what to say, the figures.

    vehicle: its name.
    """
    words = pages_file().sheet
    sections = []
    for each in syllabus.sections:
        if section is not None and each.id != section:
            continue
        rows = []
        for part in syllabus.of(each.id):
            title, full = (part.title, part.say.full) if language is None else translated(part, language)
            if language is not None:
                full = full.removeprefix(f"{title}. ")
            figures = tuple(dict.fromkeys(point.limit_text for point in part.points if point.limit_text))
            say = tuple(point.say[0] for point in part.points if not point.numeric)
            rows.append(SheetRow(title, say, figures, full))
        name = each.title if language is None else language.sections.get(each.title, each.title)
        sections.append((name, rows))
    note = words.note if language is None else f"{words.note} {language.note}"
    return _fill("sheet.html.j2", words=words, note=note, route=syllabus.title, vehicle=vehicle, sections=sections,
                 language="en" if language is None else "es")  # fmt: skip


def progress_page(
    history: History, sections: Sequence[tuple[str, str]], checks: Mapping[str, str] | None = None
) -> str:
    """The instructor's page.

    history: not empty.
    sections: id and title in walking order, for the map.
    checks: "item.point" -> how the check is said; without it its id is shown.
    """
    from voice.rehearse.progress import plots  # with matplotlib, which a study sheet does without

    words = pages_file().progress
    rows = parts(history)
    known = {id for id, _ in sections}
    extra = tuple((row.section, row.section) for row in rows if row.section not in known)
    titles = dict((*sections, *extra))
    return _fill(
        "progress.html.j2",
        words=words,
        students=students(history),
        curve=plots.learning_curve(history, words),
        heat=plots.heat_map(rows, (*sections, *dict.fromkeys(extra)), words),
        slips=plots.slips(history, words),
        worst=most_missed(rows, WORST),
        slipped=most_slipped(rows, 6),
        titles=titles,
        checks=checks or {},
        invented=any(session.invented for sessions in history.values() for session in sessions),
    )


def _fill(name: str, **values: Any) -> str:
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    environment = Environment(
        loader=FileSystemLoader(prompts_dir() / "learn"), autoescape=True, undefined=StrictUndefined,
        trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip
    environment.filters.update(percent=percent, minutes=minutes)
    return environment.get_template(name).render(**values)
