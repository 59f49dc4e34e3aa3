"""Measures hearing. Resumable: run it again with the same folder and it goes on.

    python -m tests.benchmarks.hearing --audio FOLDER [--quick] [--group held] [--work FOLDER] [--share 1/2]

--audio: a folder with an index.csv (path, source, kind, text, speaker) of recorded speech and noise, laid out as in
RESULTS.md; $GLADHAND_AUDIO or ../shared/audio if not given. --work: where speech made by synthesizers and the rows
are kept (default: a folder in the system's temporary place). --share 1/2: only every second trial, starting with the
first; so two processes can do the halves. --quick: about a hundred trials. --limit: at most so many trials.
"""

from __future__ import annotations

import argparse
import json
import os
import tempfile
from pathlib import Path

from tests.benchmarks.hearing.collect import collect
from tests.benchmarks.hearing.report import load_rows, plot, report, summary
from tests.benchmarks.hearing.trials import speakers, trials
from tests.benchmarks.hearing.voices import SPEAKERS, Clips, available


def main() -> None:
    parser = argparse.ArgumentParser(description="Measures how well the driver is heard.")
    parser.add_argument("--audio", type=Path, default=Path(os.environ.get("GLADHAND_AUDIO", "../shared/audio")))
    parser.add_argument("--work", type=Path, default=Path(tempfile.gettempdir()) / "gladhand-hearing")
    parser.add_argument("--group", choices=("tune", "held"), default="held")
    parser.add_argument("--share", default="1/1")
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--limit", type=int, default=2500)
    parser.add_argument("--report-only", action="store_true")
    chosen = parser.parse_args()
    if not (chosen.audio / "index.csv").is_file():
        parser.error(f"no index.csv in {chosen.audio}; give --audio a folder laid out as RESULTS.md says")
    chosen.work.mkdir(parents=True, exist_ok=True)
    missing = [speaker.name for speaker in SPEAKERS if speaker.group == chosen.group and not available(speaker)]
    print("speakers:", ", ".join(one.name for one in speakers(chosen.group)))
    print("left out (not installed):", ", ".join(missing) or "none")
    part, parts = (int(number) for number in chosen.share.split("/"))
    everything = trials(chosen.group, chosen.audio)
    count = 110 if chosen.quick else chosen.limit
    rows_file = chosen.work / f"{chosen.group}-{part}-of-{parts}.jsonl"
    if not chosen.report_only:
        todo = everything[:count][part - 1 :: parts]
        print(f"{len(todo)} trials of {len(everything)}")
        collect(todo, rows_file, chosen.audio, Clips(chosen.work / "clips"))
    rows = load_rows(sorted(chosen.work.glob(f"{chosen.group}-*.jsonl")))
    text = report(rows)
    print(text)
    (chosen.work / f"{chosen.group}.md").write_text(text)
    (chosen.work / f"{chosen.group}.json").write_text(json.dumps(summary(rows), indent=1) + "\n")
    plot(rows, chosen.work / f"{chosen.group}.png")
    print("written:", ", ".join(str(chosen.work / f"{chosen.group}.{end}") for end in ("md", "json", "png")))


if __name__ == "__main__":
    main()
