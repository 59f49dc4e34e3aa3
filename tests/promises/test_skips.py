"""In CI a skip fails the run unless its reason is on the list; elsewhere it is only shown."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.skips import ALLOWED, refused

ROOT = Path(__file__).resolve().parents[2]
SKIPPED = {
    "in_a_test": 'import pytest\n\ndef test_it():\n    pytest.skip("the moon is not full")\n',
    "by_a_mark": 'import pytest\n\n@pytest.mark.skip(reason="the moon is not full")\ndef test_it(): pass\n',
    "a_module": 'import pytest\npytest.importorskip("no_such_module", reason="the moon is not full")\n',
    "allowed": 'import pytest\n\ndef test_it():\n    pytest.skip("no folder of recorded audio")\n',
    "expected": "import pytest\n\n@pytest.mark.xfail\ndef test_it(): assert False\n",
}


def run(folder: Path, text: str, ci: str) -> subprocess.CompletedProcess[str]:
    (folder / "test_it.py").write_text(f"{text}\n\ndef test_other(): pass\n")
    env = os.environ | {"CI": ci, "PYTHONPATH": str(ROOT)}
    command = [sys.executable, "-m", "pytest", "-q", "-p", "tests.skips", "-p", "no:cacheprovider", "test_it.py"]
    return subprocess.run(command, cwd=folder, env=env, capture_output=True, text=True, check=False)


@pytest.mark.parametrize("how", SKIPPED)
def test_in_ci_a_skip_fails_the_run_unless_it_is_on_the_list(tmp_path: Path, how: str) -> None:
    done = run(tmp_path, SKIPPED[how], "true")
    if how in ("allowed", "expected"):
        assert done.returncode == 0, done.stdout
    else:
        assert done.returncode == 1, done.stdout
        assert "1 skipped in CI, as test_it.py" in done.stdout
        assert "because: the moon is not full" in done.stdout


def test_elsewhere_it_does_not(tmp_path: Path) -> None:
    assert run(tmp_path, SKIPPED["in_a_test"], "").returncode == 0


def test_every_reason_on_the_list_is_given_by_some_test() -> None:
    """Else it would stay there when its test has gone."""
    source = "\n".join(
        path.read_text(encoding="utf-8") for path in (ROOT / "tests").rglob("*.py") if path.name != "skips.py"
    )
    given = re.findall(r"(?:skip\(|reason=)f?\"([^\"]+)\"", source)
    for each in ALLOWED:
        assert any(re.match(f"({each.reason})", reason) for reason in given), each.reason
    assert refused("espeak-ng is not installed")
    assert refused("PostgreSQL is not installed (apt install postgresql)")
