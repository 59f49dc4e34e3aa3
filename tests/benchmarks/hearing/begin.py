"""python -m tests.benchmarks.hearing.begin [kinds|which|vehicles|drivers|odometer ...]: what is asked before the walk.

Each name of each kind of inspection is said to the question that offers the usual kind ("kinds") and to the one that
asks which ("which"); then odometers, with the last reading known and not. Three voices, in quiet and 15 dB over an
idling engine, by the whole ear. Counted is what comes of the first answer; a guess that is asked back can be wrong.

--home: a Gladhand folder, whose prompts lie over the shipped ones: to try other words.
"""

from __future__ import annotations

import argparse
import random
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

import numpy as np

from tests.benchmarks.hearing.noises import Noise, scene
from tests.benchmarks.hearing.voices import SPEAKERS, Clips, Speaker
from voice.hear.ear import VoiceEar
from voice.hear.port import Hearing
from voice.measure.cardinal import cardinal, digits
from voice.measure.counter import in_halves
from voice.models.engines import load_engines
from voice.route.kinds import PRE_TRIP, kinds_for
from voice.route.units import named_vehicle
from voice.route.vehicles import read_profiles, vehicle_files
from voice.session.asking import Asker, Pick
from voice.session.coupling import called, pairs
from voice.session.driving import _ask, _called, _Last, _Odometer
from voice.session.resources import Resources, open_resources
from voice.sound.port import Audio
from voice.sound.recording import ArrayMicrophone
from voice.understand.meaning import Signed
from voice.understand.question import Phrase, Question
from voice.walk.event import CueName

VOICES = (
    *(one for one in SPEAKERS if one.name in ("espeak-us-f3", "festival-kal")),
    Speaker("flite-kal", "flite", "kal", "held"),
)
SNRS = (None, 15.0)
IDLE = Noise("idle-2", "held", "idle", 11)
OUTCOMES = ("right at once", "asked back, right", "not understood", "asked back, wrong", "taken, wrong")
VEHICLE = "tractor-trailer-five-axle"
DRIVERS = ("Rosa Quill", "Ned Marsh", "Ada Finch", "Tom Barlow")


class _Over(Exception):  # noqa: N818 - the first answer has come to something
    """asked: how a guess was asked back; empty if nothing was understood."""

    def __init__(self, asked: str = "") -> None:
        self.asked = asked


class Silent:
    """A loudspeaker that nobody hears."""

    name = "silent"

    def say(self, text: str) -> None: ...

    def cue(self, name: CueName) -> None: ...

    def close(self) -> None: ...


class OneAnswer(Asker):
    """Hears one answer and stops where the second would be asked for."""

    said: Audio
    ear: VoiceEar
    told: tuple[Hearing, ...] = ()

    def _heard(self, question: Question, prompt: str) -> Hearing:
        if self.told:
            raise _Over(prompt if question.asks == "yes-no" else "")
        microphone = ArrayMicrophone(self.said)
        self.ear.floor.forget()
        self.ear.use(microphone, microphone)
        self.told = (self.ear.listen(question),)
        return self.told[0]


Asking = Callable[[OneAnswer], object]
Trial = tuple[str, str, Asking, set[object]]  # of which row, what is said, the question, what is right


def outcome(ask: Asking, asker: OneAnswer, right: set[object]) -> tuple[str, str]:
    """What came of it, and in which words."""
    try:
        answer = ask(asker)
    except _Over as over:
        if not over.asked:
            return "not understood", ""
        return ("asked back, right" if over.asked in right else "asked back, wrong"), over.asked
    return ("right at once" if answer in right else "taken, wrong"), str(answer)


def kinds(resources: Resources, first: bool) -> Iterator[Trial]:
    """Every name of every kind, to "Pre-trip inspection?" or to "Which inspection?"."""
    vehicle = named_vehicle(resources.home, VEHICLE)
    found = kinds_for(resources.library, vehicle)
    picks = [Pick(kind.id, kind.call) for kind in found]
    talk = resources.driving
    which = talk.kind_which.format(names=", ".join(kind.call[0] for kind in found))
    title = resources.library.kinds[PRE_TRIP].title

    def ask(asker: OneAnswer) -> object:
        if first:
            return asker.pick_or("kind", talk.kind.format(title=title), picks, which)
        return asker.pick("kind-which", which, picks, which)

    for kind in found:
        doubts = {resources.talk.setup.doubt.format(words=name) for name in kind.call}
        for name in kind.call:
            yield f"{kind.id}: {name}", name, ask, {kind.id, *doubts}
    for word, meant in (("yes", True), ("no", False)) if first else ():
        yield word, word, ask, {meant}


