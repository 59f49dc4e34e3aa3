"""Limits chosen for a unit or a walk: which files hold, what is said of them, and how a wrong name is refused."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from tests.walk.talkative import Talk, context
from voice.author.check import check_vehicle
from voice.data.folders import prompts_dir
from voice.errors import SetupError
from voice.judge.load import example_layers, layer_files, limit_files, load_limits, shipped_limits
from voice.route import load_vehicle
from voice.route.units import combine
from voice.session.chosen import limits_for, measured
from voice.walk.event import Resumed

VEHICLES = prompts_dir() / "vehicles"


def test_a_name_that_there_is_not_is_refused_in_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(SetupError, match=r"There are no limits called 'texas'\. There are: california"):
        layer_files(tmp_path, ["texas"])


def test_a_layer_that_holds_always_is_not_taken_twice(tmp_path: Path) -> None:
    assert layer_files(tmp_path, ["california", "california"]) == (example_layers()["california"],)
    (tmp_path / "limits").mkdir()
    shutil.copy(example_layers()["california"], tmp_path / "limits")
    assert layer_files(tmp_path, ["california"]) == ()


def test_limits_of_ones_own_can_be_named_in_a_profile(tmp_path: Path) -> None:
    (tmp_path / "limits").mkdir()
    shutil.copy(example_layers()["quebec"], tmp_path / "limits" / "texas.yaml")
    file = tmp_path / "tractor.yaml"
    file.write_text((VEHICLES / "tractor-twelve.yaml").read_text() + "layers: [texas, us-federal]\n")
    (fault,) = check_vehicle(file, load_limits(limit_files(tmp_path)))
    assert f"{file}:" in str(fault)
    assert 'no limits called "us-federal"' in str(fault)  # it holds always


def test_the_units_layers_come_first_and_the_walks_after(tmp_path: Path) -> None:
    tractor = load_vehicle(VEHICLES / "tractor-twelve.yaml").model_copy(update={"layers": ("california",)})
    trailer = load_vehicle(VEHICLES / "trailer-forty.yaml").model_copy(update={"layers": ("quebec", "california")})
    rig = combine(tractor, trailer)
    found = limits_for(tmp_path, rig, ["strict-fleet"], ())
    assert [layer.layer for layer in found.layers] == ["us-federal", "california", "quebec", "strict-fleet"]


@pytest.mark.parametrize(
    ("names", "metric", "said"),
    [
        ((), False, "Inspection"),
        (("california",), False, "By the limits of California."),
        (("california", "quebec"), True, "By the limits of California, Quebec. In metric units."),
    ],
)
def test_it_is_said_when_a_walk_begins_and_when_it_goes_on(names: tuple[str, ...], metric: bool, said: str) -> None:
    base = context(only=("horn-air",))
    plan = base.plan.model_copy(update={"vehicle": measured(base.plan.vehicle, metric)})
    limits = load_limits((shipped_limits(), *(example_layers()[name] for name in names)))
    talk = Talk(replace(base, plan=plan, limits=limits))
    if said == "Inspection":
        assert "limits" not in talk.heard
        return
    assert talk.heard.startswith(said)
    talk.send(Resumed(5.0))
    assert talk.heard.startswith(said)
