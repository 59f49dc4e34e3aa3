"""The list of what people say (said.yaml) put to the walk: what each answer means where it is given."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from fractions import Fraction
from functools import cache
from pathlib import Path

from tests.walk.talkative import SAMPLES, Talk, context, short
from voice.data.reader import read_yaml
from voice.measure import Measure
from voice.record.open_defects import OpenDefect
from voice.record.review import with_review
from voice.session.coupling import called
from voice.understand.gist import gist
from voice.understand.interpret import interpret
from voice.understand.meaning import Chosen, Command, Defect, Meaning, Number, Ok, Words
from voice.understand.phrases import FIXED
from voice.understand.question import Question
from voice.walk import closing, doubt, item, step
from voice.walk.context import Context
from voice.walk.event import Doubted
from voice.walk.state import Aside, Stage
from voice.walk.table import row

LIST = Path(__file__).parent / "said.yaml"
LATER = LIST.with_name("said_later.yaml")
EARLIER = OpenDefect("hoses#leaking", "Hoses: leaking", datetime(2026, 3, 2, tzinfo=UTC), "r-1", "repair", 1, "r-1")
VEHICLES = (("truck-7", "truck seven"), ("truck-12", "truck twelve"))
NAMES = {
    "ok": "good", "clear": "nothing-wrong", "not-applicable": "not-fitted", "yes": "yes", "correct": "yes", "no": "no",
    "done": "done", "now": "now", "stop": "stop", "signed": "signed", "same": "same",
}  # fmt: skip


@dataclass(frozen=True)
class Block:
    """One place of the list.

    means: meaning, answer.
    """

    form: str
    at: str
    after: tuple[str, ...]
    doubt: str | None
    means: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Tried:
    """One answer of the list.

    got: what it was taken for, all names for it that fit.
    asked: it is only taken once it was asked back ("did you say").
    kept: what the item was recorded as by it, "ok" or "done"; "not-applicable" if its reason is asked then; else empty.
    """

    form: str
    at: str
    said: str
    meant: str
    got: frozenset[str]
    asked: bool = False
    kept: str = ""

    @property
    def right(self) -> bool:
        return self.meant in self.got


def blocks(file: Path = LIST) -> Iterator[Block]:
    for block in read_yaml(file):
        means = tuple((number(meaning), said) for meaning, answers in block["means"].items() for said in answers)
        yield Block(block["form"], block["at"], tuple(block.get("after", ())), block.get("doubt"), means)


def tried(file: Path = LIST) -> list[Tried]:
    """Every answer of a list at its place."""
    return [_try(block, meant, said) for block in blocks(file) for meant, said in block.means]


def _try(block: Block, meant: str, said: str) -> Tried:
    if block.at in ("begin", "open"):
        return Tried(block.form, block.at, said, meant, _before(block.at, said))
    talk = _place(block)
    lexicon = talk.context.book.lexicon
    meaning = interpret(said, talk.question, lexicon)
    if meaning is None and talk.question.free:
        meaning = Words(said)
    if meaning is None and (found := gist(said, talk.question, lexicon)) is not None:
        return Tried(block.form, block.at, said, meant, _asked(talk, *found), asked=True)
    return Tried(block.form, block.at, said, meant, _names(talk, meaning), kept=_kept(talk, meaning))


def _asked(talk: Talk, meaning: Meaning, words: str) -> frozenset[str]:
    """What it is asked back as, if the walk asks it back."""
    names = _names(talk, meaning)
    talk.send(Doubted(talk.clock + 1, meaning, words, onset=talk.clock + 1))
    asked = talk.state.aside is Aside.DOUBT and talk.state.doubted == meaning
    assert not talk.state.answers or talk.state.aside is not None or talk.state.stage is not Stage.ASK
    return names if asked else frozenset(("ask",))


def _kept(talk: Talk, meaning: Meaning | None) -> str:
    """What the walk makes of it."""
    if meaning is None:
        return ""
    before = talk.state.answers
    talk.mean(meaning)
    fresh = [answer.kind for name, answer in talk.state.answers.items() if answer is not before.get(name)]
    if talk.state.stage is Stage.REASON and talk.state.draft is not None:
        fresh.append(talk.state.draft.outcome or "ok")
    return next((kind for kind in fresh if kind in ("ok", "done", "not-applicable")), "")


def _before(at: str, said: str) -> frozenset[str]:
    """Before the walk: which vehicle, and whether to go on with an open inspection."""
    book = context().book
    if at == "open":
        question = Question("yes-no", book.go_on())
    else:
        vehicles = [context().plan.vehicle.model_copy(update={"id": id_, "name": name}) for id_, name in VEHICLES]
        names = [(vehicle.id, called(vehicle, vehicles)) for vehicle in vehicles]
        question = Question("choice", book.which(names))
    meaning = interpret(said, question, book.lexicon)
    if meaning is None and (found := gist(said, question, book.lexicon)) is not None:
        meaning = found[0]
    if isinstance(meaning, Chosen):
        return frozenset((f"choice {meaning.id}",))
    return frozenset(("ask",)) if meaning is None else frozenset((NAMES.get(meaning.kind, meaning.kind),))


def _place(block: Block) -> Talk:
    """A walk that stands at the block's question."""
    talk = Talk(_context(block.at))
    if block.at == "end":
        talk.say("okay")
    for text in block.after:
        meaning = interpret(text, talk.question, talk.context.book.lexicon)
        if meaning is None:
            assert talk.question.free, f"{block.at}: {text}"
            meaning = Words(text)
        talk.mean(meaning)
    if block.doubt is not None:
        meaning = interpret(block.doubt, talk.question, talk.context.book.lexicon)
        assert meaning is not None, block.doubt
        talk.send(Doubted(talk.clock + 1, meaning, block.doubt, onset=talk.clock + 1))
    return talk