def vehicles(resources: Resources) -> Iterator[Trial]:
    """Every name of the sample vehicles, to "Which vehicle?"."""
    known = list(read_profiles(vehicle_files(resources.home)).vehicles.values())
    picks = [Pick(each.id, called(each, known)) for each in known if each.kind != "trailer"]
    picks += [Pick(each.id, (name,)) for name, each in pairs(resources, known).items()]
    talk = resources.talk.setup
    for pick in picks:
        own = {name for each in picks if each.id == pick.id for name in each.names}
        for name in pick.names:
            right: set[object] = {pick.id, *(talk.doubt.format(words=each) for each in own)}
            yield f"vehicle: {name}", name, lambda asker: asker.pick("vehicle", "", picks, ""), right


def drivers(resources: Resources) -> Iterator[Trial]:
    """Whole names and surnames, to "Who drives?"."""
    talk = resources.talk.setup
    phrases = [Phrase(text, Signed(name)) for name in DRIVERS for text in _called(name, DRIVERS)]
    for name in DRIVERS:
        whole, *parts = _called(name, DRIVERS)
        right: set[object] = {Signed(name), *(talk.doubt.format(words=each) for each in (whole, *parts))}
        for text in (whole, parts[-1]):
            yield f"driver: {text}", text, lambda asker: asker.ask("driver", "", phrases, ""), right


def odometers(resources: Resources, count: int) -> Iterator[Trial]:
    draw = random.Random(4)
    for topic in ("odometer", "hubodometer"):
        said = getattr(resources.driving, topic)
        for known in (True, False):
            for _ in range(count):
                number = draw.randrange(100_000, 999_999) if topic == "odometer" else draw.randrange(20_000, 399_999)
                last = _Last(float(number - draw.randrange(1, 700)), datetime.now(UTC)) if known else None
                of = _Odometer(topic, "trailer forty", resources.driving, said, "mi", last)
                read_back = said.right.format(value=f"{cardinal(number)} miles", name=of.name)
                ways = {"whole": cardinal(number), "halves": in_halves(number), "digits": digits(number)}
                for way, words in ways.items():
                    row = f"{topic}, {'last known' if known else 'last not known'}, {way}"
                    yield row, words, partial(_ask, of=of), {read_back}


ASKED: dict[str, Callable[[Resources], Iterator[Trial]]] = {
    "kinds": partial(kinds, first=True), "which": partial(kinds, first=False), "vehicles": vehicles, "drivers": drivers,
    "odometer": partial(odometers, count=4),
}  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("what", nargs="*", default=list(ASKED))
    parser.add_argument("--home", type=Path)
    parser.add_argument("--work", type=Path, default=Path(tempfile.gettempdir()) / "gladhand-hearing")
    given = parser.parse_args()
    resources = open_resources(given.home or given.work / "home")
    engines = load_engines()
    ear = VoiceEar(ArrayMicrophone(), engines.judge, engines.writer)
    clips = Clips(given.work / "clips")
    for what in given.what:
        print(f"\n## {what}\n")
        measure(ear, clips, resources, list(ASKED[what](resources)))


def measure(ear: VoiceEar, clips: Clips, resources: Resources, trials: list[Trial]) -> None:
    rows: dict[tuple[str, float | None], Counter[str]] = {}
    noise = np.random.default_rng(5)
    for row, text, ask, right in trials:
        for voice in VOICES:
            for snr in SNRS:
                said, _ = scene(clips.get(voice, text), IDLE, snr, Path(), noise)
                asker = OneAnswer(ear, Silent(), resources.book, resources.talk.setup)
                asker.said, asker.ear = said, ear
                found, words = outcome(ask, asker, right)
                rows.setdefault((row, snr), Counter())[found] += 1
                hearing = asker.told[0]
                print(f"{row:44} {voice.name:13} {snr!s:5} {found:18} {words:40} [{hearing.words}]", flush=True)
    for snr in SNRS:
        total: Counter[str] = Counter()
        print(f"\n{'quiet' if snr is None else f'{snr:.0f} dB over an idle'}: {', '.join(OUTCOMES)}")
        for (row, at), counts in rows.items():
            if at == snr:
                total.update(counts)
                print(f"{row:44}", *(f"{counts[each]:4}" for each in OUTCOMES))
        print(f"{'together':44}", *(f"{total[each]:4}" for each in OUTCOMES), f"of {total.total()}")


if __name__ == "__main__":
    main()
