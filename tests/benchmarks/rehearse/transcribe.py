"""python -m tests.benchmarks.rehearse.transcribe FOLDER [--bonus B] [--groups tune,held] [--sections a,b]

The slow part: every sentence by every voice, quiet and in noise, transcribed and kept in FOLDER.
"""

from __future__ import annotations

import argparse
from functools import cache, partial
from pathlib import Path

from tests.benchmarks.rehearse.listen import NOISES, ONLY_QUIET, Transcripts, speakers
from tests.benchmarks.rehearse.scripts import load, students, syllabus
from voice.models.engines import model_folder
from voice.rehearse.listen.biased import BiasedMoonshine, expected
from voice.rehearse.listen.match import MatchThresholds
from voice.rehearse.listen.words import TokenReader


def engine_name(bonus: float) -> str:
    return f"biased-{bonus:g}"


def main() -> None:
    options = argparse.ArgumentParser()
    options.add_argument("folder", type=Path)
    options.add_argument("--bonus", type=float, default=MatchThresholds.shipped().bias_bonus)
    options.add_argument("--groups", default="tune,held")
    options.add_argument("--sections", default="")
    chosen = options.parse_args()
    made, whole, reader = students(load()), syllabus(), TokenReader.shipped()
    kept = Transcripts(chosen.folder, engine_name(chosen.bonus))

    @cache
    def engine(section: str) -> BiasedMoonshine:
        phrases, branches = expected(whole.of(section), reader), MatchThresholds.shipped().bias_beam
        return BiasedMoonshine(model_folder("moonshine-tiny-en"), phrases, chosen.bonus, branches=branches)

    for section in chosen.sections.split(",") if chosen.sections else dict.fromkeys(s.section for s in made):
        here = [student for student in made if student.section == section]
        for group in chosen.groups.split(","):
            for speaker in speakers(group):
                for noise in NOISES:
                    wanted = [s for s in here if noise == "quiet" or s.kind not in ONLY_QUIET]
                    texts = [text for student in wanted for text in student.texts]
                    kept.fill(speaker, noise, section, texts, partial(engine, section))
                    print(section, speaker.name, noise, flush=True)
        engine.cache_clear()


if __name__ == "__main__":
    main()
