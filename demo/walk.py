"""The demo: a whole inspection by voice on real audio, killed in the middle, resumed, and compared with the intent.

The assistant speaks with a real synthesizer; the scripted driver's answers are synthetic speech in engine noise, and
go through endpointing and recognition like a person's. Run by demo/run.sh.
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import signal
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

from voice.journal import folder as session
from voice.journal import journal
from voice.journal.folder import Session
from voice.journal.journal import JournalFile
from voice.record.load import load_record
from voice.session.resources import open_resources
from voice.session.script import load_script
from voice.session.scripted import ScriptedDriver
from voice.sound.recording import AudioClock
from voice.walk.event import Doubted, Resumed, Silence, Unclear

HERE = Path(__file__).resolve().parent


def main() -> int:
    options = parse()
    home: Path = options.home.resolve()
    if home.exists():
        shutil.rmtree(home)
    shutil.copytree(HERE / "fleet", home / "vehicles")
    (home / "drivers.yaml").write_text("- Rosa Quill\n")
    started = time.monotonic()
    kill_at = options.kill_at or random.Random(options.seed).randint(60, 150)
    print(f"1. A walk of {home.name}: everything is asked by voice. It is killed (kill -9) at answer {kill_at}.\n")
    first = start(["walk"], home, options)
    reached = watch(first, home, kill_at)
    if not reached:
        print("The walk ended before it could be killed.", file=sys.stderr)
        return first.wait() or 1
    os.kill(first.pid, signal.SIGKILL)
    first.wait()
    found = next(session.open_sessions(home))
    before = len(journal.read(found.journal).lines)
    print(f"\n2. Killed: {before} events are on the disk. It is started again and goes on by itself.\n")
    second = start(["resume"], home, options)
    if code := second.wait():
        return code
    print(f"\n3. The record against what the driver meant ({time.monotonic() - started:.0f} s in all).\n")
    return compare(home, found, options.script)


def parse() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--home", type=Path, default=HERE.parent / "out" / "demo", help="folder for what it writes")
    parser.add_argument("--script", type=Path, default=HERE / "driver.yaml", help="the scripted driver")
    parser.add_argument("--kill-at", type=int, default=0, help="number of answers before the kill; 0: a random one")
    parser.add_argument("--seed", type=int, default=None, help="for the random moment of the kill")
    parser.add_argument("--real-time", action="store_true", help="at the speed of speech (about half an hour)")
    return parser.parse_args()


def start(command: list[str], home: Path, options: argparse.Namespace) -> subprocess.Popen[bytes]:
    full = [sys.executable, "-m", "voice", *command, "--home", str(home), "--script", str(options.script), "--plain"]
    if options.real_time:
        full.append("--real-time")
    return subprocess.Popen(full)


def watch(process: subprocess.Popen[bytes], home: Path, answers: int) -> bool:
    """Waits until the journal has that many events; False if the process ended first."""
    while process.poll() is None:
        path = next((s.journal for s in session.sessions(home)), None)
        if path is not None and path.exists() and path.read_bytes().count(b"\n") > answers:
            return True
        time.sleep(0.02)
    return False


def compare(home: Path, found: Session, script: Path) -> int:
    """Item by item; prints the differences. 0 if there are none."""
    resources = open_resources(home)
    plan, limits = session.load_snapshot(found)
    file = journal.read(found.journal)
    context = resources.context(plan, limits, file.heading.drivers)
    state = session.replay(context, file)
    driver = ScriptedDriver(load_script(script), AudioClock())
    driver.meet(context)
    wrong = 0
    for step in plan.steps:
        answer = state.answers.get(step.id)
        got = "no answer" if answer is None else driver.intended.differs(answer)
        if got:
            wrong += 1
            print(f"  {step.name}: meant {' '.join(driver.intended.meant(step))}, recorded {got}")
    record = load_record(found.record)
    events = Counter(type(line.event) for line in file.lines)
    answers = list(state.answers.values())
    print(f"{len(plan.steps) - wrong} of {len(plan.steps)} items as meant, {wrong} different.")
    signer = record.sign_off.name if record.sign_off else "nobody"
    changed = sum(1 for answer in answers if answer.corrected)
    print(f"{events[Resumed]} resume; {len(file.lines)} events; signed by {signer}.")
    print(
        f"Asked again: {events[Unclear]} not understood, {events[Silence]} not heard, "
        f"{events[Doubted]} confirmed after 'did you say'; {changed} answers were changed by the driver."
    )
    for sentence in record.summary.text:
        print(f"  {sentence}")
    print(f"\nrecord: {found.record}\nreport: {found.report}\njournal: {found.journal}")
    return 1 if wrong or unsigned(file, record.sign_off is not None) else 0


def unsigned(file: JournalFile, signed: bool) -> bool:
    if not signed:
        print(f"{file.path}: the inspection was not signed.", file=sys.stderr)
    return not signed


if __name__ == "__main__":
    sys.exit(main())
