"""Options that several commands share."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Annotated

import typer

from voice import data


def _keep_caches(home: Path | None) -> Path | None:
    """What libraries keep for themselves (matplotlib its list of fonts, fontconfig too) is kept in the Gladhand folder
    like all else; by default they would write into the user's own."""
    cache = data.home(home) / "cache"
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
        callback=_keep_caches,
    ),
]
Voice = Annotated[
    str,
    typer.Option(
        "--voice",
        help="Speech: auto, pyttsx3, espeak:NAME, flite:NAME or festival:NAME, as in espeak:en-us, flite:slt.",
    ),
]
