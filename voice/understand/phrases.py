"""Everything that can be said in answer to each kind of question, with what it means.

Each method gives the whole list for one question: its answers first, then the commands, always in the same order.
The lists are kept, so that a question asked again costs nothing. A text that would mean two things in one question is
an author's mistake and raises DataError; a number that can be two values means Either.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Mapping, Sequence
from fractions import Fraction

from voice.errors import DataError
from voice.route.answer import Answer, Call, Choice, Climb, Condition, Done, Hold, Measurement, Option
from voice.route.model import Beside, Item
from voice.understand.goodwords import good_words, opposites
from voice.understand.lexicon import Lexicon, plain_name, shipped
from voice.understand.meaning import (
    Chosen,
    Clear,
    Command,
    Correct,
    Defect,
    DoneIt,
    Meaning,
    No,
    NotApplicable,
    Now,
    Ok,
    Same,
    Signed,
    Stop,
    Yes,
)
from voice.understand.numbered import number_phrases, pair_phrases
from voice.understand.question import Phrase, join

# A defect's id and how it is said, best first.
Defects = Mapping[str, Sequence[str]]
# A step's id and its spoken names, best first.
Names = Sequence[tuple[str, Sequence[str]]]


# The fixed answers that a step's questions take, by their keys in commands.yaml.
FIXED: Mapping[str, Meaning] = {
    "ok": Ok(), "clear": Clear(), "not_applicable": NotApplicable(), "yes": Yes(), "correct": Correct(), "no": No(),
    "done": DoneIt(), "now": Now(), "stop": Stop(), "same": Same(),
}  # fmt: skip


class Phrasebook:
    """Makes the phrases of every question from the lexicon. One for a session."""

    def __init__(self, lexicon: Lexicon | None = None) -> None:
        self.lexicon = lexicon or shipped()
        self._made: dict[object, tuple[Phrase, ...]] = {}
        self._parts: dict[object, tuple[Phrase, ...]] = {}
        # By the identity of the parts, which are kept beside, so that no other list can take their place.
        self._joined: dict[tuple[int, ...], tuple[tuple[tuple[Phrase, ...], ...], tuple[Phrase, ...]]] = {}
        self.commands: tuple[Phrase, ...] = join(
            Phrase(text, Command(name)) for name, texts in self.lexicon.commands.items() for text in texts
        )

    # --- parts of a question's phrases ---------------------------------------------------------------------------

    def said(self, name: str, meaning: Meaning) -> tuple[Phrase, ...]:
        """The words of one fixed answer ("ok", "yes").

        name: its key in commands.yaml.
        """
        return self.kept((name, meaning), lambda: self._answer(name, meaning))

    def faults(self, item: Item, defects: Defects) -> tuple[Phrase, ...]:
        """ "Defect", and the item's defects by name; none for an item that can have none."""
        if not item.defects:
            return ()
        return self.kept(
            ("faults", _key(item, defects)),
            lambda: self._bad(item, defects),
        )

    def good(self, item: Item) -> tuple[Phrase, ...]:
        """The item's own good words, as its prompt has them ("dry"): nothing is wrong."""
        words = good_words(self.lexicon, item)
        return self.kept(("good", *words), lambda: [Phrase(word, Ok()) for word in words])

    def numbers(self, unit: str, low: Fraction, high: Fraction, step: Fraction) -> tuple[Phrase, ...]:
        """Every value from low to high by step in all its spoken forms."""
        return self.kept(
            ("numbers", unit, low, high, step), lambda: number_phrases(unit, low, high, step, lexicon=self.lexicon)
        )

    def pairs(self, asked: Measurement, beside: Beside, then: Measurement) -> tuple[Phrase, ...]:
        """Two readings in one breath."""
        return self.kept(("pairs", asked, beside, then), lambda: pair_phrases(asked, beside, then, self.lexicon))

    def names(self, names: Names) -> tuple[Phrase, ...]:
        """One of a list: (id, spoken names), an option's or a step's."""
        said = tuple((id_, tuple(texts)) for id_, texts in names)
        return self.kept(("names", said), lambda: _chosen(said))

    def signatures(self, drivers: Sequence[str], unnamed: str) -> tuple[Phrase, ...]:
        """ "Signed", alone or with a name of the list, or a name of the list alone.

        unnamed: who will not be named.
        """
        known = (*drivers, unnamed)
        leads = self.lexicon.answers.signed
        return self.kept(
            ("signatures", known),
            lambda: [
                *(Phrase(lead, Signed()) for lead in leads),
                *(Phrase(f"{lead} {plain_name(name)}", Signed(name)) for name in known for lead in leads),
                *(Phrase(plain_name(name), Signed(name)) for name in known),
            ],
        )

    def own(self, answer: Answer) -> tuple[Phrase, ...]:
        """What only this answer takes: its numbers, or its options."""
        match answer:
            case Measurement() | Hold() | Call():
                return self.numbers(answer.unit, answer.low, answer.high, answer.step)
            case Choice():
                return self.options(answer)
        return ()

    def options(self, choice: Choice, *, replies: bool = True) -> tuple[Phrase, ...]:
        """The choice's options by name.

        replies: with the words of yes and no for those that are said with one.
        """
        words = self.lexicon.answers
        said = {"yes": (*words.yes, *words.correct), "no": words.no} if replies else {}
        return self.names([(one.id, (*one.say, *said.get(one.reply or "", ()))) for one in choice.options])

    def joined(self, *parts: tuple[Phrase, ...]) -> tuple[Phrase, ...]:
        """The parts as one question's list, the commands last. Raises DataError if a text would mean two things."""
        key = tuple(map(id, parts))
        if key not in self._joined:
            self._joined[key] = (parts, join(*parts, self.commands))
        return self._joined[key][1]

    # --- whole lists, for what is asked outside of the walk --------------------------------------------------------

    def condition(self, item: Item | None = None, defects: Defects | None = None) -> tuple[Phrase, ...]:
        """Okay, a defect (named outright too, from the item's list), not applicable."""
        return self._keep(
            ("condition", _key(item, defects)),
            lambda: [*self._good(item), *self._faults(item, defects)],
        )

    def yes_no(self) -> tuple[Phrase, ...]:
        return self.kept("yes-no", lambda: join(self._answer("yes", Yes()), self._answer("no", No())))

    def go_on(self) -> tuple[Phrase, ...]:
        """Whether to go on with what is open, asked before a walk: yes, no, or to begin anew; and stop."""
        words = self.lexicon.answers
        yes = (*words.yes, *words.correct, *words.agreed, *words.resumed, *self.lexicon.commands["resume"])
        said: Mapping[Meaning, Sequence[str]] = {Yes(): yes, No(): (*words.no, *words.anew), Stop(): words.stop}
        return self.kept("go-on", lambda: join(Phrase(text, each) for each, texts in said.items() for text in texts))

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
            lambda: [*self.numbers(unit, low, high, step), *self._faults(item, defects)],
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
                *(phrase for name in ("done", "ok", "yes") for phrase in self._answer(name, DoneIt())),
                *(self._faults(item, defects) if item else []),
                *self._answer("no", No()),
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
                *(self.numbers(unit, low, high, step) if unit else []),
            ],
        )

    def which(self, steps: Names) -> tuple[Phrase, ...]:
        """Which step: (id, spoken names). The same name for two steps is an author's mistake."""
        said = tuple((id_, tuple(names)) for id_, names in steps)
        return self._keep(("which", said), lambda: [*_chosen(said), *self._answer("stop", Stop())])

    def answers(self, item: Item, answer: Answer, defects: Defects | None = None) -> tuple[Phrase, ...]:
        """The phrases of the item's question, or of a follow-up's, by the kind of answer it takes."""
        match answer:
            case Condition():
                return self.condition(item, defects)
            case Measurement() | Hold() | Call():
                return self.number(answer.unit, answer.low, answer.high, answer.step, item, defects)
            case Choice():
                return self.choice(answer.options, item, defects)
            case Done():
                return self.done(item, defects)
            case Climb():
                return self.now()

    def _keep(self, key: object, make: Callable[[], Iterable[Phrase]]) -> tuple[Phrase, ...]:
        if key not in self._made:
            self._made[key] = join(make(), self.commands)
        return self._made[key]

    def _answer(self, name: str, meaning: Meaning) -> list[Phrase]:
        texts: tuple[str, ...] = getattr(self.lexicon.answers, name)
        return [Phrase(text, meaning) for text in texts]

    def _good(self, item: Item | None) -> list[Phrase]:
        """What a condition takes for good: the words of okay and of yes, and the item's own."""
        own = self.good(item) if item else ()
        return [*self._answer("ok", Ok()), *self._answer("yes", Ok()), *self._answer("no", Defect()), *own]

    def _faults(self, item: Item | None, defects: Defects | None) -> list[Phrase]:
        bad = self._bad(item, defects or {}) if item else self._answer("defect", Defect())
        return [*bad, *self._answer("not_applicable", NotApplicable())]

    def _bad(self, item: Item, defects: Defects) -> list[Phrase]:
        """ "Defect", the item's defects by name, and what is "not" as its prompt wants it. A name comes first, then the
        opposite: what the word says here counts for more than what it says anywhere."""
        ranked = (self._named(item, defects), opposites(self.lexicon, item), self._answer("defect", Defect()))
        first: dict[str, Phrase] = {}
        for phrase in itertools.chain(*ranked):
            first.setdefault(phrase.text, phrase)
        return sorted(first.values(), key=lambda phrase: phrase.meaning != Defect())

    def _named(self, item: Item, defects: Defects) -> list[Phrase]:
        phrases: list[Phrase] = []
        for id_ in item.defects:
            if id_ not in defects:
                raise DataError(f'The defect "{id_}" of item "{item.id}" has no spoken form.', "Add it.")
            phrases += [Phrase(text, Defect(id_)) for text in defects[id_]]
        return phrases

    def kept(self, key: object, make: Callable[[], Iterable[Phrase]]) -> tuple[Phrase, ...]:
        """Part of a question's phrases, made when it is first asked for."""
        if key not in self._parts:
            self._parts[key] = tuple(make())
        return self._parts[key]


def _chosen(said: Iterable[tuple[str, Sequence[str]]]) -> list[Phrase]:
    return [Phrase(text, Chosen(id_)) for id_, texts in said for text in texts]


def _key(item: Item | None, defects: Defects | None) -> object:
    if item is None:
        return None
    named = tuple((id_, tuple((defects or {}).get(id_, ()))) for id_ in item.defects)
    return item.say.terse, item.say.normal, named
