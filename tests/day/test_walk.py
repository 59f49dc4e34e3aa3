"""Short walks as the command walks them: whose limits hold is said and recorded; a load is asked by what carries it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from demo.whole_day import HERE, Play
from tests.day.perfect import walk
from voice.data.reader import read_yaml

DAY = read_yaml(HERE / "day.yaml")
STOP = {"kind": "en-route", "driver": "Rosa Quill", "odometer": "412048"}


@pytest.fixture
def play(tmp_path: Path) -> Play:
    made = Play(tmp_path / "home", [])
    made.lay_out()
    return made


def stop(monkeypatch: pytest.MonkeyPatch, play: Play, trailer: str, steps: list[dict[str, Any]], **more: Any) -> Any:
    act = {**STOP, "vehicle": f"tractor-twelve+{trailer}", "steps": steps}
    return walk(monkeypatch, play.home, act, play.script(1, act, DAY["drivers"]), **more)


def test_the_limits_of_a_walk_are_said_first_and_recorded(monkeypatch: pytest.MonkeyPatch, play: Play) -> None:
    said, left = stop(monkeypatch, play, "trailer-forty", [], layers=("california",))
    first = next(text for text in said.log if "En-route check" in text)
    assert first.startswith("By the limits of California. En-route check: tractor twelve with trailer forty.")
    assert [(layer.layer, layer.call) for layer in left.record.limits] == [
        ("us-federal", ""),
        ("california", "California"),
    ]


def test_too_few_tie_downs_are_a_defect_of_the_record_with_their_rule(
    monkeypatch: pytest.MonkeyPatch, play: Play
) -> None:
    """Forty feet of cargo take five (49 CFR 393.110(b)): two for the first ten, and one for each ten more."""
    figures = {"weight": "thirty eight thousand pounds", "number": "four", "rating": "five thousand pounds"}
    said, left = stop(monkeypatch, play, "trailer-fifty-one", [{"step": "tie-down-count", "follow": figures}])
    assert any("Too few tie-downs: four of at least five" in text for text in said.log)
    (defect,) = left.record.defects
    assert (defect.key, defect.level) == ("tie-down-count#beyond-tie-downs", "halt")
    assert defect.finding is not None
    assert defect.finding.source == "49 CFR 393.110(b)"
    assert any("at least five" in sentence for sentence in left.record.summary.text)
