"""A tractor and a trailer are vehicles of their own: what a logbook has of a combination becomes its two units'.

A combination ID becomes ID-tractor, which keeps the row, and ID-trailer. The readings, the things said of defects, the
certifications and the lives of defects go to the unit they are of, with the number of the unit's own axle: axle 4
behind a three-axle tractor is axle 1 of the trailer. The combination's profile is kept in a table of its own, by which
later certifications of it, records of it and rights to read it find their units.

A trailer has no odometer: its readings lose the tractor's miles, which stay with the record. A certification's hash is
over what was signed and stays.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import Any

import sqlalchemy as sa
from alembic import op
from sqlalchemy.engine import Connection

from voice.logbook.kinds import Key, Moment
from voice.logbook.migrations.combinations_0004 import RECORD, Documents, axle_in, moved, profiles, reworded

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None

_vehicle = sa.table(
    "vehicle", sa.column("key"), sa.column("id"), sa.column("name"), sa.column("profile", sa.JSON()),
    sa.column("profile_at", Moment()),
)  # fmt: skip
_combination = sa.table(
    "combination", sa.column("id"), sa.column("profile", sa.JSON()), sa.column("profile_at", Moment())
)
_record_unit = sa.table(
    "record_unit", sa.column("record"), sa.column("vehicle"), sa.column("level"), sa.column("defects")
)
_series = sa.table(
    "series", sa.column("key"), sa.column("vehicle"), sa.column("item"), sa.column("place"), sa.column("spoken"),
    sa.column("position", sa.JSON()),
)  # fmt: skip
_keyed = {
    name: sa.table(name, sa.column("vehicle"), sa.column("defect"), sa.column("title"), *map(sa.column, more))
    for name, more in (
        ("fact", ("source", "kind", "level")), ("certification", ()), ("defect", ()), ("pulled_defect", ()),
    )
}  # fmt: skip
_pulled = sa.table("pulled_vehicle", sa.column("vehicle"), sa.column("at"))


def upgrade() -> None:
    op.create_table(
        "combination",
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("profile", sa.JSON(), nullable=False),
        sa.Column("profile_at", Moment(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_combination")),
    )
    op.create_table(
        "record_unit",
        sa.Column("record", Key, autoincrement=False, nullable=False),
        sa.Column("vehicle", Key, autoincrement=False, nullable=False),
        sa.Column("level", sa.SmallInteger(), nullable=False),
        sa.Column("defects", sa.SmallInteger(), nullable=False),
        sa.ForeignKeyConstraint(["record"], ["record.key"], name=op.f("fk_record_unit_record")),
        sa.ForeignKeyConstraint(["vehicle"], ["vehicle.key"], name=op.f("fk_record_unit_vehicle")),
        sa.PrimaryKeyConstraint("record", "vehicle", name=op.f("pk_record_unit")),
    )
    op.create_index(op.f("ix_record_unit_vehicle"), "record_unit", ["vehicle"])
    bind = op.get_bind()
    op.execute(
        "INSERT INTO record_unit (record, vehicle, level, defects) SELECT key, vehicle, level, defects FROM record"
    )
    for row in bind.execute(sa.select(_vehicle).order_by(_vehicle.c.id)).all():
        if row.profile.get("kind") == "tractor-semitrailer" and not row.profile.get("units"):
            _divide(bind, row)
    _views(bind, together=True)


def _divide(bind: Connection, row: sa.Row[Any]) -> None:
    """A combination's row into its units'."""
    profile: dict[str, Any] = row.profile
    bind.execute(_combination.insert().values(id=row.id, profile=profile, profile_at=row.profile_at))
    tractor, trailer = profiles(profile)
    bind.execute(_vehicle.update().where(_vehicle.c.key == row.key).values(_named(tractor)))
    bind.execute(_vehicle.insert().values(**_named(trailer), profile_at=row.profile_at))
    behind = bind.execute(sa.select(_vehicle.c.key).where(_vehicle.c.id == trailer["id"])).scalar_one()
    ahead = len(tractor["axles"])
    said = Documents(bind, row.key)
    _divide_series(bind, row.key, behind, ahead)
    for table in ("fact", "certification", "defect"):
        _divide_keyed(bind, table, (row.key, behind), ahead, said)
    _divide_records(bind, row.key, behind, ahead, said)
    _divide_pulled(bind, row.id, ahead, said)


def _named(profile: dict[str, Any]) -> dict[str, Any]:
    return {"id": profile["id"], "name": profile["name"], "profile": profile}


def _divide_series(bind: Connection, vehicle: int, behind: int, ahead: int) -> None:
    for row in bind.execute(sa.select(_series).where(_series.c.vehicle == vehicle)).all():
        axle = row.position.get("axle")
        if axle > ahead if axle is not None else row.position.get("unit") == "trailer" or row.item == "kingpin-apron":
            position = row.position if axle is None else {**row.position, "axle": axle - ahead}
            place = row.place if axle is None else moved("@" + row.place, -ahead)[1:]
            bind.execute(
                _series.update()
                .where(_series.c.key == row.key)
                .values(vehicle=behind, place=place, position=position, spoken=reworded(row.spoken, axle, -ahead))
            )
    bind.execute(
        sa.text("UPDATE reading SET odometer = NULL WHERE series IN (SELECT key FROM series WHERE vehicle = :behind)"),
        {"behind": behind},
    )


def _divide_keyed(
    bind: Connection, table: str, units: tuple[Any, Any], ahead: int, said: Documents, of: Any = None
) -> None:
    """What stands under a defect's key. units: what stands for the tractor and for the trailer, of: for both."""
    rows = _keyed[table]
    of = units[0] if of is None else of
    named = [rows.c.defect] if table == "certification" else [rows.c.defect, rows.c.title]
    for row in bind.execute(sa.select(*named).where(rows.c.vehicle == of).distinct()).all():
        there = {"vehicle": units[0]}
        if said.unit(row.defect, ahead) == "trailer":
            there = {"vehicle": units[1], "defect": moved(row.defect, -ahead)}
            if table != "certification":
                axle = axle_in(row.defect.partition("#")[0].partition("@")[2].split("-"))
                there["title"] = reworded(row.title, axle, -ahead)
        change = rows.update().where(rows.c.vehicle == of, rows.c.defect == row.defect)
        if table != "certification":
            change = change.where(rows.c.title == row.title)
        if there != {"vehicle": of}:
            bind.execute(change.values(there))


