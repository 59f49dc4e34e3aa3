"""The benchmark's trials, packed, so that a model can be measured where the benchmark cannot run.

    python models/training/trials.py OUT --audio FOLDER [--work FOLDER] [--held 2500] [--tune 1500]

Writes the clips said, the noises, the questions with their phrases, and the trials: "held" to report, "tune" to choose
by (only speakers who are not learnt from). scenes.py mixes the audio as the benchmark does, and cuts it
where the speech is, without endpointing.
"""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

import numpy as np
from bundle import Clip, write
from split import MADE_LEARNT, learnt

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks.hearing import noises
from tests.benchmarks.hearing.questions import shipped
from tests.benchmarks.hearing.trials import Trial, recorded_index, trials
from tests.benchmarks.hearing.voices import SPEAKERS, Clips, trimmed
from voice.hear.decoys import decoys
from voice.sound.recording import load
from voice.understand.meaning import MEANING


def questions() -> dict[str, dict[str, object]]:
    """For each: phrases, the number of each phrase's meaning, the kind of each meaning, decoys."""
    found: dict[str, dict[str, object]] = {}
    for name, question in shipped().items():
        meant = [json.dumps(MEANING.dump_python(m, mode="json"), sort_keys=True) for m in question.meanings.values()]
        numbers = {text: at for at, text in enumerate(dict.fromkeys(meant))}
        found[name] = {
            "phrases": list(question.meanings),
            "meant": [numbers[text] for text in meant],
            "kinds": [json.loads(text)["kind"] for text in numbers],
            "decoys": list(decoys(question.meanings)),
        }
    return found


def unlearnt(trial: Trial, people: dict[str, str]) -> bool:
    """people: the speaker of each recording's path."""
    return not learnt(people[trial.clip]) if trial.clip else trial.speaker not in MADE_LEARNT


def main() -> None:
    parser = argparse.ArgumentParser(description="Packs the benchmark's trials, to measure where it cannot run.")
    parser.add_argument("out", type=Path, help="the folder they go to")
    parser.add_argument("--audio", type=Path, required=True, help="folder of the benchmark's recordings")
    parser.add_argument("--work", type=Path, required=True, help="folder that keeps the synthetic clips")
    parser.add_argument("--held", type=int, default=2500, help="trials to report")
    parser.add_argument("--tune", type=int, default=1500, help="trials to choose by")
    chosen = parser.parse_args()
    people = {row["path"]: row["speaker"] for row in recorded_index(chosen.audio)}
    every = [("held", one) for one in trials("held", chosen.audio)[: chosen.held]]
    some = [one for one in trials("tune", chosen.audio) if unlearnt(one, people)]
    every += [("tune", one) for one in some[: chosen.tune]]
    clips, named = Clips(chosen.work / "clips"), {speaker.name: speaker for speaker in SPEAKERS}
    wanted: dict[str, list[str]] = {}
    for _, trial in every:
        if trial.text and not trial.clip:
            wanted.setdefault(trial.speaker, []).append(trial.text)
    for name, texts in wanted.items():
        clips.make(named[name], texts)
    said: dict[str, Clip] = {}
    rows = []
    for group, one in every:
        key = one.clip or (f"{one.speaker}|{one.text}" if one.text else None)
        if key and key not in said:
            audio = trimmed(load(chosen.audio / one.clip), 800) if one.clip else clips.get(named[one.speaker], one.text)
            said[key] = Clip(np.asarray(np.clip(audio, -1, 1) * 32767, np.int16), one.text, key)
        row = {"number": one.number, "group": group, "kind": one.kind, "question": one.question, "text": one.text}
        row |= {"speaker": one.speaker, "clip": key, "noise": one.noise and one.noise.name, "snr": one.snr}
        rows.append(row)
    places = {key: at for at, key in enumerate(said)}
    for row in rows:
        row["clip"] = None if row["clip"] is None else places[row["clip"]]
    print(len(rows), "trials", write(chosen.out, "said", said.values(), lossless=True), "h")
    heard = [(noise.name, noises.recorded(noise, chosen.audio)) for noise in noises.NOISES]
    scale = {name: float(np.abs(audio).max()) for name, audio in heard}
    packed = [Clip(np.asarray(audio / scale[name] * 32767, np.int16), name, name) for name, audio in heard]
    print("noises", write(chosen.out, "noises", packed, lossless=True), "h")
    (chosen.out / "trials.json").write_text(json.dumps({"rows": rows, "scale": scale, "questions": questions()}))


if __name__ == "__main__":
    main()
