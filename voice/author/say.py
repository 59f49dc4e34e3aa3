"""What a sentence would mean if it were said to an item, and why: for authors, without audio.

It is looked up as in a walk: the rows of voice/walk/table.py make the phrases, and the same look-up reads the text.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from rapidfuzz import fuzz, process

from voice.author.chart import summary
from voice.data.folders import prompts_dir
from voice.data.reader import line_of
from voice.errors import SetupError
from voice.judge import LimitSet
from voice.judge.wording import level_words
from voice.route import Library, make_plan
from voice.route.answer import Call, Climb, Hold, Measurement
from voice.route.kinds import kinds_for
from voice.route.model import Plan, Step
from voice.route.vehicle import Vehicle
from voice.understand.change import closest_name
from voice.understand.gist import asked_back
from voice.understand.goodwords import good_words
from voice.understand.interpret import interpret, plain
from voice.understand.lexicon import Lexicon, layered
from voice.understand.meaning import Chosen, Command, Defect, Either, Meaning, Number, Ok, Pair, Words, describe
from voice.understand.phrases import FIXED, Phrasebook
from voice.understand.question import Question
from voice.walk import table
from voice.walk.context import Context
from voice.walk.prompts import confirmed_quantity
from voice.walk.row import Row
from voice.walk.state import Draft, Stage, State
from voice.walk.talk import load_talk

NEAREST = 3  # phrases that are named where none fits
ALIKE = 60.0  # rapidfuzz's ratio, 0..100, below which a phrase is not near at all; chosen by trying, no source

_TIMED: dict[type, tuple[Stage, ...]] = {
    Hold: (Stage.READY, Stage.GAUGE, Stage.BEGIN, Stage.QUIET, Stage.END),
    Climb: (Stage.READY, Stage.FIRST, Stage.SECOND),
    Call: (Stage.READY, Stage.WATCH, Stage.CALLED),
}


@dataclass(frozen=True, slots=True)
class Sense:
    """What the sentence means to one question.

    stage: the question's row in the table of the walk.
    asked: what the assistant says there.
    meaning: in a few words.
    comes: what comes of it.
    why: the file, and the phrase in it.
    listened: whether the ear listens for these very words; else they are only found in what it writes down freely.
    back: what is asked first, "Did you say ...?", where it was only found among other words; else empty.
    """

    stage: str
    asked: str
    meaning: str
    comes: str
    why: str
    listened: bool
    back: str = ""


@dataclass(frozen=True, slots=True)
class Saying:
    """A sentence said to an item.

    step: the item at its first place on the route.
    senses: what it means, a question each; empty if it is not understood.
    free: the questions that take any speech.
    nearest: phrases of the item's questions that are most alike, best first; empty if it is understood.
    """

    step: Step
    senses: tuple[Sense, ...]
    free: tuple[str, ...]
    nearest: tuple[str, ...]


def find_step(plans: Iterable[Plan], name: str) -> tuple[Plan, Step]:
    """The first step with this id, of this item, or of this spoken name. Raises SetupError with the nearest names."""
    wanted = name.lower()
    known: dict[str, tuple[Plan, Step]] = {}
    for plan in plans:
        for step in plan.steps:
            for each in (step.id, step.item.id, step.name, *step.item.call):
                known.setdefault(each.lower(), (plan, step))
    if wanted not in known:
        near = ", ".join(f'"{each}"' for each in _nearest(wanted, known))
        meant = f"Did you mean {near}? " if near else ""
        listed = "'gladhand routes show --ids --vehicle NAME' lists all of them."
        raise SetupError(f'No known vehicle has an item "{name}".', meant + listed)
    return known[wanted]


def plans_of(library: Library, vehicles: Iterable[Vehicle], route: str | None = None) -> Iterator[Plan]:
    """The route of each vehicle; without one, those of all its kinds of inspection. Made when they are wanted."""
    every = list(vehicles)
    yield from (make_plan(library, vehicle, route) for vehicle in every)
    if route is None:
        kinds = ((vehicle, kind) for vehicle in every for kind in kinds_for(library, vehicle) if kind.routes)
        yield from (make_plan(library, vehicle, kind_id=kind.id) for vehicle, kind in kinds)


def context_of(home: Path, library: Library, plan: Plan, limits: LimitSet) -> Context:
    """What a walk of this plan knows, with the home's own words."""
    own = home / "prompts"
    book = Phrasebook(layered(own))
    return Context(plan, limits, load_talk(own / "dialogue.yaml"), book, library.defects, library.cautions)