@cache
def _context(at: str) -> Context:
    if at == "earlier-defect":
        plan = with_review(short(context().plan, ("hoses",)), [EARLIER])
        return replace(context(only=("hoses",)), plan=plan)
    wanted = "hoses" if at == "end" else at
    for kind in SAMPLES:
        found = context(kind, only=(wanted,))
        if found.plan.steps:
            return found
    raise AssertionError(f"no shipped vehicle has {at}")


def _names(talk: Talk, meaning: Meaning | None) -> frozenset[str]:
    """What the meaning is called in the list; several names where they do the same here."""
    if meaning is None:
        return frozenset(("ask",))
    if isinstance(meaning, Command):
        names = {f"command {meaning.name}"}
        if meaning.name == "pause" and row(talk.context, talk.state).asks == "done":
            names |= {"no", "ask"}  # it waits
        if meaning.name == "resume" and talk.state.aside is Aside.FINISHING:
            names.add("no")
        return frozenset(names)
    if _asked_back(talk, meaning):
        # "Nothing wrong? Or leaking?" asks back both.
        return frozenset(("ask", "nothing-wrong") if isinstance(meaning, Ok) else ("ask",))
    handler = row(talk.context, talk.state).handler(meaning)
    if handler is item.good_if_sure:
        return frozenset(("good",))
    names = {_name(meaning)}
    handlers = row(talk.context, talk.state).answers
    names |= {NAMES[other.kind] for other in FIXED.values() if handlers.get(type(other)) == handlers.get(type(meaning))}
    if talk.state.aside is Aside.DOUBT and names & {"yes"} and talk.state.doubted is not None:
        names.add(_name(talk.state.doubted))
    if talk.state.aside is Aside.PAUSED and "done" in names:
        names.add("command resume")
    if talk.state.aside is Aside.NOTED:
        names |= {name.replace("choice", "command") for name in names} | ({"command again"} if "no" in names else set())
    if talk.state.stage is Stage.READY and "done" in names:
        names.add("yes")
    if handler is item.not_yet:
        names.add("ask")
    return frozenset(names)


def _asked_back(talk: Talk, meaning: Meaning) -> bool:
    """Whether it leads to nothing but a further question of the same."""
    state = talk.state
    handler = row(talk.context, state).handler(meaning)
    if isinstance(meaning, Words) and state.stage is Stage.NAME:
        return not closing.signer(talk.context, meaning.text)[1]
    if handler is item.unsaid and state.draft is not None and not state.draft.defects:
        return True
    if handler is doubt.instead:
        return isinstance(meaning, Ok) and meaning != state.doubted
    return handler in (item.say_which, step.which_of_both)


def _name(meaning: Meaning) -> str:
    match meaning:
        case Defect(None):
            return "bad"
        case Defect(name):
            return f"defect {name}"
        case Chosen(name):
            return f"choice {name}"
        case Number(Measure(value, unit)):
            return f"number {value} {unit}"
        case Words():
            return "signed"
    return NAMES.get(meaning.kind, meaning.kind)


def number(text: str) -> str:
    """ "number 0.5 in" as "number 1/2 in"; anything else as it is."""
    if not text.startswith("number "):
        return text
    head, value, *unit = text.split()
    return " ".join((head, str(Fraction(value)), *unit))
