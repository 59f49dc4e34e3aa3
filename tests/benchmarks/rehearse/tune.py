"""python -m tests.benchmarks.rehearse.tune FOLDER [--sections a,b] [--rounds N]

Chooses the thresholds of prompts/learn/matching.yaml on the "tune" voices: one at a time, the value with which most
key points are judged rightly. A false credit counts twice as much as a missing one. Prints what it chose; the file is
edited by hand.
"""

from __future__ import annotations

import argparse
from functools import cache
from pathlib import Path

from tests.benchmarks.rehearse.judge import Tally, summed
from tests.benchmarks.rehearse.listen import NOISES, Transcripts, speakers
from tests.benchmarks.rehearse.scripts import Student, load, students, syllabus
from tests.benchmarks.rehearse.transcribe import engine_name
from voice.rehearse.listen.credit import Examiner
from voice.rehearse.listen.match import MatchThresholds
from voice.rehearse.listen.score import Scheme
from voice.rehearse.listen.words import TokenReader

GRID: dict[str, tuple[float, ...]] = {
    "switch": (0.5, 0.7, 0.9, 1.1),
    "name": (0.66, 0.7, 0.74, 0.78),
    "point": (0.56, 0.6, 0.64, 0.7),
    "word": (0.57, 0.62, 0.67),
    "whole": (0.78, 0.82, 0.86),
    "start_bonus": (0.4, 0.7),
    "ignore": (0.25, 0.4, 0.6),
    "next_bonus": (0.15, 0.3),
    "gap": (0.03, 0.06, 0.1),
    "negation_reach": (7, 10, 14),
}
# The other kinds say the same sentences as "well"; leaving them out saves time.
KINDS = ("well", "farms", "names only", "babbles", "wrong figures")


def worth(tally: Tally) -> float:
    """Right credits less twice the false ones, and parts and figures found, as a share of what there was."""
    wanted = tally.right + tally.missing + 0.5 * tally.to_name + tally.to_find
    return (
        tally.right - 2 * tally.false + 0.5 * (tally.named - tally.not_named) + tally.figures - 2 * tally.invented
    ) / wanted


def main() -> None:
    options = argparse.ArgumentParser()
    options.add_argument("folder", type=Path)
    options.add_argument("--sections", default="")
    options.add_argument("--rounds", type=int, default=1)
    chosen = options.parse_args()
    whole, reader, scheme, now = syllabus(), TokenReader.shipped(), Scheme.shipped(), MatchThresholds.shipped()
    kept = Transcripts(chosen.folder, engine_name(now.bias_bonus))
    sections = chosen.sections.split(",") if chosen.sections else None
    made = [s for s in students(load()) if s.kind in KINDS and (sections is None or s.section in sections)]
    voices = speakers("tune")

    def tried(thresholds: MatchThresholds) -> float:
        @cache
        def examiner(section: str) -> Examiner:
            return Examiner(whole.of(section), reader, thresholds)

        total = Tally()
        for noise in NOISES:
            total.add(summed(_there(made, noise), voices, noise, kept, examiner, scheme)["all"])
        return worth(total)

    best = tried(now)
    print(f"at first: {best:.4f}", flush=True)
    for _ in range(chosen.rounds):
        for name, values in GRID.items():
            for value in values:
                if value == getattr(now, name):
                    continue
                other = now.model_copy(update={name: value})
                found = tried(other)
                if found > best + 1e-9:
                    best, now = found, other
            print(f"{name}: {getattr(now, name)}  {best:.4f}", flush=True)


def _there(made: list[Student], noise: str) -> list[Student]:
    from tests.benchmarks.rehearse.listen import ONLY_QUIET

    return [student for student in made if noise == "quiet" or student.kind not in ONLY_QUIET]


if __name__ == "__main__":
    main()
