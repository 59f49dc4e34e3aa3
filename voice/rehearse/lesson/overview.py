"""How a class is doing: its rehearsals of some days, and the instructor's page of them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date
from pathlib import Path

from voice.data import folders
from voice.errors import SetupError, tell
from voice.rehearse.lesson.course import need
from voice.rehearse.progress import pages
from voice.rehearse.progress.progress import History, within
from voice.rehearse.progress.students import Students
from voice.route import load_library
from voice.route.library import Library


def history(home: Path | None, names: Sequence[str], since: date | None, until: date | None) -> History:
    """Rehearsals of these days, both included. Raises SetupError if there are none.

    names: of students; empty: all.
    """
    kept = Students(folders.home(home), tell)
    chosen = [kept.known(name) for name in names] or kept.all()
    found = within({each.name: kept.sessions(each) for each in chosen}, since, until)
    if not found:
        raise SetupError("There are no rehearsals to show.", "Run gladhand rehearse, or widen the dates.")
    return found


def progress_page(home: Path | None, found: History) -> str:
    """The page with the plots. Raises SetupError without the package that draws them."""
    need("matplotlib")
    library = load_library(folders.home(home) / "prompts")
    return pages.progress_page(found, sections(library, found), checks(library))


def checks(library: Library) -> dict[str, str]:
    """ "item.point" -> how the check is said."""
    return {f"{id}.{point.id}": point.say[0] for id, item in library.items.items() for point in item.points}


def sections(library: Library, found: History) -> list[tuple[str, str]]:
    """Ids and titles of the sections of the routes that were rehearsed, in walking order, the commonest route first."""
    used = Counter(session.route for sessions in found.values() for session in sessions)
    titles: dict[str, str] = {}
    for name, _ in used.most_common():
        for section in library.routes[name].sections if name in library.routes else ():
            titles.setdefault(section.id, section.title)
    return list(titles.items())
