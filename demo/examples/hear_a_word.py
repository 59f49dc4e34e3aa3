"""One synthesized word in noise, through the real ear: the model and the decision.

    python demo/examples/hear_a_word.py               # "leaking", 20 dB over the noise
    python demo/examples/hear_a_word.py okay 5        # another word, nearly drowned

Needs espeak-ng. The words that can be heard are those of a question about hoses.
"""

from __future__ import annotations

import sys

import numpy as np

from voice.hear.ear import VoiceEar
from voice.models.engines import load_engines
from voice.route import load_library
from voice.sound.port import RATE
from voice.sound.recording import ArrayMicrophone
from voice.speak.synth import synthesize
from voice.understand.phrases import Phrasebook
from voice.understand.question import Question


def main(word: str = "leaking", snr_db: str = "20") -> None:
    library = load_library()
    hoses = library.items["hoses"]
    names = {defect: library.defects[defect].say for defect in hoses.defects}
    question = Question("condition", Phrasebook().answers(hoses, hoses.answer, names))

    said = synthesize(word, "espeak:en-us")
    noise_rms = np.sqrt(np.mean(said**2)) / 10 ** (float(snr_db) / 20)
    audio = np.concatenate([np.zeros(RATE, np.float32), said, np.zeros(2 * RATE, np.float32)])
    audio += (noise_rms * np.random.default_rng(1).standard_normal(len(audio))).astype(np.float32)

    microphone = ArrayMicrophone(audio)
    engines = load_engines()
    ear = VoiceEar(microphone, engines.judge, engines.writer, clock=microphone)
    hearing = ear.listen(question)
    ear.close()
    print(f'"{word}": {hearing.outcome}, as "{hearing.words}", {hearing.confidence:.2f} sure')
    print(f"  noise {hearing.noise_db:.0f} dB, speech {hearing.snr_db:.0f} dB over it")


if __name__ == "__main__":
    main(*sys.argv[1:])
