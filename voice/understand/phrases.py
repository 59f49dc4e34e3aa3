"""Everything that can be said in answer to each kind of question, with what it means.

Each method gives the whole list for one question: its answers first, then the commands, always in the same order.
The lists are kept, so that a question asked again costs nothing. A text that would mean two things in one question is
an author's mistake and raises DataError naming both; a number that can be two values means Either.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Mapping, Sequence
from fractions import Fraction

from voice.errors import DataError
from voice.measure import Measure
from voice.measure.forms import spoken_forms
from voice.route.model import Answer, Call, Choice, Climb, Condition, Done, Hold, Item, Option, Reading
from voice.understand.lexicon import Lexicon, shipped
from voice.understand.meaning import (
    Chosen,
    Command,
    Defect,
    DoneIt,
    Either,
    Meaning,
    No,
    NotApplicable,
    Now,
    Number,
    Ok,
    Stop,
    Yes,
)
from voice.understand.question import Phrase

# A defect's id and how it is said, best first.
Defects = Mapping[str, Sequence[str]]
# A step's id and its spoken names, best first.
Names = Sequence[tuple[str, Sequence[str]]]


class Phrasebook:
    """Makes the phrases of every question from the lexicon. One for a session."""

    def __init__(self, lexicon: Lexicon | None = None) -> None:
        self.lexicon = lexicon or shipped()
        self._made: dict[object, tuple[Phrase, ...]] = {}
        self.commands: tuple[Phrase, ...] = join(
            Phrase(text, Command(name)) for name, texts in self.lexicon.commands.items() for text in texts
        )

    def condition(self, item: Item | None = None, defects: Defects | None = None) -> tuple[Phrase, ...]:
        """Okay, a defect (named outright too, from the item's list), not applicable."""
        return self._keep(
            ("condition", _key(item, defects)),
            lambda: [*self._answer("ok", Ok()), *self._faults(item, defects)],
        )

    def faults(self, item: Item | None = None, defects: Defects | None = None) -> tuple[Phrase, ...]:
        """As `condition` without okay: for what is asked in another way, and may still turn out to be faulty."""
        return self._keep(("faults", _key(item, defects)), lambda: self._faults(item, defects))

    def defect_kinds(self, item: Item, defects: Defects) -> tuple[Phrase, ...]:
        """Which of the item's defects. Okay takes the report back."""
        return self._keep(
            ("defect", _key(item, defects)),
            lambda: [
                *self._named(item, defects),
                *self._answer("ok", Ok()),
                *self._answer("not_applicable", NotApplicable()),
            ],
        )

    def yes_no(self) -> tuple[Phrase, ...]:
        return self._keep("yes-no", lambda: [*self._answer("yes", Yes()), *self._answer("no", No())])

    def number(
        self,
        unit: str,
        low: Fraction,
        high: Fraction,
        step: Fraction = Fraction(1),
        item: Item | None = None,
        defects: Defects | None = None,
    ) -> tuple[Phrase, ...]:
        """Every value from low to high by step in all its spoken forms; also the defects and "not applicable"."""
        return self._keep(
            ("number", unit, low, high, step, _key(item, defects)),
            lambda: [*self._numbers(unit, low, high, step), *self._faults(item, defects)],
        )

    def choice(
        self, options: Sequence[Option], item: Item | None = None, defects: Defects | None = None
    ) -> tuple[Phrase, ...]:
        """One of the options; with an item, also its defects and "not applicable"."""
        said = tuple((option.id, option.say) for option in options)
        return self._keep(
            ("choice", said, _key(item, defects)),
            lambda: [*_chosen(said), *(self._faults(item, defects) if item else [])],
        )

    def done(self, item: Item | None = None, defects: Defects | None = None) -> tuple[Phrase, ...]:
        """The driver has done it; with an item, also its defects and "not applicable"."""
        return self._keep(
            ("done", _key(item, defects)),
            lambda: [
                *self._answer("done", DoneIt()),
                *(self._faults(item, defects) if item else []),
                *self._answer("stop", Stop()),
            ],
        )

    def now(
        self,
        unit: str | None = None,
        low: Fraction = Fraction(0),
        high: Fraction = Fraction(0),
        step: Fraction = Fraction(1),
    ) -> tuple[Phrase, ...]:
        """A timed mark, or "stop"; with a unit, the number may be called out instead of "now"."""
        return self._keep(
            ("now", unit, low, high, step),
            lambda: [
                *self._answer("now", Now()),
                *self._answer("stop", Stop()),
                *(self._numbers(unit, low, high, step) if unit else []),
            ],
        )

    def quiet(self) -> tuple[Phrase, ...]:
        """While a timed hold runs: only breaking it off, and the commands."""
        return self._keep("quiet", lambda: self._answer("stop", Stop()))

    def paused(self) -> tuple[Phrase, ...]:
        """While paused or waiting to be spoken to: the commands, and "ready"."""
        return self._keep("paused", lambda: self._answer("done", DoneIt()))

    def which(self, steps: Names) -> tuple[Phrase, ...]:
        """Which step: (id, spoken names). The same name for two steps is an author's mistake."""
        said = tuple((id_, tuple(names)) for id_, names in steps)
        return self._keep(("which", said), lambda: [*_chosen(said), *self._answer("stop", Stop())])

    def free(self) -> tuple[Phrase, ...]:
        """For a note, a name or a reason: whatever is said counts, but a command still is one."""
        return self._keep("free", lambda: self._answer("stop", Stop()))

    def changes(self, steps: Names) -> tuple[Phrase, ...]:
        """ "change <name>" for these steps, to be joined to a question's phrases. Keep it to a few recent ones."""
        return join(
            Phrase(f"{prefix} {name}", Command("change", target=id_))
            for prefix in self.lexicon.change_prefix
            for id_, names in steps
            for name in names
        )

    def answers(self, item: Item, answer: Answer, defects: Defects | None = None) -> tuple[Phrase, ...]:
        """The phrases of the item's question, or of a follow-up's, by the kind of answer it takes."""
        match answer:
            case Condition():
                return self.condition(item, defects)
            case Reading() | Hold() | Call():
                return self.number(answer.unit, answer.low, answer.high, answer.step, item, defects)
            case Choice():
                return self.choice(answer.options, item, defects)
            case Done():
                return self.done(item, defects)
            case Climb():
                return self.now()

    # --- parts -------------------------------------------------------------------------------------------------

    def _keep(self, key: object, make: Callable[[], Iterable[Phrase]]) -> tuple[Phrase, ...]:
        if key not in self._made:
            self._made[key] = join(make(), self.commands)
        return self._made[key]

    def _answer(self, name: str, meaning: Meaning) -> list[Phrase]:
        texts: tuple[str, ...] = getattr(self.lexicon.answers, name)
        return [Phrase(text, meaning) for text in texts]

    def _faults(self, item: Item | None, defects: Defects | None) -> list[Phrase]:
        named = self._named(item, defects or {}) if item else []
        return [*self._answer("defect", Defect()), *named, *self._answer("not_applicable", NotApplicable())]

    def _named(self, item: Item, defects: Defects) -> list[Phrase]:
        phrases: list[Phrase] = []
        for id_ in item.defects:
            if id_ not in defects:
                raise DataError(f'The defect "{id_}" of item "{item.id}" has no spoken form.', "Add it.")
            phrases += [Phrase(text, Defect(id_)) for text in defects[id_]]
        return phrases

    def _numbers(self, unit: str, low: Fraction, high: Fraction, step: Fraction) -> tuple[Phrase, ...]:
        return self._keep_numbers(("numbers", unit, low, high, step))

    def _keep_numbers(self, key: tuple[str, str, Fraction, Fraction, Fraction]) -> tuple[Phrase, ...]:
        if key not in self._made:
            self._made[key] = number_phrases(*key[1:], lexicon=self.lexicon)
        return self._made[key]


def number_phrases(unit: str, low: Fraction, high: Fraction, step: Fraction, lexicon: Lexicon) -> tuple[Phrase, ...]:
    """Every value from low to high by step, in value order. A text that fits two values means Either."""
    said: dict[str, list[Fraction]] = {}
    best: dict[str, Fraction] = {}
    for n in range(int((high - low) / step) + 1):
        value = low + n * step
        forms = spoken_forms(value, unit, step, lexicon.units)
        for form in forms:
            said.setdefault(form, []).append(value)
        best[forms[0]] = value
    phrases = [Phrase(text, _meant(values, unit)) for text, values in said.items()]
    about = [
        Phrase(f"{prefix} {text}", Number(Measure(value, unit), approximate=True))
        for prefix in lexicon.approximately
        for text, value in best.items()
        if len(said[text]) == 1
    ]
    return (*phrases, *about)


def check(book: Phrasebook, items: Iterable[Item], defects: Defects) -> list[DataError]:
    """Every item asked in all its questions; the mistakes found (a text with two meanings, a defect without words)."""
    mistakes: list[DataError] = []
    for item in items:
        try:
            book.answers(item, item.answer, defects)
            if item.defects:
                book.defect_kinds(item, defects)
            for follow in item.follow_ups:
                book.answers(item.model_copy(update={"defects": ()}), follow.answer)
        except DataError as error:
            mistakes.append(DataError(f'Item "{item.id}": {error.message}', error.hint))
    return mistakes


def _meant(values: list[Fraction], unit: str) -> Number | Either:
    measures = tuple(Measure(value, unit) for value in values)
    return Number(measures[0]) if len(measures) == 1 else Either(measures)


def _chosen(said: Iterable[tuple[str, Sequence[str]]]) -> list[Phrase]:
    return [Phrase(text, Chosen(id_)) for id_, texts in said for text in texts]


def _key(item: Item | None, defects: Defects | None) -> object:
    if item is None:
        return None
    return tuple((id_, tuple((defects or {}).get(id_, ()))) for id_ in item.defects)


def join(*lists: Iterable[Phrase]) -> tuple[Phrase, ...]:
    """The lists one after another without repetition; DataError if a text would mean two things."""
    known: dict[str, Phrase] = {}
    for phrase in itertools.chain(*lists):
        first = known.setdefault(phrase.text, phrase)
        if first.meaning != phrase.meaning:
            raise DataError(
                f'"{phrase.text}" would mean both {describe(first.meaning)} and {describe(phrase.meaning)}.',
                "Say one of them with other words.",
            )
    return tuple(known.values())


def describe(meaning: Meaning) -> str:
    """The meaning in a few words, for error messages."""
    match meaning:
        case Command(name, target):
            return f'the command "{name}"' + (f' of "{target}"' if target else "")
        case Defect(id_):
            return f'the defect "{id_}"' if id_ else '"defect"'
        case Chosen(id_):
            return f'the choice "{id_}"'
        case Number(value):
            return f"{value.value} {value.unit}"
        case Either(values):
            return " or ".join(f"{value.value} {value.unit}" for value in values)
        case _:
            return f'"{meaning.kind}"'
