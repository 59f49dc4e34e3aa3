"""What the terminal shows: the present item, the last answer, progress, defects; a line each in a pipe."""

from __future__ import annotations

from io import StringIO

import pytest
from rich.console import Console

from tests.walk.talkative import Talk, context
from voice.cli.screen import Screen
from voice.judge.wording import level_words
from voice.measure.level import Level
from voice.understand.question import Question
from voice.walk.event import Event, Heard, Started, Unclear
from voice.walk.state import State

FEW = ("hoses", "radiator", "belt-play", "tire-tread")


class Watched:
    """A talk whose turns a screen watches."""

    def __init__(self, *, plain: bool) -> None:
        self.out = StringIO()
        console = Console(file=self.out, width=90, height=28, force_terminal=not plain, color_system=None)
        self.screen = Screen(console, plain=plain)
        self.talk = Talk(context(only=FEW))
        self.screen.begin(self.talk.context, "test-session")
        self.see(Started(0.0))

    def see(self, event: Event) -> None:
        self.screen.turned(self.talk.state, event)
        self.screen.said(self.talk.heard)
        self.screen.asked(self.talk.state, self.talk.question)

    def say(self, text: str) -> None:
        meaning = self.talk.meaning(text)
        self.talk.say(text)
        self.see(Heard(self.talk.clock, meaning, text))

    @property
    def state(self) -> State:
        return self.talk.state


def test_the_display_shows_item_answer_progress_and_defects() -> None:
    watched = Watched(plain=False)
    watched.say("leaking")
    watched.say("no")
    watched.screen.close()
    last = watched.out.getvalue().rsplit("RADIATOR", 1)[1]
    assert "heard: no" in last
    assert f"1 of {len(watched.talk.context.order)}, 0 put off" in last
    assert "hoses: defect, leaking" in last


def test_in_a_pipe_it_is_a_line_each_for_what_is_asked_heard_and_kept() -> None:
    watched = Watched(plain=True)
    watched.say("okay")
    watched.say("okay")
    watched.say("five eighths")
    watched.see(Unclear(watched.talk.clock))
    lines = watched.out.getvalue().splitlines()
    total = len(watched.talk.context.order)
    answers = [f"   1/{total}  hoses: ok", f"   2/{total}  radiator: ok", f"   3/{total}  belt play: 5/8 in"]
    assert lines[3:10:3] == answers
    assert [lines[n] for n in (2, 5, 8)] == ["heard: okay", "heard: okay", "heard: five eighths"]
    assert all(line.startswith("asked: ") for line in lines[1:11:3])
    assert watched.talk.context.steps["radiator"].say.normal in lines[4]
    assert lines[11] == "heard: not understood"


@pytest.mark.parametrize("plain", [True, False])
def test_what_is_asked_before_a_walk_is_shown_and_only_once(plain: bool) -> None:
    out = StringIO()
    screen = Screen(Console(file=out, width=90, force_terminal=not plain, color_system=None), plain=plain)
    screen.said("Which vehicle? truck seven.")
    for _ in range(2):
        screen.asked(None, Question("choice", ()))
    assert out.getvalue() == "asked: Which vehicle? truck seven.\n"


def test_what_is_said_before_a_question_has_a_line_of_its_own() -> None:
    out = StringIO()
    screen = Screen(Console(file=out, width=90), plain=True)
    for text in ("three items left.", "Horn?"):
        screen.said(text)
    screen.asked(None, Question("choice", ()))
    assert out.getvalue().splitlines() == ["said: three items left.", "asked: Horn?"]


def test_a_reading_beyond_a_limit_is_marked_in_both() -> None:
    """By the name of its level, as everywhere. Four thirty seconds is the limit of a steer tire (49 CFR 393.75(b))."""
    for text, told in (
        ("three thirty seconds", f"3/32 in ({level_words(Level.REPAIR)})"),
        ("four thirty seconds", f"4/32 in ({level_words(Level.WATCH)})"),
        ("nine thirty seconds", "9/32 in"),
    ):
        plain, large = Watched(plain=True), Watched(plain=False)
        for watched in (plain, large):
            for said in ("okay", "okay", "five eighths", text):
                watched.say(said)
            if "three" in text:
                watched.say("yes")
        assert plain.out.getvalue().splitlines()[-2].endswith(f"left steer tread: {told}")
        large.screen.close()
        last = large.out.getvalue().rsplit("of ", 1)[1]
        assert ("left steer tread" in last.partition("put off")[2]) == ("three" in text)


@pytest.mark.parametrize("markup", ["[bold]x[/bold]", "[/]"])
def test_what_was_heard_is_shown_as_it_is(markup: str) -> None:
    """Words that look like the display's own markup must not break it."""
    watched = Watched(plain=False)
    watched.screen.turned(watched.state, Heard(1.0, watched.talk.meaning("okay"), markup))
    watched.screen.asked(watched.state, watched.talk.question)
    watched.screen.close()
    assert markup in watched.out.getvalue()
