"""Options that several commands share."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

Home = Annotated[
    Path | None,
    typer.Option(
        "--home", envvar="GLADHAND_HOME", help="Folder of your vehicles, inspections and models.", show_default=False
    ),
]
Voice = Annotated[
    str,
    typer.Option(
        "--voice",
        help="Speech: auto, pyttsx3, espeak:NAME, flite:NAME or festival:NAME, as in espeak:en-us, flite:slt.",
    ),
]
