"""What kind a file is stands in its name: templates end in .j2, and generated files lie in a folder that says so."""

from __future__ import annotations

import re
from pathlib import Path

from voice.author.table import __doc__ as of_the_table
from voice.data.folders import prompts_dir
from voice.day.schema import schema_file as day_schema_file
from voice.record.schema import schema_file

ROOT = Path(__file__).resolve().parents[2]


def test_every_template_is_named_as_one_and_nothing_else_is() -> None:
    files = [path for path in prompts_dir().rglob("*") if path.is_file()]
    templates = [path for path in files if re.search(r"\{%|\{\{", path.read_text(encoding="utf-8"))]
    assert len(templates) >= 4
    assert [path for path in templates if path.suffix != ".j2"] == []
    assert [path for path in files if path.suffix == ".j2" and path not in templates] == []


def test_what_scripts_write_lies_in_the_folder_for_it() -> None:
    folder = prompts_dir() / "generated"
    assert schema_file().parent == folder
    assert "prompts/generated/LIMITS.md" in (of_the_table or "")
    assert {path.name for path in folder.iterdir()} == {"LIMITS.md", schema_file().name, day_schema_file().name}


def test_the_package_says_that_it_is_typed_and_its_changes_are_told() -> None:
    assert (ROOT / "voice" / "py.typed").is_file()
    version = re.search(r'__version__ = "(.+)"', (ROOT / "voice" / "__init__.py").read_text())
    project = re.search(r'(?m)^version = "(.+)"', (ROOT / "pyproject.toml").read_text())
    newest = re.search(r"(?m)^## \[(\d[^\]]*)\]", (ROOT / "voice" / "CHANGELOG.md").read_text(encoding="utf-8"))
    assert version is not None
    assert project is not None
    assert newest is not None
    assert version[1] == project[1] == newest[1]
