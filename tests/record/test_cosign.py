"""A second driver's signature: chained beside the record, shown, verified; the record stays as it was signed.

49 CFR 396.11(a)(2)(ii), read on reglogic.com: of a two-driver team one signature is enough, provided both agree.
"""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner

from tests.record.walks import record_of, walk
from tests.test_driving import Before
from voice.cli import app
from voice.errors import RecordError, SetupError
from voice.journal.folder import Session
from voice.record.cosign import cosignatures, cosignatures_file
from voice.record.device import device_key
from voice.record.load import load_record
from voice.record.model import InspectionRecord
from voice.record.report import render_html
from voice.session.cosigning import ask_co_driver, co_sign
from voice.session.resources import open_resources

SECOND = "Ivo Lantern"


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A home with one signed inspection by Rosa Quill, with one defect."""
    home = tmp_path_factory.mktemp("home")
    found, known = walk(home, {"brake-lights": ("defect", "lamp out")}, only=("chocks", "brake-lights"), clips=False)
    record_of(found, known)
    return home


@pytest.fixture
def home(whole: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(whole, tmp_path / "home"))


def session_of(home: Path) -> Session:
    (folder,) = (home / "sessions").iterdir()
    return Session(folder)


def record(home: Path) -> InspectionRecord:
    return load_record(session_of(home).record)


def run(home: Path, *words: str) -> tuple[int, str]:
    result = CliRunner().invoke(app, [*words, "--home", str(home)])
    return result.exit_code, result.output


def test_it_stands_beside_the_record_which_is_not_changed(home: Path) -> None:
    before = session_of(home).record.read_bytes()
    code, said = run(home, "cosign", "last", "--driver", SECOND)
    assert (code, SECOND in said) == (0, True)
    assert session_of(home).record.read_bytes() == before
    (signed,) = cosignatures(home, record(home))
    assert (signed.name, signed.record, signed.record_sha256) == (SECOND, record(home).id, record(home).record_sha256)
    content = json.loads(cosignatures_file(home).read_text())
    assert content["device"] == device_key(home).name
    assert SECOND in session_of(home).report.read_text(encoding="utf-8")
    code, said = run(home, "verify", "last")
    assert (code, f"ok     second driver: signed by {SECOND} too" in said) == (0, True)
    run(home, "export", "last", "--out", str(home / "out"))
    assert SECOND in next((home / "out").glob("*.html")).read_text(encoding="utf-8")


@pytest.mark.parametrize(
    "damage", [("Ivo", "Eva"), ('"previous":"0', '"previous":"1'), ('"signature":"', '"signature":"A')]
)
def test_a_changed_or_forged_line_is_told(home: Path, damage: tuple[str, str]) -> None:
    co_sign(home, session_of(home), SECOND)
    file = cosignatures_file(home)
    file.write_text(file.read_text().replace(*damage, 1))
    with pytest.raises(RecordError, match="line 1 is damaged or altered"):
        cosignatures(home, record(home))
    code, said = run(home, "verify", "last")
    assert (code, "FAULT  second driver" in said) == (1, True)
    with pytest.raises(RecordError, match="line 1 is damaged"):
        co_sign(home, session_of(home), "Third Driver")


def test_a_line_lost_in_the_middle_is_told_and_a_torn_one_was_never_there(home: Path) -> None:
    for name in (SECOND, "Third Driver", "Fourth Driver"):
        co_sign(home, session_of(home), name)
    file = cosignatures_file(home)
    lines = file.read_bytes().splitlines(keepends=True)
    file.write_bytes(b"".join((*lines[:2], lines[2][:40])))
    assert [each.name for each in cosignatures(home, record(home))] == [SECOND, "Third Driver"]
    file.write_bytes(lines[0] + lines[2])
    with pytest.raises(RecordError, match="a line before it is missing"):
        cosignatures(home, record(home))


def test_a_signature_of_another_text_is_told(home: Path) -> None:
    co_sign(home, session_of(home), SECOND)
    other = record(home).model_copy(update={"record_sha256": "0" * 64})
    assert "was given to another text" in render_html(other, cosignatures=cosignatures(home, other))
    assert "was given to another text" not in render_html(record(home), cosignatures=cosignatures(home, record(home)))


def test_who_cannot_sign_is_told_why(home: Path, tmp_path: Path) -> None:
    with pytest.raises(SetupError, match=r"has signed .* already, as the first"):
        co_sign(home, session_of(home), "rosa  QUILL")
    co_sign(home, session_of(home), SECOND)
    with pytest.raises(SetupError, match=r"has co-signed .* already"):
        co_sign(home, session_of(home), "ivo lantern")
    found, _ = walk(tmp_path / "open", only=("chocks", "wipers"), stop_at="wipers", clips=False)
    with pytest.raises(SetupError, match="is not signed yet"):
        co_sign(tmp_path / "open", found, SECOND)
    assert run(home, "cosign", "last", "--driver", " ")[0] != 0


def test_the_name_is_one_of_drivers_yaml(home: Path) -> None:
    (home / "drivers.yaml").write_text("- Rosa Quill\n- Ivo Lantern\n- Eva Quill\n")
    refused = {"Zed Nobody": "not in drivers.yaml", "Quill": "Rosa Quill or Eva Quill", "Rosa": "has signed"}
    for name, why in refused.items():
        with pytest.raises(SetupError, match=why):
            app(["cosign", "last", "--driver", name, "--home", str(home)], standalone_mode=False)
    assert not cosignatures_file(home).exists()
    assert run(home, "cosign", "last", "--driver", "ivo")[0] == 0
    assert run(home, "cosign", "last", "--driver", "Ivo Lantern")[0] != 0
    assert [each.name for each in cosignatures(home, record(home))] == [SECOND]


def test_right_after_the_first_it_is_asked_aloud(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    resources, found = open_resources(home), session_of(home)
    no = Before(resources, "no")
    assert not ask_co_driver(resources, no.asker, found, record(home), SECOND)
    assert no.speaker.log[0] == "Ivo Lantern: the report has one defect. Do you agree, and sign too?"
    silent = Before(resources, topics=())
    assert not ask_co_driver(resources, silent.asker, found, record(home), SECOND)
    assert capsys.readouterr().err.count("gladhand cosign") == 2
    assert not cosignatures_file(home).exists()
    yes = Before(resources, "yes")
    assert ask_co_driver(resources, yes.asker, found, record(home), SECOND)
    assert yes.heard.endswith("Signed by Ivo Lantern too.")
    assert [each.words for each in cosignatures(home, record(home))] == ["yes"]
