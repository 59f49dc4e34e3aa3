"""One rule for names of people: wherever somebody signs, drives, learns or gets an account."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

from voice.cli import app
from voice.data.fields import is_person, person
from voice.desk import accounts
from voice.desk.store import Store
from voice.errors import DataError, SetupError
from voice.rehearse.progress.students import Students
from voice.session.resources import known_drivers

REFUSED = ("", " \t", "<script>alert(1)</script>", "Rosa <b>", "a > b", "a\x1b[2Jb", "a\x00b", "a\u202eb", "x" * 101)
TAKEN = ("Rosa Quill", "José Ñandú-O'Brien Jr.", "李 小龙", "Müller & Sohn", "x" * 100)
COMMANDS = {
    "walk": ("walk", "--driver", "NAME"),
    "a second driver": ("walk", "--driver", "Rosa Quill", "--co-driver", "NAME"),
    "cosign": ("cosign", "last", "--driver", "NAME"),
    "certify": ("repairs", "certify", "horn#weak", "--verdict", "repaired", "--name", "NAME"),
    "attune": ("attune", "read", "NAME"),
    "rehearse": ("rehearse", "--student", "NAME"),
    "account": ("desk", "account", "add", "NAME", "--role", "driver"),
}


@pytest.mark.parametrize("name", REFUSED)
@pytest.mark.parametrize("command", COMMANDS.values(), ids=COMMANDS)
def test_each_command_refuses_what_is_no_name(tmp_path: Path, command: tuple[str, ...], name: str) -> None:
    words = [name if word == "NAME" else word for word in command]
    with pytest.raises(SetupError, match=r"The name is empty|This cannot be a person's name"):
        CliRunner().invoke(
            app, [*words, "--home", str(tmp_path)], input="four words in a row\n", catch_exceptions=False
        )
    assert not [path for path in tmp_path.rglob("*") if path.is_file() and not path.name.startswith("desk.sqlite")]


@pytest.mark.parametrize("name", [name for name in REFUSED if name.strip()])
def test_drivers_yaml_is_held_to_it_too(tmp_path: Path, name: str) -> None:
    (tmp_path / "drivers.yaml").write_text(f'- Rosa Quill\n- "{ascii(name)[1:-1]}"\n')
    with pytest.raises(DataError, match=r"not a list of names|control character"):
        known_drivers(tmp_path)


@pytest.mark.parametrize("name", TAKEN)
def test_names_of_people_are_taken(tmp_path: Path, name: str) -> None:
    assert is_person(name)
    assert person(f" {name.replace(' ', '  ')} ") == name
    assert accounts.add(Store(tmp_path), name, "driver", "four words in a row").name == name
    assert Students(tmp_path).enroll(name).name == name
    (tmp_path / "drivers.yaml").write_text(f"- {name}\n")
    assert known_drivers(tmp_path) == (name,)
