"""The test form keeps quiet; the coached form asks, then tells."""

import pytest

from tests.rehearse.parts import PARTS
from voice.rehearse.listen.credit import Examiner
from voice.rehearse.listen.match import MatchThresholds
from voice.rehearse.listen.words import TokenReader
from voice.rehearse.recite.coach import Coach, Quiet, Rehearsal, Utterance, prompted
from voice.rehearse.wording import rehearse_file

FILE = rehearse_file()
EXAMINER = Examiner(PARTS, TokenReader.shipped(), MatchThresholds.shipped())


def coach(form: str) -> Coach:
    return Coach(PARTS, EXAMINER, FILE, form)  # type: ignore[arg-type]


def run(guide: Coach, *events: str | float) -> tuple[Rehearsal, list[str]]:
    """Words are said, numbers are seconds of silence."""
    state, told = Rehearsal(), []
    for at, event in enumerate(events):
        made = Quiet(event) if isinstance(event, float | int) else Utterance(event, at, at + 0.5)
        state, text = guide.step(state, made)
        told.append(text)
    return state, told


def test_the_test_form_never_says_a_word() -> None:
    state, told = run(coach("test"), 20.0, "Alternator. Mounted.", 20.0, "Water pump.", 44.0, 1.0)
    assert set(told) == {""}
    assert state.over
    assert prompted(state) == frozenset()


def test_silence_ends_the_test_only_in_a_row() -> None:
    state, _ = run(coach("test"), 40.0, "Alternator.", 40.0)
    assert not state.over


@pytest.mark.parametrize("words", ["That is all.", "that's all", "I am finished!"])
def test_the_student_ends_it(words: str) -> None:
    state, _ = run(coach("test"), "Alternator. Mounted.", words)
    assert state.over
    assert [each.text for each in state.said] == ["Alternator. Mounted."]


def test_a_finishing_phrase_within_speech_does_not_end_it() -> None:
    state, _ = run(coach("test"), "Wipers, that is all I know of them.")
    assert not state.over


def test_what_else_then_the_missed_check_by_name() -> None:
    state, told = run(
        coach("coached"), "Alternator. Mounted, not cracked, half to three quarters of an inch.", 5.0, 5.0
    )
    assert told[1] == FILE.coached.more.format(name="Alternator")
    assert told[2] == FILE.coached.more_told.format(name="Alternator", point="wires tight")
    assert prompted(state) == {"alternator"}


def test_a_hint_that_is_taken_up_is_not_told() -> None:
    state, told = run(
        coach("coached"),
        "Alternator. Mounted, not cracked, half to three quarters of an inch.",
        5.0,
        "The wires are tight.",
    )
    assert prompted(state) == frozenset()
    _, text = coach("coached").step(state, Quiet(5.0))
    assert text == FILE.coached.next
    assert told[-1] == ""


def test_next_part_is_asked_for_and_then_named() -> None:
    _, told = run(coach("coached"), "Oil level. I pull the dipstick, it is within the safe range.", 5.0, 5.0)
    assert told[1:] == [FILE.coached.next, FILE.coached.next_told.format(name="Coolant")]


def test_a_wrong_figure_is_hinted_at_and_then_told() -> None:
    _, told = run(coach("coached"), "Slack adjuster. Nothing loose or missing, it moves three inches.", 5.0, 5.0)
    assert told[1] == FILE.coached.number.format(name="Slack adjuster")
    assert told[2].startswith("On the Slack adjuster the figure is")


def test_the_beginning_is_asked_for() -> None:
    _, told = run(coach("coached"), 5.0, 5.0)
    assert told == [FILE.coached.start, FILE.coached.start_told.format(name="Oil level")]


def test_it_ends_when_nobody_answers() -> None:
    events = [5.0] * (FILE.coached.helps_end + 1)
    state, _ = run(coach("coached"), *events)
    assert state.over


def test_it_ends_after_the_last_part() -> None:
    said = [f"{p.names[0]}. " + ", ".join(point.say[0] for point in p.points) for p in PARTS]
    state, told = run(coach("coached"), *said, 5.0)
    assert told[-1] == FILE.coached.complete
    assert state.over


def test_after_the_end_nothing_is_taken() -> None:
    guide = coach("test")
    state, _ = run(guide, "that is all")
    with pytest.raises(ValueError, match="over"):
        guide.step(state, Quiet(1.0))
