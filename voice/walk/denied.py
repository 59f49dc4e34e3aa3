"""What was denied at a question ("Did you say forty six?" "No.") is not offered there again, and never taken at once.

Heard surely all the same, it is asked back once more: the no may have been misheard, or the driver looked again. A
defect is taken as ever when it is heard surely; else it stands against an OK again, and is only not offered. A reading
that was refused when its limit was told ("Is that right?" "No.") was not denied: it may be read again.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from voice.understand.meaning import Correct, Meaning, No, Now, Stop, Words, Yes
from voice.understand.question import Phrase
from voice.walk import reports
from voice.walk.context import Context
from voice.walk.state import Denial, Draft, State

# A no to "did you say no?" can mean either, and a moment cannot be had back.
_ALWAYS = (Yes, Correct, No, Now, Stop, Words)


def deny(state: State, meaning: Meaning | None) -> State:
    """Kept until the step is begun anew."""
    draft = state.draft
    if draft is None or meaning is None or isinstance(meaning, _ALWAYS) or state.rules < 5:
        return state
    denial = Denial(_question(state, draft), meaning, state.doubted_words)
    return replace(state, draft=replace(draft, denied=(*draft.denied, denial)))


def often(state: State, meaning: Meaning) -> int:
    """How often it was denied at this question."""
    draft = state.draft
    return 0 if draft is None else draft.denied.count(Denial(_question(state, draft), meaning))


def gives_way(context: Context, state: State, meaning: Meaning, *, sure: bool) -> bool:
    """Whether it is neither offered nor taken."""
    if sure:
        return often(state, meaning) > 1 and not reports.bad(context, state, meaning)
    return often(state, meaning) > 0


def standing(context: Context, state: State, meaning: Meaning) -> State:
    """With each defect that is doubted, those that were denied at this question stand again.

    It may be offered in place of one of them that seems to be heard once more, and its event does not say so.
    """
    draft = state.draft
    if draft is None or not reports.bad(context, state, meaning):
        return state
    for denial in draft.denied:
        if denial.question == _question(state, draft):
            state = reports.report(context, state, denial.meaning, denial.words, sure=False)
    return state


def instead(context: Context, state: State, meaning: Meaning, guesses: Iterable[Phrase]) -> Phrase | None:
    """The best of the other guesses, to be asked back; for a defect only another one. None if there is none."""
    bad = reports.bad(context, state, meaning)
    return next(
        (
            guess
            for guess in guesses
            if not isinstance(guess.meaning, _ALWAYS)
            and not often(state, guess.meaning)
            and (not bad or reports.bad(context, state, guess.meaning))
        ),
        None,
    )


def _question(state: State, draft: Draft) -> str:
    """Which of the questions about the step."""
    return f"{state.stage} {draft.line} {draft.gauge} {draft.defect or ''} {draft.follow}"
