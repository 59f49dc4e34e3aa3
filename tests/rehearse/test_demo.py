"""The school's demo: an invented class over 200 invented rehearsals, its table, page and CSV."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def test_the_demo_of_the_class_runs(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, str(ROOT / "demo" / "learn_demo.py"), str(tmp_path)],
        capture_output=True, text=True, check=False, cwd=ROOT,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    page = (tmp_path / "progress.html").read_text()
    assert "<svg" in page
    rows = (tmp_path / "progress.csv").read_text().splitlines()
    assert len(rows) >= 201  # a heading and at least a line a session
