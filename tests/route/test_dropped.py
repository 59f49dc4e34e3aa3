"""What a user's own files leave out of the shipped routes is named, by the check and at the start of a walk."""

from __future__ import annotations

from pathlib import Path

import pytest
from ruamel.yaml import YAML

from tests.route.test_route_cli import run
from tests.route.vehicles import FIVE_AXLE, SCHOOL_BUS, sample
from voice.data.folders import prompts_dir
from voice.data.reader import read_yaml
from voice.route import load_library
from voice.route.dropped import dropped


def put(home: Path, name: str, data: object) -> Path:
    file = home / "prompts" / name
    file.parent.mkdir(parents=True, exist_ok=True)
    with file.open("w", encoding="utf-8") as stream:
        YAML(typ="safe").dump(data, stream)
    return file


def without(group: str, item: str) -> list[object]:
    """The shipped group less the lines of an item."""
    lines = read_yaml(prompts_dir() / "groups.yaml")[group]
    kept = [line for line in lines if line != item and not (isinstance(line, dict) and line.get("item") == item)]
    assert len(kept) < len(lines)
    return kept


def holder(item: str) -> str:
    groups = load_library().groups
    return next(name for name, group in groups.items() if any(entry.item == item for entry in group.entries))


def test_nothing_of_ones_own_leaves_out_nothing(tmp_path: Path) -> None:
    assert dropped(load_library(), [sample(SCHOOL_BUS)]) == []
    put(tmp_path, "defects.yaml", {"torn": {"title": "Torn", "say": ["torn"]}})
    assert dropped(load_library(tmp_path / "prompts"), [sample(SCHOOL_BUS)]) == []


def test_a_group_of_ones_own_that_lacks_an_item_of_the_law_is_told(tmp_path: Path) -> None:
    group = holder("tire-tread")
    file = put(tmp_path, "groups.yaml", {group: without(group, "tire-tread")})
    (gone,) = dropped(load_library(tmp_path / "prompts"), [sample(FIVE_AXLE)])
    assert (gone.item.id, gone.by_law, gone.everywhere, gone.origin.file) == ("tire-tread", True, True, file)
    result = run("check", home=tmp_path)
    assert f'Warning: {file}:1: leaves out "tire-tread"' in result.stderr
    assert '"tires" in 49 CFR 396.11(a)(1)' in result.stderr
    given = tmp_path / "elsewhere" / "groups.yaml"
    given.parent.mkdir()
    file.rename(given)
    assert 'leaves out "tire-tread"' in run("check", str(given), home=tmp_path).stderr
    assert "leaves out" not in run("check", home=tmp_path).stderr


def test_a_route_of_ones_own_is_told_too_and_the_law_comes_first(tmp_path: Path) -> None:
    route = read_yaml(prompts_dir() / "routes" / "bus.yaml")
    put(tmp_path, "routes/bus.yaml", {**route, "sections": route["sections"][:1]})
    gone = dropped(load_library(tmp_path / "prompts"), [sample(SCHOOL_BUS)])
    assert {"tire-tread", "wipers"} <= {each.item.id for each in gone}
    assert [each.by_law for each in gone] == sorted((each.by_law for each in gone), reverse=True)
    assert dropped(load_library(tmp_path / "prompts"), [sample(FIVE_AXLE)]) == []


def test_a_new_route_counts_only_where_it_is_taken_without_being_asked_for(tmp_path: Path) -> None:
    route = read_yaml(prompts_dir() / "routes" / "bus.yaml")
    short = {**route, "id": "a-quick-one", "call": ["quick one"], "sections": route["sections"][:1]}
    put(tmp_path, "routes/quick.yaml", short)
    library = load_library(tmp_path / "prompts")
    assert len(dropped(library, [sample(SCHOOL_BUS)])) > 50
    assert dropped(library, [sample(SCHOOL_BUS)], "bus") == []
    put(tmp_path, "routes/quick.yaml", {**short, "standard": False})
    library = load_library(tmp_path / "prompts")
    assert dropped(library, [sample(SCHOOL_BUS)]) == dropped(library, [sample(SCHOOL_BUS)], "a-quick-one") == []


@pytest.mark.parametrize(
    ("key", "value", "told"),
    [
        ("defects", ["flat"], 'the defect "'),
        ("limits", [], 'the limit "'),
        ("answer", "condition", "the reading"),
        ("when", {"dual": True}, "Tread"),
    ],
)
def test_an_item_of_ones_own_that_asks_less_is_told(tmp_path: Path, key: str, value: object, told: str) -> None:
    shipped = load_library()
    origin = shipped.origins["item", "tire-tread"]
    item = read_yaml(origin.file)["tire-tread"]
    file = put(tmp_path, "items/mine.yaml", {"tire-tread": {**item, key: value}})
    gone = dropped(load_library(tmp_path / "prompts"), [sample(FIVE_AXLE)])
    assert {each.origin.file for each in gone} == {file}
    assert any(told in str(each) for each in gone), [str(each) for each in gone]
