"""What the terminal shows: the present item, the last answer, progress and defects, large and calm.

Nothing here is needed to work: the walk goes by ear. In a pipe or with --plain it is a line each for what is said and
asked, what is heard and the answer kept; so is what is said before the walk, on any terminal.
"""

from __future__ import annotations

import sys
from typing import NamedTuple

from rich.align import Align
from rich.console import Console, Group
from rich.live import Live
from rich.panel import Panel
from rich.progress_bar import ProgressBar
from rich.table import Table
from rich.text import Text

from voice.judge.answer import Answer
from voice.judge.wording import level_words
from voice.measure.level import Level
from voice.understand.question import Question
from voice.walk.context import Context
from voice.walk.event import Doubted, Event, Heard, Resumed, Silence, Unclear
from voice.walk.state import State


class Screen:
    """A Watcher.

    plain: no display, a line each for what is said and asked, what is heard and the answer kept.
    """

    def __init__(self, console: Console, *, plain: bool) -> None:
        self._console = console
        self._live = None if plain else Live(console=console, auto_refresh=False, screen=True)
        self._context: Context | None = None
        self._answers: dict[str, Answer] = {}
        self._results: dict[str, Result] = {}
        self._heard = ""
        self._said = ""

    def begin(self, context: Context, session: str) -> None:
        self._context = context
        if self._live is None:
            items = len(context.plan.walked().steps)
            self._console.print(f"inspection {session}: {items} items", highlight=False)
        else:
            self._live.start()

    def close(self) -> None:
        if self._live is not None and self._live.is_started:
            self._live.stop()
        elif self._live is None:
            self._told("said")

    def said(self, text: str) -> None:
        if self._live is None or not self._live.is_started:
            self._told("said")
        self._said = text

    def asked(self, state: State | None, question: Question) -> None:
        if state is not None and self._live is not None:
            self._live.update(self._picture(state), refresh=True)
        else:
            self._told("asked")

    def _told(self, how: str) -> None:
        """A line, once: a listening that goes on without a word asks nothing."""
        if self._said:
            self._console.print(f"{how}: {self._said}", highlight=False, markup=False, soft_wrap=True)
            self._said = ""

    def turned(self, state: State, event: Event) -> None:
        match event:
            case Heard(words=words):
                self._heard = words
            case Doubted(words=words):
                self._heard = f"{words} (not sure)"
            case Unclear():
                self._heard = "not understood"
            case Silence():
                self._heard = ""
            case Resumed():
                self._line("resumed", f"{len(state.answers)} answers kept")
        if self._live is None and self._heard and isinstance(event, Heard | Doubted | Unclear):
            self._console.print(f"heard: {self._heard}", highlight=False, markup=False, soft_wrap=True)
        for step, answer in state.answers.items():
            if self._answers.get(step) is not answer:
                self._answers[step] = answer
                if self._context is not None:
                    self._results[step] = result(self._context, answer)
                    if not isinstance(event, Resumed):
                        self._line(self._context.steps[step].name, self._results[step].text)

    def _line(self, name: str, text: str) -> None:
        if self._live is None and self._context is not None:
            total = len(self._context.plan.walked(self._answers).steps)
            self._console.print(f"{len(self._answers):4}/{total}  {name}: {text}", highlight=False, markup=False)

    def _picture(self, state: State) -> Group:
        if self._context is None:
            return Group()
        context = self._context
        total, done = len(context.asked(state)), len(state.answers)
        name, section = "", ""
        if state.draft is not None:
            step = context.current(state)
            name, section = step.name.upper(), context.sections[step.section].title
        found = [
            f"{context.steps[step].name}: {self._results[step].text}"
            for step in state.answers
            if step in self._results and self._results[step].stands_out
        ]
        bar = Table.grid()
        bar.add_row(ProgressBar(total=total, completed=done, width=max(self._console.width - 4, 20)))
        return Group(
            Text(section, style="dim"),
            Panel(Align.center(Text(f"\n{name}\n", style="bold white"), vertical="middle"), border_style="white"),
            Text(self._said, style="white"),
            Text(f"heard: {self._heard}" if self._heard else "", style="bold"),
            Text(),
            bar,
            Text(f"{done} of {total}, {len(state.skipped)} put off", style="dim"),
            Text(),
            Text("\n".join(found[-6:]), style="bold yellow"),
        )


class Result(NamedTuple):
    """An answer in a few words.

    stands_out: a defect, or a reading beyond a limit.
    """

    text: str
    stands_out: bool


def result(context: Context, answer: Answer) -> Result:
    parts, stands_out = [answer.choice or answer.kind], bool(answer.defects) or answer.kind == "defect"
    for taken in answer.taken:
        if taken.quantity.startswith(("gauge-", "hold-")):
            continue
        found = context.findings(context.steps[answer.step], taken.quantity, taken.value)
        level = max((each.level for each in found), default=Level.WITHIN)
        reading = context.printed(taken.value, taken.quantity)
        parts.append(reading if level is Level.WITHIN else f"{reading} ({level_words(level)})")
        stands_out = stands_out or level >= Level.REPAIR
    parts += [context.defects[each.defect].title.lower() for each in answer.defects]
    parts += [answer.reason] if answer.reason else []
    return Result(", ".join(part for part in parts if part != "reading"), stands_out)


def open_screen(*, plain: bool) -> Screen:
    """The display on a terminal, lines elsewhere."""
    return Screen(Console(file=sys.stdout), plain=plain or not sys.stdout.isatty())
