"""A small share of every attack, each time the tests run; `python -m tests.attack` runs as many as you like."""

from __future__ import annotations

import pytest

from tests.attack.run import Tally, attack, load, names


@pytest.mark.parametrize("name", names())
def test_a_share_of_the_cases_holds(name: str) -> None:
    tally = attack(Tally(name, seed=0), load(name).SHARE)
    assert tally.failures == []
