"""gladhand export, verify and repairs, as a clerk types them."""

from __future__ import annotations

import csv
import io
import json
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest

from tests.record.walks import record_of, signed, walk
from voice.cli import main
from voice.data.folders import prompts_dir
from voice.record.load import load_record
from voice.record.model import InspectionRecord

FEW = ("chocks", "brake-lights", "wipers", "steering-lash")
LAMP = {"brake-lights": ("defect", "lamp out"), "steering-lash": ("one inch",)}
KEY = "brake-lights#lamp-out"


class Cli:
    """Runs a command in this process, with a home of its own."""

    def __init__(self, home: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
        self.home, self._patch, self._capsys = home, monkeypatch, capsys

    def __call__(self, *args: str, home: Path | None = None) -> tuple[int, str, str]:
        """Exit code, stdout, stderr."""
        self._patch.setenv("GLADHAND_HOME", str(home or self.home))
        self._patch.setattr(sys, "argv", ["gladhand", *args])
        self._capsys.readouterr()
        try:
            main()
            code = 0
        except SystemExit as stop:
            code = int(stop.code or 0)
        out, err = self._capsys.readouterr()
        return code, out, err


@pytest.fixture
def cli(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Cli:
    monkeypatch.chdir(tmp_path)
    return Cli(tmp_path / "home", monkeypatch, capsys)


@pytest.fixture
def record(cli: Cli) -> InspectionRecord:
    return signed(cli.home, LAMP, only=FEW)


# --- export ------------------------------------------------------------------------------------------------------


def test_export_all(cli: Cli, record: InspectionRecord, tmp_path: Path) -> None:
    code, out, _ = cli("export", record.id, "--out", "new/folder")
    assert code == 0
    names = [Path(line).name for line in out.splitlines()]
    assert names == [f"{record.id}.json", f"{record.id}-entries.csv", f"{record.id}-readings.csv", f"{record.id}.html"]
    folder = tmp_path / "new" / "folder"
    assert sorted(path.name for path in folder.iterdir()) == sorted(names)
    assert load_record(folder / names[0]) == record
    rows = list(csv.DictReader(io.StringIO((folder / names[1]).read_text(encoding="utf-8-sig"))))
    assert len(rows) == len(record.entries)
    assert "Brake lights: lamp out" in (folder / names[3]).read_text()


@pytest.mark.parametrize(
    ("format", "endings"), [("json", {".json"}), ("csv", {"-entries.csv", "-readings.csv"}), ("html", {".html"})]
)
def test_export_one_format(cli: Cli, record: InspectionRecord, tmp_path: Path, format: str, endings: set[str]) -> None:
    assert cli("export", record.id[:17], "--format", format, "--out", "out")[0] == 0
    assert {path.name.removeprefix(record.id) for path in (tmp_path / "out").iterdir()} == endings


def test_export_takes_the_last_one_if_not_told(cli: Cli, record: InspectionRecord) -> None:
    for name in ([], ["last"], [str(cli.home / "sessions" / record.id)]):
        code, out, _ = cli("export", *name, "--format", "json")
        assert (code, out.strip()) == (0, f"{record.id}.json")


def test_export_of_an_open_walk_is_a_draft(cli: Cli, tmp_path: Path) -> None:
    found, _ = walk(cli.home, LAMP, only=FEW, stop_at="brake-lights")
    code, out, err = cli("export", found.id, "--out", "out")
    assert code == 0, err
    assert all("-draft" in line for line in out.splitlines())
    assert "not finished" in (tmp_path / "out" / f"{found.id}-draft.html").read_text()
    assert not found.record.exists()


def test_export_refuses_an_altered_record(cli: Cli, record: InspectionRecord, tmp_path: Path) -> None:
    path = cli.home / "sessions" / record.id / "record.json"
    path.write_text(path.read_text().replace("Rosa Quill", "Somebody"))
    code, _, err = cli("export", record.id, "--out", "out")
    assert code == 1
    assert "was altered" in err
    assert len(err.splitlines()) == 1
    assert not (tmp_path / "out").exists()


def test_export_carries_the_certifications(cli: Cli, record: InspectionRecord, tmp_path: Path) -> None:
    assert cli("repairs", "certify", KEY, "--verdict", "repaired", "--name", "Bo Lind")[0] == 0
    cli("export", record.id, "--format", "html", "--out", "out")
    html = (tmp_path / "out" / f"{record.id}.html").read_text()
    assert "Bo Lind" in html
    assert html.count('class="box on"') == 1


def test_export_schema(cli: Cli, record: InspectionRecord) -> None:
    code, out, _ = cli("export", "--schema")
    assert code == 0
    content = json.loads((cli.home / "sessions" / record.id / "record.json").read_text())
    jsonschema.validate(content, json.loads(out))


@pytest.mark.parametrize(
    ("args", "code", "words"),
    [
        (["export", "nothing-like-it"], 2, "There is no session"),
        (["export", "last", "--format", "pdf"], 2, "pdf"),
        (["verify", "nothing-like-it"], 2, "There is no session"),
        (["verify", "none.json"], 2, "There is no file none.json."),
        (["resume", "nothing-like-it"], 2, "There is no session"),
        (["repairs", "certify", "horn#weak", "--verdict", "repaired", "--name", "Bo"], 2, "no open defect"),
        (["repairs", "truck-99"], 2, 'There is no vehicle "truck-99". Known: '),
        (["repairs", "certify", KEY, "--verdict", "repaired", "--name", "  "], 2, "name is empty"),
        (["repairs", "certify", KEY, "--verdict", "perhaps", "--name", "Bo"], 2, "perhaps"),
        (["repairs", "certify", KEY, "--name", "Bo"], 2, "--verdict"),
    ],
)
def test_mistakes_are_told_plainly(cli: Cli, record: InspectionRecord, args: list[str], code: int, words: str) -> None:
    got, _, err = cli(*args)
    assert got == code
    assert words in err


def test_an_empty_home(cli: Cli) -> None:
    code, _, err = cli("export")
    assert code == 2
    assert "Begin one with 'gladhand walk'" in err
    assert cli("verify")[0] == 0
    assert "No signed inspection" in cli("repairs")[1]


def test_a_home_that_is_not_there_is_said_not_to_be(cli: Cli, tmp_path: Path) -> None:
    absent = tmp_path / "absent"
    for args in (["export"], ["verify"], ["repairs"]):
        code, out, err = cli(*args, "--home", str(absent))
        assert f"in {absent}: that folder does not exist." in out + err, args
        assert code == (2 if args == ["export"] else 0)


def test_a_vehicle_with_a_profile_and_no_inspection_is_known(cli: Cli) -> None:
    (cli.home / "vehicles").mkdir(parents=True)
    file = prompts_dir() / "vehicles" / "school-bus.yaml"
    (cli.home / "vehicles" / "nine.yaml").write_bytes(file.read_bytes())
    assert cli("repairs", "school-bus")[:2] == (0, f"No signed inspection of school-bus in {cli.home}.\n")
    assert cli("repairs", "nine")[0] == 2


def test_an_ambiguous_beginning(cli: Cli, record: InspectionRecord) -> None:
    signed(cli.home, LAMP, only=FEW)
    code, _, err = cli("export", record.id[:4])
    assert code == 2
    assert "the beginning of 2 inspections" in err


# --- verify ------------------------------------------------------------------------------------------------------


def test_verify_good(cli: Cli, record: InspectionRecord) -> None:
    for target in ([], [record.id], ["last"], [str(cli.home / "sessions" / record.id / "record.json")]):
        code, out, _ = cli("verify", *target)
        assert code == 0
        assert out.startswith(record.id)
        assert "FAULT" not in out
        assert "the same in every field" in out


def test_verify_bad_names_what_differs(cli: Cli, record: InspectionRecord) -> None:
    good = signed(cli.home, LAMP, only=FEW)
    path = cli.home / "sessions" / record.id / "record.json"
    path.write_text(path.read_text().replace("Rosa Quill", "Somebody"))
    code, out, _ = cli("verify")
    assert code == 1
    assert "FAULT  record: record.json was altered" in out
    assert "FAULT  made again: driver: the record says 'Somebody', the journal 'Rosa Quill'." in out
    assert out.count("FAULT  ") == sum("FAULT" in line for line in out.partition(record.id)[2].splitlines())
    assert good.id in out


def test_verify_a_record_that_was_sent_alone(cli: Cli, record: InspectionRecord, tmp_path: Path) -> None:
    cli("export", record.id, "--format", "json", "--out", "sent")
    sent = tmp_path / "sent" / f"{record.id}.json"
    office = tmp_path / "office"
    code, out, _ = cli("verify", str(sent), home=office)
    assert code == 1
    assert "which this home does not know" in out
    code, out, _ = cli("verify", str(sent), "--key", str(cli.home / "device.pub"), home=office)
    assert code == 0
    assert "its journal is not beside it" in out


def test_verify_an_open_walk_says_it_is_open(cli: Cli) -> None:
    found, _ = walk(cli.home, only=FEW, stop_at="brake-lights")
    code, _, err = cli("verify", found.id)
    assert code == 2
    assert "gladhand resume" in err


def test_a_signed_inspection_whose_record_is_gone_is_a_fault(cli: Cli, record: InspectionRecord) -> None:
    (cli.home / "sessions" / record.id / "record.json").unlink()
    told = f"signed, but its record is missing: 'gladhand resume {record.id}' makes it again"
    for args in (["verify"], ["verify", record.id], ["verify", "last"]):
        code, out, _ = cli(*args)
        assert code == 1
        assert f"FAULT  record: The inspection is {told}." in out
    assert f"{record.id}  {told}" in cli("sessions")[1]
    for args in (["repairs"], ["repairs", record.vehicle.id]):
        assert f"{record.id} is {told}. Defects that it reports are not listed." in cli(*args)[2]
    assert told not in "".join(str(part) for part in cli("repairs", "truck-nine"))
    assert cli("resume", "last")[0] == 0
    assert cli("verify")[0] == 0
    assert cli("repairs")[2] == ""


def _spoiled(journal: Path) -> None:
    lines = journal.read_bytes().splitlines(keepends=True)
    journal.write_bytes(b"".join([*lines[:2], lines[2].replace(b'"', b"'", 1), *lines[3:]]))


def test_verify_looks_at_the_journals_of_open_walks(cli: Cli, record: InspectionRecord) -> None:
    found, _ = walk(cli.home, only=FEW, stop_at="brake-lights")
    code, out, _ = cli("verify")
    assert code == 0
    assert f"{found.id}\n  ok     journal: " in out
    _spoiled(found.journal)
    for args in (["verify"], ["verify", found.id]):
        code, out, _ = cli(*args)
        assert code == 1
        assert f"FAULT  journal: {found.journal}: line 3 is damaged" in out
        assert f"'gladhand resume {found.id} --salvage'" in out


def test_a_damaged_open_walk_is_not_said_to_be_none(cli: Cli) -> None:
    found, _ = walk(cli.home, only=FEW, stop_at="brake-lights")
    _spoiled(found.journal)
    for args in (["resume"], ["resume", "last"]):
        code, _, err = cli(*args)
        assert code == 2
        assert "line 3 is damaged" in err
        assert "no open inspection that can be gone on with as it is" in err


def test_a_record_cut_short_says_what_to_do_and_nothing_of_parsers(cli: Cli, record: InspectionRecord) -> None:
    path = cli.home / "sessions" / record.id / "record.json"
    path.write_bytes(path.read_bytes()[:900])
    advice = f"Restore it from a copy; or move it away, and 'gladhand resume {record.id}' makes it again."
    assert f"FAULT  record: {path} is damaged, it is not a whole record. {advice}" in cli("verify")[1]
    code, _, err = cli("repairs")
    assert (code, err.count(advice)) == (1, 1)


def test_a_damaged_journal_of_a_signed_walk_says_that_the_record_stands(cli: Cli, record: InspectionRecord) -> None:
    _spoiled(cli.home / "sessions" / record.id / "journal.jsonl")
    code, out, _ = cli("verify")
    assert code == 1
    assert "The sealed record is whole; restore journal.jsonl from a copy, or keep both as they are." in out
    assert "salvage" not in out


@pytest.mark.parametrize(
    "args",
    [["verify"], ["export"], ["repairs"], ["sessions"], ["routes", "list"], ["limits", "list"], ["resume"], ["walk"]],
)
def test_a_home_that_is_a_file_is_one_sentence_everywhere(cli: Cli, tmp_path: Path, args: list[str]) -> None:
    file = tmp_path / "home.txt"
    file.write_text("x", encoding="utf-8")
    code, _, err = cli(*args, "--home", str(file))
    assert code == 2
    assert err == f"gladhand: {file} is not a folder. Give your Gladhand folder as --home.\n"


@pytest.mark.parametrize(("name", "advice"), [("none.yaml", "Check the path."), ("", "Give the file in it.")])
def test_a_limits_file_that_is_none_comes_with_advice(cli: Cli, tmp_path: Path, name: str, advice: str) -> None:
    code, _, err = cli("walk", "--limits", str(tmp_path / name))
    assert code == 2
    assert err.endswith(f"{advice}\n")


# --- repairs -----------------------------------------------------------------------------------------------------


def test_repairs_from_listing_to_certification(cli: Cli, record: InspectionRecord) -> None:
    code, out, _ = cli("repairs")
    assert code == 0
    assert f"{record.vehicle.id}-tractor: nothing open" in out
    assert f"{record.vehicle.id}-trailer: 1 open" in out
    assert f"key: {KEY}" in out
    assert "repair before leaving" in out
    assert cli("repairs", record.vehicle.id)[1] == out
    told = ("--verdict", "unnecessary", "--name", "Bo Lind", "--remark", "spare lamp")
    code, out, _ = cli("repairs", "certify", KEY, *told)
    assert code == 0
    assert "repair unnecessary by Bo Lind" in out
    assert "nothing open" in cli("repairs")[1]
    # The signed record was not touched, and still stands.
    assert load_record(cli.home / "sessions" / record.id / "record.json") == record
    assert cli("verify", record.id)[0] == 0
    assert cli("repairs", "certify", KEY, "--verdict", "repaired", "--name", "Bo Lind")[0] == 2


def test_repairs_of_one_of_two_vehicles(cli: Cli, record: InspectionRecord) -> None:
    signed(cli.home, LAMP, only=FEW, vehicle="truck-nine")
    assert cli("repairs", "certify", KEY, "--verdict", "repaired", "--name", "Bo")[0] == 2
    assert cli("repairs", "certify", KEY, "--verdict", "repaired", "--name", "Bo", "--vehicle", "truck-nine")[0] == 0
    assert "nothing open" in cli("repairs", "truck-nine")[1]
    assert "1 open" in cli("repairs", record.vehicle.id)[1]


def test_the_driver_has_said_it_is_repaired(cli: Cli, record: InspectionRecord) -> None:
    from voice.record.open_defects import open_defects

    found, known = walk(
        cli.home,
        {"carried@1": ("repaired",), "steering-lash": ("one inch",)},
        only=FEW,
        carried=open_defects(cli.home, record.vehicle.id),
    )
    record_of(found, known)
    out = cli("repairs")[1]
    assert "driver's last word: repaired, says the driver" in out
    assert "1 open" in out


@pytest.mark.parametrize("args", [["export"], ["verify"], ["repairs"], ["repairs", "certify"], ["repairs", "list"]])
def test_help(cli: Cli, args: list[str]) -> None:
    code, out, _ = cli(*args, "--help")
    assert code == 0
    assert f"gladhand {' '.join(args)} [" in out


@pytest.mark.slow
def test_as_a_program(cli: Cli, record: InspectionRecord, tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-c", "from voice.cli import main; main()", "verify", "--home", str(cli.home)],
        capture_output=True, text=True, cwd=Path(__file__).parents[2], check=False,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")
    assert record.id in done.stdout
