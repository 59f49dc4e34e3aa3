"""Photos on a unit's page: for who hears the recordings, of the defect they were taken of, unchanged or not at all."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path

from PIL import Image

from tests.desk.yard import FAULTS, Visitor
from tests.logbook.data import certification
from tests.record.walks import signed
from voice.desk.accounts import ROLES
from voice.desk.data import fresh
from voice.desk.page import Desk
from voice.journal.folder import Session, sessions
from voice.logbook.prune import prune
from voice.record.device import load_key
from voice.record.open_defects import open_defects
from voice.record.photos import photos_file
from voice.record.repairs import Repair, certify
from voice.session.photographed import add_photo

TRAILER, TRACTOR = "tractor-trailer-five-axle-trailer", "tractor-trailer-five-axle-tractor"
KEY = "glad-hands#leaking"


def walked(desk: Desk) -> Session:
    return next(iter(sessions(desk.home)))


def put(desk: Desk, tmp_path: Path, part: str = KEY, color: str = "red", size: tuple[int, int] = (60, 40)) -> str:
    """Its address at the desk."""
    Image.new("RGB", size, color).save(tmp_path / "given.png")
    kept, _ = add_photo(desk.home, walked(desk), part, tmp_path / "given.png", "Ida Marsh")
    return f"/photos/{kept.record}/{kept.file.removeprefix('photos/')}"


def shown(visitor: Visitor, unit: str = TRAILER) -> list[str]:
    return re.findall(r'<img src="([^"]*)"', visitor.get(f"/units/{unit}"))


def test_it_is_shown_at_its_defect_to_who_hears_the_recordings(desk: Desk, tmp_path: Path) -> None:
    address, other = put(desk, tmp_path), put(desk, tmp_path, "triangles#missing", color="blue")
    for role in ROLES:
        visitor = Visitor(desk, role)
        answer = visitor.client.get(address)
        if role in ("mechanic", "office"):
            assert (answer.status_code, answer.headers["content-type"]) == (200, "image/jpeg")
            assert answer.content[:3] == b"\xff\xd8\xff"
            assert answer.headers["cache-control"] == "no-store"
            assert shown(visitor) == [address]
            assert shown(visitor, TRACTOR) == [other]
        else:
            assert answer.status_code == 403
            if role != "instructor":
                assert shown(visitor) == shown(visitor, TRACTOR) == []
    assert Visitor(desk).client.get(address, follow_redirects=False).status_code == 303
    html = Visitor(desk, "mechanic").get(f"/units/{TRAILER}")
    item = next(part for part in html.split("<li>\n<h3>") if address in part)
    assert KEY in item
    assert re.search(r'alt="Photo: [^"]*, by Ida Marsh, \d{4}-', item)


def test_photos_of_each_inspection_that_saw_it_are_shown(desk: Desk, tmp_path: Path) -> None:
    first = put(desk, tmp_path)
    signed(desk.home, FAULTS)
    second = put(desk, tmp_path, color="blue")
    assert first.rpartition("/")[0] != second.rpartition("/")[0]
    assert shown(Visitor(desk, "office")) == [first, second]


def test_no_path_leads_elsewhere_and_an_altered_photo_is_not_shown(desk: Desk, tmp_path: Path) -> None:
    address = put(desk, tmp_path)
    folder = walked(desk).path
    here = address.rpartition("/")[0]
    (folder / "photos/002.jpg").write_bytes((folder / "photos/001.jpg").read_bytes())  # no line names it
    (folder / "photos/003.jpg").symlink_to(desk.home / "device.key")
    client = Visitor(desk, "mechanic").client
    for wrong in (
        f"{here}/002.jpg", f"{here}/003.jpg", f"{here}/1.jpg", f"{here}/..%2frecord.json", f"{here}/001.jpg%00",
        f"{here}/%2e%2e", "/photos/nothing/001.jpg", "/photos/..%2f..%2f/001.jpg", "/photos/../001.jpg",
    ):  # fmt: skip
        assert client.get(wrong).status_code == 404, wrong
    (folder / "photos/001.jpg").write_bytes(b"\xff\xd8\xff another")
    answer = client.get(address)
    assert (answer.status_code, "not the one that was kept" in answer.text) == (409, True)
    # Lines that were altered spoil neither the page nor the next unit's.
    photos_file(folder).write_text(photos_file(folder).read_text().replace(KEY, "triangles#missing"))
    html = Visitor(desk, "mechanic").get(f"/units/{TRAILER}")
    assert "Photos are not shown:" in html
    assert "damaged or altered" in html
    assert "<img" not in html
    assert client.get(address).status_code == 409


def test_they_go_with_the_inspection_and_not_while_the_defect_is_open(desk: Desk, tmp_path: Path) -> None:
    address = put(desk, tmp_path)
    folder = walked(desk).path
    fresh.refresh(desk)
    later = datetime.now(UTC) + timedelta(days=1)
    kept = prune(desk.engine, later, home=desk.home, depot_known=False, do=True)
    assert folder.name in kept.keep_open
    assert (folder / "photos/001.jpg").exists()
    for unit in (TRACTOR, TRAILER):
        for found in open_defects(desk.home, unit):
            given = certification(found.key, datetime.now(UTC))
            certify(desk.home, Repair(unit, found.last, given), load_key(desk.home))
    fresh.forget(desk)
    fresh.refresh(desk)
    assert folder in prune(desk.engine, later, home=desk.home, depot_known=False, do=True).folders
    assert not folder.exists()
    assert Visitor(desk, "mechanic").client.get(address).status_code == 404
