"""Seconds from the command to the first prompt, and the most memory of a walk: python -m tests.benchmarks.start

The first event is on the disk just before the first prompt is spoken; its appearance is what is timed. The walk is the
demo's, with the engines that come in wheels, stopped after SECONDS (default 20).
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from voice.journal import folder as session

ROOT = Path(__file__).resolve().parents[2]
VEHICLE = "tractor-12-trailer-40"


def run(home: Path, seconds: float) -> tuple[float, float]:
    """Seconds to the first prompt, and the peak of resident memory in MB after `seconds` of walking."""
    command = [sys.executable, "-m", "voice", "walk", "--plain", "--vehicle", VEHICLE, "--home", str(home)]
    begun = time.monotonic()
    with subprocess.Popen(
        [*command, "--script", str(ROOT / "demo" / "driver.yaml")], stdout=subprocess.DEVNULL
    ) as process:
        while True:
            found = next(session.sessions(home), None)
            if found is not None and found.journal.exists() and found.journal.read_bytes().count(b"\n") > 1:
                break
            if process.poll() is not None:
                sys.exit("the walk did not start")
            time.sleep(0.005)
        first = time.monotonic() - begun
        time.sleep(seconds)
        status = Path(f"/proc/{process.pid}/status").read_text()
        process.kill()
    peak = next(line for line in status.splitlines() if line.startswith("VmHWM"))
    return first, int(peak.split()[1]) / 1024


def main() -> None:
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 20.0
    for number in range(5):
        with tempfile.TemporaryDirectory() as folder:
            home = Path(folder)
            shutil.copytree(ROOT / "demo" / "fleet", home / "vehicles")
            first, peak = run(home, seconds if number == 4 else 0.0)
        print(f"run {number + 1}: first prompt after {first:.2f} s, peak memory {peak:.0f} MB")


if __name__ == "__main__":
    main()
