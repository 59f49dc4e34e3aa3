"""From what was said to what is credited, on text: the rules that keep the score honest."""

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.rehearse.parts import PARTS
from voice.rehearse.listen.credit import Examiner
from voice.rehearse.listen.credited import Credited
from voice.rehearse.listen.match import MatchThresholds
from voice.rehearse.listen.part import RecitedPart
from voice.rehearse.listen.score import Scheme, Score, score
from voice.rehearse.listen.words import TokenReader

READER, THRESHOLDS, SCHEME = TokenReader.shipped(), MatchThresholds.shipped(), Scheme.shipped()
EXAMINER = Examiner(PARTS, READER, THRESHOLDS)


def spoken(part: RecitedPart, *, order: random.Random | None = None, skip: frozenset[str] = frozenset()) -> str:
    """The part as a good student says it: name, then the first phrase of every point."""
    points = [point for point in part.points if point.id not in skip]
    if order is not None:
        order.shuffle(points)
    return f"{part.names[0]}. " + ", ".join(point.say[0] for point in points) + "."


def graded(*said: str) -> tuple[Credited, Score]:
    reading = EXAMINER.read(said)
    return reading, score(PARTS, reading, SCHEME)


HONEST = [spoken(part) for part in PARTS]


def test_a_whole_recital_is_credited_in_full() -> None:
    reading, result = graded(*HONEST)
    assert {(p.key, c.point) for p in reading.parts for c in p.credits if c.said != "said"} == set()
    assert (result.points, result.slips) == (len(PARTS), ())


@given(st.integers(0, 10_000))
@settings(max_examples=25, deadline=None)
def test_order_of_checks_inside_a_part_does_not_matter(seed: int) -> None:
    order = random.Random(seed)
    _, result = graded(*(spoken(part, order=order) for part in PARTS))
    assert result.points == len(PARTS)


@given(st.data())
@settings(max_examples=25, deadline=None)
def test_saying_it_again_never_raises_the_score(data: st.DataObject) -> None:
    said = [HONEST[at] for at in data.draw(st.lists(st.integers(0, len(PARTS) - 1), min_size=1, unique=True))]
    again = said + data.draw(st.lists(st.sampled_from(said), min_size=1, max_size=6))
    assert graded(*again)[1].points <= graded(*said)[1].points


@pytest.mark.parametrize("at", range(len(PARTS) - 1))
def test_swapping_two_parts_costs_order_only(at: int) -> None:
    said = list(HONEST)
    said[at], said[at + 1] = said[at + 1], said[at]
    _, result = graded(*said)
    assert result.points == len(PARTS)
    assert len(result.slips) == 1
    assert result.slips[0] in (PARTS[at].key, PARTS[at + 1].key)


def test_backwards_has_every_check_and_no_order() -> None:
    _, result = graded(*reversed(HONEST))
    assert result.points == len(PARTS)
    assert len(result.slips) == len(PARTS) - 1


def test_naming_without_checks_earns_nothing() -> None:
    reading, result = graded(*(f"{part.names[0]}." for part in PARTS))
    assert result.points == 0
    assert all(part.named is not None for part in reading.parts)


@pytest.mark.parametrize(
    "babble",
    [
        "mounted secure not cracked not leaking " * 20,
        "The weather was fine on Saturday and we drove along the river with my sister and her dog for an hour.",
        "one two three four five six seven eight nine ten psi inches seconds",
        "",
    ],
)
def test_babble_earns_nothing(babble: str) -> None:
    reading, result = graded(babble)
    assert result.points == 0
    assert not any(part.said for part in reading.parts)


FARM = "mounted, secure, not cracked, not leaking"


def test_one_phrase_everywhere_earns_only_where_it_applies() -> None:
    reading, result = graded(*(f"{part.names[0]}. {FARM}." for part in PARTS))
    for part in PARTS:
        applies = {p.id for p in part.points if any(w in s for s in p.say for w in ("mounted", "crack", "leak"))}
        assert set(reading.of(part.key).said) <= applies, part.key
    assert result.points < len(PARTS) / 2


def test_reciting_every_check_on_every_part_earns_no_more_than_honesty() -> None:
    everything = ", ".join(dict.fromkeys(point.say[0] for part in PARTS for point in part.points))
    _, farmed = graded(*(f"{part.names[0]}. {everything}." for part in PARTS))
    assert farmed.points == 0


def test_a_check_before_its_part_is_named_earns_nothing() -> None:
    reading, _ = graded("The wires are tight and it is mounted. Alternator.")
    assert reading.of("alternator").said == ()


def test_wrong_limit_is_told_from_missing_limit() -> None:
    wrong, _ = graded("Steer tire. Tread depth at least two thirty seconds, even wear.")
    assert wrong.of("tire-tread/steer").of("depth").said == "wrong"
    missing, _ = graded("Steer tire. Tread depth is good, even wear.")
    assert missing.of("tire-tread/steer").of("depth").said == "missed"
    right, _ = graded("Steer tire. Tread depth at least 4/32nds of an inch, even wear.")
    assert right.of("tire-tread/steer").of("depth").said == "said"


def test_one_correction_is_forgiven_counting_through_is_not() -> None:
    corrected, _ = graded("Steer tire. Tread two, no, two thirty seconds, sorry, four thirty seconds.")
    assert corrected.of("tire-tread/steer").of("depth").said == "said"
    counting, _ = graded(
        "Steer tire. Tread one thirty seconds, two thirty seconds, three thirty seconds, four thirty seconds."
    )
    assert counting.of("tire-tread/steer").of("depth").said == "wrong"


def test_the_opposite_of_a_check_is_not_the_check() -> None:
    reading, _ = graded("Water pump. It is not secure and it is leaking.")
    assert reading.of("water-pump").said == ()


def test_a_name_inside_another_parts_check_does_not_take_over() -> None:
    """ "hoses" is a part of its own; here it is said of the compressor."""
    reading, _ = graded(
        "Air compressor. Securely mounted, hoses on it show no leaks, not cracked. Steering box. Mounted."
    )
    assert set(reading.of("compressor").said) == {"mounted", "leak", "cracks"}


def test_going_back_to_a_part_adds_the_forgotten_check() -> None:
    reading, result = graded(
        "Alternator. Mounted, not cracked, wires tight.",
        "Water pump. Mounted, not leaking, gear driven.",
        "And the alternator, half to three quarters of an inch of play.",
    )
    assert set(reading.of("alternator").said) == {"mounted", "cracks", "wires", "play"}
    assert result.slips == ()


@pytest.mark.parametrize(
    ("heard", "part", "points"),
    [  # written down as a recognizer gave them for synthetic voices
        ("Stir tire. Tread maps at least for 30 seconds, even where, no cuts or mulges.", "tire-tread/steer",
         {"depth", "wear", "cuts"}),
        ("Alter-nator it is mounted secure and not cracked the wires are tight", "alternator",
         {"mounted", "cracks", "wires"}),
        ("Slack adjuster and push rod no broken, loose or missing parts, with the brakes re-leashed it should not "
         "move more than about one inch.", "slack-adjuster/steer", {"parts", "stroke"}),
    ],
)  # fmt: skip
def test_misheard_words_are_still_known(heard: str, part: str, points: set[str]) -> None:
    assert set(EXAMINER.read([heard]).of(part).said) == points


def test_cut_into_utterances_or_in_one_breath_is_the_same() -> None:
    cut = EXAMINER.read([piece for text in HONEST for piece in text.split(", ")])
    one = EXAMINER.read([" ".join(HONEST)])
    assert [part.said for part in cut.parts] == [part.said for part in one.parts]
