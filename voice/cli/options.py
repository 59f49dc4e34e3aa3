"""Options that several commands share, and what the shell offers to complete them.

Completion reads names of files only: it must not take longer than a key press, and must never fail.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Annotated, Any

import typer

LONGEST_ODOMETER = 30  # characters
BARE = "a bare number is miles, with --metric too"

_SESSION = re.compile(r"\d{8}-\d{6}-(.+)-[0-9a-f]+")  # as voice.journal.folder makes its id


def _home(context: Any) -> Path:
    from voice.data import folders

    given = context.params.get("home")
    return folders.home(Path(given) if given else None)


def _beginning(incomplete: str, names: Iterator[str]) -> list[str]:
    found = set()
    with suppress(Exception):  # a broken file must not spoil the command line that is being typed
        for name in names:
            found.add(name)
    return sorted(name for name in found if name.startswith(incomplete))


def complete_vehicle(ctx: typer.Context, incomplete: str) -> list[str]:
    """Vehicles with a profile, and those inspected: a session's id names its vehicle."""
    from voice.journal.folder import sessions
    from voice.route.vehicles import vehicle_files

    def names() -> Iterator[str]:
        yield from vehicle_files(_home(ctx))
        for found in sessions(_home(ctx)):
            if match := _SESSION.fullmatch(found.id):
                yield from match[1].split("--")  # of a combination each of its units

    return _beginning(incomplete, names())


def complete_session(ctx: typer.Context, incomplete: str) -> list[str]:
    """Inspections of this home, and "last"."""
    from voice.journal.folder import sessions

    def names() -> Iterator[str]:
        yield "last"
        for found in sessions(_home(ctx)):
            yield found.id

    return _beginning(incomplete, names())


def complete_defect(ctx: typer.Context, incomplete: str) -> list[str]:
    """Keys of the open defects of all vehicles."""
    from voice.record.open_defects import open_defects
    from voice.record.past import past_records

    def keys() -> Iterator[str]:
        home = _home(ctx)
        for vehicle in {past.vehicle for past in past_records(home)}:
            for defect in open_defects(home, vehicle):
                yield defect.key

    return _beginning(incomplete, keys())


def name_given(text: str | None) -> str | None:
    """A person's name as an option gives it. Raises SetupError for what cannot be one."""
    from voice.data.fields import person

    return None if text is None else person(text)


def odometer_given(parameter: typer.CallbackParam, text: str | None) -> str | None:
    """An odometer as an option gives it. In which unit a bare number is taken is said, whatever units the walk has; one
    that is no reading is refused where it is read."""
    from voice.errors import tell
    from voice.record.entry import odometer_record

    read = None if text is None or len(text) > LONGEST_ODOMETER else odometer_record(text)
    if text is not None and read is not None and not any(letter.isalpha() for letter in text):
        number = text.strip()
        tell(f'--{parameter.name} {number} is taken as miles. In kilometers write "{number} km".')
    return text


def files_given(files: Iterable[Path]) -> None:
    """Raises SetupError for one that is no file."""
    from voice.data.folders import is_file
    from voice.errors import SetupError

    for file in files:
        if not is_file(file):
            with suppress(OSError, ValueError):
                if file.is_dir():
                    raise SetupError(f"{file} is a folder.", "Give the files in it.")
            raise SetupError(f"{file}: there is no such file.", "Check the path.")


def _settle(home: Path | None) -> Path | None:
    """What holds for the whole command: its folder's own units, and where libraries keep things. Raises SetupError.

    What they keep for themselves (matplotlib its list of fonts, fontconfig too) is kept in the Gladhand folder like all
    else; by default they would write into the user's own.
    """
    from voice.data import folders
    from voice.errors import SetupError
    from voice.measure.book import lay_over

    if home is not None and folders.is_file(home):
        raise SetupError(f"{home} is not a folder.", "Give your Gladhand folder as --home.")
    folder = folders.home(home)
    lay_over(folder / "prompts" / "units.yaml")
    cache = folder / "cache"
    os.environ["MPLCONFIGDIR"] = str(cache / "matplotlib")
    os.environ["XDG_CACHE_HOME"] = str(cache)
    return home


Home = Annotated[
    Path | None,
    typer.Option(
        "--home",
        envvar="GLADHAND_HOME",
        help="Folder of your vehicles, inspections and models.",
        show_default=False,
        callback=_settle,
    ),
]
Voice = Annotated[
    str,
    typer.Option(
        "--voice",
        help="Speech: auto, pyttsx3, espeak:NAME, flite:NAME or festival:NAME, as in espeak:en-us, flite:slt.",
    ),
]
Depot = Annotated[
    bool,
    typer.Option(
        "--depot",
        help="The depot's logbook ($GLADHAND_LOGBOOK_URL, or depot.url in your folder with mode 0600) instead of "
        "this device's.",
    ),
]
Vehicles = Annotated[
    list[str] | None,
    typer.Option("--vehicle", "-v", help="Vehicle id; may be given several times.", autocompletion=complete_vehicle),
]
