"""One yard for the tests that only look; each that changes something makes its own from a copy of it."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from argon2 import PasswordHasher
from selenium.webdriver import Chrome

from tests.desk.browsing import CHROMIUM, DRIVER, Browser, chromium
from tests.desk.place import Place, at_depot, device
from tests.desk.yard import Visitor, invent, yard
from tests.logbook.conftest import new_database, pg_engine, server
from tests.logbook.pg import binaries
from voice.desk import accounts
from voice.desk.accounts import ROLES, Role
from voice.desk.data import fresh
from voice.desk.data.outlook import work_out
from voice.desk.page import Desk
from voice.desk.serve import desk_of

__all__ = ["new_database", "pg_engine", "server"]


@pytest.fixture(scope="session", autouse=True)
def quick_hashes() -> Iterator[PasswordHasher]:
    """Passwords are hashed cheaply in these tests. Gives the hasher that is shipped."""
    usual = accounts._hasher
    accounts._hasher = PasswordHasher(time_cost=1, memory_cost=64, parallelism=1)
    yield usual
    accounts._hasher = usual


@pytest.fixture(scope="session")
def pattern(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A home with a fleet, a walk, and accounts."""
    home = tmp_path_factory.mktemp("pattern")
    invent(home)
    with yard(home) as desk:
        fresh.refresh(desk)
        assert work_out(desk) == 8  # tractors and trailers
    return home


@pytest.fixture(scope="session")
def looked_at(pattern: Path) -> Iterator[Desk]:
    with desk_of(pattern, print, depot=False) as desk:
        yield desk


@pytest.fixture(scope="session")
def readers(looked_at: Desk) -> dict[Role, Visitor]:
    return {role: Visitor(looked_at, role) for role in ROLES}


@pytest.fixture
def desk(pattern: Path, tmp_path: Path) -> Iterator[Desk]:
    home = tmp_path / "home"
    shutil.copytree(pattern, home)
    with desk_of(home, print, depot=False) as made:
        yield made


@pytest.fixture(scope="session", params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)])
def place(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Place]:
    """The desk as its command serves it, at a device and at a depot. One for all tests: each has things of its own."""
    home = tmp_path_factory.mktemp("place") / "home"
    if request.param == "sqlite":
        shutil.copytree(request.getfixturevalue("pattern"), home)
        with device(home) as made:
            yield made
        return
    if binaries() is None:
        pytest.skip("PostgreSQL is not installed (apt install postgresql)")
    home.mkdir(0o700)
    with at_depot(home) as made:
        yield made


@pytest.fixture(scope="session")
def driver() -> Iterator[Chrome]:
    if CHROMIUM is None or DRIVER is None:
        pytest.skip("no Chromium with its driver on this machine")
    with chromium() as made:
        yield made


@pytest.fixture
def browser(place: Place, driver: Chrome) -> Browser:
    """At the place's desk, nobody signed in."""
    made = Browser(driver, place.base)
    driver.delete_all_cookies()
    made.complaints()  # of the test before
    return made
