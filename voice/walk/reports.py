"""What stands against an OK: defects that were reported or seemed to be, and were not taken back aloud.

One gate holds them: `voice.walk.step.store`. No answer but a defect passes it while something stands.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from types import MappingProxyType

from voice.judge.answer import Answer, DefectFound
from voice.judge.result import judge_answer
from voice.measure.level import Level
from voice.route.library import OTHER
from voice.route.model import Look
from voice.understand.meaning import Chosen, Defect, Meaning, NotApplicable, Part
from voice.walk.context import Context
from voice.walk.state import Draft, Report, State


def bad(context: Context, state: State, meaning: Meaning | None) -> bool:
    """Whether the meaning reports a defect of the present step."""
    if state.draft is None:
        return False
    if isinstance(meaning, Chosen):
        step = context.current(state)
        offered = [step.item.answer, *(follow.answer for follow in step.item.follow_ups)]
        options = [option for answer in offered for option in getattr(answer, "options", ())]
        return any(option.id == meaning.id and option.defect for option in options)
    if isinstance(meaning, Part):
        return meaning.defect is not None or not isinstance(state.draft.pending, NotApplicable)
    return isinstance(meaning, Defect)


def of_part(state: State, part: Part) -> Part:
    """The part with the defect that was reported before it was said of which."""
    pending = None if state.draft is None else state.draft.pending
    return Part(part.step, pending.id) if part.defect is None and isinstance(pending, Defect) else part


def attributed(state: State) -> State:
    """It was said which part has what was reported: that no longer stands against the look."""
    draft = state.draft
    if draft is None or draft.pending is None:
        return state
    left = tuple(each for each in state.reported.get(draft.look, ()) if each.meaning != draft.pending)
    return replace(state, reported=_with(state, draft.look, left))


def _about(state: State, meaning: Meaning) -> tuple[str, Meaning]:
    """What a report is of: the part that was named, the look if none was, else the step; and what it says of it."""
    if state.draft is None:
        raise AssertionError("something is asked")
    if isinstance(meaning, Part):
        return meaning.step, Defect(of_part(state, meaning).defect)
    return state.draft.look if state.draft.group else state.draft.step, meaning


def report(context: Context, state: State, meaning: Meaning, words: str, *, sure: bool) -> State:
    """Kept, if it is a defect: from now on it stands against an OK of this step."""
    if state.rules == 1 or state.draft is None or not bad(context, state, meaning):
        return state
    named = f"{context.part_name(meaning.step)} " if isinstance(meaning, Part) else ""
    step, meaning = _about(state, meaning)
    if isinstance(meaning, Defect):
        words = named + (context.talk.defect_word if meaning.id is None else context.defects[meaning.id].say[0])
    kept = [each for each in state.reported.get(step, ()) if each.meaning != meaning or each.sure > sure]
    if any(each.meaning == meaning for each in kept):
        return state
    return replace(state, reported=_with(state, step, (*kept, Report(meaning, words, sure))))


def denied(state: State, meaning: Meaning | None) -> State:
    """A sure no to "did you say": what was only doubted no longer stands."""
    if state.draft is None or meaning is None:
        return state
    step, meaning = _about(state, meaning)
    left = tuple(each for each in state.reported.get(step, ()) if each.sure or each.meaning != meaning)
    return replace(state, reported=_with(state, step, left))


def cleared(state: State, *steps: str) -> State:
    """Recorded, or taken back."""
    for step in steps:
        state = replace(state, reported=_with(state, step, ()))
    return replace(state, unheard=state.unheard.difference(steps))


def asked_about(draft: Draft) -> tuple[str, ...]:
    """The step that is asked, or each of a look."""
    return draft.group or (draft.step,)


def subjects(context: Context, draft: Draft) -> tuple[str, ...]:
    """What the present answer is about: its steps, and the look that they belong to."""
    look = context.looks.get(draft.step)
    return (*asked_about(draft), *(() if look is None else (look.id,)))


def against(context: Context, state: State) -> tuple[str, ...]:
    """What stands against an OK of what is asked, in words: this walk's reports, and the answer it had before."""
    draft = state.draft
    if draft is None or draft.cleared or state.rules == 1:
        return ()
    old = state.answers.get(draft.step)
    had = [context.defects[found.defect].say[0] for found in old.defects] if old is not None else []
    reported = [each for name in subjects(context, draft) for each in state.reported.get(name, ())]
    said = [each.words for each in (*reported, *draft.against)]
    return tuple(dict.fromkeys([*had, *said]))