def said(context: Context, library: Library, step: Step, text: str, home: Path) -> Saying:
    """What the text means to each question that the item can lead to."""
    source = PhraseSource(library, home, step, context.book.lexicon)
    senses: list[Sense] = []
    free: list[str] = []
    near: list[str] = []
    for state in states(context, step):
        name, row = table.name_of(context, state), table.row(context, state)
        question = row.question(context, state)
        near += question.meanings
        if question.free:
            free.append(name)
        found = _meaning(context, question, text)
        if found is None:
            continue
        meaning, words = found
        back = "" if words is None else context.talk.doubt.format(words=words)
        handler = row.handler(meaning)
        comes = "Can be said at any time." if handler is None else summary(handler)
        judged = _judged(context, state, step, meaning)
        why = source(meaning, words or text, row)
        listened = plain(text, context.book.lexicon) in question.meanings
        prompt = row.prompt(context, state, True)
        senses.append(Sense(name, prompt, describe(meaning), comes + judged, why, listened, back))
    return Saying(step, tuple(senses), tuple(free), () if senses else tuple(_nearest(plain(text), near)))


def lines(saying: Saying, text: str) -> Iterator[str]:
    """The saying as printed lines. Questions to which it means the same stand together."""
    yield f'"{text}", said to {saying.step.name} ({saying.step.id}):'
    told: dict[Sense, list[Sense]] = {}
    for sense in saying.senses:
        told.setdefault(replace(sense, stage="", asked=""), []).append(sense)
    for one, senses in told.items():
        yield f"\n  means {one.meaning} ({'listened for' if one.listened else 'not listened for'})"
        if one.back:
            yield f'    asked back first: "{one.back}"'
        yield f"    why: {one.why}"
        for sense in senses:
            yield f'    at: {sense.stage}, "{sense.asked}"'
        yield f"    then: {one.comes}"
    if not saying.senses:
        yield "  is not understood."
        if saying.nearest:
            yield "  Nearest: " + ", ".join(f'"{each}"' for each in saying.nearest) + "."
    if saying.free:
        yield f"\n  taken as free speech at: {', '.join(saying.free)}"


