"""What is tried: which speaker says what in which noise, in answer to which question. A fixed seed, a fixed list."""

from __future__ import annotations

import csv
import hashlib
import random
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from tests.benchmarks.hearing.noises import NOISES, Noise
from tests.benchmarks.hearing.questions import shipped
from tests.benchmarks.hearing.voices import SPEAKERS, Speaker, available
from voice.understand.meaning import Meaning

SNRS: tuple[float | None, ...] = (None, 20.0, 10.0, 5.0, 0.0)
DIGITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
REAL = {"yes": "yes-no finishing", "no": "yes-no finishing", "stop": "quiet air-leak-static, quiet"}
COUNT = "reading governor-cut-out, called"  # whole numbers 0 to 150: where bare digits are answered

# Speech that answers nothing: what may be said near the microphone. Made up here.
STRANGE = (
    "did you see the game last night", "the weather is turning bad again", "put the coffee on the counter",
    "we are leaving at seven thirty", "hey give me a hand over here", "that trailer goes to the north lot",
    "call the dispatcher about the load", "who parked in my spot", "my phone is almost dead",
    "turn the radio down please", "it was raining all morning", "he said he would be back by noon",
    "what time is the meeting", "I need a new pair of gloves", "the forklift is blocking the dock",
    "sign the papers before you go", "they closed the highway at exit nine", "bring me the clipboard",
    "are you coming to lunch", "the kids are at school today", "nobody told me about that",
    "watch your step over there", "it costs about forty dollars", "I will talk to you later",
    "the gate code has changed", "back it up a little more", "left a little now straighten out",
    "how is your mother doing", "we should fuel up first", "that song is stuck in my head",
    "elephants", "banana", "window", "telephone", "yellow", "mountain", "butter", "seventy miles of road",
    "october", "paper towel", "otto came in", "a cable", "oh hey", "today", "okra", "cocoa", "way to go",
    "could be", "a book", "hurray", "kay is here", "oh boy", "goodbye", "would he", "hood", "wood", "looks like rain",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Trial:
    """text: what is said (empty: nothing). meaning: what it means in this question, None if it means nothing.

    kind: of trial: ok, defect, number, command, other, strange (speech that answers nothing), noise.
    clip: path below the folder of audio for a recorded speaker. speaker: name. snr: dB, None is quiet.
    """

    number: int
    kind: str
    question: str
    text: str
    meaning: Meaning | None
    speaker: str
    clip: str | None
    noise: Noise | None
    snr: float | None

    @property
    def key(self) -> str:
        noise = self.noise and self.noise.name
        return f"{self.number}|{self.question}|{self.text}|{self.speaker}|{self.clip}|{noise}|{self.snr}"


def half(name: str) -> str:
    """Which half a recorded speaker belongs to: "tune" or "held"."""
    if name.startswith(("fsdd:theo", "allison", "asterisk")):
        return "held"
    return "tune" if hashlib.sha256(name.encode()).digest()[0] % 2 else "held"


def speakers(group: str) -> list[Speaker]:
    return [one for one in SPEAKERS if one.group == group and available(one)]


def trials(group: str, folder: Path, *, each: int = 1, numbers: int = 60, seed: int = 1) -> list[Trial]:
    """All trials of a group ("tune" or "held"), shuffled, so that a part of the list is a fair sample.

    each: times every phrase is said by every synthetic speaker, in noise drawn anew.
    numbers: how many readings, and how many parts of a look, a speaker says: a fresh sample of some thousand each.
    """
    draw = random.Random(f"{group}{seed}")
    out = [*_spoken(group, draw, each, numbers), *_recorded(group, folder, draw), *_strange(group, folder, draw)]
    out += list(_nothing(group, draw))
    draw.shuffle(out)
    return [Trial(n, *fields) for n, fields in enumerate(out)]


Fields = tuple[str, str, str, Meaning | None, str, str | None, Noise | None, float | None]


def _where(group: str, draw: random.Random, snrs: tuple[float | None, ...] = SNRS) -> tuple[Noise | None, float | None]:
    snr = draw.choice(snrs)
    return (None if snr is None else draw.choice([noise for noise in NOISES if noise.group == group])), snr


def _by_text() -> dict[str, list[tuple[str, Meaning]]]:
    found: dict[str, list[tuple[str, Meaning]]] = {}
    for name, question in shipped().items():
        for phrase in question.phrases:
            found.setdefault(phrase.text, []).append((name, phrase.meaning))
    return found


def _spoken(group: str, draw: random.Random, each: int, numbers: int) -> Iterator[Fields]:
    found = _by_text()
    plain: list[str] = []
    counted: list[str] = []
    parts: list[str] = []
    for text, places in sorted(found.items()):
        kind = places[0][1].kind
        (counted if kind in ("number", "either", "pair") else parts if kind == "part" else plain).append(text)
    for speaker in speakers(group):
        for text in plain:
            for _ in range(each * (4 if found[text][0][1].kind == "ok" else 1)):
                name, meaning = draw.choice(found[text])
                yield _kind(meaning), name, text, meaning, speaker.name, None, *_where(group, draw)
        for text in (*draw.sample(counted, numbers), *draw.sample(parts, numbers)):
            name, meaning = draw.choice(found[text])
            yield _kind(meaning), name, text, meaning, speaker.name, None, *_where(group, draw)


def _kind(meaning: Meaning) -> str:
    match meaning.kind:
        case "ok":
            return "ok"
        case "defect" | "part":
            return "defect"
        case "number" | "either" | "pair":
            return "number"
        case "command":
            return "command"
        case _:
            return "other"


def recorded_index(folder: Path) -> list[dict[str, str]]:
    with (folder / "index.csv").open(newline="") as lines:
        return [row for row in csv.DictReader(lines) if row["kind"] == "speech"]


def _recorded(group: str, folder: Path, draw: random.Random) -> Iterator[Fields]:
    meanings = {name: shipped()[name].meanings for name in (*REAL.values(), COUNT)}
    for row in recorded_index(folder):
        text = row["text"]
        name = REAL.get(text) or (COUNT if text in DIGITS else None)
        if row["source"] == "asterisk_allison" and text in meanings[COUNT]:
            name = COUNT
        if name is None or half(row["speaker"]) != group:
            continue
        for _ in range(2 if text in REAL else 1):
            meaning = meanings[name][text]
            kind = "number" if name == COUNT else "other"
            yield kind, name, text, meaning, f"real {row['source']}", row["path"], *_where(group, draw)


def _strange(group: str, folder: Path, draw: random.Random) -> Iterator[Fields]:
    names = [
        name for name in shipped() if name.split()[0] in ("condition", "look", "yes-no", "done", "quiet", "reading")
    ]
    conditions = [name for name in names if name.startswith(("condition", "look"))]
    for speaker in speakers(group):
        for text in STRANGE:
            name = draw.choice(conditions if draw.random() < 0.7 else names)
            if text not in shipped()[name].meanings:
                yield "strange", name, text, None, speaker.name, None, *_where(group, draw)
    taken = {*REAL, *DIGITS}
    for row in recorded_index(folder):
        if half(row["speaker"]) == group and row["text"] not in taken and row["source"] != "asterisk_allison":
            name = draw.choice(conditions if draw.random() < 0.7 else names)
            yield "strange", name, row["text"], None, f"real {row['source']}", row["path"], *_where(group, draw)


def _nothing(group: str, draw: random.Random) -> Iterator[Fields]:
    names = list(shipped())
    for _ in range(120):
        yield "noise", draw.choice(names), "", None, "nobody", None, *_where(group, draw, (20.0, 10.0, 5.0, 0.0))
