"""Phrases of every kind of question, over the shipped routes and over invented mistakes."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import pytest

from voice.data.folders import prompts_dir
from voice.errors import DataError
from voice.hear.written import written
from voice.measure import Measure, reading
from voice.measure.cardinal import cardinal
from voice.measure.telling import printed, spoken
from voice.route import load_library, load_vehicle, make_plan
from voice.route.answer import Answer, Call, Hold, Measurement, Option
from voice.route.model import Item
from voice.understand import lexicon
from voice.understand.clashes import check
from voice.understand.interpret import interpret, plain
from voice.understand.meaning import (
    MEANING,
    Chosen,
    Command,
    Defect,
    DoneIt,
    Either,
    NotApplicable,
    Now,
    Number,
    Ok,
    Stop,
)
from voice.understand.phrases import Phrasebook
from voice.understand.question import Phrase, Question, join

F = Fraction
LIBRARY = load_library()
NUMBERS = reading.Numbers(approximately=lexicon.shipped().approximately)
SAID = {id_: defect.say for id_, defect in LIBRARY.defects.items()}
BOOK = Phrasebook()


def answers() -> Iterator[tuple[Item, Answer]]:
    for item in LIBRARY.items.values():
        yield item, item.answer
        for follow in item.follow_ups:
            yield item, follow.answer


def scales() -> list[tuple[str, Fraction, Fraction, Fraction]]:
    """Unit, low, high and step of every reading that a shipped item asks for."""
    asked = [a for _, a in answers() if isinstance(a, Measurement | Hold | Call)]
    return sorted({(a.unit, a.low, a.high, a.step) for a in asked})


def item(*defects: str) -> Item:
    say = {"terse": "Hose?", "normal": "Hose?", "full": "Hose?"}
    return Item.model_validate(
        {"id": "hose", "title": "Hose", "call": ["hose"], "part": "other", "say": say,
         "answer": {"kind": "condition"}, "defects": defects}
    )  # fmt: skip


def meanings(phrases: tuple[Phrase, ...]) -> dict[str, object]:
    return {phrase.text: phrase.meaning for phrase in phrases}


def test_condition_knows_okay_defects_by_name_and_every_command() -> None:
    heard = meanings(BOOK.condition(item("leaking"), {"leaking": ("leaking", "a leak")}))
    assert heard["okay"] == Ok()
    assert heard["defect"] == Defect()
    assert heard["a leak"] == Defect("leaking")
    assert heard["not applicable"] == NotApplicable()
    assert heard["go back"] == Command("back")
    assert {m.name for m in heard.values() if isinstance(m, Command)} == set(lexicon.shipped().commands)


def test_not_ready_is_never_done() -> None:
    heard = meanings(BOOK.done(item("leaking"), SAID))
    assert heard["not ready"] == Command("pause")
    assert heard["okay"] == DoneIt()
    assert heard["not okay"] == Defect()
    assert Ok() not in meanings(BOOK.faults(item("leaking"), SAID)).values()


@pytest.mark.parametrize("said", ["not okay", "not good", "no good", "bad", "not all good", "doesn't look good"])
def test_what_is_not_good_is_a_defect(said: str) -> None:
    assert meanings(BOOK.condition())[said] == Defect()
    question = Question("condition", BOOK.condition())
    assert interpret(said.capitalize() + ".", question) == Defect()


def test_every_okay_word_has_its_denial_listed_as_a_defect() -> None:
    words = lexicon.shipped().answers
    for good in set(words.ok) - {"check"}:  # nobody says "not check"
        last = good.split()[-1]
        assert any(
            f"not {good}" in bad or f"no {good}" in bad or bad.endswith(f"look {last}") for bad in words.defect
        ), good


def test_the_other_questions() -> None:
    assert meanings(BOOK.done())["ready"] == DoneIt()
    assert meanings(BOOK.now())["mark"] == Now()
    assert meanings(BOOK.now())["stop"] == Stop()
    called = meanings(BOOK.now("psi", F(20), F(150)))
    assert called["sixty"] == Number(Measure(F(60), "psi"))
    assert meanings(BOOK.which([("hose@left", ("left hose",))]))["left hose"] == Chosen("hose@left")
    options = (Option(id="gear", title="Gear", say=("gear driven",)), Option(id="belt", title="Belt", say=("belt",)))
    assert meanings(BOOK.choice(options))["gear driven"] == Chosen("gear")
    assert "defect" not in meanings(BOOK.choice(options))


def test_a_list_is_made_once_and_always_in_the_same_order() -> None:
    first = BOOK.number("psi", F(0), F(150))
    assert BOOK.number("psi", F(0), F(150)) is first
    assert Phrasebook().number("psi", F(0), F(150)) == first


def test_readings_in_all_their_forms() -> None:
    heard = meanings(BOOK.number("in", F(0), F(1), F(1, 32)))
    four = Number(Measure(F(4, 32), "in"))
    for text in ("four thirty seconds", "four over thirty two", "four", "an eighth", "four thirty seconds of an inch"):
        assert heard[text] == four, text
    assert heard["about four thirty seconds"] == Number(Measure(F(4, 32), "in"), approximate=True)
    assert heard["one"] == Either((Measure(F(1, 32), "in"), Measure(F(1), "in")))
    assert heard["defect"] == Defect()


def test_one_text_with_two_meanings_names_both() -> None:
    with pytest.raises(DataError, match='"okay" would mean both "ok" and the defect "fine"'):
        BOOK.condition(item("fine"), {"fine": ("okay",)})
    with pytest.raises(DataError, match='the choice "a@left" and the choice "a@right"'):
        BOOK.which([("a@left", ("mirror",)), ("a@right", ("mirror",))])
    with pytest.raises(DataError, match='the command "help" and the choice'):
        join(BOOK.commands, [Phrase("help", Chosen("x"))])


def test_a_defect_without_words_is_named() -> None:
    with pytest.raises(DataError, match='defect "leaking" of item "hose"'):
        BOOK.condition(item("leaking"), {})


def test_every_question_of_the_shipped_items_has_one_meaning_a_text() -> None:
    assert check(BOOK, LIBRARY.items.values(), SAID) == []
    assert len(LIBRARY.items) > 50
    for asked, answer in answers():
        texts = [phrase.text for phrase in BOOK.answers(asked, answer, SAID)]
        assert len(set(texts)) == len(texts)


def test_an_authors_mistake_names_the_item() -> None:
    [mistake] = check(BOOK, [item("leaking"), item("fine")], {"fine": ("okay",), "leaking": ("leaking",)})
    assert mistake.message.startswith('Item "hose": "okay" would mean both')


@pytest.mark.parametrize("name", ["tractor-trailer-five-axle", "straight-truck-two-axle", "school-bus"])
def test_every_step_of_the_shipped_vehicles_can_be_named(name: str) -> None:
    vehicle = load_vehicle(prompts_dir() / "vehicles" / f"{name}.yaml")
    steps = make_plan(LIBRARY, vehicle).steps
    heard = meanings(BOOK.which([(step.id, (step.name,)) for step in steps]))
    assert {m.id for m in heard.values() if isinstance(m, Chosen)} == {step.id for step in steps}


def test_phrases_go_into_the_journal_and_back() -> None:
    for phrase in (*BOOK.condition(), *BOOK.now("psi", F(0), F(20)), *BOOK.number("in", F(0), F(1), F(1, 32))):
        assert MEANING.validate_json(MEANING.dump_json(phrase.meaning)) == phrase.meaning


@pytest.mark.parametrize("scale", scales(), ids=lambda s: "-".join(map(str, s)))
def test_phrases_and_parser_agree_on_every_reading(scale: tuple[str, Fraction, Fraction, Fraction]) -> None:
    unit = scale[0]
    for phrase in BOOK.number(*scale):
        heard = NUMBERS.parse(phrase.text, *scale)
        match phrase.meaning:
            case Number(measure, approximate):
                assert heard == reading.Reading(measure.value, approximate), phrase
            case Either(measures):
                assert isinstance(heard, reading.Doubt)
                assert {Measure(value, unit) for value in heard.values} == set(measures)


@pytest.mark.parametrize("scale", scales(), ids=lambda s: "-".join(map(str, s)))
def test_every_value_can_be_said_and_read_back_as_it_is_spoken(scale: tuple[str, Fraction, Fraction, Fraction]) -> None:
    """What the program itself says and prints of a value (voice/measure/telling.py) is understood as that value."""
    unit, low, high, step = scale
    values = {p.meaning.value.value for p in BOOK.number(*scale) if isinstance(p.meaning, Number)}
    assert values == {low + n * step for n in range(int((high - low) / step) + 1)}
    for value in sorted(values):
        for text in (spoken(Measure(value, unit)), printed(Measure(value, unit))):
            heard = reading.parse(text, *scale)
            same = heard == reading.Reading(value) or (isinstance(heard, reading.Doubt) and value in heard.values)
            assert same, text


@pytest.mark.parametrize("scale", scales(), ids=lambda s: "-".join(map(str, s)))
def test_every_written_form_the_recognizer_is_given_means_the_same(
    scale: tuple[str, Fraction, Fraction, Fraction],
) -> None:
    """Written forms may be shared with another value only where the words really sound so; most must read back."""
    wrong = []
    total = 0
    for phrase in BOOK.number(*scale)[:600:2]:
        if not isinstance(phrase.meaning, Number):
            continue
        for form in written(phrase.text):
            total += 1
            heard = reading.parse(form, *scale)
            if isinstance(heard, reading.Reading) and heard.plausible and heard.value != phrase.meaning.value.value:
                wrong.append((phrase.text, form, heard.value))
    assert total > 100
    assert not wrong, wrong[:5]


def question(unit: str, high: int) -> Question:
    return Question("reading", BOOK.number(unit, F(0), F(high)), unit=unit)


def test_free_transcripts() -> None:
    asked = question("psi", 150)
    assert interpret("120 PSI.", asked) == Number(Measure(F(120), "psi"))
    assert interpret("About 95", asked) == Number(Measure(F(95), "psi"), approximate=True)
    assert interpret("Repeat that!", asked) == Command("repeat")
    assert interpret("200", asked) == Number(Measure(F(200), "psi"))
    assert interpret("I think it is fine", asked) is None
    assert interpret("1:20", question("s", 200)) == Number(Measure(F(80), "s"))
    assert interpret("One twenty", question("s", 200)) == Either((Measure(F(80), "s"), Measure(F(120), "s")))
    assert interpret("OK.", Question("condition", BOOK.condition())) == Ok()
    assert interpret("It is not OK.", Question("condition", BOOK.condition())) is None
    assert interpret("twelve", Question("condition", BOOK.condition())) is None
    assert plain("That’s right, OK?") == "that's right okay"


# --- the file itself


def test_every_word_of_the_shipped_file_is_in_the_dictionary_of_a_recognizer() -> None:
    """pocketsphinx's own US English dictionary (CMUdict); the words it lacks are for the recognizer to spell out."""
    import pocketsphinx

    known = {
        line.split()[0]
        for line in (Path(pocketsphinx.get_model_path("en-us")) / "cmudict-en-us.dict").read_text().splitlines()
        if line.strip()
    }
    words = {word for phrase in (*BOOK.condition(), *BOOK.done(), *BOOK.now()) for word in phrase.text.split()}
    words |= {w for n in range(0, 1001) for w in cardinal(n).split()}
    assert words - known == set()


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (("commands:\n", "commands:\n  dance: [dance]\n"), "dance"),
        (("  help: [help, what can i say]\n", ""), 'no phrase for the command "help"'),
        (("  stop: [stop", "  stop: [Stop!"), "Stop!"),
        (("  stop: [stop, abort, stop the test]", "  stop: []"), "answers.stop"),
        (("approximately:", "aproximately:"), '"approximately" is missing'),
    ],
)
def test_mistakes_name_file_and_line(change: tuple[str, str], message: str, tmp_path: Path) -> None:
    text = (prompts_dir() / "commands.yaml").read_text(encoding="utf-8")
    assert change[0] in text
    path = tmp_path / "commands.yaml"
    path.write_text(text.replace(*change), encoding="utf-8")
    with pytest.raises(DataError) as caught:
        lexicon.load(path)
    assert message in str(caught.value)
    assert caught.value.file == path
    assert caught.value.line


def test_a_fleet_can_change_a_word(tmp_path: Path) -> None:
    text = (prompts_dir() / "commands.yaml").read_text(encoding="utf-8")
    path = tmp_path / "commands.yaml"
    assert lexicon.layered(tmp_path) is lexicon.layered(None) is lexicon.shipped()
    path.write_text(text.replace("ok: [okay,", "ok: [in order, okay,"), encoding="utf-8")
    assert meanings(Phrasebook(lexicon.layered(tmp_path)).condition())["in order"] == Ok()
