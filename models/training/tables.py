"""Of each text: its pieces for the decoder, its phonemes, and the texts it is most easily taken for; and the weights
that training starts from.

    python models/training/tables.py TEXTS.json TRIALS.json OUT.npz

The start is Whisper tiny.en (MIT) with all English it can write: of its 50,257 pieces the first 8,192 are kept, and
those that our texts need besides. The list is in order of merging, so what is left still writes any text.
"""

from __future__ import annotations

import json
import sys
from itertools import pairwise
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from rapidfuzz.distance import Levenshtein
from rapidfuzz.process import cdist
from start import START, folder, read_arrays, vocabulary

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from voice.data.folders import catalogue_dir
from voice.hear.pronounce import Dictionary
from voice.hear.spelling import NUMBER
from voice.hear.tokens import Vocabulary
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


def main(texts_file: Path, trials_file: Path, out: Path) -> None:
    groups = json.loads(texts_file.read_text())["groups"]
    questions = json.loads(trials_file.read_text())["questions"]
    asked = [t for q in questions.values() for t in (*q["phrases"], *q["decoys"])]
    texts = list(dict.fromkeys(["", *(t for found in groups.values() for t in found), *asked]))
    index = {text: at for at, text in enumerate(texts)}
    same: list[set[object]] = [set() for _ in texts]
    for name, q in questions.items():
        for text, meaning in zip(q["phrases"], q["meant"], strict=True):
            same[index[text]].add((name, meaning))
    whole = vocabulary()
    kept = pieces_needed(whole, texts)
    place = {token: at for at, token in enumerate(kept)}
    end = len(kept)
    coded = [[place[token] for token in whole.encode(text)] if text else [] for text in texts]
    tokens = np.full((len(texts), max(map(len, coded))), end, np.int32)
    for at, code in enumerate(coded):
        tokens[at, : len(code)] = code
    heard = phonemes(texts)
    sounds = np.zeros((len(texts), max(map(len, heard))), np.int32)
    for at, one in enumerate(heard):
        sounds[at, : len(one)] = [NUMBER[sound] for sound in one]
    rivals = np.array(sorted({index[t] for t in (*asked, *groups["near"], *groups["word"])}))
    near = nearest(["".join(chr(200 + NUMBER[s]) for s in one) for one in heard], rivals, [frozenset(s) for s in same])
    arrays = read_arrays(folder() / "model.bin")
    arrays["start"] = arrays["decoder/embeddings/weight"][list(START)]
    arrays["decoder/embeddings/weight"] = arrays["decoder/embeddings/weight"][[*kept, whole.end]]
    for side, frames in (("encoder", 500), ("decoder", 96)):
        arrays[f"{side}/position_encodings/encodings"] = arrays[f"{side}/position_encodings/encodings"][:frames]
    lists = {"tokens": tokens, "sounds": sounds, "near": near, "kept": np.array(kept)}
    lists |= {"token_counts": np.array([len(c) for c in coded]), "sound_counts": np.array([len(h) for h in heard])}
    weights = {f"w:{name}": value.astype(np.float16) for name, value in arrays.items() if value.dtype != np.int8}
    np.savez(out, **lists, **weights, texts=np.array(json.dumps(texts)), names=np.array(json.dumps(list(NUMBER))))
    print(len(texts), "texts;", len(kept), "pieces;", tokens.shape, sounds.shape, f"{out.stat().st_size / 1e6:.1f} MB")
    for text in ("okay", "fifteen percent", "cracked", "done", "leaking"):
        print(text, [texts[k] for k in near[index[text]][:10]])


if __name__ == "__main__":
    main(*map(Path, sys.argv[1:4]))
