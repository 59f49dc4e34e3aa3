"""gladhand routes, as a fleet clerk uses it."""

from __future__ import annotations

from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner, Result

from tests.route.vehicles import FIVE_AXLE, SCHOOL_BUS, library, sample
from voice.cli.routes import register
from voice.data.folders import prompts_dir
from voice.errors import SetupError
from voice.route import make_plan


def run(*arguments: str, home: Path | None = None) -> Result:
    app = typer.Typer()
    register(app)
    env = {"GLADHAND_HOME": str(home)} if home else {"GLADHAND_HOME": "/nonexistent"}
    return CliRunner().invoke(app, ["routes", *arguments], env=env)


def test_list_names_every_route_and_vehicle() -> None:
    result = run("list")
    assert result.exit_code == 0
    for name in ("tractor-semitrailer", "straight-truck", "bus", "brake-measurement", FIVE_AXLE, SCHOOL_BUS):
        assert name in result.stdout
    assert f"{len(make_plan(library(), sample(FIVE_AXLE)).steps)} steps" in result.stdout


@pytest.mark.parametrize("length", ["terse", "normal", "full"])
def test_show_prints_every_step_in_order(length: str) -> None:
    result = run("show", "--vehicle", FIVE_AXLE, "--length", length, "--ids")
    assert result.exit_code == 0
    at = 0
    for number, step in enumerate(make_plan(library(), sample(FIVE_AXLE)).steps, 1):
        line = f"{number:4} {getattr(step.say, length)}   [{step.id}]"
        at = result.stdout.index(line, at)
    assert "Chock" in result.stdout or "chocked" in result.stdout  # cautions are shown with their section


def test_show_picks_a_vehicle_for_a_route_and_a_route_for_a_vehicle() -> None:
    assert run("show", "bus").stdout.startswith("Bus, for bus twenty one (school-bus): ")
    assert run("show", "brake-measurement", "--vehicle", SCHOOL_BUS).stdout.startswith("Brake measurement")


@pytest.mark.parametrize("kind", ["pre-trip", "post-trip"])
def test_show_takes_a_kind_of_inspection_that_the_list_names(kind: str) -> None:
    assert f"\n{kind} " in run("list").stdout
    shown = run("show", kind, "--vehicle", SCHOOL_BUS)
    steps = len(make_plan(library(), sample(SCHOOL_BUS), kind_id=kind).steps)
    assert shown.exit_code == 0
    assert f"(school-bus): {steps} steps" in shown.stdout.splitlines()[0]


def test_show_refuses_an_unknown_vehicle() -> None:
    result = run("show", "--vehicle", "spaceship")
    assert isinstance(result.exception, SetupError)
    assert FIVE_AXLE in str(result.exception)


def test_show_takes_each_name_that_the_list_prints(tmp_path: Path) -> None:
    (tmp_path / "vehicles").mkdir()
    text = (prompts_dir() / "vehicles" / f"{SCHOOL_BUS}.yaml").read_text(encoding="utf-8")
    (tmp_path / "vehicles" / "yard-nine.yaml").write_text(text, encoding="utf-8")
    listed = run("list", home=tmp_path).stdout.splitlines()[-1]
    assert listed.startswith(f"{SCHOOL_BUS}  ")
    assert "bus twenty one (bus, in yard-nine.yaml)" in listed
    for name in (SCHOOL_BUS, "bus twenty one", "Bus twenty  one", "yard-nine", "yard-nine.yaml"):
        shown = run("show", "--vehicle", name, home=tmp_path)
        assert shown.stdout.startswith("Bus, for bus twenty one"), name


def test_facts_lists_what_an_author_can_use() -> None:
    shown = run("facts").stdout
    for line in ("torque_arms*", "pump_drive ", "tread-steer, tread-other", "psi/min"):
        assert line in shown


def test_check_is_quiet_about_good_data_and_exact_about_bad(tmp_path: Path) -> None:
    good = run("check")
    assert (good.exit_code, good.stdout) == (0, "No mistakes in the shipped data.\n")
    file = tmp_path / "bus.yaml"
    text = (prompts_dir() / "routes" / "bus.yaml").read_text(encoding="utf-8")
    line = text.splitlines().index("      - student-mirrors") + 1
    file.write_text(text.replace("- student-mirrors", "- pupil-mirrors"), encoding="utf-8")
    bad = run("check", str(file))
    assert bad.exit_code == 1
    assert f'{file}:{line}: there is no item "pupil-mirrors".' in bad.stdout
    # The replaced route no longer asks for the item either, and that is said where the item is written.
    assert 'no route asks the item "student-mirrors"' in bad.stdout
    assert "2 mistakes in 1 file." in bad.stdout


def test_check_of_a_file_that_is_not_there(tmp_path: Path) -> None:
    result = run("check", str(tmp_path / "absent.yaml"))
    assert isinstance(result.exception, SetupError)  # the program ends with 2, see test_errors.py
    assert "there is no such file" in str(result.exception)


def test_check_of_a_folder_says_that_it_is_one(tmp_path: Path) -> None:
    result = run("check", str(tmp_path))
    assert str(result.exception) == f"{tmp_path} is a folder. Give the files in it."