def _divide_records(bind: Connection, vehicle: int, behind: int, ahead: int, said: Documents) -> None:
    """Which part of each record's findings is the trailer's."""
    found: dict[str, list[int]] = defaultdict(list)
    facts = _keyed["fact"]
    query = sa.select(facts.c.source, facts.c.level).where(facts.c.vehicle == behind, facts.c.kind == "found")
    for source, level in bind.execute(query):
        found[source].append(level or 0)
    for key, id, level, defects in bind.execute(
        sa.select(RECORD.c.key, RECORD.c.id, RECORD.c.level, RECORD.c.defects).where(RECORD.c.vehicle == vehicle)
    ).all():
        own = found[f"record:{id}"]
        # Of a record whose text was pruned, a reading's level cannot be told apart: it stays with the tractor.
        levels = said.levels.get(key, {"tractor": level, "trailer": max(own, default=0)})
        about = _record_unit.update().where(_record_unit.c.record == key, _record_unit.c.vehicle == vehicle)
        bind.execute(about.values(level=levels["tractor"], defects=max(defects - len(own), 0)))
        row = {"record": key, "vehicle": behind, "level": levels["trailer"], "defects": len(own)}
        bind.execute(_record_unit.insert().values(row))


def _divide_pulled(bind: Connection, id: str, ahead: int, said: Documents) -> None:
    """What the depot said at the last sync."""
    units = (f"{id}-tractor", f"{id}-trailer")
    for (at,) in bind.execute(sa.select(_pulled.c.at).where(_pulled.c.vehicle == id)).all():
        bind.execute(_pulled.insert(), [{"vehicle": unit, "at": at} for unit in units])
    _divide_keyed(bind, "pulled_defect", units, ahead, said, of=id)


# --- what a device may read --------------------------------------------------------------------------------------

_UNITS = "SELECT c.id AS whole, c.id || '-' || u.unit AS unit FROM combination c, {units} u"
_GRANTED = (
    "SELECT dv.device, dv.vehicle FROM device_vehicle dv WHERE dv.vehicle NOT IN (SELECT id FROM combination)"
    " UNION SELECT dv.device, cu.unit FROM device_vehicle dv JOIN ({units}) cu ON cu.whole = dv.vehicle"
)
_ENDINGS = "(SELECT 'tractor' AS unit UNION ALL SELECT 'trailer')"


