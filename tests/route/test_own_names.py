"""Files of the user's own under a name that nobody reads are told, not passed over."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from voice.cli import main
from voice.data.folders import prompts_dir
from voice.data.own import unread

WRONG = {
    "limits/tread.yml": "limits/tread.yml is not read: name it tread.yaml.",
    "limits/older/tread.yaml": "limits/older/ is no folder that Gladhand knows: in limits/ it reads *.yaml.",
    "prompts/items/zz.yml": "prompts/items/zz.yml is not read: name it zz.yaml.",
    "prompts/groups.yaml.txt": "prompts/groups.yaml.txt is not read: name it groups.yaml.",
    "prompts/zz.yaml": "prompts/zz.yaml is no file that Gladhand knows: in prompts/ it reads items/*.yaml, ",
    "prompts/units2.yaml": "prompts/units2.yaml is no file that Gladhand knows",
    "prompts/foo/horn.yaml": "prompts/foo/ is no folder that Gladhand knows",
    "vehicles/nine.txt": "vehicles/nine.txt is not read: name it nine.yaml.",
}
RIGHT = (
    "limits/tread.yaml", "limits/.swap", "prompts/items/zz.yaml", "prompts/items/README.md", "prompts/units.yaml",
    "prompts/units.yaml~", "prompts/dialogue.yaml", "vehicles/nine.yml",
)  # fmt: skip


def put(home: Path, name: str, text: str = "") -> Path:
    file = home / name
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(text, encoding="utf-8")
    return file


@pytest.mark.parametrize("name", WRONG)
def test_a_wrong_name_is_told_with_the_right_one(tmp_path: Path, name: str) -> None:
    put(tmp_path, name)
    [fault] = unread(tmp_path)
    assert str(fault).startswith(WRONG[name])


def test_what_is_read_and_what_is_meant_for_nobody_is_not_told(tmp_path: Path) -> None:
    for name in RIGHT:
        put(tmp_path, name)
    assert unread(tmp_path) == []
    assert unread(tmp_path / "absent") == []


def test_the_right_name_beside_the_wrong_one_is_not_to_be_written_over(tmp_path: Path) -> None:
    for name in ("limits/tread.yaml", "limits/tread.yml"):
        put(tmp_path, name)
    assert [str(fault) for fault in unread(tmp_path)] == [
        "limits/tread.yml is not read: tread.yaml is. Make one of both."
    ]


def test_the_shipped_data_would_be_known_in_a_home(tmp_path: Path) -> None:
    for name in ("items", "routes"):
        for file in (prompts_dir() / name).iterdir():
            put(tmp_path, f"prompts/{name}/{file.name}")
    assert unread(tmp_path) == []


@pytest.mark.parametrize(
    ("args", "wrong", "code"),
    [
        (["routes", "check"], "prompts/items/zz.yml", 1),
        (["limits", "check"], "limits/tread.yml", 1),
        (["walk", "--vehicle", "none-such"], "limits/tread.yml", 2),
    ],
)
def test_the_checks_fail_and_a_walk_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], args: list[str], wrong: str,
    code: int,
) -> None:  # fmt: skip
    put(tmp_path, wrong)
    monkeypatch.setattr(sys, "argv", ["gladhand", *args, "--home", str(tmp_path)])
    with pytest.raises(SystemExit) as stop:
        main()
    assert stop.value.code == code
    out, err = capsys.readouterr()
    assert WRONG[wrong] in out + err
    if args[0] == "routes":
        assert out.splitlines()[-1] == "1 mistake in your own files."
