"""What stands against an OK: defects that were reported or seemed to be, and were not taken back aloud.

One gate holds them: `voice.walk.step.store`. No answer but a defect passes it while something stands.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

from voice.judge.answer import Answer, DefectFound
from voice.understand.meaning import Chosen, Defect, Meaning
from voice.walk.context import Context
from voice.walk.state import Draft, Report, State

OTHER = "other"  # the defect outside the closed list: described in the driver's words


def bad(context: Context, state: State, meaning: Meaning | None) -> bool:
    """Whether the meaning reports a defect of the present step."""
    if state.draft is None:
        return False
    if isinstance(meaning, Chosen):
        step = context.current(state)
        offered = [step.item.answer, *(follow.answer for follow in step.item.follow_ups)]
        options = [option for answer in offered for option in getattr(answer, "options", ())]
        return any(option.id == meaning.id and option.defect for option in options)
    return isinstance(meaning, Defect)


def report(context: Context, state: State, meaning: Meaning, words: str, *, sure: bool) -> State:
    """Kept, if it is a defect: from now on it stands against an OK of this step."""
    if state.rules == 1 or state.draft is None or not bad(context, state, meaning):
        return state
    step = state.draft.step
    if isinstance(meaning, Defect):
        words = context.talk.defect_word if meaning.id is None else context.defects[meaning.id].say[0]
    kept = [each for each in state.reported.get(step, ()) if each.meaning != meaning or each.sure > sure]
    if any(each.meaning == meaning for each in kept):
        return state
    return replace(state, reported=_with(state, step, (*kept, Report(meaning, words, sure))))


def denied(state: State, meaning: Meaning | None) -> State:
    """A sure no to "did you say": what was only doubted no longer stands."""
    if state.draft is None:
        return state
    step = state.draft.step
    left = tuple(each for each in state.reported.get(step, ()) if each.sure or each.meaning != meaning)
    return replace(state, reported=_with(state, step, left))


def cleared(state: State, step: str) -> State:
    """Recorded, or taken back."""
    return replace(state, reported=_with(state, step, ()))


def against(context: Context, state: State) -> tuple[str, ...]:
    """What stands against an OK of the present step, in words: this walk's reports, and the answer it had before."""
    draft = state.draft
    if draft is None or draft.cleared or state.rules == 1:
        return ()
    old = state.answers.get(draft.step)
    had = [context.defects[found.defect].say[0] for found in old.defects] if old is not None else []
    said = [each.words for each in (*state.reported.get(draft.step, ()), *draft.against)]
    return tuple(dict.fromkeys([*had, *said]))


def had(state: State) -> bool:
    """Whether the present step has a defect as its answer, which is being changed."""
    return (
        state.draft is not None and state.draft.step in state.answers and bool(state.answers[state.draft.step].defects)
    )


def left_open(context: Context, state: State, step: str, reason: str) -> Answer:
    """The outcome of a step that is not answered any more. A defect that was begun is recorded as far as it came; one
    that was only doubted is named in the reason."""
    draft = state.draft if state.draft is not None and state.draft.step == step else Draft(step, state.at)
    if state.rules == 1:
        return Answer(step, "not-inspected", state.at, state.at, reason=reason)
    blank = Answer(step, "not-inspected", draft.asked, state.at, reason=reason, events=draft.events)
    found = list(draft.defects)
    if draft.defect is not None:
        found.append(DefectFound(draft.defect, draft.details))
    reports = state.reported.get(step, ())
    named = [each.meaning.id for each in reports if each.sure and isinstance(each.meaning, Defect)]
    known = {each.defect for each in found}
    found += [DefectFound(name) for name in named if name is not None and name not in known]
    if not found and any(each.sure for each in reports):
        words = ", ".join(each.words for each in reports if each.sure)
        found = [DefectFound(OTHER, (("described", context.talk.not_said_which.format(words=words)),))]
    if found:
        return replace(blank, kind="defect", defects=tuple(found), taken=draft.taken, reason=reason)
    doubted = [each.words for each in reports]
    if draft.number is not None:
        doubted.append(context.spoken(draft.number, ""))
    if doubted:
        return replace(blank, reason=context.talk.left_in_doubt.format(reason=reason, words=", ".join(doubted)))
    return blank


def _with(state: State, step: str, reports: tuple[Report, ...]) -> Mapping[str, tuple[Report, ...]]:
    others = {name: each for name, each in state.reported.items() if name != step}
    return MappingProxyType({**others, step: reports} if reports else others)
