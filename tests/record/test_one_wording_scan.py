"""A scan of the program's own text: no place but one words a level, and none rounds a figure by itself.

test_one_wording.py compares what is printed; here is looked for places that it does not come to.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from voice.data.folders import prompts_dir
from voice.data.reader import read_yaml
from voice.judge.wording import verdicts
from voice.measure.level import NAMES, LevelName
from voice.measure.telling import mile, minutes, shown_in, told
from voice.record.report import duration

ROOT = Path(__file__).parents[2]
TEMPLATES = sorted(prompts_dir().rglob("*.j2"))
# What people read of an inspection is made here; the rest is hearing, speech and tools for the program itself.
SHOWN = [
    file
    for room in ("cli", "day", "desk", "logbook", "record", "session", "walk", "judge")
    for file in sorted((ROOT / "voice" / room).rglob("*.py"))
    if "migrations" not in file.parts
]
# Each with what it rounds, and why that is no figure of an inspection that is told in two places.
MAY_ROUND = {
    "cli/soundcheck.py": "a sound card's rate",
    "desk/plots.py": "coordinates",
    "desk/data/school.py": "coordinates",
    "logbook/history.py": "a rate of change, told nowhere else; seconds of a section beside their median, likewise",
    "session/intended.py": "seconds of a script's wait",
    "walk/machine.py": "a moment of the walk's own clock",
    "cli/__init__.py": "the length of an argument that is refused",
    "logbook/columns.py": "the size of what is refused",
    "record/page.py": "how sure the recognizer was, told nowhere else",
}


def places(pattern: str, files: list[Path]) -> Iterator[tuple[str, str]]:
    for file in files:
        for line in file.read_text().splitlines():
            if re.search(pattern, line):
                yield str(file.relative_to(ROOT / "voice" if file.suffix == ".py" else prompts_dir())), line.strip()


def test_no_code_words_a_level_by_itself() -> None:
    names = [name for level, name in verdicts().levels.items() if level in ("repair", "halt")]
    assert names == ["repair before leaving", "may not be driven"]
    found = []
    for file in SHOWN:
        tree = ast.parse(file.read_text())
        told_of = {
            id(node.body[0].value)
            for node in ast.walk(tree)
            if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef)
            and node.body
            and isinstance(node.body[0], ast.Expr)
        }  # docstrings
        for node in ast.walk(tree):
            if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in told_of:
                found += [(file.name, name) for name in names if name in node.value.casefold()]
    assert found == []


def test_no_page_prints_a_levels_id() -> None:
    """{{ x.level }} would be "repair"; a class may be called so."""
    printed = r"\{\{ *(?!t\.|table\.|text\.)[\w.]*\blevel(\.word)? *(\||\}\})"
    lines = {(file, line) for file, line in places(printed, TEMPLATES)}
    bare = [re.sub(r'class="[^"]*"', "", line) for _, line in lines]
    assert [line for line in bare if re.search(printed, line)] == []
    code = r"\bf[\"'].*\{[\w.]*\blevel(\.word|\.name[\w.()]*)?\}"
    assert list(places(code, SHOWN)) == []


def test_what_is_said_at_the_moment_has_the_levels_name_in_it() -> None:
    """prompts/verdicts.yaml words a finding as a sentence of its own: with the words of its level."""
    text, names = verdicts(), verdicts().levels
    for sentences in (text.finding.reading, text.finding.defect):
        for level in NAMES[2:]:
            assert names[level] in sentences[level].casefold(), sentences[level]
        assert names["watch"] in sentences["watch"] or "close to the limit" in sentences["watch"]


@pytest.mark.parametrize("name", NAMES)
def test_no_other_file_of_words_has_a_levels_name_beside_its_id(name: LevelName) -> None:
    """A list of the levels by their ids; a sentence of another kind may have such words in it."""
    for file in prompts_dir().rglob("*.yaml"):
        if "limits" in file.parts or file.name == "verdicts.yaml":
            continue
        for key, value in _pairs(read_yaml(file)):
            if key == name and isinstance(value, str):
                assert value.casefold() != verdicts().levels[name], file


def _pairs(value: object) -> Iterator[tuple[object, object]]:
    if isinstance(value, dict):
        yield from value.items()
    for each in value.values() if isinstance(value, dict) else value if isinstance(value, list | tuple) else ():
        yield from _pairs(each)


def test_no_figure_is_rounded_but_where_all_are() -> None:
    """A format with digits (":.1f", "%.0f", ":,") and Jinja's round: measures go through voice.measure.telling."""
    rounding = r":[,+]?\.\d+[fg%]\}|:,(\.\d+f)?\}|%\.?\d*[fg]\"|\| ?round|:g\}"
    assert {file for file, _ in places(rounding, SHOWN)} - MAY_ROUND.keys() == set()
    widths = r"width: \{\{|class=\"m\{\{"
    in_pages = [
        line for _, line in places(r"\|\s*round|\"%[\d.]*[fg]\"\s*\|", TEMPLATES) if not re.search(widths, line)
    ]
    assert in_pages == []


def test_minutes_and_miles_are_one_figure_everywhere() -> None:
    for seconds in (0, 29, 31, 599, 600, 629, 631, 3569, 3571, 3600, 3629, 5400, 90_000):
        shown = duration(seconds)
        if seconds >= 600:
            hours, _, rest = shown.rpartition(" h ")
            assert int(hours or 0) * 60 + int(rest.removesuffix(" min")) == minutes(seconds), (seconds, shown)
    assert [duration(s) for s in (48, 120, 125, 3780)] == ["48 s", "2 min", "2 min 5 s", "1 h 3 min"]
    for miles in (412_345.0, 412_345.62, 0.5):
        assert f"{mile(miles)} mi" == told(miles, "mi", quantity="odometer")


def test_a_unit_is_the_same_in_figures_and_in_changes() -> None:
    assert shown_in("in", "tread-depth", "us") == ("in", 1.0)
    unit, factor = shown_in("in", "tread-depth", "si")
    assert (unit, factor) == ("mm", pytest.approx(25.4))
    assert told("1", "in", quantity="tread-depth", system="si").endswith(f" {unit}")
    assert shown_in("parsec", "tread-depth", "si") == ("parsec", 1.0)
