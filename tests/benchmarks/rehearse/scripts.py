"""Scripted students, made of the hand-marked sentences in students.yaml: what each says and what should come out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from voice.data.folders import prompts_dir
from voice.data.reader import parse, read_yaml
from voice.data.strict import Strict
from voice.judge import load_limits
from voice.rehearse.listen.part import Syllabus
from voice.rehearse.listen.syllabus import make_syllabus
from voice.route import load_library, load_vehicle, make_plan

HERE = Path(__file__).parent


class Wrong(Strict):
    say: str
    said: tuple[str, ...]
    wrong: tuple[str, ...]


class Sentence(Strict):
    part: str
    say: str
    said: tuple[str, ...]
    farm: tuple[str, ...]
    wrong: Wrong | None = None

    @property
    def name(self) -> str:
        return self.say.split(".")[0] + "."


class StudentsFile(Strict):
    farming: str
    babble: tuple[str, ...]
    sections: Mapping[str, tuple[Sentence, ...]]


@dataclass(frozen=True)
class Student:
    """kind: what they do. texts: utterances in order. said, wrong: part.point by hand. named: parts in the order
    named. slips: how many parts are out of order."""

    kind: str
    section: str
    texts: tuple[str, ...]
    said: frozenset[str]
    named: tuple[str, ...]
    wrong: frozenset[str] = field(default_factory=frozenset)
    slips: int = 0


def syllabus() -> Syllabus:
    """The recital that the sentences were written for: the shipped example of a tractor and semitrailer."""
    vehicle = load_vehicle(prompts_dir() / "vehicles" / "tractor-trailer-five-axle.yaml")
    return make_syllabus(make_plan(load_library(), vehicle), load_limits())


def load() -> StudentsFile:
    path = HERE / "students.yaml"
    return parse(StudentsFile, read_yaml(path), path)


def students(file: StudentsFile) -> list[Student]:
    """Every student of every section."""
    made: list[Student] = []
    for section, all_ in file.sections.items():
        skipped = [each for at, each in enumerate(all_) if at not in _skips(len(all_))]
        swapped = list(all_)
        swapped[1], swapped[2] = swapped[2], swapped[1]
        swapped[-3], swapped[-2] = swapped[-2], swapped[-3]
        made += [
            _reciting("well", section, all_),
            _reciting("skips five", section, skipped),
            _reciting("swaps two pairs", section, swapped, slips=2),
            _reciting("backwards", section, list(reversed(all_)), slips=len(all_) - 1),
            Student("names only", section, tuple(e.name for e in all_), frozenset(), tuple(e.part for e in all_)),
            Student(
                "farms",
                section,
                tuple(f"{each.name} {file.farming}" for each in all_),
                frozenset(f"{each.part}.{point}" for each in all_ for point in each.farm),
                tuple(each.part for each in all_),
            ),
            Student("babbles", section, file.babble, frozenset(), ()),
        ]
        if any(each.wrong for each in all_):
            made.append(
                Student(
                    "wrong figures",
                    section,
                    tuple(each.wrong.say if each.wrong else each.say for each in all_),
                    frozenset(f"{e.part}.{p}" for e in all_ for p in (e.wrong.said if e.wrong else e.said)),
                    tuple(each.part for each in all_),
                    frozenset(f"{e.part}.{p}" for e in all_ if e.wrong for p in e.wrong.wrong),
                )
            )
    return made


def _reciting(kind: str, section: str, sentences: Sequence[Sentence], slips: int = 0) -> Student:
    return Student(
        kind,
        section,
        tuple(each.say for each in sentences),
        frozenset(f"{each.part}.{point}" for each in sentences for point in each.said),
        tuple(each.part for each in sentences),
        slips=slips,
    )


def _skips(count: int) -> set[int]:
    """Five places spread over the section."""
    return {round(count * share) for share in (0.1, 0.3, 0.45, 0.6, 0.8)}
