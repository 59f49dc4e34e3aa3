"""Our model, worked out in numpy, against the runtime ctranslate2 4.8 with the same weights, the features of
faster-whisper 1.2 and the tokens of tokenizers 0.23 (all MIT or Apache-2.0), on the same sound."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.hear.ctranslate import write_model
from tests.hear.spoken import CONDITION, READING, VOICES, hiss, say, scene
from voice.errors import SetupError
from voice.hear.mel import log_mel, mel_filters
from voice.hear.weights import read_weights
from voice.hear.whisper import Whisper
from voice.models.catalogue import load_catalogue

WEIGHTS = Path(__file__).resolve().parents[2] / "models" / "ear.npz"
PHRASES = list(CONDITION.meanings)
NUMBERS = list(READING.meanings)
SOUNDS = [scene(0.3, say("okay"), 0.4), scene(0.3, say("one hundred twenty psi"), 0.5), hiss(5.0, -30)]


@pytest.fixture(scope="module")
def reference(tmp_path_factory: pytest.TempPathFactory) -> tuple[Any, tuple[int, int]]:
    """The runtime with our weights, and the numbers of the tokens that begin a text."""
    ctranslate2 = pytest.importorskip("ctranslate2", reason="the reference runtime is in the dev extra")
    folder = tmp_path_factory.mktemp("model")
    start = write_model(read_weights(WEIGHTS)[0], folder)
    return ctranslate2.models.Whisper(str(folder), device="cpu", compute_type="float32"), start


def storage(array: np.ndarray[Any, Any]) -> Any:
    import ctranslate2

    return ctranslate2.StorageView.from_array(np.ascontiguousarray(array))


@pytest.mark.parametrize(("program", "voice"), VOICES)
@pytest.mark.parametrize("text", ["okay", "not okay", "cracked", "leaking", "repeat", "skip", "where am i"])
def test_a_phrase_is_heard_among_the_others_by_both_heads(
    whisper: Whisper, text: str, program: str, voice: str
) -> None:
    heard = whisper.judge(scene(0.3, say(text, program, voice), 0.4), PHRASES)
    assert next(iter(heard.scores)) == text
    assert max(heard.spelled.scores, key=lambda phrase: heard.spelled.scores[phrase]) == text


@pytest.mark.parametrize("text", ["six", "twenty five psi", "one hundred five", "ninety seven", "one hundred"])
def test_a_number_is_heard_among_hundreds(whisper: Whisper, text: str) -> None:
    best = whisper.score(scene(0.3, say(text), 0.4), NUMBERS)[0].text
    assert READING.meanings[best] == READING.meanings[text]


def test_mel_bands_are_those_of_the_reference() -> None:
    features = pytest.importorskip("faster_whisper.feature_extractor", reason="the reference is in the dev extra")
    theirs = features.FeatureExtractor(feature_size=80)
    assert mel_filters() == pytest.approx(theirs.mel_filters, abs=1e-6)


@pytest.mark.parametrize("sound", range(len(SOUNDS)))
def test_features_are_those_of_the_reference(sound: int) -> None:
    features = pytest.importorskip("faster_whisper.feature_extractor", reason="the reference is in the dev extra")
    audio = SOUNDS[sound]
    filled = np.zeros(max(len(audio), int(3.5 * 16000)), np.float32)
    filled[: len(audio)] = audio
    theirs = features.FeatureExtractor(feature_size=80)(filled, padding=False)
    ours = log_mel(audio)
    assert ours.shape[1] % 2 == 0
    frames = min(ours.shape[1], theirs.shape[1])
    assert ours.shape[1] - theirs.shape[1] in (-1, 0, 1)
    assert ours[:, : frames - 2] == pytest.approx(theirs[:, : frames - 2], abs=1e-3)  # the ends are padded otherwise


@pytest.mark.parametrize("sound", range(len(SOUNDS)))
def test_the_encoder_gives_what_the_reference_gives(whisper: Whisper, reference: Any, sound: int) -> None:
    features = log_mel(SOUNDS[sound])
    theirs = np.array(reference[0].encode(storage(features[None])))[0]
    assert whisper.encoded(features) == pytest.approx(theirs, abs=2e-3)


@pytest.mark.parametrize("sound", range(len(SOUNDS)))
def test_the_first_token_is_as_likely_as_the_reference_says(whisper: Whisper, reference: Any, sound: int) -> None:
    model, start = reference
    features = storage(log_mel(SOUNDS[sound])[None])
    options: dict[str, Any] = {"suppress_blank": False, "suppress_tokens": [], "return_logits_vocab": True}
    found = model.generate(features, [list(start)], beam_size=1, max_length=3, **options)
    logits = np.array(found[0].logits[0][0]).ravel().astype(np.float64)[: start[0]]  # no second beginning
    theirs = logits - logits.max() - np.log(np.exp(logits - logits.max()).sum())
    ours, _ = whisper._start(whisper._encode(SOUNDS[sound]))
    likely = np.argsort(-theirs)[:500]
    assert ours[0, likely] == pytest.approx(theirs[likely], abs=5e-3)


@pytest.mark.parametrize("sound", range(len(SOUNDS)))
@pytest.mark.parametrize("text", ["okay", "one hundred twenty psi", "not okay", "where am i"])
def test_texts_are_as_likely_as_the_reference_says(whisper: Whisper, reference: Any, sound: int, text: str) -> None:
    model, start = reference
    features = log_mel(SOUNDS[sound])
    tokens = whisper.vocabulary.encode(text)
    # align() adds "no timestamps" by itself, and gives each token's share among tokens of text
    found = model.align(storage(features[None]), [start[0]], [tokens], features.shape[1])[0]
    hidden = whisper._encode(SOUNDS[sound])
    logp, past = whisper._start(hidden)
    ours = []
    for token in tokens:
        written_text = logp[0, : whisper.vocabulary.end]
        ours.append(written_text[token] - np.logaddexp.reduce(written_text))
        logp, past = whisper._run(np.array([[token]]), hidden, past)
    assert ours == pytest.approx(np.log(found.text_token_probs), abs=5e-3)


def test_the_score_of_a_phrase_is_that_of_its_tokens_and_the_end(whisper: Whisper) -> None:
    heard = whisper.judge(SOUNDS[0], PHRASES)
    hidden = whisper._encode(SOUNDS[0])
    for text in list(heard.scores)[:4]:
        logp, past = whisper._start(hidden)
        total = 0.0
        for token in whisper.vocabulary.encode(text):
            total += float(logp[0, token])
            logp, past = whisper._run(np.array([[token]]), hidden, past)
        assert heard.scores[text] == pytest.approx(total + float(logp[0, whisper.vocabulary.end]), abs=1e-3)
    assert heard.nothing == pytest.approx(float(whisper._start(hidden)[0][0, whisper.vocabulary.end]), abs=1e-4)


@pytest.mark.parametrize("text", ["okay", "one hundred twenty psi", "that's right", "größe", "4/32nds", "a b"])
def test_text_survives_there_and_back(whisper: Whisper, text: str) -> None:
    assert whisper.vocabulary.decode(whisper.vocabulary.encode(text)) == text


def test_free_transcript_comes_along_and_fits_better_than_any_wrong_phrase(whisper: Whisper) -> None:
    """What it writes is poor, since it was taught answers (models/EAR.md), but it fits better."""
    heard = whisper.judge(scene(0.3, say("elephants are nice"), 0.4), PHRASES)
    assert heard.free not in PHRASES
    assert heard.free_score > max(heard.scores.values()) + 2


def test_noise_alone_is_heard_as_nothing(whisper: Whisper) -> None:
    heard = whisper.judge(hiss(2.0, -40), PHRASES)
    assert heard.nothing > max(heard.scores.values())
    assert heard.spelled.nothing > max(heard.spelled.scores.values())


def test_same_audio_gives_the_same_scores(whisper: Whisper) -> None:
    audio = scene(0.3, say("cracked"), 0.4)
    first = whisper.judge(audio, PHRASES)
    whisper.judge(scene(0.3, say("skip"), 0.4), NUMBERS)
    assert whisper.judge(audio, PHRASES) == first


@pytest.mark.parametrize("seconds", [0.0, 0.01, 1.0, 9.0, 40.0])
def test_any_length_is_no_error(whisper: Whisper, seconds: float) -> None:
    audio = np.zeros(round(seconds * 16000), np.float32)
    assert whisper.judge(audio, PHRASES).scores


def test_without_a_dictionary_there_is_no_second_opinion() -> None:
    alone = Whisper(WEIGHTS, None)
    assert not alone.spells
    assert alone.judge(SOUNDS[0], PHRASES).spelled.scores == {}


def test_missing_model_is_one_clear_error(tmp_path: Path) -> None:
    with pytest.raises(SetupError, match="cannot be loaded"):
        Whisper(tmp_path / "ear.npz", None)


@pytest.mark.parametrize("damage", ["empty", "cut", "other", "lacking", "deflated", "unknown packing", "encrypted"])
def test_damaged_model_is_one_clear_error(tmp_path: Path, damage: str) -> None:
    file = tmp_path / "ear.npz"
    shutil.copy(WEIGHTS, file)
    if damage == "lacking":
        np.savez(file, start=np.zeros(3))
    else:
        whole = file.read_bytes()
        file.write_bytes(
            {"empty": b"", "cut": whole[:9_000_000], "other": b"RIFF" + whole[4:], **_spoiled(whole)}[damage]
        )
    with pytest.raises(SetupError, match=r"cannot be loaded.*"):
        Whisper(file, None)


def _spoiled(whole: bytes) -> dict[str, bytes]:
    """A bit of the first entry of the zip's list turned: how it is packed (APPNOTE 4.3.12), or that it is encrypted."""
    entry = whole.index(b"PK\x01\x02")
    changed = {"deflated": (10, 8), "unknown packing": (10, 64), "encrypted": (8, 1)}
    return {
        name: whole[: entry + at] + bytes([whole[entry + at] ^ bit]) + whole[entry + at + 1 :]
        for name, (at, bit) in changed.items()
    }


def test_the_weights_are_those_of_the_catalogue() -> None:
    entry = load_catalogue().get("ear")
    assert entry is not None
    assert entry.package is not None
    assert entry.package.fault() is None
    assert entry.bytes == WEIGHTS.stat().st_size <= 45_000_000


def test_whole_numbers_are_read_in_the_steps_of_their_rows(tmp_path: Path) -> None:
    words: dict[str, Any] = {"pieces": np.frombuffer(b"ab", np.uint8), "piece_lengths": np.array([1, 1], np.uint8)}
    words["a/weight"] = np.array([[-127, 0], [1, 127]], np.int8)
    np.savez(tmp_path / "a.npz", **words, **{"a/weight/step": np.array([0.5, 2], np.float32)})  # type: ignore[arg-type]
    assert read_weights(tmp_path / "a.npz")[0]["a/weight"].tolist() == [[-63.5, 0], [2, 254]]
    np.savez(tmp_path / "none.npz", **words)
    np.savez(tmp_path / "three.npz", **words, **{"a/weight/step": np.ones(3, np.float32)})  # type: ignore[arg-type]
    for name in ("none", "three"):
        with pytest.raises(SetupError, match="steps"):
            read_weights(tmp_path / f"{name}.npz")
