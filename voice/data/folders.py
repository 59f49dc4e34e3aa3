"""Where the shipped data and the user's own files are.

Shipped data (prompts, model catalogue) is inside the package when installed from a wheel and beside it in a
checkout. The user's own files (vehicles, sessions, models, logbook) are in one home folder.
"""

from __future__ import annotations

import os
from pathlib import Path

import platformdirs

from voice.data import durable

_PACKAGE = Path(__file__).resolve().parent.parent  # voice/


def _shipped(name: str) -> Path:
    inside = _PACKAGE / "_data" / name
    return inside if inside.is_dir() else _PACKAGE.parent / name


def prompts_dir() -> Path:
    """Folder of routes, items, limits and wording that ship with the program."""
    return _shipped("prompts")


def catalogue_dir() -> Path:
    """Folder of the catalogue of speech models (never of the models themselves)."""
    return _shipped("models")


def home(override: Path | None = None) -> Path:
    """The user's own folder: the override, else $GLADHAND_HOME, else the platform's place for user data.

    What an earlier version left in it for others to read is closed to them.
    """
    env = os.environ.get("GLADHAND_HOME")
    folder = override or Path(env or platformdirs.user_data_dir("gladhand", appauthor=False))
    durable.tighten(folder)
    return folder


def is_file(path: Path) -> bool:
    """Whether there is such a file; False for what cannot be a path at all, as a name of 300 characters."""
    try:
        return path.is_file()
    except (OSError, ValueError):
        return False
