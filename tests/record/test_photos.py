"""Photos of defects: a new picture without what a camera wrote, kept beside the session, each change found."""

from __future__ import annotations

import io
import json
import random
import shutil
import stat
import sys
from pathlib import Path

import pytest
from PIL import Image
from PIL.PngImagePlugin import PngInfo
from typer.testing import CliRunner

from tests.record.walks import record_of, walk
from voice.cli import app
from voice.errors import RecordError, SetupError
from voice.journal.folder import Session
from voice.record import photos
from voice.record.device import device_key, trusted_keys
from voice.record.load import load_record
from voice.record.model import InspectionRecord
from voice.record.photos import Photo, cleaned, photos_checked, photos_of, reported
from voice.session.photographed import add_photo

LAMP, MIRROR = "brake-lights#lamp-out", "mirror-outside@left#cracked"
FAULTS = {
    "brake-lights": ("defect", "lamp out"),
    "mirror-outside@left": ("cracked",),
    "tire-tread@right-1": ("three thirty seconds", "yes"),
}
SECRET = b"49.8728N 8.6512E Serial-4711 Owner-Jane"
GPS, MAKE, ORIENTATION = 0x8825, 0x010F, 0x0112


@pytest.fixture(scope="module")
def pattern(tmp_path_factory: pytest.TempPathFactory) -> Path:
    home = tmp_path_factory.mktemp("home")
    found, known = walk(home, FAULTS, only=("chocks", "brake-lights", "mirror-outside", "tire-tread"))
    device_key(home)
    record_of(found, known)
    return home


@pytest.fixture
def home(pattern: Path, tmp_path: Path) -> Path:
    shutil.copytree(pattern, tmp_path / "home")
    return tmp_path / "home"


def session_of(home: Path) -> Session:
    return Session(next((home / "sessions").iterdir()))


def jpeg(file: Path, size: tuple[int, int] = (60, 40), orientation: int = 1) -> Path:
    """Red above blue, with everything a camera may leave in it."""
    picture = Image.new("RGB", size, "red")
    picture.paste("blue", (0, size[1] // 2, *size))
    exif = Image.Exif()
    exif[MAKE], exif[ORIENTATION] = SECRET.decode(), orientation
    exif.get_ifd(GPS)[1] = "N"
    exif.get_ifd(GPS)[2] = (49.0, 52.0, 22.0)
    picture.save(file, "JPEG", exif=exif, comment=SECRET, icc_profile=SECRET, quality=95)
    assert SECRET in file.read_bytes()
    return file


def png(file: Path) -> Path:
    """A clear picture with a red point."""
    text = PngInfo()
    text.add_text("Location", SECRET.decode())
    picture = Image.new("RGBA", (50, 30), (0, 0, 0, 0))
    picture.paste((255, 0, 0, 255), (0, 0, 10, 10))
    picture.save(file, "PNG", pnginfo=text)
    assert SECRET in file.read_bytes()
    return file


def opened(data: bytes) -> Image.Image:
    return Image.open(io.BytesIO(data))


def checks(home: Path) -> dict[str, str]:
    """What "gladhand verify" says, by name."""
    said = CliRunner().invoke(app, ["verify", "last", "--home", str(home)]).output
    return {line.split(":")[0].split()[1]: line.strip() for line in said.splitlines() if ":" in line}


# --- what is kept of a picture --------------------------------------------------------------------------------------


def test_nothing_is_left_of_what_a_camera_writes(tmp_path: Path) -> None:
    for file in (jpeg(tmp_path / "a.jpg"), png(tmp_path / "b.png")):
        before = file.read_bytes()
        data = cleaned(file)
        kept = opened(data)
        assert (kept.format, kept.mode) == ("JPEG", "RGB")
        assert SECRET not in data
        assert b"Exif" not in data
        assert not kept.getexif()
        assert not {"comment", "icc_profile", "exif", "Location"} & kept.info.keys()
        assert file.read_bytes() == before


@pytest.mark.parametrize("gray", [20, 200])
def test_gray_in_sixteen_bits_keeps_its_shades(gray: int, tmp_path: Path) -> None:
    Image.new("I;16", (30, 20), gray * 256).save(tmp_path / "a.png")
    assert opened(cleaned(tmp_path / "a.png")).getpixel((10, 10)) == (gray, gray, gray)


def test_it_is_upright_small_and_clear_becomes_white(tmp_path: Path) -> None:
    kept = opened(cleaned(jpeg(tmp_path / "a.jpg", (60, 40), orientation=6)))  # turned by 90 degrees
    assert kept.size == (40, 60)
    red, blue = kept.getpixel((35, 30)), kept.getpixel((5, 30))
    assert isinstance(red, tuple)
    assert isinstance(blue, tuple)
    assert red[0] > 200 > 60 > red[2]
    assert blue[2] > 200 > 60 > blue[0]
    assert opened(cleaned(jpeg(tmp_path / "a.jpg", (5000, 2500)))).size == (2000, 1000)
    clear = opened(cleaned(png(tmp_path / "b.png"))).getpixel((40, 20))
    assert isinstance(clear, tuple)
    assert min(clear) > 250


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "RGB", "RGBA", "I;16", "CMYK"])
def test_every_kind_of_colour_is_taken(tmp_path: Path, mode: str) -> None:
    picture = Image.new(mode, (30, 20))
    picture.save(tmp_path / "a", "JPEG" if mode == "CMYK" else "PNG")
    assert opened(cleaned(tmp_path / "a")).size == (30, 20)


