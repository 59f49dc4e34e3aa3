"""What an instructor decides against the examiner: a credit given or taken, with name and reason.

home/students/<id>/overruled.jsonl, one line each, only ever added to. The rehearsal's own line is never changed:
scores, curves and what a student knows are worked out from both, so that each overruling can be told and taken back.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Annotated, Literal

from pydantic import AwareDatetime, Field, StringConstraints

from voice.data.fields import MAX_PERSON, Text
from voice.data.strict import Strict
from voice.rehearse.listen.score import Scheme
from voice.rehearse.progress.record import PartRecord, SessionRecord

NAMED = ""  # in place of a check: that the part was called by its name

Short = Annotated[str, StringConstraints(max_length=300)]


class Overruling(Strict):
    """One decision. Of several about one credit the last counts.

    session: the rehearsal's id.
    part: key of the part.
    check: id of its key point; NAMED: that the part was named.
    credited: whether it counts as said, from here on.
    by: the instructor's name.
    """

    version: Literal[1] = 1
    session: str = Field(pattern=r"^[0-9A-Za-z-]+$", max_length=100)
    part: Short
    check: Short
    credited: bool
    by: str = Field(min_length=1, max_length=MAX_PERSON)
    reason: Text = Field(min_length=1)
    at: AwareDatetime


class Judged(SessionRecord):
    """A rehearsal as it counts: as it was heard, with what was overruled since.

    overruled: oldest first, those that were overruled again too.
    """

    overruled: tuple[Overruling, ...] = ()


def overrulings_of(session: SessionRecord, part: str | None = None) -> tuple[Overruling, ...]:
    """What was overruled in a rehearsal, of one part or of all."""
    every = session.overruled if isinstance(session, Judged) else ()
    return tuple(each for each in every if part is None or each.part == part)


def judged(session: SessionRecord, overrulings: Iterable[Overruling], scheme: Scheme) -> SessionRecord:
    """Works the overrulings of this rehearsal into its parts and points; the rehearsal itself where there are none.

    Only the parts they are about are scored anew; what the scheme was on the day stands for all others.
    """
    mine = tuple(each for each in overrulings if each.session == session.id)
    if not mine:
        return session
    last: dict[str, dict[str, bool]] = {}
    for each in mine:
        last.setdefault(each.part, {})[each.check] = each.credited
    parts = tuple(_decided(part, last[part.key], scheme) if part.key in last else part for part in session.parts)
    gained = sum(new.right - old.right for new, old in zip(parts, session.parts, strict=True))
    each_part = session.of / len(session.parts) if session.parts else 0.0
    points = min(session.of, max(0.0, session.points + gained * each_part))
    changed = {part.key for part in parts if part.key in last}
    return Judged(
        **session.model_dump(exclude={"parts", "points", "failed"}),
        parts=parts,
        points=points,
        failed=_failed(session.failed, parts, changed, scheme),
        overruled=mine,
    )


def _decided(part: PartRecord, decided: Mapping[str, bool], scheme: Scheme) -> PartRecord:
    """The part with these credits, right or not by the scheme's share."""
    checks = {**dict.fromkeys(part.said, True), **dict.fromkeys((*part.short, *part.wrong), False)}
    said = tuple(check for check in checks if decided.get(check, checks[check]))
    wrong = tuple(check for check in part.wrong if check not in said and check not in decided)
    short = tuple(check for check in checks if check not in said and check not in wrong)
    named = decided.get(NAMED, part.named)
    stray = part.strays > len(said) + scheme.strays_let_pass
    enough = len(said) >= max(1, math.ceil(scheme.needed_share * len(checks)))
    right = named and enough and not wrong and not stray
    return part.model_copy(update={"named": named, "said": said, "short": short, "wrong": wrong, "right": right})


def _failed(before: Sequence[str], parts: Sequence[PartRecord], changed: set[str], scheme: Scheme) -> tuple[str, ...]:
    """Titles of what is not right as a whole; only wholes with a part that was overruled are looked at anew."""
    failed = list(before)
    for whole in scheme.whole:
        covered = [p for p in parts if p.section == whole.section or p.key.partition("/")[0] in whole.items]
        if not any(part.key in changed for part in covered):
            continue
        lacking = any(not part.right or part.short for part in covered)
        if lacking and whole.title not in failed:
            failed.append(whole.title)
        elif not lacking and whole.title in failed:
            failed.remove(whole.title)
    return tuple(failed)
