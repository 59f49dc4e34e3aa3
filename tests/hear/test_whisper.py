"""The second engine, worked out in numpy, against the runtime its file was made for: ctranslate2 4.8, with the features
and tokens of faster-whisper 1.2 and tokenizers 0.23 (all MIT or Apache-2.0), on the same file and the same sound."""

from __future__ import annotations

import struct
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.hear.spoken import CONDITION, READING, VOICES, hiss, say, scene
from voice.errors import SetupError
from voice.hear.ctranslate import read_arrays
from voice.hear.mel import log_mel, mel_filters
from voice.hear.tokens import whisper_vocabulary
from voice.hear.whisper import START, Whisper, model_folder
from voice.hear.written import written

PHRASES = list(CONDITION.meanings)
NUMBERS = list(READING.meanings)
SOUNDS = [scene(0.3, say("okay"), 0.4), scene(0.3, say("one hundred twenty psi"), 0.5), hiss(5.0, -30)]


@pytest.fixture(scope="module")
def reference() -> Any:
    ctranslate2 = pytest.importorskip("ctranslate2", reason="the reference runtime is in the dev extra")
    return ctranslate2.models.Whisper(str(model_folder()), device="cpu", compute_type="float32")


def storage(array: np.ndarray[Any, Any]) -> Any:
    import ctranslate2

    return ctranslate2.StorageView.from_array(np.ascontiguousarray(array))


@pytest.mark.parametrize(("program", "voice"), VOICES)
@pytest.mark.parametrize("text", ["okay", "not okay", "cracked", "leaking", "repeat", "skip", "where am i"])
def test_a_phrase_is_heard_among_the_others(whisper: Whisper, text: str, program: str, voice: str) -> None:
    assert whisper.score(scene(0.3, say(text, program, voice), 0.4), PHRASES)[0].text == text


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
    theirs = np.array(reference.encode(storage(features[None])))[0]
    assert whisper.encoded(features) == pytest.approx(theirs, abs=2e-3)


@pytest.mark.parametrize("sound", range(len(SOUNDS)))
def test_the_first_token_is_as_likely_as_the_reference_says(whisper: Whisper, reference: Any, sound: int) -> None:
    features = storage(log_mel(SOUNDS[sound])[None])
    options: dict[str, Any] = {"suppress_blank": False, "suppress_tokens": [], "return_logits_vocab": True}
    found = reference.generate(features, [list(START)], beam_size=1, max_length=3, **options)
    logits = np.array(found[0].logits[0][0]).ravel().astype(np.float64)
    theirs = logits - logits.max() - np.log(np.exp(logits - logits.max()).sum())
    ours, _ = whisper._start(whisper._encode(SOUNDS[sound]))
    likely = np.argsort(-theirs)[:500]
    assert ours[0, likely] == pytest.approx(theirs[likely], abs=5e-3)


@pytest.mark.parametrize("sound", range(len(SOUNDS)))
@pytest.mark.parametrize("text", ["Okay.", "120 psi.", "Not okay", "One and three-quarter inches."])
def test_texts_are_as_likely_as_the_reference_says(whisper: Whisper, reference: Any, sound: int, text: str) -> None:
    features = log_mel(SOUNDS[sound])
    tokens = whisper.vocabulary.encode(text)
    # align() adds "no timestamps" by itself, and gives each token's share among tokens of text
    found = reference.align(storage(features[None]), [START[0]], [tokens], features.shape[1])[0]
    hidden = whisper._encode(SOUNDS[sound])
    logp, past = whisper._start(hidden)
    ours = []
    for token in tokens:
        written_text = logp[0, : whisper.vocabulary.end]
        ours.append(written_text[token] - np.logaddexp.reduce(written_text))
        logp, past = whisper._run(np.array([[token]]), hidden, past)
    assert ours == pytest.approx(np.log(found.text_token_probs), abs=5e-3)


def test_tokens_are_those_of_the_reference(whisper: Whisper) -> None:
    tokenizers = pytest.importorskip("tokenizers", reason="the reference is in the dev extra")
    theirs = tokenizers.Tokenizer.from_file(str(model_folder() / "tokenizer.json"))
    forms = [form for phrase in (*PHRASES, *NUMBERS) for form in written(phrase)]
    forms += ["That's right", "Größe", "4/32nds", '1/2"', "$5", "a b"]
    assert len(forms) > 1500
    for form in forms:
        tokens = whisper.vocabulary.encode(form)
        assert tokens == theirs.encode(" " + form, add_special_tokens=False).ids, form
        assert whisper.vocabulary.decode(tokens) == form


def test_free_transcript(whisper: Whisper) -> None:
    heard = whisper.judge(scene(0.3, say("elephants are nice"), 0.4), PHRASES)
    assert "elephant" in heard.free.lower()
    assert whisper.judge(scene(0.3, say("elephants are nice"), 0.4), PHRASES, free=False).free == ""


def test_the_prior_takes_away_the_liking_for_okay(whisper: Whisper) -> None:
    heard = whisper.judge(hiss(1.0, -40), ["okay", "cracked"])
    gap = heard.raw["okay"] - heard.raw["cracked"]
    assert gap > 3  # what the language model likes, whatever it hears
    assert abs(heard.scores["okay"] - heard.scores["cracked"]) < gap


def test_same_audio_gives_the_same_scores(whisper: Whisper) -> None:
    audio = scene(0.3, say("cracked"), 0.4)
    first = whisper.judge(audio, PHRASES)
    whisper.judge(scene(0.3, say("skip"), 0.4), NUMBERS)
    assert whisper.judge(audio, PHRASES) == first


@pytest.mark.parametrize("seconds", [0.0, 0.01, 1.0, 9.0, 40.0])
def test_any_length_is_no_error(whisper: Whisper, seconds: float) -> None:
    audio = np.zeros(round(seconds * 16000), np.float32)
    assert whisper.judge(audio, PHRASES).scores


def test_missing_model_is_one_clear_error(tmp_path: Path) -> None:
    with pytest.raises(SetupError, match="cannot be loaded"):
        Whisper(tmp_path)


@pytest.mark.parametrize("damage", ["empty", "cut", "other"])
def test_damaged_model_is_one_clear_error(tmp_path: Path, damage: str) -> None:
    for name in ("vocabulary.txt", "config.json", "model.bin"):
        (tmp_path / name).symlink_to(model_folder() / name)
    whole = (model_folder() / "model.bin").read_bytes()
    (tmp_path / "model.bin").unlink()
    (tmp_path / "model.bin").write_bytes({"empty": b"", "cut": whole[:9_000_000], "other": b"RIFF" + whole[4:]}[damage])
    with pytest.raises(SetupError, match=r"cannot be loaded.*"):
        Whisper(tmp_path)


def test_another_model_is_refused(tmp_path: Path) -> None:
    other = tmp_path / "model.bin"
    other.write_bytes(struct.pack("<IH", 6, 16) + b"TransformerSpec\0" + struct.pack("<II", 7, 0))
    with pytest.raises(ValueError, match="not a Whisper model"):
        read_arrays(other)


def test_broken_word_list_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "vocabulary.txt"
    path.write_text("a\nb\n")
    with pytest.raises(SetupError, match="not as expected"):
        whisper_vocabulary(path)
