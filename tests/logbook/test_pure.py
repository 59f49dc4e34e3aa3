"""The parts that only reckon do not load the database's library: they can be used, and read, without it."""

from __future__ import annotations

import subprocess
import sys

import pytest

PURE = ("bounds", "columns", "rows", "set_aside", "wear", "wording")


@pytest.mark.parametrize("name", PURE)
def test_it_is_free_of_the_database(name: str) -> None:
    asked = f"import sys, voice.logbook.{name}; sys.exit('sqlalchemy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", asked]).returncode == 0
