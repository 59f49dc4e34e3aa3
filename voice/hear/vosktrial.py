"""Tries a Vosk model in a process of its own: if it brings the engine down, only that process goes.

Run as `python -m voice.hear.vosktrial FOLDER`; prints "ok" on its last line.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

from voice.errors import SetupError
from voice.hear.voskfolder import unknown_word, validate, vocabulary

LIMIT = 300.0  # seconds; the largest model, 4 GB in memory, from a slow disk


def trial(folder: Path) -> None:
    """Loads the model and lets it hear a second of noise, elsewhere. Raises SetupError, one sentence, if that fails."""
    validate(folder)
    home = str(Path(__file__).resolve().parents[2])
    others = os.environ.get("PYTHONPATH")
    try:
        done = subprocess.run(  # noqa: S603 - our own module, arguments as a list
            [sys.executable, "-P", "-m", "voice.hear.vosktrial", str(folder)],
            capture_output=True,
            text=True,
            errors="replace",
            timeout=LIMIT,
            env={**os.environ, "PYTHONPATH": f"{home}{os.pathsep}{others}" if others else home},
            check=False,
        )
    except subprocess.TimeoutExpired:
        raise SetupError(
            f"The model in {folder} takes more than {LIMIT:.0f} seconds to load.", "Take a smaller one."
        ) from None
    said = done.stdout.strip().splitlines()
    if done.returncode == 0 and said and said[-1] == "ok":
        return
    reason = said[-1] if said and done.returncode == 1 else f"the engine broke down (code {done.returncode})"
    raise SetupError(f"The model in {folder} does not work: {reason}.", "Unpack it again, or get it again.")


def _try(folder: Path) -> None:
    import numpy as np
    import vosk

    vosk.SetLogLevel(-1)
    model = vosk.Model(model_path=str(folder))
    words = vocabulary(folder)
    plain = sorted(word for word in words if word.isalpha())[:3]
    if not plain:
        raise ValueError("it knows no words")
    grammar = [*plain, *filter(None, [unknown_word(words)])]
    recognizer = vosk.KaldiRecognizer(model, 16_000, json.dumps(grammar, ensure_ascii=False))
    recognizer.SetWords(True)
    noise = np.random.default_rng(0).normal(0, 3000, 16_000).astype("<i2")
    recognizer.AcceptWaveform(noise.tobytes())
    json.loads(recognizer.FinalResult())


if __name__ == "__main__":
    try:
        _try(Path(sys.argv[1]))
    except Exception as error:  # whatever it is, the parent wants one line
        print(str(error).splitlines()[0] if str(error) else type(error).__name__)
        sys.exit(1)
    print("ok")
