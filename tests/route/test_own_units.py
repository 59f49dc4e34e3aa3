"""A units.yaml of the user's own lies over the shipped one, in every command, and only for that folder."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import pytest

from tests.route.test_route_cli import run
from tests.route.vehicles import SCHOOL_BUS
from voice.author.check_units import check_units
from voice.measure import Measure
from voice.measure.book import lay_over, unit_book
from voice.measure.telling import printed, spoken

UNITS = """\
units:
  dm: {printed: dm, one: decimeter, many: decimeters, decimals: 1, heard: {}}
quantities:
  cable-sag: {name: cable sag, unit: dm}
"""
ITEM = """\
cable-sag:
  title: Cable sag
  call: [cable sag]
  part: other
  answer: {kind: reading, quantity: cable-sag, unit: dm, low: 0, high: 9}
  say: {terse: "Cable sag?", normal: "Cable sag, in {units}?", full: "Measure how far the cable sags, in {units}."}
  defects: [loose]
  limits: [cable-sag]
  points: {sag: {say: [how far it sags], limit: cable-sag}}
"""
ROUTE = """\
id: yard
title: Yard
call: [yard]
fits: [bus]
standard: false
sections:
  - id: cable
    title: Cable
    entries: [cable-sag]
"""
LIMIT = """\
layer: yard
title: House rules of an invented yard
limits:
  - id: cable-sag
    title: Cable sag
    quantity: cable-sag
    must: at-most
    value: 3
    unit: dm
    level: repair
    source: {section: House rule 1 of an invented yard, known: practice}
"""


@pytest.fixture(autouse=True)
def shipped_units_afterwards() -> Iterator[None]:
    yield
    lay_over()


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """A folder with a quantity of its own, in a unit of its own, asked by a route of its own against its own limit."""
    for name, text in (
        ("prompts/units.yaml", UNITS), ("prompts/items/yard.yaml", ITEM), ("prompts/routes/yard.yaml", ROUTE),
        ("limits/yard.yaml", LIMIT),
    ):  # fmt: skip
        file = tmp_path / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, encoding="utf-8")
    return tmp_path


def test_a_quantity_of_ones_own_is_asked_understood_and_judged(home: Path) -> None:
    assert run("check", "--home", str(home)).stdout == "No mistakes in the shipped data and 3 files of your own.\n"
    said = run(
        "say", "four decimeters", "--item", "cable-sag", "--vehicle", SCHOOL_BUS, "--route", "yard", "--home", str(home)
    )
    assert said.exit_code == 0, said.stdout
    assert "4 dm" in said.stdout
    assert "at most 3 dm" in said.stdout
    shown = run("show", "yard", "--vehicle", SCHOOL_BUS, "--home", str(home))
    assert "Cable sag, in decimeters?" in shown.stdout


def test_it_holds_for_its_own_folder_only(home: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    assert "cable-sag" in run("facts", "--home", str(home)).stdout
    assert "cable-sag" not in run("facts", "--home", str(tmp_path_factory.mktemp("other"))).stdout


def test_without_it_what_asks_for_the_quantity_is_a_mistake(home: Path) -> None:
    (home / "prompts" / "units.yaml").unlink()
    (home / "limits" / "yard.yaml").unlink()
    result = run("check", "--home", str(home))
    assert result.exit_code == 1
    assert 'there is no quantity "cable-sag"' in result.stdout


def test_a_shipped_quantity_is_replaced_whole(tmp_path: Path) -> None:
    file = tmp_path / "units.yaml"
    file.write_text("quantities:\n  tread-depth: {name: depth of the tread, unit: mm}\n", encoding="utf-8")
    assert printed(Measure(Fraction(4, 32), "in"), quantity="tread-depth") == "4/32 in"
    lay_over(file)
    assert unit_book().quantities["tread-depth"].keep is False
    assert spoken(Measure(Fraction(5), "mm"), quantity="tread-depth") == "five millimeters"
    lay_over()
    assert unit_book().quantities["tread-depth"].unit == "in"


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("quantities:\n  sag: {name: sag, unit: ell}\n", 2, 'no words for the unit "ell"'),
        ("units:\n  ell: {printed: ell, one: ell, many: ells, si: cubit}\n", 2, 'no words for the unit "cubit"'),
        ("quantities:\n  tread-depth: {name: tread, unit: psi}\n", 2, "does not measure what tread-depth is"),
        ("quantities:\n  sag: {name: sag, units: in}\n", 2, 'no key "units"'),
        ("numbers: {hundred: cent}\n", 1, 'no key "numbers"'),
        ("units: [a, b]\n", 1, "not a mapping"),
    ],
)
def test_a_mistake_in_it_is_named_with_its_line(tmp_path: Path, text: str, line: int, words: str) -> None:
    (tmp_path / "prompts").mkdir()
    file = tmp_path / "prompts" / "units.yaml"
    file.write_text(text, encoding="utf-8")
    result = run("check", "--home", str(tmp_path))
    assert result.exit_code == 1
    assert f"{file}:{line}: " in result.stdout
    assert words in result.stdout
    alone = run("check", str(file), "--home", str(tmp_path / "none"))
    assert (alone.exit_code, words in alone.stdout) == (1, True)


def test_of_several_files_the_sound_ones_count(tmp_path: Path) -> None:
    bad, good = tmp_path / "bad.yaml", tmp_path / "good.yaml"
    bad.write_text("units: 1\n", encoding="utf-8")
    good.write_text(UNITS, encoding="utf-8")
    assert [fault.file for fault in check_units(bad, good)] == [bad]
    assert "cable-sag" in unit_book().quantities
