"""Every command that writes to a path says in one sentence why it cannot, and says when it finds nothing."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
import typer.main

from tests.record.test_records_cli import Cli
from tests.record.walks import signed
from voice.cli import app
from voice.cli.options import complete_defect, complete_session, complete_vehicle

FEW = ("chocks", "brake-lights", "wipers")


@pytest.fixture
def cli(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Cli:
    monkeypatch.chdir(tmp_path)
    return Cli(tmp_path / "home", monkeypatch, capsys)


# Every command with an option for an output, and how it is called. "@" is the output.
WRITERS = {
    "export --out": ["export", "last", "--out", "@"],
    "export --out, one format": ["export", "last", "--format", "html", "--out", "@"],
    "day export --out": ["day", "export", "--out", "@"],
    "reports --out": ["reports", "--format", "html", "--out", "@"],
    "history --html": ["history", "VEHICLE", "--html", "@"],
    "logbook export --out": ["logbook", "export", "--out", "@"],
    "logbook calendar --out": ["logbook", "calendar", "--out", "@"],
    "recite --sheet": ["recite", "--sheet", "@"],
    "recite --render": ["recite", "--section", "cab", "--length", "terse", "--no-gaps", "--render", "@"],
}
# progress --html and --csv need rehearsals: tests/rehearse. grant --credentials needs a server: tests/logbook and desk.
ELSEWHERE = {"progress --html", "progress --csv", "logbook grant --credentials", "desk grant --credentials"}


def test_no_output_is_forgotten() -> None:
    found = set()

    def look(group: object, path: str) -> None:
        for name, command in getattr(group, "commands", {}).items():
            look(command, f"{path}{name} ")
            for parameter in command.params:
                if parameter.name in ("out", "html", "csv", "sheet", "render", "credentials"):
                    found.add(f"{path}{name} --{parameter.name}")

    look(typer.main.get_command(app), "")
    assert found == {name for name in WRITERS if "," not in name} | ELSEWHERE


@pytest.mark.parametrize("command", WRITERS)
def test_what_cannot_be_written_is_said_in_one_sentence(cli: Cli, tmp_path: Path, command: str) -> None:
    made = signed(cli.home, {"brake-lights": ("defect", "lamp out")}, only=FEW)
    (tmp_path / "file").write_text("precious")
    (tmp_path / "folder").mkdir()
    folders = "--out" in command and "calendar" not in command
    wrong = ["/proc/self/nowhere", "x" * 300, "file/below", "file" if folders else "folder"]
    if not hasattr(os, "geteuid") or not sys.platform.startswith("linux"):
        wrong = wrong[1:]
    for path in wrong:
        ending = ".flac" if "render" in command and path != "folder" else ""
        arguments = [made.vehicle.id if word == "VEHICLE" else word for word in WRITERS[command]]
        code, _, err = cli(*[path + ending if word == "@" else word for word in arguments])
        lines = [line for line in err.splitlines() if line.startswith("gladhand: ")]
        assert code in (1, 2), (path, err)
        assert len(lines) == 1, (path, err)
        assert "Traceback" not in err
    assert (tmp_path / "file").read_text() == "precious"


def test_limits_that_do_not_fit_are_said_to_be_none(cli: Cli) -> None:
    for more in ([], ["--criteria"]):
        code, out, err = cli("limits", "list", "zzz", *more)
        assert (code, out) == (2, "")
        assert "There is no" in err
    assert cli("limits", "list", "tread")[0] == 0


def test_the_shell_completes_vehicles_inspections_and_keys(cli: Cli) -> None:
    made = signed(cli.home, {"brake-lights": ("defect", "lamp out")}, only=FEW)

    class Context:
        params = {"home": str(cli.home)}  # noqa: RUF012

    context: typer.Context = Context()  # type: ignore[assignment]
    assert complete_session(context, made.id[:8]) == [made.id]
    assert complete_session(context, "la") == ["last"]
    assert complete_defect(context, "brake") == ["brake-lights#lamp-out"]
    assert "school-bus" in complete_vehicle(context, "")
    assert made.vehicle.id in complete_vehicle(context, "")  # of which there is no profile here
    (cli.home / "sessions" / "x").write_text("not a folder")
    assert complete_vehicle(context, made.vehicle.id[:11]) == [made.vehicle.id]
    (cli.home / "sessions" / made.id / "record.json").write_text("{")
    (cli.home / "past.json").unlink(missing_ok=True)
    assert complete_defect(context, "brake") == []


def test_the_shell_itself_is_given_the_completions(cli: Cli) -> None:
    """As bash asks for them."""
    made = signed(cli.home, {}, only=FEW)
    for line, wanted in (("history tr", made.vehicle.id), ("walk --vehicle tr", made.vehicle.id), ("export ", "last")):
        words = f"gladhand {line}"
        asked = {"_GLADHAND_COMPLETE": "complete_bash", "COMP_WORDS": words, "COMP_CWORD": str(words.count(" "))}
        done = subprocess.run(
            [sys.executable, "-m", "voice"], env={**os.environ, **asked, "GLADHAND_HOME": str(cli.home)},
            capture_output=True, text=True, timeout=120, check=False,
        )  # fmt: skip
        assert (wanted in done.stdout.split(), done.stderr) == (True, ""), line


@pytest.mark.parametrize("name", ["x" * 301, " "])
def test_a_name_that_no_record_can_hold_is_refused_at_the_start(cli: Cli, name: str) -> None:
    for command in (["walk", "--driver", name], ["rehearse", "--student", name]):
        code, _, err = cli(*command)
        assert code == 2
        assert len(err.splitlines()) == 1
        assert "name" in err
