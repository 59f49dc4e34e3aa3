"""Generated answers, as typed or transcribed, to every question that a shipped item asks."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from fractions import Fraction
from pathlib import Path

from num2words import num2words

from tests.attack.run import Case
from tests.attack.spoil import ODD_TEXTS
from voice.hear.written import written
from voice.judge import load_limits
from voice.measure import Measure
from voice.measure.book import unit_book
from voice.measure.reading import Doubt, Numbers, Reading
from voice.measure.telling import printed, spoken
from voice.rehearse.listen.credit import Examiner
from voice.rehearse.listen.match import MatchThresholds
from voice.rehearse.listen.syllabus import make_syllabus
from voice.rehearse.listen.words import TokenReader
from voice.route import load_library, load_vehicle, make_plan
from voice.route.answer import Answer, Call, Hold, Measurement
from voice.route.model import Item
from voice.route.vehicles import find_profile
from voice.understand.change import closest_name
from voice.understand.interpret import interpret
from voice.understand.lexicon import shipped
from voice.understand.meaning import Clear, Either, Number, Ok, describe
from voice.understand.phrases import Phrasebook
from voice.understand.question import Question

ABOUT = "generated answers to every question: a meaning, a doubt or none; okay only as listed; a number is the one said"
SHARE = 2000

NEGATORS = ("not", "no", "never", "isn't", "nothing", "don't", "hardly", "barely", "un")
FIGURES = (
    "zero", "one", "two", "three", "four", "five", "nine", "twelve", "thirteen", "twenty", "thirty", "fifty", "hundred",
    "thousand", "half", "quarter", "quarters", "thirty seconds", "sixteenths", "eighths", "and", "and a", "point", "oh",
    "a", "an", "over", "minus", "about", "of an", "1", "12", "4/32", "32nds", "1/0", "0.5", ".5", "½", "1,250", "4:30",
    "0", "00", "007", "1e9", "9" * 30, "9" * 400, "٣", "²", "1.2.3", "--5", "/", ":", "%", "°", '"',
)  # fmt: skip
LONG = 5.0  # of so many words at most, mostly; now and then of hundreds
Way = Callable[[random.Random, Question], str]


class Scene:
    """The questions, and the words that go into answers."""

    def __init__(self) -> None:
        library, book = load_library(), Phrasebook()
        said = {id_: defect.say for id_, defect in library.defects.items()}
        asked = [(item, answer) for item in library.items.values() for answer in (item.answer, *_follow_ups(item))]
        self.questions = [
            Question("condition", book.answers(item, answer, said), unit=getattr(answer, "unit", None), step=item.id)
            for item, answer in asked
        ]
        self.prompts = {id_: _words(f"{item.say.terse} {item.say.normal}") for id_, item in library.items.items()}
        self.scales = sorted(
            {(a.unit, a.low, a.high, a.step) for _, a in asked if isinstance(a, Measurement | Hold | Call)}
        )
        self.names = {item.id: item.call[0] for item in library.items.values() if item.call}
        self.prefixes = shipped().change_prefix
        texts = {phrase.text for question in self.questions for phrase in question.phrases}
        self.words = sorted({word for text in texts for word in text.split()})
        self.units = [name for unit in unit_book().heard.values() for name in (*unit.one, *unit.many, *unit.written)]
        self.numbers = Numbers(shipped().units, shipped().approximately)
        vehicle = load_vehicle(find_profile(None, "straight-truck-two-axle"))
        parts = make_syllabus(make_plan(library, vehicle), load_limits()).parts
        self.examiners = [
            Examiner(parts[at : at + 3], TokenReader.shipped(), MatchThresholds.shipped()) for at in (0, 20, 40)
        ]
        self.ways: tuple[Way, ...] = (self._changed, self._changed, self._salad, self._figures, self._odd)

    def case(self, number: int, rng: random.Random) -> str | None:
        if number % 3 == 0:
            return self._figure(rng)
        if number % 50 == 1:
            return self._recital(rng)
        question = rng.choice(self.questions)
        text = rng.choice(self.ways)(rng, question)
        meaning = interpret(text, question)
        if meaning is not None:
            describe(meaning)
        if isinstance(meaning, Ok | Clear) and not self._is_listed(text, question):
            return f"{text!r:.200} is {meaning}"
        if isinstance(meaning, Number | Either) and question.unit is None:
            return f"{text!r:.200} is a number where none is asked for"
        if number % 7 == 0:
            found = closest_name(f"{rng.choice(self.prefixes)} {text}", self.prefixes, self.names)
            if found is not None and found not in self.names:
                return f"{text!r:.200} is the item {found}"
        if number % 11 == 0 and not written(text[:60]) and text[:60].strip():
            return f"{text!r:.200} cannot be written"
        return None

    def _is_listed(self, text: str, question: Question) -> bool:
        """Whether the words, and no others, are one of the answers, or a good word of the question's own prompt; by
        other means than those attacked."""
        words, answers = _words(text), shipped().answers
        in_prompt = f" {words} " in f" {self.prompts[question.step or '']} "
        return words in (*answers.ok, *answers.yes, *answers.clear) or (words in shipped().good_words and in_prompt)

    # --- numbers, of which it is known what they are ------------------------------------------------------------

    def _figure(self, rng: random.Random) -> str | None:
        unit, low, high, step = rng.choice(self.scales)
        heard = unit_book().heard.get(unit)
        value, text = _told(rng, (2, 4, 8, 16, 32) if heard is not None and heard.ruler else (2, 4))
        if step > 1 and value.denominator > 1:
            return None  # nobody tells parts of what is asked in hundreds
        found = self.numbers.parse(text, unit, low, high, step)
        values = _values(found)
        meant = {value, value / step.denominator}  # "eight" on a gauge of thirty-seconds
        if found is None or not meant & set(values):
            return f"{text!r} in {unit}: {found}"
        for exact in values:
            # Whatever came of it is told, and heard again as the same.
            if low <= exact <= high and (exact / step).denominator == 1:
                for tell in (spoken, printed):
                    told = tell(Measure(exact, unit))
                    if exact not in _values(self.numbers.parse(told, unit, low, high, step)):
                        return f"{exact} {unit}, from {text!r}, is told as {told!r}, which is not heard as that"
        return None

    # --- what is said, in a recital too --------------------------------------------------------------------------

    def _recital(self, rng: random.Random) -> str | None:
        examiner = rng.choice(self.examiners)
        names = [name for part in examiner.parts for name in part.names]
        said = [
            f"{rng.choice(names)} {rng.choice(self.ways)(rng, rng.choice(self.questions))}"[:400]
            for _ in range(rng.randint(1, 4))
        ]
        first, again = examiner.read(said), examiner.read(said)
        return None if first == again else f"{said!r:.300} is judged otherwise the second time"

    def _changed(self, rng: random.Random, question: Question) -> str:
        words: list[str] = rng.choice(question.phrases).text.split()
        for _ in range(rng.choice((0, 1, 1, 2, 3))):
            at = rng.randrange(len(words) + 1)
            match rng.randrange(6):
                case 0 | 1:
                    words.insert(at, rng.choice(NEGATORS))
                case 2:
                    words.insert(at, rng.choice(self.words))
                case 3:
                    del words[at : at + 1]
                case 4:
                    words[at : at + 1] = [rng.choice(self.words)]
                case 5:
                    words[at:at] = rng.choice(question.phrases).text.split()
        text = rng.choice((" ", " ", "  ", "-", ", ", "\t")).join(words)
        return rng.choice((str, str.upper, str.title, str.swapcase))(text) + rng.choice(("", ".", "!", "?", "…", "’"))

    def _salad(self, rng: random.Random, _: Question) -> str:
        count = 1 + min(400, int(rng.expovariate(1 / LONG)))
        lists = (self.words, self.words, self.words, NEGATORS, self.units)
        return " ".join(rng.choice(rng.choice(lists)) for _ in range(count))

    def _figures(self, rng: random.Random, _: Question) -> str:
        count = 1 + min(12, int(rng.expovariate(1 / 3)))
        return " ".join(rng.choice(rng.choice((FIGURES, FIGURES, self.units))) for _ in range(count))

    def _odd(self, rng: random.Random, question: Question) -> str:
        text = rng.choice(question.phrases).text
        for _ in range(rng.randint(1, 3)):
            at = rng.randrange(len(text) + 1)
            piece = rng.choice(ODD_TEXTS) if rng.random() < 0.5 else chr(rng.randrange(0x20, 0x3000))
            text = text[:at] + piece + text[at + rng.randrange(2) :]
        return text


def _words(text: str) -> str:
    bare = "".join(each if each.isalnum() or each == "'" else " " for each in text.lower().replace("’", "'"))
    spellings = shipped().spellings
    return " ".join(spellings.get(word, word) for word in (each.strip("'") for each in bare.split()) if word)


def _follow_ups(item: Item) -> tuple[Answer, ...]:
    return tuple(follow.answer for follow in item.follow_ups)


def _values(found: Reading | Doubt | None) -> tuple[Fraction, ...]:
    if found is None:
        return ()
    return found.values if isinstance(found, Doubt) else (found.value,)


def _told(rng: random.Random, parts: tuple[int, ...]) -> tuple[Fraction, str]:
    """A number, and one of the ways to write it.

    parts: into how many parts one may be divided; what no gauge shows is not taken for a number.
    """
    whole = rng.choice((rng.randrange(13), rng.randrange(100), rng.randrange(1000), rng.randrange(10_000)))
    match rng.randrange(6):
        case 0:
            return Fraction(whole), str(whole)
        case 1:
            return Fraction(whole), f"{whole:,}"
        case 2:
            return Fraction(whole), str(num2words(whole))
        case 3:
            tenths = rng.randrange(10)
            return whole + Fraction(tenths, 10), f"{whole}.{tenths}"
        case 4:
            digit = rng.randrange(10)
            return whole + Fraction(digit, 10), f"{num2words(whole)} point {num2words(digit)}"
        case _:
            of = rng.choice(parts)
            count = rng.randrange(1, of)
            return whole + Fraction(count, of), f"{whole} {count}/{of}"


@contextmanager
def prepared(folder: Path) -> Iterator[Case]:
    yield Scene().case
