"""Runs trials through the real ear and keeps what every engine made of each, one JSON line a trial (resumable)."""

from __future__ import annotations

import json
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from tests.benchmarks.hearing.noises import piece, scene
from tests.benchmarks.hearing.questions import shipped
from tests.benchmarks.hearing.trials import Trial
from tests.benchmarks.hearing.voices import SPEAKERS, Clips, trimmed
from voice.hear.ear import VoiceEar
from voice.hear.moonshine import Moonshine
from voice.hear.port import Scored
from voice.hear.sphinx import Sphinx
from voice.hear.transformer import Judged
from voice.hear.whisper import Whisper
from voice.sound.port import Audio
from voice.sound.recording import ArrayMicrophone, load
from voice.understand.meaning import MEANING

KEPT = 24  # phrases of each engine kept in a row


@dataclass
class Watched:
    """An engine that remembers what it last said. Stands in for either engine in the ear."""

    inner: Any
    last: Any = None
    spent: float = 0.0
    calls: list[float] = field(default_factory=list)

    def __getattr__(self, name: str) -> Any:
        return getattr(self.inner, name)

    def judge(self, audio: Audio, phrases: Sequence[str], *, free: bool = True) -> Judged:
        return self._timed(self.inner.judge, audio, phrases, free=free)  # type: ignore[no-any-return]

    def score(self, audio: Audio, phrases: Sequence[str]) -> list[Scored]:
        return self._timed(self.inner.score, audio, phrases)  # type: ignore[no-any-return]

    def _timed(self, call: Any, *arguments: Any, **more: Any) -> Any:
        start = time.thread_time()  # of a processor, not of the wall's clock: the machine may be busy
        self.last = call(*arguments, **more)
        self.calls.append(time.thread_time() - start)
        return self.last


def collect(todo: Sequence[Trial], out: Path, audio: Path, clips: Clips, *, threads: int = 1) -> None:
    """Do every trial that is not in the file yet and add its line."""
    done = {json.loads(line)["key"] for line in out.read_text().splitlines()} if out.exists() else set()
    todo = [trial for trial in todo if trial.key not in done]
    by_speaker: dict[str, list[str]] = {}
    for trial in todo:
        if trial.clip is None and trial.text:
            by_speaker.setdefault(trial.speaker, []).append(trial.text)
    named = {speaker.name: speaker for speaker in SPEAKERS}
    for name, texts in by_speaker.items():
        clips.make(named[name], texts)
    engines = Watched(Moonshine(threads=threads)), Watched(Whisper()), Watched(Sphinx())
    for engine in engines[:2]:
        engine.remember(out.parent / "cache")
    ear = VoiceEar(ArrayMicrophone(), *engines)  # type: ignore[arg-type]
    for name, question in shipped().items():
        if name.startswith("reading"):
            ear.warm(list(question.meanings))  # as a walk does in the background
    with out.open("a") as lines:
        for trial in todo:
            random = np.random.default_rng(trial.number)
            if trial.clip:
                speech = trimmed(load(audio / trial.clip), 800)
            elif trial.text:
                speech = clips.get(named[trial.speaker], trial.text)
            else:
                speech = np.zeros(0, np.float32)
            if len(speech):
                heard, end = scene(speech, trial.noise, trial.snr, audio, random)
            else:
                level = np.float32(0.05 * 10 ** (-(trial.snr or 0.0) / 20))
                heard, end = level * piece(trial.noise, audio, 5 * 16000, random), 0.0  # type: ignore[arg-type]
            lines.write(json.dumps(_row(trial, heard, end, ear, engines)) + "\n")
            lines.flush()
    ear.close()


def _row(trial: Trial, heard: Audio, end: float, ear: VoiceEar, engines: Sequence[Watched]) -> dict[str, Any]:
    microphone = ArrayMicrophone(heard, noise_db=-66)
    ear.use(microphone, microphone)
    ear.floor.forget()
    for engine in engines:
        engine.last, engine.calls = None, []
    hearing = ear.listen(shipped()[trial.question])
    first, second, third = engines
    return {
        "key": trial.key, "kind": trial.kind, "question": trial.question, "text": trial.text,
        "meaning": trial.meaning and MEANING.dump_python(trial.meaning, mode="json"),
        "speaker": trial.speaker, "noise": trial.noise and trial.noise.name, "snr": trial.snr,
        "outcome": hearing.outcome, "words": hearing.words, "confidence": round(hearing.confidence, 4),
        "heard": hearing.meaning and MEANING.dump_python(hearing.meaning, mode="json"),
        "noise_db": round(hearing.noise_db, 1), "snr_db": round(hearing.snr_db, 1),
        "started": round(hearing.started, 3), "ended": round(hearing.ended, 3), "end": round(end, 3),
        "decided": round(microphone.now(), 3), "compute": round(sum(sum(engine.calls) for engine in engines), 4),
        "calls": [[round(t, 4) for t in engine.calls] for engine in engines],
        "first": first.last and judged_row(first.last), "second": second.last and judged_row(second.last),
        "third": third.last[0].text if third.last else None,
    }  # fmt: skip


def judged_row(judged: Judged) -> dict[str, Any]:
    """As tests.benchmarks.hearing.report.judged reads it."""
    return {
        "free": judged.free,
        "free_score": round(judged.free_score, 3),
        "raw": {t: [round(judged.raw[t], 3), round(judged.prior[t], 3)] for t in list(judged.scores)[:KEPT]},
    }
