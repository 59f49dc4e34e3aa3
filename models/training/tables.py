"""Of each text: its pieces for the decoder, its phonemes, and the texts it is most easily taken for; and the weights
that training starts from.

    python models/training/tables.py TEXTS.json OUT.npz [--further EAR.npz]

The start is Whisper tiny.en (MIT) with all English it can write: of its 50,257 pieces the first 8,192 are kept, and
those that our texts need besides. The list is in order of merging, so what is left still writes any text. --further:
the start is a model of ours, whose pieces stay as they are and whose weights are read from its own file.
"""

from __future__ import annotations

import argparse
import json
import sys
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from rapidfuzz.distance import Levenshtein
from rapidfuzz.process import cdist
from start import START, folder, read_arrays, vocabulary

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks.hearing.questions import shipped
from voice.data.folders import catalogue_dir
from voice.hear.decoys import decoys
from voice.hear.pronounce import Dictionary
from voice.hear.spelling import NUMBER
from voice.hear.tokens import Vocabulary, packed_vocabulary
from voice.models.engines import INSIDE, whole_folder

KEPT = 8192  # pieces at least
NEAR = 48  # rivals of each text


def pieces_needed(vocabulary: Vocabulary, texts: list[str]) -> list[int]:
    """Numbers of the pieces kept, in order: closed under merging, so that each can still be put together."""
    ids = {piece: number for number, piece in enumerate(vocabulary.pieces[: vocabulary.end])}
    needed, open_ = set(range(KEPT)), {token for text in texts for token in vocabulary.encode(text)}
    while open_:
        token = open_.pop()
        if token in needed:
            continue
        needed.add(token)
        parts = [bytes([byte]) for byte in vocabulary.pieces[token]]
        while len(parts) > 1:  # what it is merged from
            ranks = [ids.get(left + right, 1 << 30) for left, right in pairwise(parts)]
            at = ranks.index(min(ranks))
            if ranks[at] == 1 << 30:
                break
            parts[at : at + 2] = [parts[at] + parts[at + 1]]
            open_.add(ranks[at])
    return sorted(needed)


def phonemes(texts: list[str]) -> list[list[str]]:
    """ARPABET without stress, as the program spells."""
    folder = whole_folder("pronunciations", None, catalogue_dir() / "catalogue.yaml") / INSIDE["pronunciations"]
    phones = Dictionary(folder / "cmudict-en-us.dict").phones
    return [[sound for word in text.replace("-", " ").split() for sound in phones(word)] for text in texts]


def nearest(sounds: list[str], rivals: NDArray[np.int64], same: list[frozenset[object]]) -> NDArray[np.int32]:
    """For each text the NEAR rivals by edit distance of phonemes, but for those that sound or mean the same."""
    draw, out = np.random.default_rng(0), np.zeros((len(sounds), NEAR), np.int32)
    of_rivals = [sounds[k] for k in rivals]
    for start in range(0, len(sounds), 256):
        some = sounds[start : start + 256]
        apart = cdist(some, of_rivals, scorer=Levenshtein.normalized_distance)
        apart = apart + 1e-3 * draw.random(apart.shape)
        for row, at in enumerate(range(start, start + len(some))):
            order = rivals[np.argsort(apart[row])[: 4 * NEAR]]
            kept = [k for k in order if sounds[k] != sounds[at] and not same[k] & same[at]][:NEAR]
            out[at] = (kept * NEAR)[:NEAR]
    return out


def start_of_all(texts: list[str]) -> tuple[Vocabulary, dict[str, NDArray[Any]]]:
    """The pieces kept, in our numbers, and what the file has of them and of the untouched weights."""
    whole = vocabulary()
    kept = pieces_needed(whole, texts)
    arrays = read_arrays(folder() / "model.bin")
    arrays["start"] = arrays["decoder/embeddings/weight"][list(START)]
    arrays["decoder/embeddings/weight"] = arrays["decoder/embeddings/weight"][[*kept, whole.end]]
    for side, frames in (("encoder", 500), ("decoder", 96)):
        arrays[f"{side}/position_encodings/encodings"] = arrays[f"{side}/position_encodings/encodings"][:frames]
    pieces = [whole.pieces[number] for number in kept]
    known = packed_vocabulary(b"".join(pieces), map(len, pieces))
    weights = {f"w:{name}": value.astype(np.float16) for name, value in arrays.items() if value.dtype != np.int8}
    return known, {"kept": np.array(kept), **weights}


def start_of_ours(ear: Path) -> Vocabulary:
    file = np.load(ear)
    return packed_vocabulary(file["pieces"].tobytes(), file["piece_lengths"].tolist())


def main() -> None:
    parser = argparse.ArgumentParser(description="Codes the texts, finds rivals, packs the weights to start from.")
    parser.add_argument("texts", type=Path, help="of texts.py")
    parser.add_argument("out", type=Path, help="tables.npz")
    parser.add_argument("--further", type=Path, help="a model of ours to start from, whose pieces are kept")
    chosen = parser.parse_args()
    groups = json.loads(chosen.texts.read_text())["groups"]
    asked = [t for q in shipped().values() for t in (*q.meanings, *decoys(q.meanings))]
    texts = list(dict.fromkeys(["", *(t for found in groups.values() for t in found), *asked]))
    index = {text: at for at, text in enumerate(texts)}
    same: list[set[object]] = [set() for _ in texts]
    for name, question in shipped().items():
        for text, meaning in question.meanings.items():
            same[index[text]].add((name, meaning))
    pieces, more = (start_of_ours(chosen.further), {}) if chosen.further else start_of_all(texts)
    coded = [pieces.encode(text) if text else [] for text in texts]
    tokens = np.full((len(texts), max(map(len, coded))), pieces.end, np.int32)
    for at, code in enumerate(coded):
        tokens[at, : len(code)] = code
    heard = phonemes(texts)
    sounds = np.zeros((len(texts), max(map(len, heard))), np.int32)
    for at, one in enumerate(heard):
        sounds[at, : len(one)] = [NUMBER[sound] for sound in one]
    rivals = np.array(sorted({index[t] for t in (*asked, *groups["near"], *groups["word"])}))
    near = nearest(["".join(chr(200 + NUMBER[s]) for s in one) for one in heard], rivals, [frozenset(s) for s in same])
    lists = {"tokens": tokens, "sounds": sounds, "near": near, "okays": np.array([index[t] for t in groups["ok"]])}
    lists |= {"token_counts": np.array([len(c) for c in coded]), "sound_counts": np.array([len(h) for h in heard])}
    names = {"texts": np.array(json.dumps(texts)), "names": np.array(json.dumps(list(NUMBER)))}
    np.savez_compressed(chosen.out, **lists, **more, **names)
    print(len(texts), "texts;", pieces.end, "pieces;", tokens.shape, sounds.shape)
    print(f"{chosen.out.stat().st_size / 1e6:.1f} MB")
    for text in ("okay", "good", "fifteen percent", "cracked", "done", "leaking"):
        print(text, [texts[k] for k in near[index[text]][:10]])


if __name__ == "__main__":
    main()