class PhraseSource:
    """Where a meaning's phrase is written.

    home: the user's folder, whose files come before the shipped ones.
    step: what is said to.
    lexicon: of commands.yaml, the home's own or the shipped one.
    """

    def __init__(self, library: Library, home: Path, step: Step, lexicon: Lexicon) -> None:
        own = home / "prompts" / "commands.yaml"
        self._library, self._step, self._lexicon = library, step, lexicon
        self._commands = own if own.is_file() else prompts_dir() / "commands.yaml"

    def __call__(self, meaning: Meaning, text: str, row: Row) -> str:
        """row: of the question that it answers."""
        words = plain(text, self._lexicon)
        match meaning:
            case Defect(str(name)) if words in self._library.defects[name].say:
                origin = self._library.origins["defect", name]
                return f"{_at(origin.file, (*origin.loc, 'say'))}, the defect {name}"
            case Ok() | Defect() if good := self._good_word(words):
                return f'{_at(self._commands, ("good-words", good))}, good-words: the prompt has "{good}"'
            case Chosen():
                origin = self._library.origins["item", self._step.item.id]
                return f"{_at(origin.file, origin.loc)}, an option of {self._step.item.id}"
            case Number() | Either() | Pair():
                origin = self._library.origins["item", self._step.item.id]
                return (
                    f"a number as prompts/units.yaml has them; the unit and range are in {_at(origin.file, origin.loc)}"
                )
            case Command(name, target):
                key: tuple[str, ...] = ("change-prefix",) if target else ("commands", name)
            case _:
                key = ("answers", self._fixed(meaning, words, row).replace("_", "-"))
        return f"{_at(self._commands, key)}, {' '.join(key)}"

    def _good_word(self, words: str) -> str | None:
        """The good word of the item's prompt that is said, alone or with "not"; None if it is no such answer."""
        said = words.removeprefix("not ")
        listed = {text for texts in (self._lexicon.answers.ok, self._lexicon.answers.defect) for text in texts}
        return said if words not in listed and said in good_words(self._lexicon, self._step.item) else None

    def _fixed(self, meaning: Meaning, words: str, row: Row) -> str:
        """The list of fixed answers that has the words: "no" is in its own, where it means a defect too."""
        own = next((key for key, each in FIXED.items() if each.kind == meaning.kind), meaning.kind)
        others = [key for key, each in row.stands_for.items() if each == meaning]
        return next((key for key in (own, *others) if words in getattr(self._lexicon.answers, key)), own)


def _at(file: Path, loc: Sequence[str | int]) -> str:
    shipped = prompts_dir()
    shown = f"prompts/{file.relative_to(shipped).as_posix()}" if shipped in file.parents else str(file)
    line = line_of(file, loc)
    return f"{shown}:{line}" if line else shown


def states(context: Context, step: Step) -> Iterator[State]:
    """One state for each question that the item can lead to."""

    def at(stage: Stage, **draft: object) -> State:
        return State("normal", stage, draft=Draft(step.id, 0.0, **draft))  # type: ignore[arg-type]

    timed = _TIMED.get(type(step.item.answer))
    yield from map(at, timed or (Stage.ASK,))
    if step.item.defects:
        yield from map(at, (Stage.WHICH, Stage.DESCRIBE, Stage.MORE))
    for defect in (None, *step.item.defects):
        outcome = "ok" if defect is None else "defect"
        before = Draft(step.id, 0.0, outcome=outcome, defect=defect)  # type: ignore[arg-type]
        for number in range(len(context.follow_ups(step, before))):
            yield at(Stage.FOLLOW, outcome=outcome, defect=defect, follow=number)
    yield at(Stage.REASON, outcome="not-applicable")


def _meaning(context: Context, question: Question, text: str) -> tuple[Meaning, str | None] | None:
    """As a walk would read it: a phrase or a number, else "change ..." with an item's name; else what is found among
    other words, and the words that it is asked back with."""
    lexicon = context.book.lexicon
    found = interpret(text, question, lexicon)
    if found is None and not question.free:
        names = {each: context.steps[each].name for each in context.order}
        target = closest_name(text, lexicon.change_prefix, names)
        return asked_back(text, question, lexicon) if target is None else (Command("change", target), None)
    return None if found is None or isinstance(found, Words) else (found, None)


def _judged(context: Context, state: State, step: Step, meaning: Meaning) -> str:
    """For a reading of the item itself: its limits, and how it stands to them."""
    if not isinstance(meaning, Number) or not isinstance(step.item.answer, Measurement) or state.draft is None:
        return ""
    quantity = confirmed_quantity(context, step, state.draft)
    findings = context.findings(step, quantity, meaning.value)
    return "".join(f" {each.limit}: {each.limit_text} ({each.source}): {level_words(each.level)}." for each in findings)


def _nearest(text: str, phrases: Iterable[str]) -> list[str]:
    found = process.extract(text, list(dict.fromkeys(phrases)), scorer=fuzz.ratio, score_cutoff=ALIKE, limit=NEAREST)
    return [phrase for phrase, _, _ in found]
