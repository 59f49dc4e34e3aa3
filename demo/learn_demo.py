"""An invented class: eight invented students, 200 invented rehearsals over ten weeks, and the instructor's page.

    python demo/learn_demo.py FOLDER      then open FOLDER/progress.html

FOLDER/home can be given to any command: gladhand progress --home FOLDER/home.
"""

from __future__ import annotations

import sys
from pathlib import Path

from invented_class import invent

from voice.rehearse.lesson import overview
from voice.rehearse.lesson.course import open_course, save
from voice.rehearse.progress.progress import to_csv
from voice.rehearse.progress.students import Students


def main(folder: Path) -> None:
    """Write the students under folder/home, the page and the table beside it. Refuses a folder with students in it."""
    home = folder / "home"
    students = Students(home)
    if students.all():
        sys.exit(f"{home} has students already; give an empty folder")
    syllabus = open_course(home, None, None).syllabus
    for name, sessions in invent(syllabus).items():
        student = students.enroll(name)
        for session in sessions:
            students.keep(student, session)
    history = overview.history(home, (), None, None)
    save(folder / "progress.html", overview.progress_page(home, history))
    save(folder / "progress.csv", to_csv(history))
    print(f"Wrote {folder / 'progress.html'} and {folder / 'progress.csv'}")


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    main(Path(sys.argv[1]))
