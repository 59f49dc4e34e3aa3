"""A Gladhand folder with an invented fleet, a walk with recordings, an account for each role; and who visits it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path

from sqlalchemy import Engine
from starlette.testclient import TestClient

from tests.logbook import invented
from tests.logbook.data import checked
from tests.record.walks import signed
from voice.desk import accounts
from voice.desk.accounts import ROLES, Role
from voice.desk.app import make_app
from voice.desk.page import Desk
from voice.desk.serve import desk_of
from voice.desk.store import Store
from voice.logbook.database import open_local, writing
from voice.logbook.rows import Checked
from voice.logbook.store import import_records, import_repairs
from voice.record.model import InspectionRecord
from voice.record.repairs import Repair

BASE = "http://127.0.0.1:8396"
PASSWORD = "four words in a row"
NAMES: dict[Role, str] = {
    "driver": "Rosa Quill",
    "mechanic": "Ida Marsh",
    "office": "Otto Penn",
    "instructor": "Nora Field",
    "administrator": "Abel Stone",
}
FAULTS = {
    "glad-hands": ("leaking",),
    "brake-lights": ("lamp out",),
    "triangles": ("missing",),
    "tire-tread@right-1": ("three thirty seconds", "yes"),
}


def invent(home: Path) -> None:
    engine = open_local(home)
    import_fleet(engine)
    engine.dispose()


def import_fleet(engine: Engine, trucks: int = 3, days: int = 45) -> None:
    """Invented trucks with walks until yesterday, straight into the logbook."""
    start = datetime.now(UTC).replace(hour=5, minute=30, second=0, microsecond=0) - timedelta(days=days)
    for number in range(1, trucks + 1):
        import_made(engine, invented.walks(invented.truck(number, seed=3), days, start=start))


def import_made(engine: Engine, made: Iterable[InspectionRecord | Repair]) -> None:
    """Invented inspections and certifications, straight into the logbook."""
    records: list[Checked] = []
    repairs: list[Repair] = []
    for each in made:
        if isinstance(each, InspectionRecord):
            records.append(checked(each))
        else:
            repairs.append(each)
    with writing(engine) as session:
        import_records(session, records, ["local"] * len(records))
        import_repairs(session, repairs, ["local"] * len(repairs))


def staff(store: Store) -> None:
    for role in ROLES:
        accounts.add(store, NAMES[role], role, PASSWORD)


@contextmanager
def yard(home: Path) -> Iterator[Desk]:
    """One real walk with defects and recordings, and everybody's account."""
    signed(home, FAULTS)
    with desk_of(home, print, depot=False) as desk:
        staff(desk.store)
        yield desk


class Visitor:
    """Somebody's browser."""

    def __init__(self, desk: Desk, role: Role | None = None, address: str = "192.0.2.7") -> None:
        self.client = TestClient(make_app(desk), base_url=BASE, client=(address, 5000), raise_server_exceptions=False)
        if role is not None:
            assert self.sign_in(NAMES[role]) == 303

    def sign_in(self, name: str, password: str = PASSWORD) -> int:
        form = self.client.get("/sign-in").text
        data = {"name": name, "password": password, "token": token(form)}
        return self.client.post("/sign-in", data=data, follow_redirects=False).status_code

    def get(self, path: str) -> str:
        answer = self.client.get(path)
        assert answer.status_code == 200, (path, answer.status_code, answer.text)
        return answer.text

    def send(self, path: str, **fields: str) -> tuple[int, str]:
        answer = self.client.post(path, data=fields)
        return answer.status_code, answer.text


def token(html: str) -> str:
    return hidden(html, "token")


def hidden(html: str, name: str) -> str:
    """The value of the last hidden field of that name: the one of the page's own form."""
    return str(re.findall(rf'name="{name}" value="([^"]*)"', html)[-1])
