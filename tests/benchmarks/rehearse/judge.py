"""Credits against the hand-marked truth, summed up."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from tests.benchmarks.hearing.voices import Speaker
from tests.benchmarks.rehearse.listen import Transcripts
from tests.benchmarks.rehearse.scripts import Student
from voice.rehearse.listen.credit import Examiner
from voice.rehearse.listen.score import Scheme, score


@dataclass
class Tally:
    """Key points: right, false, missing credits. names: parts named, of those that were. figures: wrong figures found,
    of all, and found where there was none. slips: parts out of order counted, and as they were. points: of the score.
    """

    kind: str = ""
    right: int = 0
    false: int = 0
    missing: int = 0
    named: int = 0
    to_name: int = 0
    not_named: int = 0
    figures: int = 0
    to_find: int = 0
    invented: int = 0
    slips: int = 0
    true_slips: int = 0
    points: float = 0
    of: float = 0
    students: int = 0

    def add(self, other: Tally) -> None:
        for key, value in vars(other).items():
            if key != "kind":
                setattr(self, key, getattr(self, key) + value)

    @property
    def precision(self) -> float:
        return self.right / (self.right + self.false) if self.right + self.false else 1.0

    @property
    def recall(self) -> float:
        return self.right / (self.right + self.missing) if self.right + self.missing else 1.0


Mistake = tuple[str, str, str, str]


def judged(
    student: Student, speaker: Speaker, noise: str, kept: Transcripts, examiner: Examiner, scheme: Scheme,
    mistakes: list[Mistake] | None = None,
) -> Tally:  # fmt: skip
    """One student by one voice."""
    said = [words for text in student.texts for words in kept.get(speaker, noise, student.section, text)]
    return compared(student, said, examiner, scheme, speaker.name, mistakes)


def compared(
    student: Student, said: Sequence[str], examiner: Examiner, scheme: Scheme, speaker: str = "",
    mistakes: list[Mistake] | None = None,
) -> Tally:  # fmt: skip
    reading = examiner.read(said)
    got = {f"{part.key}.{point}" for part in reading.parts for point in part.said}
    wrong = {f"{part.key}.{c.point}" for part in reading.parts for c in part.credits if c.said == "wrong"}
    named = {part.key for part in reading.parts if part.named is not None}
    result = score(examiner.parts, reading, scheme)
    if mistakes is not None:
        mistakes += [(speaker, student.kind, "false", each) for each in sorted(got - student.said)]
        mistakes += [(speaker, student.kind, "missing", each) for each in sorted(student.said - got)]
        mistakes += [(speaker, student.kind, "not named", each) for each in sorted(set(student.named) - named)]
        mistakes += [(speaker, student.kind, "figure", each) for each in sorted(student.wrong ^ wrong)]
    return Tally(
        student.kind,
        right=len(got & student.said),
        false=len(got - student.said),
        missing=len(student.said - got),
        named=len(named & set(student.named)),
        to_name=len(student.named),
        not_named=len(named - set(student.named)),
        figures=len(wrong & student.wrong),
        to_find=len(student.wrong),
        invented=len(wrong - student.wrong),
        slips=len(result.slips),
        true_slips=student.slips,
        points=result.points,
        of=result.of,
        students=1,
    )


def summed(
    students: Iterable[Student], speakers: Sequence[Speaker], noise: str, kept: Transcripts,
    examiner: Callable[[str], Examiner], scheme: Scheme, mistakes: list[Mistake] | None = None,
) -> dict[str, Tally]:  # fmt: skip
    """By kind of student, over all speakers and sections; "all" is the sum."""
    found: dict[str, Tally] = {}
    for student in students:
        for speaker in speakers:
            tally = judged(student, speaker, noise, kept, examiner(student.section), scheme, mistakes)
            for kind in (student.kind, "all"):
                found.setdefault(kind, Tally(kind)).add(tally)
    return found
