"""What no YAML file of the project may hold is refused in one sentence with its line, quickly, whatever it is."""

from __future__ import annotations

from pathlib import Path

import pytest

from voice.data.compose import MAX_CHARACTERS, MAX_VALUES
from voice.data.reader import line_of, read_yaml
from voice.errors import DataError
from voice.route.vehicles import read_vehicle

LAUGHS = "a: &a [x, x, x, x, x, x, x, x, x, x]\n" + "".join(
    f"{new}: &{new} [{', '.join([f'*{old}'] * 10)}]\n" for old, new in ("ab", "bc", "cd", "de", "ef", "fg", "gh", "hi")
)


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("a: 1\nb: !!float x\n", 2, "tag"),
        ("a: 1\nb: !!timestamp x\n", 2, "tag"),
        ("a: 1\nb: !!binary '!'\n", 2, "tag"),
        ("a: 1\nb: !mine {c: d}\n", 2, "tag"),
        ("a: " + "9" * 5000, 1, "30 digits"),
        ("a: 1\nb: 1e999\n", 2, "finite"),
        ("a: 1\nb: .nan\n", 2, "finite"),
        ("a: 1\nb: -.INF\n", 2, "finite"),
        ("[" * 200_000, 1, "40 deep"),
        ("- " * 100_000 + "1", 1, "40 deep"),
        ("? " * 100_000, 1, "40 deep"),
        (LAUGHS, 6, str(MAX_VALUES)),
        ("a: &a\n- *a\n", 2, "anchor"),
        ("a: 1\n<<: {b: 1}\n", 2, "merge"),
        ("a: 1\n[b, c]: 1\n", 2, "key"),
        ("a: 1\n---\nb: 1\n", 2, "second document"),
        ('a: 1\nb: "\\u001b[2J"\n', 2, "control character"),
        ("a: 1\nb: \x07\n", 2, "control character"),
        ("a: " + "x" * 10_001, 1, "10000"),
        ("# " + "x" * MAX_CHARACTERS, None, str(MAX_CHARACTERS)),
        ("#" * (5 << 20), None, "4 MB"),
    ],
)
def test_it_is_refused(tmp_path: Path, text: str, line: int | None, words: str) -> None:
    file = tmp_path / "x.yaml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(DataError) as caught:
        read_yaml(file)
    assert caught.value.line == line
    assert words in caught.value.message
    assert len(str(caught.value).replace(str(tmp_path), "")) < 200
    assert line_of(file, ("a",)) is None


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ('a: 1\nb: "open\nc: 2\nd: 3\n', 2, "not closed"),
        ("a: 1\nb: 'open\nc: 2\nd: 3\n", 2, "not closed"),
        ('"a: 1\nb: 2\n', 1, "not closed"),
        ('a: "x\n---\nb: 1\n', 1, "not closed"),
        ('a: 1\nb: "open\nc: "two"\n', 2, "closed only in line 3"),
        ('a:\n- "x\n- "y"\n', 2, "closed only in line 3"),
        ("a: 1\nb: 'it's open'\n", 2, "written twice"),
        ("a: 1\nb: [x, y\nc: 2\n", 2, '"["'),
        ("a: 1\nb: {x: y\nc: 2\n", 2, '"{"'),
        ("a:\n\tb: 1\n", 2, "tab"),
        ("\ta: 1\n", 1, "tab"),
        ("a:\n\t- b\n", 2, "tab"),
        ("a:\n  -\tb\n", 2, "tab"),
        ("a:\n  b: 1\n \tc: 2\n", 3, "tab"),
        ("a:\n  b: 1\n\tc: 2\n", 3, "tab"),
        ("a: |\n\ttext\n", 2, "tab"),
        ("a: what: is\n", 1, "quotation marks"),
        ("a: @foo\n", 1, '"@"'),
        ("a: 1\n%b: 2\n", 2, '"%"'),
        ("a: 1\nb: *\n", 2, '"*"'),
        ("a: 1\nb: ]\n", 2, '"]"'),
        ("{a: 1}\nb: 2\n", 2, "above it"),
        ("a: | text\n", 1, "next line"),
        ("a:\n  b: 1\n c: 2\n", 3, "indented"),
        ("a: 1\nb:2\nc: 3\n", 2, '": "'),
        ('a: "\\q"\n', 1, "backslash"),
    ],
)
def test_a_slip_of_the_pen_is_named_where_it_was_made(tmp_path: Path, text: str, line: int, words: str) -> None:
    file = tmp_path / "x.yaml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(DataError) as caught:
        read_yaml(file)
    assert (caught.value.line, words in caught.value.message) == (line, True), caught.value


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("2026-13-45", "2026-13-45"),  # a date is text: there is nothing to construct
        ("2026-01-02", "2026-01-02"),
        ("!!str 12", "12"),
        ("0x1F", 31),
        ("0o17", 15),
        ("-.5e3", -500.0),
        ("1.", 1.0),
        ("012", 12),
        ("~", None),
        ("TRUE", True),
        ("yes", "yes"),
        ("", None),
        ("'~'", "~"),
        ("|\n  two\n  lines\n", "two\nlines\n"),
    ],
)
def test_scalars_are_those_of_the_core_schema(tmp_path: Path, text: str, value: object) -> None:
    file = tmp_path / "x.yaml"
    file.write_text(f"a: {text}", encoding="utf-8")
    found = read_yaml(file)["a"]
    assert (type(found), found) == (type(value), value)


def test_an_alias_stands_for_what_its_anchor_holds(tmp_path: Path) -> None:
    file = tmp_path / "x.yaml"
    file.write_text("a: &x\n  b: 1\nc: *x\n", encoding="utf-8")
    assert read_yaml(file) == {"a": {"b": 1}, "c": {"b": 1}}
    assert line_of(file, ("c", "b")) == 2


@pytest.mark.parametrize("figure", ["1e99999999", "'1e99999999'", "'1/0'", "'nan'", "'" + "9" * 5000 + "'", "1e300"])
def test_a_figure_that_cannot_be_held_is_refused_at_once(tmp_path: Path, figure: str) -> None:
    """Fraction("1e99999999") would fill the memory."""
    shipped = Path(__file__).parents[2] / "prompts" / "vehicles" / "straight-truck-two-axle.yaml"
    file = tmp_path / "x.yaml"
    text = shipped.read_text(encoding="utf-8")
    assert "wheel_in: 18" in text
    file.write_text(text.replace("wheel_in: 18", f"wheel_in: {figure}"), encoding="utf-8")
    with pytest.raises(DataError, match=r"number|finite"):
        read_vehicle(file)