def _views(bind: Connection, *, together: bool) -> None:
    """Whoever may read a combination may read its units.

    The combination itself is not among them any more: a device of an earlier version would take it that nothing is open
    on it. So it goes by what it has itself.

    together: with the combinations; else as before.
    """
    granted = _GRANTED.format(units=_UNITS.format(units=_ENDINGS)) if together else "SELECT * FROM device_vehicle"
    if bind.dialect.name != "postgresql":
        op.execute("DROP VIEW device_vehicles")
        op.execute(f"CREATE VIEW device_vehicles AS SELECT DISTINCT g.vehicle FROM ({granted}) g")  # noqa: S608
        return
    schema = bind.exec_driver_sql("SELECT quote_ident(current_schema())").scalar_one()
    mine = f"({granted}) g WHERE g.device = session_user"
    queries = {
        "device_vehicles": ("vehicle text", f"SELECT g.vehicle FROM {mine}"),  # noqa: S608
        "device_open_defects": (
            "vehicle text, defect text, title text, level smallint, opened timestamptz, seen timestamptz, record text",
            "SELECT v.id, d.defect, d.title, d.level, d.opened, d.seen, d.last FROM defect d JOIN vehicle v"  # noqa: S608
            f" ON v.key = d.vehicle WHERE d.closed IS NULL AND v.id IN (SELECT g.vehicle FROM {mine})",
        ),
    }
    for name, (columns, query) in queries.items():
        op.execute(
            f"CREATE OR REPLACE FUNCTION {name}_rows() RETURNS TABLE ({columns}) LANGUAGE sql STABLE SECURITY DEFINER"
            f" SET search_path = {schema}, pg_temp AS $$ {query} $$"
        )


# --- back --------------------------------------------------------------------------------------------------------


def downgrade() -> None:
    bind = op.get_bind()
    _views(bind, together=False)
    for row in bind.execute(sa.select(_combination)).all():
        _join(bind, row)
    op.drop_index(op.f("ix_record_unit_vehicle"), "record_unit")
    op.drop_table("record_unit")
    op.drop_table("combination")


def _join(bind: Connection, row: sa.Row[Any]) -> None:
    """A combination's units into one row again."""
    keys = dict(bind.execute(sa.select(_vehicle.c.id, _vehicle.c.key).where(_vehicle.c.id.like(f"{row.id}-%"))).all())
    ahead = sum(axle["unit"] == "tractor" for axle in row.profile["axles"])
    tractor, behind = keys[f"{row.id}-tractor"], keys[f"{row.id}-trailer"]
    for series in bind.execute(sa.select(_series).where(_series.c.vehicle == behind)).all():
        axle = series.position.get("axle")
        there = {} if axle is None else {
            "place": moved("@" + series.place, ahead)[1:], "position": {**series.position, "axle": axle + ahead},
            "spoken": reworded(series.spoken, axle, ahead),
        }  # fmt: skip
        bind.execute(_series.update().where(_series.c.key == series.key).values(vehicle=tractor, **there))
        bind.execute(
            sa.text(
                "UPDATE reading SET odometer = (SELECT r.odometer FROM record r WHERE r.key = reading.record)"
                " WHERE series = :series"
            ),
            {"series": series.key},
        )
    # A certification that may be of either unit is said of both.
    bind.execute(
        sa.text(
            "DELETE FROM fact WHERE vehicle = :behind AND EXISTS (SELECT 1 FROM fact f WHERE f.vehicle = :tractor"
            " AND f.defect = fact.defect AND f.source = fact.source AND f.kind = fact.kind)"
        ),
        {"behind": behind, "tractor": tractor},
    )
    for table, of, to in (
        *((name, behind, tractor) for name in ("fact", "certification", "defect")),
        *(("pulled_defect", f"{row.id}-{unit}", row.id) for unit in ("tractor", "trailer")),
    ):
        _join_keyed(bind, table, of, to, 0 if str(of).endswith("-tractor") else ahead)
    bind.execute(_pulled.delete().where(_pulled.c.vehicle.in_([f"{row.id}-tractor", f"{row.id}-trailer"])))
    bind.execute(_record_unit.delete().where(_record_unit.c.vehicle == behind))
    bind.execute(_vehicle.delete().where(_vehicle.c.key == behind))
    whole = {"id": row.id, "name": row.profile["name"], "profile": row.profile, "profile_at": row.profile_at}
    bind.execute(_vehicle.update().where(_vehicle.c.key == tractor).values(whole))


def _join_keyed(bind: Connection, table: str, of: Any, to: Any, ahead: int) -> None:
    rows = _keyed[table]
    for key in bind.execute(sa.select(rows.c.defect).where(rows.c.vehicle == of).distinct()).scalars().all():
        axle = axle_in(key.partition("#")[0].partition("@")[2].split("-"))
        change = rows.update().where(rows.c.vehicle == of, rows.c.defect == key)
        there = {"vehicle": to, "defect": moved(key, ahead)}
        if table != "certification":
            for title in _titles(bind, table, of, key):
                bind.execute(change.where(rows.c.title == title).values(**there, title=reworded(title, axle, ahead)))
        else:
            bind.execute(change.values(there))


def _titles(bind: Connection, table: str, of: Any, key: str) -> Iterator[str]:
    rows = _keyed[table]
    query = sa.select(rows.c.title).where(rows.c.vehicle == of, rows.c.defect == key).distinct()
    yield from bind.execute(query).scalars().all()
