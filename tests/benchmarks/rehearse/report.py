"""python -m tests.benchmarks.rehearse.report FOLDER [--bonus B] [--groups held] [--mistakes N] [--json FILE]

Scores of the scripted students against the hand-marked truth, from the transcripts that transcribe.py kept.
"""

from __future__ import annotations

import argparse
import json
from collections import Counter
from functools import cache
from pathlib import Path

from tests.benchmarks.rehearse.judge import Mistake, Tally, judged, summed
from tests.benchmarks.rehearse.listen import NOISES, ONLY_QUIET, Transcripts, speakers
from tests.benchmarks.rehearse.scripts import load, students, syllabus
from tests.benchmarks.rehearse.transcribe import engine_name
from voice.rehearse.listen.credit import Examiner
from voice.rehearse.listen.match import MatchThresholds
from voice.rehearse.listen.score import Scheme
from voice.rehearse.listen.words import TokenReader


def main() -> None:
    options = argparse.ArgumentParser()
    options.add_argument("folder", type=Path)
    options.add_argument("--bonus", type=float, default=MatchThresholds.shipped().bias_bonus)
    options.add_argument("--groups", default="tune,held")
    options.add_argument("--sections", default="")
    options.add_argument("--mistakes", type=int, default=0)
    options.add_argument("--json", type=Path)
    chosen = options.parse_args()
    whole, reader, thresholds, scheme = syllabus(), TokenReader.shipped(), MatchThresholds.shipped(), Scheme.shipped()
    kept = Transcripts(chosen.folder, engine_name(chosen.bonus))
    made = [s for s in students(load()) if not chosen.sections or s.section in chosen.sections.split(",")]

    @cache
    def examiner(section: str) -> Examiner:
        return Examiner(whole.of(section), reader, thresholds)

    out: dict[str, object] = {}
    mistakes: list[Mistake] = []
    for group in chosen.groups.split(","):
        voices = speakers(group)
        for noise in NOISES:
            there = [s for s in made if noise == "quiet" or s.kind not in ONLY_QUIET]
            found = summed(there, voices, noise, kept, examiner, scheme, mistakes)
            print(f"\n### {group}, {noise} ({len(voices)} voices)\n")
            table(found)
            by_voice: dict[str, Tally] = {}
            for speaker in voices:
                total = by_voice.setdefault(speaker.name, Tally(speaker.name))
                for student in there:
                    total.add(judged(student, speaker, noise, kept, examiner(student.section), scheme))
            print("\nBy voice: " + "; ".join(f"{n} {t.precision:.3f} / {t.recall:.3f}" for n, t in by_voice.items()))
            out[f"{group}, {noise}"] = {kind: vars(tally) for kind, tally in found.items()}
    if chosen.mistakes:
        for (_, kind, what, point), count in Counter(("", *m[1:]) for m in mistakes).most_common(chosen.mistakes):
            print(f"{count:4} {what:10} {point:40} {kind}")
    if chosen.json:
        chosen.json.write_text(json.dumps(out, indent=1))


def table(found: dict[str, Tally]) -> None:
    print("| student | precision | recall | parts named | wrong figures found | order slips (true) | score |")
    print("|---|---|---|---|---|---|---|")
    for kind, t in found.items():
        figures = f"{t.figures}/{t.to_find}" + (f" (+{t.invented})" if t.invented else "")
        print(
            f"| {kind} | {t.precision:.3f} ({t.right}/{t.right + t.false}) | {t.recall:.3f} ({t.right}/"
            f"{t.right + t.missing}) | {t.named}/{t.to_name}" + (f" (+{t.not_named})" if t.not_named else "")
            + f" | {figures} | {t.slips} ({t.true_slips}) | {t.points:g}/{t.of:g} |"
        )  # fmt: skip


if __name__ == "__main__":
    main()
