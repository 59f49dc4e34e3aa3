"""What is learnt of a question's phrases on noise alone: ahead of time, in batches, kept from one run to the next."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.hear.spoken import CONDITION, say, scene
from voice.hear.whisper import Whisper

PHRASES = ["okay", "not okay", "four thirty seconds", "four and a half", "twenty", "twenty five psi"]


@pytest.fixture
def fresh() -> Whisper:
    return Whisper()


def nodes(engine: Whisper, phrases: list[str]) -> dict[tuple[int, ...], dict[int, float]]:
    waiting, found = [engine._tree(tuple(phrases)).root], {}
    while waiting:
        node = waiting.pop()
        row = engine._priors[node.prefix]
        found[node.prefix] = {token: row[token] for token in (*node.children, engine.vocabulary.end)}
        waiting += node.children.values()
    return found


def test_learnt_ahead_is_what_is_learnt_on_the_way(fresh: Whisper) -> None:
    fresh.warm(PHRASES)
    ahead = nodes(fresh, PHRASES)
    fresh._priors.clear()
    tree, level = fresh._tree(tuple(PHRASES)), [fresh._tree(tuple(PHRASES)).root]
    assert len(ahead) > len(tree.phrases)
    while level:
        fresh._prior_rows(level)
        level = [child for node in level for child in node.children.values()]
    for prefix, row in nodes(fresh, PHRASES).items():
        assert row == pytest.approx(ahead[prefix], abs=1e-3)


def test_learnt_ahead_changes_no_score(fresh: Whisper, whisper: Whisper) -> None:
    fresh.warm(list(CONDITION.meanings))
    audio = scene(0.3, say("cracked"), 0.4)
    ours = fresh.judge(audio, list(CONDITION.meanings)).scores
    theirs = whisper.judge(audio, list(CONDITION.meanings)).scores
    assert ours.keys() == theirs.keys()
    assert ours == pytest.approx(theirs, abs=1e-3)


def test_kept_from_one_run_to_the_next(fresh: Whisper, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    fresh.remember(tmp_path / "cache")
    fresh.warm(PHRASES)
    fresh.keep()
    again = Whisper()
    again.remember(tmp_path / "cache")
    assert nodes(again, PHRASES) == {
        prefix: pytest.approx(row, abs=1e-4) for prefix, row in nodes(fresh, PHRASES).items()
    }
    monkeypatch.setattr(again, "_run", None)  # nothing is worked out again
    again.warm(PHRASES)
    again.keep()
    assert len(list((tmp_path / "cache").iterdir())) == 1


@pytest.mark.parametrize("content", [b"", b"[]", b'{"1 2": 3}', b'{"x": {}}', b"\xff\x00"])
def test_a_broken_file_counts_as_none(fresh: Whisper, tmp_path: Path, content: bytes) -> None:
    fresh.remember(tmp_path)
    fresh.warm(["okay"])
    fresh.keep()
    (kept,) = tmp_path.iterdir()
    kept.write_bytes(content)
    again = Whisper()
    again.remember(tmp_path)
    assert again._priors == {}
    again.warm(["okay"])
    again.keep()
    assert kept.read_bytes() != content


def test_a_place_that_cannot_be_written_is_no_error(fresh: Whisper, tmp_path: Path) -> None:
    (tmp_path / "cache").write_text("a file, not a folder")
    fresh.remember(tmp_path / "cache")
    fresh.warm(["okay"])
    fresh.keep()
    assert (tmp_path / "cache").read_text() == "a file, not a folder"
