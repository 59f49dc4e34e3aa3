"""What all tables of the logbook are made of: their base, their keys, and points in time."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from sqlalchemy import JSON, BigInteger, DateTime, Dialect, Double, Integer, LargeBinary, MetaData, Text, TypeDecorator
from sqlalchemy.orm import DeclarativeBase

Key = BigInteger().with_variant(Integer, "sqlite")  # SQLite numbers rows by itself only in a column of type INTEGER


class Moment(TypeDecorator[datetime]):
    """A point in time, always with a zone on this side, always UTC on the other (SQLite keeps no zone)."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"{value} has no time zone")
        value = value.astimezone(UTC)
        return value.replace(tzinfo=None) if dialect.name == "sqlite" else value

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


class Base(DeclarativeBase):
    metadata = MetaData(
        naming_convention={
            "ix": "ix_%(table_name)s_%(column_0_N_name)s",
            "uq": "uq_%(table_name)s_%(column_0_N_name)s",
            "ck": "ck_%(table_name)s_%(constraint_name)s",
            "fk": "fk_%(table_name)s_%(column_0_N_name)s",
            "pk": "pk_%(table_name)s",
        }
    )
    type_annotation_map = {  # noqa: RUF012 - read by SQLAlchemy as it is
        str: Text,
        datetime: Moment,
        float: Double,
        bytes: LargeBinary,
        dict[str, Any]: JSON,
        list[Any]: JSON,
    }
