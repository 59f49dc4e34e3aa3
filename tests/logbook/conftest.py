"""Every test of the logbook that takes `engine` runs on SQLite and on a real PostgreSQL."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import count
from pathlib import Path

import pytest
from sqlalchemy import Engine, text
from sqlalchemy.engine import URL

from tests.logbook.pg import Cluster, binaries, cluster, new_depot
from voice.logbook.database import initialize, open_engine, parse_url

_numbers = count()


@pytest.fixture(scope="session")
def server() -> Iterator[Cluster]:
    """One PostgreSQL for all tests, with a migrated database to copy."""
    if binaries() is None:
        pytest.skip("PostgreSQL is not installed (apt install postgresql)")
    with cluster(fsync="off") as running:  # nothing here outlives a power cut; the crash tests have their own
        new_depot(running, "pattern")
        yield running


@pytest.fixture
def new_database(server: Cluster) -> Iterator[Callable[[], URL]]:
    """Makes databases that are already a logbook."""
    admin = open_engine(server.url()).execution_options(isolation_level="AUTOCOMMIT")
    made: list[str] = []

    def make() -> URL:
        name = f"test{next(_numbers)}"
        with admin.connect() as connection:
            connection.execute(text(f"CREATE DATABASE {name} TEMPLATE pattern"))
        made.append(name)
        fresh = open_engine(server.url(name))
        with fresh.begin() as connection:  # a copy would be taken for the logbook it was copied from
            connection.execute(text("UPDATE identity SET id = :name"), {"name": name})
        fresh.dispose()
        return server.url(name)

    yield make
    with admin.connect() as connection:
        for name in made:
            connection.execute(text(f"DROP DATABASE {name} WITH (FORCE)"))
    admin.dispose()


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)])
def new_engine(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Callable[[], Engine]]:
    """Makes empty logbooks."""
    made: list[Engine] = []

    def make() -> Engine:
        if request.param == "sqlite":
            engine = open_engine(parse_url(f"sqlite:///{tmp_path}/logbook{next(_numbers)}.sqlite", "test"))
            initialize(engine)
        else:
            engine = open_engine(request.getfixturevalue("new_database")())
        made.append(engine)
        return engine

    yield make
    for engine in made:
        engine.dispose()


@pytest.fixture
def engine(new_engine: Callable[[], Engine]) -> Engine:
    return new_engine()


@pytest.fixture
def pg_engine(new_database: Callable[[], URL]) -> Iterator[Engine]:
    engine = open_engine(new_database())
    yield engine
    engine.dispose()