def test_the_users_own_vehicles_and_routes_are_used(tmp_path: Path) -> None:
    (tmp_path / "prompts" / "routes").mkdir(parents=True)
    (tmp_path / "prompts" / "routes" / "quick.yaml").write_text(
        "id: quick\ntitle: Quick look\ncall: [quick look]\nfits: [bus]\nstandard: false\n"
        "sections:\n  - id: all\n    title: All\n    entries: [lean, horn-electric]\n",
        encoding="utf-8",
    )
    assert "Quick look (2 items" in run("list", home=tmp_path).stdout
    shown = run("show", "quick", home=tmp_path)
    assert "2 steps" in shown.stdout


def test_a_broken_route_or_vehicle_is_named_and_the_others_are_listed(tmp_path: Path) -> None:
    (tmp_path / "prompts" / "routes").mkdir(parents=True)
    (tmp_path / "vehicles").mkdir()
    head = "title: Own\ncall: [own look]\nfits: [bus]\nstandard: false\nsections:\n  - id: all\n    title: All\n"
    wrong, lost = (tmp_path / "prompts" / "routes" / f"{name}.yaml" for name in ("wrong", "lost"))
    wrong.write_text(f"id: wrong\n{head}    entries:\n      - item: lean\n        sied: left\n", encoding="utf-8")
    lost.write_text(f"id: lost\n{head}    entries: [no-such-item]\n", encoding="utf-8")
    bus = (prompts_dir() / "vehicles" / f"{SCHOOL_BUS}.yaml").read_text(encoding="utf-8")
    (tmp_path / "vehicles" / "bus.yaml").write_text(bus, encoding="utf-8")
    (tmp_path / "vehicles" / "half.yaml").write_text("id: half\n", encoding="utf-8")
    listed = run("list", home=tmp_path)
    assert listed.exit_code == 1
    assert "tractor-semitrailer" in listed.stdout
    assert f"{SCHOOL_BUS} " in listed.stdout
    assert "in bus.yaml" in listed.stdout
    assert f'{wrong}:11: sections.0.entries.0.sied: there is no key "sied" here. Did you mean "side"?' in listed.stderr
    assert f'{lost}:9: there is no item "no-such-item".' in listed.stderr
    assert str(tmp_path / "vehicles" / "half.yaml") in listed.stderr
    checked = run("check", home=tmp_path)
    assert checked.exit_code == 1
    assert f"{wrong}:11: " in checked.stdout
    assert checked.stdout.splitlines()[-1] == "5 mistakes in your own files."


def test_check_lays_a_file_over_the_users_own_folder(tmp_path: Path) -> None:
    """A route in a scratch folder may ask an item of the home, which lists shipped defects."""
    (tmp_path / "prompts" / "items").mkdir(parents=True)
    (tmp_path / "prompts" / "items" / "own.yaml").write_text(
        "toolbox:\n  title: Toolbox\n  call: [toolbox]\n  part: other\n  answer: condition\n"
        "  say: {terse: Toolbox., normal: Toolbox shut., full: Check that the toolbox is shut.}\n"
        "  defects: [cracked, loose]\n",
        encoding="utf-8",
    )
    route = tmp_path / "scratch.yaml"
    route.write_text(
        "id: quick\ntitle: Quick look\ncall: [quick look]\nfits: [bus]\nstandard: false\n"
        "sections:\n  - id: all\n    title: All\n    entries: [toolbox]\n",
        encoding="utf-8",
    )
    assert run("check", str(route), home=tmp_path).stdout == "No mistakes in 1 file.\n"
    assert 'no item "toolbox"' in run("check", str(route)).stdout


def test_show_asks_for_a_vehicle_where_there_are_several() -> None:
    result = run("show")
    assert isinstance(result.exception, SetupError)
    assert FIVE_AXLE in str(result.exception)
    assert SCHOOL_BUS in str(result.exception)


OWN_LIMIT = """\
layer: my-fleet
title: House rules of an invented fleet
limits:
  - id: flap-of-ours
    title: Flap height
    quantity: mud-flap-height
    must: at-most
    value: 10
    unit: in
    level: repair
    source: {section: House rule 1 of an invented fleet, known: practice}
"""


def test_an_item_may_name_a_limit_of_the_users_own(tmp_path: Path) -> None:
    items = tmp_path / "prompts" / "items"
    items.mkdir(parents=True)
    text = (prompts_dir() / "items" / "trailer.yaml").read_text(encoding="utf-8")
    (items / "trailer.yaml").write_text(text.replace("limits: [mud-flap]", "limits: [flap-of-ours]"), encoding="utf-8")
    without = run("check", "--home", str(tmp_path))
    assert without.exit_code == 1
    assert 'there is no limit "flap-of-ours"' in without.stdout
    (tmp_path / "limits").mkdir()
    (tmp_path / "limits" / "fleet.yaml").write_text(OWN_LIMIT, encoding="utf-8")
    assert "flap-of-ours" not in run("check", "--home", str(tmp_path)).stdout


@pytest.mark.parametrize(("name", "key"), [("dialogue.yaml", "intro"), ("commands.yaml", "answers")])
def test_the_users_own_wording_is_checked_too(tmp_path: Path, name: str, key: str) -> None:
    (tmp_path / "prompts").mkdir()
    (tmp_path / "prompts" / name).write_text("unclear: Come again?\n", encoding="utf-8")
    result = run("check", "--home", str(tmp_path))
    assert result.exit_code == 1
    assert f'{name}:1: {key}: the key "{key}" is missing.' in result.stdout
