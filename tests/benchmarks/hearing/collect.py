"""Runs trials through the real ear and keeps what every engine made of each, one JSON line a trial (resumable)."""

from __future__ import annotations

import json
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from tests.benchmarks.hearing.noises import piece, scene
from tests.benchmarks.hearing.questions import shipped
from tests.benchmarks.hearing.trials import Trial
from tests.benchmarks.hearing.voices import SPEAKERS, Clips, trimmed
from voice.hear.ear import VoiceEar
from voice.hear.transformer import Judged, Transformer
from voice.models.engines import load_engines
from voice.sound.port import Audio
from voice.sound.recording import ArrayMicrophone, load
from voice.understand.meaning import MEANING

KEPT = 40  # phrases kept in a row


class Watched:
    """The model, and what it last said. Stands in for it in the ear."""

    def __init__(self, inner: Transformer) -> None:
        self.name, self.model, self.spells = inner.name, inner.model, inner.spells
        self.last: Judged | None = None
        self.calls: list[float] = []
        self._inner = inner

    def judge(self, audio: Audio, phrases: Sequence[str], names: Sequence[str] = ()) -> Judged:
        start = time.thread_time()  # of a processor, not of the wall's clock: the machine may be busy
        self.last = self._inner.judge(audio, phrases, names)
        self.calls.append(time.thread_time() - start)
        return self.last


def collect(todo: Sequence[Trial], out: Path, audio: Path, clips: Clips) -> None:
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
    engines = load_engines(out.parent / "cache")
    model = Watched(engines.judge)
    ear = VoiceEar(ArrayMicrophone(), model, engines.writer)  # type: ignore[arg-type]
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
            lines.write(json.dumps(_row(trial, heard, end, ear, model)) + "\n")
            lines.flush()
    ear.close()


def _row(trial: Trial, heard: Audio, end: float, ear: VoiceEar, model: Watched) -> dict[str, Any]:
    microphone = ArrayMicrophone(heard, noise_db=-66)
    ear.use(microphone, microphone)
    ear.floor.forget()
    model.last, model.calls = None, []
    hearing = ear.listen(shipped()[trial.question])
    return {
        "key": trial.key, "kind": trial.kind, "question": trial.question, "text": trial.text,
        "meaning": trial.meaning and MEANING.dump_python(trial.meaning, mode="json"),
        "speaker": trial.speaker, "noise": trial.noise and trial.noise.name, "snr": trial.snr,
        "outcome": hearing.outcome, "words": hearing.words, "confidence": round(hearing.confidence, 4),
        "heard": hearing.meaning and MEANING.dump_python(hearing.meaning, mode="json"),
        "noise_db": round(hearing.noise_db, 1), "snr_db": round(hearing.snr_db, 1),
        "started": round(hearing.started, 3), "ended": round(hearing.ended, 3), "end": round(end, 3),
        "decided": round(microphone.now(), 3), "compute": round(sum(model.calls), 4),
        "calls": [round(t, 4) for t in model.calls], "ear": model.last and judged_row(model.last),
    }  # fmt: skip


def judged_row(judged: Judged) -> dict[str, Any]:
    """As tests.benchmarks.hearing.report.judged reads it."""

    def short(scores: Mapping[str, float]) -> dict[str, float]:
        return {text: round(score, 3) for text, score in list(scores.items())[:KEPT]}

    spelled = judged.spelled
    return {
        "scores": short(judged.scores), "nothing": round(judged.nothing, 3),
        "free": judged.free, "free_score": round(judged.free_score, 3),
        "spelled": short(spelled.scores), "best": round(spelled.best, 3), "none": round(spelled.nothing, 3),
    }  # fmt: skip
