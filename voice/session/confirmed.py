"""Learning from earlier walks: okays that were asked back ("did you say okay?") and confirmed with yes."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

from voice.errors import DeviceError, JournalError, tell
from voice.hear.decoys import decoys
from voice.hear.likeness import reading
from voice.hear.thresholds import DEFAULT
from voice.hear.transformer import Transformer
from voice.journal import journal
from voice.journal.folder import Session, sessions
from voice.journal.line import Line
from voice.session.attuned import Attuned
from voice.sound.recording import load
from voice.understand.meaning import Ok, Yes
from voice.understand.phrases import Phrasebook
from voice.walk.event import Doubted, Heard


def learn(home: Path, one: Attuned, judge: Transformer) -> Attuned:
    """With what the walks begun with this driver's name have left. One that cannot be read is told and left out."""
    phrases = [phrase.text for phrase in Phrasebook().condition()]
    texts = [*phrases, *decoys(phrases)]
    found = dict(one.confirmed)
    for key, word, clip in _confirmed(home, one.name):
        if key in found or not clip.is_file():
            continue
        try:
            found[key] = reading(word, judge.judge(load(clip), texts))
        except DeviceError as error:
            tell(error)
    return one.model_copy(update={"confirmed": found})


def _confirmed(home: Path, name: str) -> Iterator[tuple[str, str, Path]]:
    """Of each such answer its key, the word, and the recording."""
    for session in sessions(home):
        try:
            file = journal.read(session.journal)
        except JournalError as error:
            tell(error)
            continue
        if (file.heading.driver or "").casefold() == name.casefold():
            yield from _of(session, file.lines)


def _of(session: Session, lines: tuple[Line, ...]) -> Iterator[tuple[str, str, Path]]:
    for line, after in pairwise(lines):
        doubted, answer, clip = line.event, after.event, line.hearing.get("clip")
        if (
            isinstance(doubted, Doubted)
            and isinstance(doubted.meaning, Ok)
            and doubted.words in DEFAULT.okays
            and isinstance(answer, Heard)
            and isinstance(answer.meaning, Yes)
            and not answer.early
            and clip is not None
        ):
            yield f"{session.id}/{line.n}", doubted.words, session.path / clip
