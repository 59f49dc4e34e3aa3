"""Checks the units and quantities of the user's own."""

from __future__ import annotations

from pathlib import Path

from voice.data.reader import MistakesError
from voice.errors import DataError
from voice.measure.book import lay_over, unit_book


def check_units(*files: Path) -> list[DataError]:
    """Faults of units.yaml files of the user's own; those that can be read are laid over the shipped one from here on.

    files: the later lies over the earlier.
    """
    found: list[DataError] = []
    sound: list[Path] = []
    for file in files:
        lay_over(*sound, file)
        try:
            unit_book()
            sound.append(file)
        except MistakesError as mistakes:
            found += mistakes.each
        except DataError as fault:
            found.append(fault)
    lay_over(*sound)
    return found
