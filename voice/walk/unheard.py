"""Words that were not understood may have told of a defect: an okay after them is asked back ("Nothing wrong?").

A no to that, or words that are not understood again, leave a defect in doubt: from then on only "nothing wrong" says
that there is none. Whatever else is answered counts as ever. The gate is `voice.walk.step.store`.
"""

from __future__ import annotations

from dataclasses import replace

from voice.understand.meaning import Defect
from voice.walk.context import Context
from voice.walk.reports import asked_about, report
from voice.walk.state import Aside, Stage, State
from voice.walk.turn import overheard, settled


def spoken(context: Context, state: State) -> State:
    """Something was said that was not understood: kept with the step that is asked, or with each of a look. A doubt
    about an answer to "Nothing wrong?" is given up: it may have told of a defect since that was asked."""
    if state.rules < 6 or state.draft is None or state.aside not in (None, Aside.DOUBT) or overheard(state):
        return state
    told = replace(state, unheard=state.unheard.union(asked_about(state.draft)))
    return wrong_perhaps(context, told) if told.stage is Stage.UNHEARD else told


def wrong_perhaps(context: Context, state: State) -> State:
    """It was not agreed that nothing is wrong: a defect may have been meant, and only "nothing wrong" takes it back."""
    state = settled(state)
    if state.rules < 7:
        return state
    return replace(report(context, state, Defect(), context.talk.defect_word, sure=False), stage=Stage.TAKE_BACK)


def stands(state: State) -> bool:
    """Whether such words stand against the present answer: only where it says no more than that all is well."""
    draft = state.draft
    if draft is None or draft.outcome not in ("ok", "done", "choice"):
        return False
    return not state.unheard.isdisjoint(asked_about(draft))


def prompt(context: Context, state: State, whole: bool) -> str:
    """Whether nothing is wrong, after words that were not understood; all parts are named."""
    if context.parts(state):
        return context.pace.nothing_wrong.format(parts=context.called(state))
    return context.talk.nothing_wrong