def had(state: State) -> bool:
    """Whether the present step has a defect as its answer, which is being changed."""
    return state.draft is not None and known_bad(state, state.draft.step)


def placed(context: Context, state: State, look: Look) -> State:
    """Nobody will say any more of which part it was: kept with the first that can have it, and all are named."""
    step = next((step for step in look.steps if not known_bad(state, step)), look.steps[0])
    parts = ", ".join(look.parts)
    told = tuple(
        replace(each, meaning=Defect(), words=context.pace.one_of.format(words=each.words, parts=parts))
        for each in state.reported.get(look.id, ())
    )
    if not told:
        return state
    return cleared(replace(state, reported=_with(state, step, (*state.reported.get(step, ()), *told))), look.id)


def known_bad(state: State, step: str) -> bool:
    """Whether the step has a defect as its answer."""
    return step in state.answers and bool(state.answers[step].defects)


def left_open(context: Context, state: State, step: str, reason: str) -> Answer:
    """The outcome of a step that is not answered any more. A defect that was begun is recorded as far as it came; one
    that was only doubted is named in the reason. A bad answer that it has already stays beside that."""
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
    if (old := _bad_answer(context, state, step)) is not None:
        return _added(context, old, replace(blank, defects=tuple(found), taken=draft.taken), reports)
    if found:
        return replace(blank, kind="defect", defects=tuple(found), taken=draft.taken, reason=reason)
    doubted = [each.words for each in reports]
    if draft.number is not None:
        doubted.append(context.spoken(draft.number, ""))
    if doubted:
        return replace(blank, reason=context.talk.left_in_doubt.format(reason=reason, words=", ".join(doubted)))
    return blank


def taken_back(context: Context, state: State, answer: Answer) -> tuple[str, ...]:
    """What was said of the step, in words, that its new answer does not say any more: reports that were taken back
    aloud, and of the answer it had before the defects and the readings beyond their limits."""
    if state.rules < 7:
        return ()
    look = context.looks.get(answer.step)
    about = (answer.step, *(() if look is None else (look.id,)))
    draft = state.draft
    words = [] if draft is None else [said for subject, said in draft.taken_back if subject in about]
    before = state.answers[answer.step].taken_back if answer.step in state.answers else ()
    if (old := _bad_answer(context, state, answer.step)) is not None:
        kept = {found.defect for found in answer.defects}
        words += [context.defects[found.defect].say[0] for found in old.defects if found.defect not in kept]
        words += [context.spoken(each.value, each.quantity) for each in old.taken if each not in answer.taken]
    return tuple(dict.fromkeys((*before, *words)))


def _bad_answer(context: Context, state: State, step: str) -> Answer | None:
    """The step's answer if it has a defect or a reading beyond its limit. An earlier version lost it there."""
    old = state.answers.get(step)
    if old is None or state.rules < 5:
        return None
    worst = judge_answer(context.limits, context.plan.vehicle, context.steps[step], old).level
    return old if old.defects or worst >= Level.REPAIR else None


def _added(context: Context, old: Answer, new: Answer, reports: Iterable[Report]) -> Answer:
    """The old answer with what was found and doubted since."""
    named = {each.defect for each in new.defects}
    defects = (*(each for each in old.defects if each.defect not in named), *new.defects)
    doubted = ", ".join(each.words for each in reports if not each.sure)
    return replace(
        old,
        kind="defect" if defects else old.kind,
        answered=new.answered,
        defects=defects,
        taken=new.taken or old.taken,
        events=(*old.events, *new.events),
        reason=context.talk.left_in_doubt.format(reason=new.reason, words=doubted) if doubted else new.reason,
    )


def _with(state: State, step: str, reports: tuple[Report, ...]) -> Mapping[str, tuple[Report, ...]]:
    others = {name: each for name, each in state.reported.items() if name != step}
    return MappingProxyType({**others, step: reports} if reports else others)
