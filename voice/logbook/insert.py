"""Rows into tables: those that are new, and many at once."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from operator import itemgetter
from typing import Any, cast

from sqlalchemy import Dialect, Table
from sqlalchemy.dialects.postgresql import insert as postgres_insert
from sqlalchemy.dialects.sqlite import insert as sqlite_insert
from sqlalchemy.exc import DBAPIError
from sqlalchemy.orm import Session
from sqlalchemy.types import TypeEngine

from voice.logbook.kinds import Base, Moment


def table_of(table: type[Base]) -> Table:
    """The table without its class: SQLAlchemy then looks at each row once less."""
    return cast(Table, table.__table__)


def insert_new(session: Session, table: type[Base], rows: Sequence[dict[str, Any]]) -> None:
    """Insert the rows that are not there yet (by any unique key)."""
    if rows:
        make = postgres_insert if session.get_bind().dialect.name == "postgresql" else sqlite_insert
        # Inline: without it the driver asks to have defaults returned, which a device has no right to read.
        session.execute(make(table_of(table)).on_conflict_do_nothing().inline(), list(rows))


def insert_many(session: Session, table: type[Base], rows: Sequence[dict[str, Any]]) -> None:
    """Insert many rows, alike in their columns, of plain numbers, texts, bytes and times; past SQLAlchemy.

    On PostgreSQL by COPY, several times as fast as anything else.
    """
    if not rows:
        return
    names = list(rows[0])
    values = itemgetter(*names)
    connection = session.connection()
    columns = ", ".join(names)
    if connection.dialect.name == "postgresql":
        statement = f"COPY {table.__tablename__} ({columns}) FROM STDIN"
        driver = connection.dialect.loaded_dbapi
        try:
            with connection.connection.cursor().copy(statement) as copy:
                for row in rows:
                    copy.write_row(values(row))
        except driver.Error as error:  # as SQLAlchemy would tell it
            raise DBAPIError.instance(statement, None, error, driver.Error, dialect=connection.dialect) from error
        return
    moments = _Moments(connection.dialect)
    statement = f"INSERT INTO {table.__tablename__} ({columns}) VALUES ({', '.join('?' * len(names))})"  # noqa: S608
    connection.exec_driver_sql(
        statement,
        [tuple([moments[value] if type(value) is datetime else value for value in values(row)]) for row in rows],
    )


class _Moments(dict[datetime, Any]):
    """Times as the driver takes them. The rows of one record share theirs, so each is worked out once."""

    def __init__(self, dialect: Dialect) -> None:
        super().__init__()
        # The dialect's own kind of time: SQLite's writes the fraction always, as all else here does, so that times
        # compare as texts. The general one would leave it to the driver, which leaves out a fraction of nothing.
        kind: TypeEngine[datetime] = Moment().dialect_impl(dialect)
        self.process = kind.bind_processor(dialect) or (lambda value: value)

    def __missing__(self, moment: datetime) -> Any:
        self[moment] = found = self.process(moment)
        return found
