"""A whole working day on real audio: faults, a repair, a stop on the way, another trailer, a second driver.

The drivers are scripted (demo/day/day.yaml): what they say is synthetic speech in engine noise, recognized like a
person's. Two walks are killed (kill -9) and resumed. At the end each walk is compared with what was meant, and the
record of the day with what the day was. Run by demo/day.sh.
"""

from __future__ import annotations

import argparse
import io
import json
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

from ruamel.yaml import YAML

from demo.walk import compare
from voice.data.folders import prompts_dir
from voice.data.reader import read_yaml
from voice.day.files import load_day
from voice.day.model import DayRecord
from voice.journal import folder as session
from voice.journal import journal

HERE = Path(__file__).resolve().parent / "day"
MECHANIC = "Ada Finch"


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    out = HERE.parent.parent / "out" / "day"
    parser.add_argument("--home", type=Path, default=out, help="folder for what it writes")
    parser.add_argument("--real-time", action="store_true", help="at the speed of speech")
    options = parser.parse_args()
    home: Path = options.home.resolve()
    play = Play(home, ["--real-time"] if options.real_time else [])
    started = time.monotonic()
    play.lay_out()
    day = read_yaml(HERE / "day.yaml")
    wrong = sum(play.act(number, act, day["drivers"]) for number, act in enumerate(day["acts"], start=1))
    print(f"\nThe day ({time.monotonic() - started:.0f} s in all).\n", flush=True)
    play.gladhand("day", "--vehicle", day["unit"])
    play.gladhand("day", "export", "--vehicle", day["unit"], "--out", str(home / "day"))
    file = next((home / "day").glob("*.json"))
    play.gladhand("verify", str(file))
    wrong += compare_day(load_day(file), day["wanted"])
    print(f"\n{wrong} different from what was meant." if wrong else "\nThe day is as it was meant.")
    return 1 if wrong else 0


class Play:
    """Plays the walks of a day in a home."""

    def __init__(self, home: Path, more: list[str]) -> None:
        self.home, self.more = home, more

    def lay_out(self) -> None:
        """An empty home with the vehicles, the drivers and the short routes."""
        if self.home.exists():
            shutil.rmtree(self.home)
        vehicles = self.home / "vehicles"
        vehicles.mkdir(parents=True)
        for name in ("tractor-twelve", "trailer-forty", "trailer-fifty-one"):
            shutil.copy(prompts_dir() / "vehicles" / f"{name}.yaml", vehicles)
        other = (vehicles / "tractor-twelve.yaml").read_text()
        other = other.replace("tractor-twelve", "tractor-nine").replace("tractor twelve", "tractor nine")
        (vehicles / "tractor-nine.yaml").write_text(other)
        shutil.copytree(HERE / "prompts", self.home / "prompts")
        (self.home / "drivers.yaml").write_text("- Rosa Quill\n- Ned Marsh\n")

    def gladhand(self, *words: str) -> None:
        """A command; the day ends with what it says if it fails."""
        subprocess.run([sys.executable, "-m", "voice", *words, "--home", str(self.home)], check=True)

    def start(self, *words: str) -> subprocess.Popen[bytes]:
        command = [sys.executable, "-m", "voice", *words, "--home", str(self.home), "--plain", *self.more]
        return subprocess.Popen(command)

    def act(self, number: int, act: dict[str, Any], drivers: dict[str, Any]) -> int:
        """One walk, and what comes after it. 1 if it is not as it was meant."""
        title = f"{number}. {act['driver']}: {act['kind']} of {act['vehicle']}"
        print(f"\n{title}{', killed on the way' if 'kill' in act else ''}\n", flush=True)
        script = self.script(number, act, drivers)
        before = {found.id for found in session.sessions(self.home)}
        process = self.start(
            "walk", "--new", "--vehicle", act["vehicle"], "--kind", act["kind"], "--driver", act["driver"],
            "--odometer", act["odometer"], "--depth", "each-part", "--script", str(script),
        )  # fmt: skip
        if "kill" in act:
            if not self.reached(process, before, act["kill"]):
                print("The walk ended before it could be killed.", file=sys.stderr)
                return 1
            os.kill(process.pid, signal.SIGKILL)
            process.wait()
            kept = len(journal.read(next(session.open_sessions(self.home)).journal).lines)
            print(f"\nKilled: {kept} events are on the disk. It goes on.\n", flush=True)
            process = self.start("resume", "--script", str(script))
        if process.wait():
            return 1
        found = next(each for each in session.sessions(self.home) if each.id not in before)
        wrong = compare(self.home, found, script)
        for key in act.get("certify", ()):
            self.gladhand("repairs", "certify", key, "--verdict", "repaired", "--name", MECHANIC)
        if "duty" in act:
            self.gladhand("day", "duty", act["duty"], "--driver", act["driver"], "--odometer", act["odometer"])
        return wrong

    def reached(self, process: subprocess.Popen[bytes], before: set[str], events: int) -> bool:
        """Waits until the new walk's journal has so many events; False if it ended first."""
        while process.poll() is None:
            paths = [each.journal for each in session.sessions(self.home) if each.id not in before]
            if any(path.exists() and path.read_bytes().count(b"\n") > events for path in paths):
                return True
            time.sleep(0.02)
        return False

    def script(self, number: int, act: dict[str, Any], drivers: dict[str, Any]) -> Path:
        """The driver's script of one walk, as a file."""
        content = {"name": act["driver"], **drivers[act["driver"]]}
        content |= {"steps": list(act.get("steps", ())), "choices": dict(act.get("choices", {}))}
        text = io.StringIO()
        YAML(typ="safe").dump(content, text)
        file = self.home / "scripts" / f"{number}-{act['kind']}.yaml"
        file.parent.mkdir(exist_ok=True)
        file.write_text(text.getvalue())
        return file


def compare_day(record: DayRecord, wanted: dict[str, Any]) -> int:
    """What the record of the day says otherwise than was meant; prints it, and says how many."""
    kinds = {each.record: each.kind for each in record.inspections}
    found: dict[str, list[Any]] = {
        "kinds": list(kinds.values()),
        "drivers": list(record.drivers),
        "units": [unit.id for unit in record.units],
        "checks": [check.verdict for check in record.checks],
        "defects": [[d.unit, d.key, "certified" if d.certification else "open"] for d in record.defects],
        "carried": [[each.unit, each.key, each.answer, kinds[each.record]] for each in record.carried],
    }
    wrong = 0
    for name, meant in wanted.items():
        same = sorted(map(json.dumps, found[name])) == sorted(map(json.dumps, meant))
        print(f"  {name}: {'as meant' if same else f'meant {meant}, recorded {found[name]}'}")
        wrong += not same
    return wrong


if __name__ == "__main__":
    sys.exit(main())