def test_what_is_no_picture_is_refused_in_one_sentence(tmp_path: Path) -> None:
    whole = jpeg(tmp_path / "whole.jpg").read_bytes()
    Image.new("RGB", (30, 20)).save(tmp_path / "a.gif", "GIF")
    for data in (b"", b"text", whole[: len(whole) // 2], b"\x89PNG\r\n\x1a\n", (tmp_path / "a.gif").read_bytes(),
                 b"<svg xmlns='http://www.w3.org/2000/svg'/>", b"%!PS-Adobe-3.0 EPSF-3.0\n"):  # fmt: skip
        (tmp_path / "x.jpg").write_bytes(data)
        with pytest.raises(SetupError, match=r"is no picture that can be read\. Give a JPEG or PNG"):
            cleaned(tmp_path / "x.jpg")
    for path in (tmp_path / "none.jpg", tmp_path):
        with pytest.raises(SetupError, match="cannot be read"):
            cleaned(path)


def test_a_broken_picture_never_gets_further_than_one_sentence(tmp_path: Path) -> None:
    rng, file = random.Random(7), tmp_path / "x"
    for whole in (jpeg(tmp_path / "a.jpg").read_bytes(), png(tmp_path / "b.png").read_bytes()):
        for _ in range(150):
            broken = bytearray(whole)
            for _ in range(rng.randint(1, 12)):
                broken[rng.randrange(len(broken))] = rng.randrange(256)
            file.write_bytes(broken)
            try:
                assert SECRET not in cleaned(file)
            except SetupError:
                continue


def test_it_is_bounded_before_it_is_unpacked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A few kilobytes that would unpack to gigabytes."""
    bomb = tmp_path / "bomb.png"
    Image.new("1", (40_000, 40_000)).save(bomb, "PNG")
    assert bomb.stat().st_size < photos.LARGEST
    with pytest.raises(SetupError, match="more than 60 million points"):
        cleaned(bomb)
    Image.new("1", (10_000, 6_001)).save(bomb, "PNG")
    with pytest.raises(SetupError, match="more than 60 million points"):
        cleaned(bomb)
    monkeypatch.setattr(photos, "LARGEST", 1_000_000)
    bomb.write_bytes(b"x" * 1_000_001)
    with pytest.raises(SetupError, match="more than 1 MB"):
        cleaned(bomb)


def test_without_what_reads_pictures_it_says_how_to_install_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = jpeg(tmp_path / "a.jpg")
    monkeypatch.setitem(sys.modules, "PIL", None)
    with pytest.raises(SetupError, match=r"not installed\. pip install 'gladhand\[logbook\]'"):
        cleaned(file)


# --- which defect ---------------------------------------------------------------------------------------------------


def test_the_defect_is_named_by_its_key_or_by_words_that_only_it_has(home: Path) -> None:
    record = load_record(session_of(home).record)
    assert len(record.defects) == 3
    for part in (LAMP, "lamp", "BRAKE lights", "brake-lights"):
        assert reported(record, part)[0] == LAMP
    assert reported(record, "mirror left")[0] == MIRROR
    for part in ("horn", "", "  ", LAMP + "x"):
        with pytest.raises(SetupError, match=f"No reported defect of .* Reported are: .*{LAMP}"):
            reported(record, part)
    with pytest.raises(SetupError, match=r"may be .* or "):
        reported(record, "t")
    clean = record.model_copy(update={"entries": (), "carried": ()})
    with pytest.raises(SetupError, match="reports no defect"):
        reported(clean, LAMP)


# --- kept, found out, removed ---------------------------------------------------------------------------------------


def added(home: Path, tmp_path: Path, part: str = LAMP, name: str | None = None) -> Photo:
    return add_photo(home, session_of(home), part, jpeg(tmp_path / "given.jpg"), name)[0]


def test_the_command_keeps_a_photo_with_its_hash_time_and_name(home: Path, tmp_path: Path) -> None:
    file = jpeg(tmp_path / "given.jpg")
    said = CliRunner().invoke(app, ["photo", "last", "lamp", str(file), "--home", str(home)], catch_exceptions=False)
    found = session_of(home)
    record = load_record(found.record)
    assert record.sign_off is not None
    title = next(defect.title for defect in record.defects if defect.key == LAMP)
    written = f"a photo by {record.sign_off.name}. Written to {found.path / 'photos/001.jpg'}."
    assert said.output == f"{found.id}: {title}: {written}\n"
    (kept,) = photos_of(found.path, trusted_keys(home))
    assert (kept.record, kept.defect, kept.file, kept.name) == (found.id, LAMP, "photos/001.jpg", record.sign_off.name)
    assert kept.at.tzinfo is not None
    for path in (found.path / kept.file, photos.photos_file(found.path)):
        assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert stat.S_IMODE((found.path / "photos").stat().st_mode) == 0o700
    assert "signature" in json.loads(photos.photos_file(found.path).read_text())
    second = added(home, tmp_path, MIRROR, "Ida Marsh")
    assert (second.file, second.name, second.defect) == ("photos/002.jpg", "Ida Marsh", MIRROR)
    assert checks(home)["photos"] == "ok     photos: 2, all unchanged"
    # The record and its report know nothing of it, and no export carries it away.
    assert load_record(found.record) == record
    CliRunner().invoke(app, ["export", "last", "--out", str(tmp_path / "out"), "--home", str(home)])
    assert {path.suffix for path in (tmp_path / "out").iterdir()} == {".json", ".csv", ".html"}
    assert b"photo" not in b"".join(path.read_bytes() for path in (tmp_path / "out").iterdir())


def test_an_inspection_without_photos_is_verified_as_before(home: Path) -> None:
    assert "photos" not in checks(home)


def test_each_change_is_a_fault(home: Path, tmp_path: Path) -> None:
    added(home, tmp_path)
    kept = session_of(home).path
    lines, file = photos.photos_file(kept), kept / "photos/001.jpg"
    good, text = file.read_bytes(), lines.read_text()

    def fault() -> str:
        said = CliRunner().invoke(app, ["verify", "last", "--home", str(home)])
        assert said.exit_code == 1
        return next(line for line in said.output.splitlines() if "FAULT  photos" in line)

    file.write_bytes(good[:-1] + b"x")
    assert "photos/001.jpg was altered" in fault()
    file.unlink()
    assert "photos/001.jpg is missing" in fault()
    (tmp_path / "elsewhere.jpg").write_bytes(good)
    file.symlink_to(tmp_path / "elsewhere.jpg")
    assert "photos/001.jpg is missing" in fault()
    file.unlink()
    file.write_bytes(good)
    for change in (
        (LAMP, MIRROR),
        ("001.jpg", "002.jpg"),
        ('"at":"20', '"at":"21'),
        ("photos/001.jpg", "../device.key"),
    ):
        lines.write_text(text.replace(*change))
        assert "damaged or altered" in fault()
    lines.write_text(text)
    assert checks(home)["photos"].startswith("ok")
    # One that no line names is told, as with recordings; of another inspection it is a fault.
    (kept / "photos/007.jpg").write_bytes(good)
    assert checks(home)["photos"] == "ok     photos: 1, all unchanged; 1 more that no line names"
    record = load_record(session_of(home).record)
    moved = photos_checked(kept, record.model_copy(update={"id": "another"}), trusted_keys(home))
    assert moved is not None
    assert moved[1] == [f"photos/001.jpg is of {record.id}."]


def test_a_photo_of_no_line_is_never_overwritten_and_there_is_an_end(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A kill between the picture and its line leaves a picture of no line."""
    folder = session_of(home).path / "photos"
    folder.mkdir()
    (folder / "001.jpg").write_bytes(b"left")
    assert added(home, tmp_path).file == "photos/002.jpg"
    assert (folder / "001.jpg").read_bytes() == b"left"
    monkeypatch.setattr(photos, "MOST", 2)
    with pytest.raises(SetupError, match="has 2 photos already"):
        added(home, tmp_path)


def test_nothing_is_kept_of_what_is_refused(home: Path, tmp_path: Path) -> None:
    found = session_of(home)
    (tmp_path / "x.jpg").write_bytes(b"text")
    with pytest.raises(SetupError, match="no picture"):
        add_photo(home, found, LAMP, tmp_path / "x.jpg", None)
    with pytest.raises(SetupError, match="No reported defect"):
        add_photo(home, found, "horn", jpeg(tmp_path / "a.jpg"), None)
    with pytest.raises(SetupError, match="person's name"):
        CliRunner().invoke(
            app, ["photo", "last", LAMP, "x", "--name", "<b>", "--home", str(home)], catch_exceptions=False
        )
    assert not (found.path / "photos").exists()
    assert not photos.photos_file(found.path).exists()
    record = found.record.read_bytes()
    found.record.unlink()
    with pytest.raises(SetupError, match="is not signed yet"):
        add_photo(home, found, LAMP, jpeg(tmp_path / "a.jpg"), None)
    found.record.write_bytes(record)
    photos.photos_file(found.path).write_text("{}\n")
    with pytest.raises(RecordError, match="damaged or altered"):
        added(home, tmp_path)


def test_a_carried_defect_can_have_one_too(home: Path) -> None:
    record: InspectionRecord = load_record(session_of(home).record)
    old = record.model_copy(
        update={
            "entries": (),
            "carried": tuple(
                {"key": key, "title": key, "found": record.started, "record": "r0", "answer": answer}
                for key, answer in (("horn-air#weak", "still-there"), ("wipers#torn", "repaired"))
            ),
        }
    )
    old = InspectionRecord.model_validate(old.model_dump(warnings=False))
    assert reported(old, "horn")[0] == "horn-air#weak"
    with pytest.raises(SetupError, match="No reported defect"):
        reported(old, "wipers")
