"""The wording file: a mistake in it is met when it is read, not when it is spoken."""

from __future__ import annotations

from pathlib import Path

import pytest

from voice.data.folders import prompts_dir
from voice.errors import DataError
from voice.judge.wording import verdicts

SHIPPED = (prompts_dir() / "verdicts.yaml").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('at-least: "at least {value}"', 'at-least: "at least {figure}"', "nothing fills in {figure}"),
        ('more: "and {count} more"', 'more: "and {count more"', "braces"),
        ("watch_one: ", "watch_two: ", "watch_one"),
        ("  watch: watch\n", "", "'levels' lacks watch"),
        ("listed: 6", "listed: some", "listed"),
    ],
)
def test_a_broken_wording_file(tmp_path: Path, old: str, new: str, says: str) -> None:
    assert old in SHIPPED
    file = tmp_path / "verdicts.yaml"
    file.write_text(SHIPPED.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(DataError) as caught:
        verdicts(file)
    assert says in str(caught.value)
    assert caught.value.line is not None
