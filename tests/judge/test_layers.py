"""Several files of limits: which one decided, and what is said of a broken one."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.judge.yard import at, found, rig, shipped, worst
from voice.author.changes import changes
from voice.data.folders import prompts_dir
from voice.errors import DataError
from voice.judge import LimitSet, judge_defect, limit_files, load_limits, shipped_limits
from voice.measure.level import Level

EXAMPLES = sorted((prompts_dir() / "limits" / "examples").glob("*.yaml"))
HEAD = "layer: own\ntitle: An invented house rule\n"
SOURCE = "source: {section: House rule, known: practice}"


def layer(folder: Path, text: str, name: str = "own.yaml") -> Path:
    file = folder / name
    file.write_text(HEAD + text, encoding="utf-8")
    return file


def test_a_later_file_overrides_by_id_and_is_named(tmp_path: Path) -> None:
    own = layer(tmp_path, f"limits:\n  - {{id: tread-steer, value: 6/32, {SOURCE}}}\n")
    limits = load_limits([shipped_limits(), own])
    finding = found(at(rig(), 1, "left"), "tread-depth", "5/32", "in", limits)["tread-steer"]
    assert finding.level is Level.REPAIR
    assert finding.layer == "own.yaml"
    assert finding.source == "House rule"
    assert finding.limit_text == "at least 6/32 in"
    rule = limits.rule("tread-steer")
    assert rule is not None
    assert rule.before == ("us-federal.yaml",)
    assert found(at(rig(), 2, "left"), "tread-depth", "5/32", "in", limits)["tread-other"].layer == "us-federal.yaml"


def test_of_three_files_the_last_decides(tmp_path: Path) -> None:
    first = layer(tmp_path, f"limits:\n  - {{id: mud-flap, value: 8, {SOURCE}}}\n", "a.yaml")
    second = layer(tmp_path, f"limits:\n  - {{id: mud-flap, level: repair, {SOURCE}}}\n", "b.yaml")
    limits = load_limits([shipped_limits(), first, second])
    finding = found(at(rig()), "mud-flap-height", 9, "in", limits)["mud-flap"]
    assert (finding.level, finding.layer, finding.limit_text) == (Level.REPAIR, "b.yaml", "at most 8 in")
    rule = limits.rule("mud-flap")
    assert rule is not None
    assert rule.before == ("us-federal.yaml", "a.yaml")


def test_a_new_limit_and_criterion_and_one_dropped(tmp_path: Path) -> None:
    own = layer(
        tmp_path,
        "drop: [oil-pressure]\nlimits:\n"
        "  - {id: tread-gap, title: Difference of the duals, quantity: tread-depth, must: at-most, value: 20/32,"
        f" unit: in, level: watch, {SOURCE}}}\n"
        f"criteria:\n  - {{id: my-horn, title: Any horn, items: [horn-air], level: watch, {SOURCE}}}\n",
    )
    limits = load_limits([shipped_limits(), own])
    assert limits.rule("oil-pressure") is None
    assert found(at(rig()), "oil-pressure", 0, "psi", limits) == {}
    assert found(at(rig(), 1), "tread-depth", "21/32", "in", limits)["tread-gap"].level is Level.WATCH
    horn = judge_defect(limits, at(rig(), item="horn-air"), "weak", part="horn")
    assert (horn.level, horn.layer) == (Level.WATCH, "own.yaml")
    assert judge_defect(shipped(), at(rig(), item="horn-air"), "weak", part="horn").level is Level.REPAIR


def test_the_near_margin_is_a_setting(tmp_path: Path) -> None:
    own = layer(tmp_path, "near: {tread-depth: 3/32}\n")
    limits = load_limits([shipped_limits(), own])
    assert worst(at(rig(), 2, "left"), "tread-depth", "4/32", "in") is Level.WITHIN
    assert worst(at(rig(), 2, "left"), "tread-depth", "4/32", "in", limits) is Level.WATCH
    assert worst(at(rig(), 2, "left"), "tread-depth", "6/32", "in", limits) is Level.WITHIN


def test_a_set_survives_json(tmp_path: Path) -> None:
    own = layer(tmp_path, f"limits:\n  - {{id: mud-flap, value: 8 1/2, {SOURCE}}}\n")
    limits = load_limits([shipped_limits(), own, *EXAMPLES])
    again = LimitSet.model_validate_json(limits.model_dump_json())
    assert again == limits
    subject = at(rig(), 2, "left")
    for quantity, value, unit in (("tread-depth", "1/32", "in"), ("pushrod-stroke-applied", "2 1/8", "in")):
        assert found(subject, quantity, value, unit, again) == found(subject, quantity, value, unit, limits)


def test_files_in_force_are_the_shipped_one_and_those_of_the_home_folder(tmp_path: Path) -> None:
    assert limit_files(None) == (shipped_limits(),)
    assert limit_files(tmp_path) == (shipped_limits(),)
    (tmp_path / "limits").mkdir()
    for name in ("20-own.yaml", "10-state.yaml"):
        (tmp_path / "limits" / name).write_text(HEAD)
    assert [file.name for file in limit_files(tmp_path)] == ["us-federal.yaml", "10-state.yaml", "20-own.yaml"]
    assert [entry.file for entry in load_limits(limit_files(tmp_path)).layers][1:] == ["10-state.yaml", "20-own.yaml"]


@pytest.mark.parametrize("file", EXAMPLES, ids=lambda file: file.stem)
def test_examples_load_on_top_of_the_shipped_file(file: Path) -> None:
    limits = load_limits([shipped_limits(), file])
    mine = [rule for rule in (*limits.limits, *limits.criteria) if rule.file == file.name]
    assert mine
    assert all(rule.source.section for rule in mine)


def test_quebec_is_in_metric_units() -> None:
    """C-24.2 r. 32, section 166(5): 48 kPa in a minute for two vehicles; 4 psi a minute are 27.6 kPa."""
    quebec = load_limits([shipped_limits(), prompts_dir() / "limits" / "examples" / "quebec.yaml"])
    levels = {n: f.level for n, f in found(at(rig()), "air-leak-applied", 7, "psi/min", quebec).items()}
    assert levels == {"leak-applied-combination": Level.REPAIR, "leak-applied-quebec-2": Level.HALT}  # 48.26 kPa
    assert found(at(rig()), "air-leak-applied", 48, "kPa/min", quebec)["leak-applied-quebec-2"].level is Level.WATCH


def test_changes_tell_what_is_looser(tmp_path: Path) -> None:
    own = layer(
        tmp_path,
        "drop: [pintle]\nlimits:\n"
        f"  - {{id: tread-steer, value: 6/32, {SOURCE}}}\n"
        f"  - {{id: tread-other, value: 1/32, {SOURCE}}}\n"
        f"  - {{id: leak-static-single, must: at-most, value: 2, {SOURCE}}}\n"
        f"  - {{id: parking-valve, low: 20, high: 40, {SOURCE}}}\n"
        f"  - {{id: supply-valve, low: 15, high: 45, {SOURCE}}}\n"
        f"  - {{id: mud-flap, value: 25.4, unit: cm, {SOURCE}}}\n"
        f"  - {{id: reserve, level: watch, {SOURCE}}}\n",
    )
    assert {(change.id, change.kind) for change in changes([shipped_limits(), own])} == {
        ("pintle", "dropped"),
        ("tread-steer", "changed"),
        ("tread-other", "looser"),
        ("leak-static-single", "looser"),
        ("parking-valve", "changed"),
        ("supply-valve", "looser"),
        ("mud-flap", "changed"),  # the same height in other units
        ("reserve", "looser"),
    }


BROKEN = [
    ("limits:\n  - {id: tread-steer, value: 6/32}\n", 4, "needs a source of its own"),
    ("limits:\n  - {id: new-one, quantity: tread-depth}\n", 4, "missing"),
    (f"limits:\n  - {{id: tread-steer, valu: 6/32, {SOURCE}}}\n", 4, '"valu"'),
    (f"limits:\n  - id: tread-steer\n    value: 1/0\n    {SOURCE}\n", 5, "not a number"),
    (f"limits:\n  - id: tread-steer\n    value: six\n    {SOURCE}\n", 5, "not a number"),
    (f"limits:\n  - id: tread-steer\n    unit: psi\n    {SOURCE}\n", 5, "does not fit"),
    (f"limits:\n  - id: tread-steer\n    unit: furlongz\n    {SOURCE}\n", 5, "not a unit"),
    (f"limits:\n  - id: tread-steer\n    quantity: thread\n    {SOURCE}\n", 5, "not in units.yaml"),
    (f"limits:\n  - id: tread-steer\n    must: about\n    {SOURCE}\n", 5, "at-least"),
    (f"limits:\n  - id: tread-steer\n    applies: {{axle: [steer]}}\n    {SOURCE}\n", 4, "there is no fact 'axle'"),
    (f"limits:\n  - id: stroke\n    table: strokes\n    {SOURCE}\n", 5, "there is no table"),
    (f"limits:\n  - id: supply-valve\n    low: 45\n    high: 20\n    {SOURCE}\n", 4, "low is above high"),
    (f"limits:\n  - id: supply-valve\n    value: 1\n    {SOURCE}\n", 4, "'between' takes low and high"),
    (f"limits:\n  - id: build-up\n    figure: {{name: speed}}\n    {SOURCE}\n", 4, "there is no figure 'speed'"),
    (f"limits:\n  - {{id: mud-flap, {SOURCE}}}\n  - {{id: mud-flap, {SOURCE}}}\n", 5, "used twice"),
    ("limits:\n  - {id: mud-flap, source: {section: A rule, known: read}}\n", 4, "which copy was read"),
    ("limits:\n  - {id: mud-flap, source: {section: A rule, known: second-hand}}\n", 4, "which copy was read"),
    ("limits:\n  - {id: mud-flap, source: {section: A rule, known: maybe}}\n", 4, "memory"),
    (f"limits:\n  - {{id: mud-flap, valid_from: soon, {SOURCE}}}\n", 4, "date"),
    (f"limits:\n  - {{id: mud-flap, valid_from: 2026-02-01, {SOURCE}}}\n", 4, "what changed on 2026-02-01"),
    (f"limits:\n  - {{id: mud-flap, valid_to: 2026-02-28, {SOURCE}}}\n", 4, "what changed on 2026-03-01"),
    (f"limits:\n  - {{id: mud-flap, valid_from: 2026-02-02, valid_to: 2026-02-01, {SOURCE}}}\n", 4, "is after"),
    (f"criteria:\n  - {{id: mud-flap, {SOURCE}}}\n", 4, "a limit in one file and a criterion in another"),
    ("drop: [nothing-like-it]\n", 3, "no limit 'nothing-like-it' to drop"),
    ("near: {girth: 1}\n", 3, "not in units.yaml"),
    ("tables:\n  t: {keys: [role], unit: in, rows: [{of: [a, b], value: 1}]}\n", 4, "needs 1 keys"),
    ("limits: [\n", 4, "YAML"),
    ("layer: again\n", 3, "layer"),
]


@pytest.mark.parametrize(("text", "line", "says"), BROKEN, ids=[says for _, _, says in BROKEN])
def test_a_broken_file_gets_one_sentence_with_its_line(tmp_path: Path, text: str, line: int, says: str) -> None:
    own = layer(tmp_path, text)
    with pytest.raises(DataError) as caught:
        load_limits([shipped_limits(), own])
    assert caught.value.file == own
    assert caught.value.line == line
    assert says in str(caught.value)
    assert str(caught.value).startswith(f"{own}:{line}: ")
    assert "\n" not in str(caught.value)


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(DataError, match="cannot be read"):
        load_limits([shipped_limits(), tmp_path / "none.yaml"])


def test_a_reading_in_a_unit_that_does_not_fit() -> None:
    with pytest.raises(DataError, match="does not fit tread-depth"):
        found(at(rig(), 1), "tread-depth", 4, "psi")


def test_a_set_without_a_rule_for_a_defect_says_so() -> None:
    bare = shipped().model_copy(update={"criteria": ()})
    with pytest.raises(DataError, match="No criterion says what the defect 'flat' of 'item' means"):
        judge_defect(bare, at(rig(), 1), "flat", part="tires")
