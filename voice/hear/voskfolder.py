"""A folder with a Vosk model: is it whole, of the right kind, and which words does it know? Reads files only.

The engine itself must not be asked first: on a broken folder it ends the process, or loads and fails later (tried with
vosk 0.3.45: no HCLr.fst, an empty model.conf, an empty disambig_tid.int or splice.conf all crash it). Layout from the
engine's own source (alphacep/vosk-api, src/model.cc, "v2"); file formats from Kaldi and OpenFst.
"""

from __future__ import annotations

import struct
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import BinaryIO

from voice.errors import SetupError

FST_MAGIC = 2125659606
SYMBOLS_MAGIC = 2125658996
HAS_INPUT_SYMBOLS, HAS_OUTPUT_SYMBOLS = 1, 2
UNKNOWN_NAMES = ("[unk]", "<UNK>", "<unk>", "[UNK]")

TAKE = "Take a model with a dynamic graph, see gladhand models list."
_REPLACE = "Unpack the model again from the file you downloaded, or get it again."


class BrokenFileError(Exception):
    """What is wrong with one file, as the end of a sentence: "is empty"."""


def validate(folder: Path) -> None:
    """Raises SetupError, one sentence, if the folder is not a whole Vosk model that takes a grammar."""
    if not folder.exists():
        raise SetupError(f"There is no folder {folder}.", "Give the folder that holds am, conf, graph and ivector.")
    if not folder.is_dir():
        raise SetupError(f"{folder} is not a folder.", "Unpack the model, or run gladhand models add on it.")
    if (folder / "graph" / "HCLG.fst").exists() and not (folder / "graph" / "HCLr.fst").exists():
        raise SetupError(
            f"The model in {folder} has a fixed (static) graph: it cannot be told what to expect.",
            TAKE,
        )
    for name, check in _FILES.items():
        path = folder / name
        try:
            if not path.is_file():
                raise BrokenFileError("is missing")
            if path.stat().st_size == 0 and name not in _MAY_BE_EMPTY:
                raise BrokenFileError("is empty")
            check(path)
        except BrokenFileError as error:
            raise SetupError(f"The model in {folder} is not whole: {name} {error}.", _REPLACE) from None
        except OSError as error:
            raise SetupError(f"The model's file {path} cannot be read: {error.strerror}.", _REPLACE) from None


def vocabulary(folder: Path) -> frozenset[str]:
    """Every word the model knows, its unknown-word mark among them. Raises SetupError if the list cannot be read."""
    listed = folder / "graph" / "words.txt"
    try:
        if listed.is_file():
            lines = listed.read_text(encoding="utf-8").splitlines()
            return frozenset(line.split()[0] for line in lines if line.strip())
        with (folder / "graph" / "Gr.fst").open("rb") as source:
            return frozenset(_fst_words(source))
    except (OSError, UnicodeDecodeError, BrokenFileError, struct.error) as error:
        raise SetupError(f"The list of words of the model in {folder} cannot be read: {error}.", _REPLACE) from None


def unknown_word(words: frozenset[str]) -> str | None:
    """The model's own mark for "some other word", to be offered in every grammar."""
    return next((name for name in UNKNOWN_NAMES if name in words), None)


def _starts(*heads: bytes) -> Callable[[Path], None]:
    def check(path: Path) -> None:
        with path.open("rb") as source:
            start = source.read(64)
        if not start.startswith(heads):
            raise BrokenFileError("is not the kind of file it should be")

    return check


def _options(*wanted: str) -> Callable[[Path], None]:
    """A Kaldi options file: lines of --name=value, with these names among them."""

    def check(path: Path) -> None:
        try:
            lines = [line.split("#")[0].strip() for line in path.read_text(encoding="utf-8").splitlines()]
        except UnicodeDecodeError:
            raise BrokenFileError("is not the kind of file it should be") from None
        found = set()
        for line in filter(None, lines):
            name, equals, _ = line.partition("=")
            if not name.startswith("--") or not equals:
                raise BrokenFileError("is not the kind of file it should be")
            found.add(name[2:])
        if absent := [name for name in wanted if name not in found]:
            raise BrokenFileError(f"does not set {absent[0]}")

    return check


def _numbers(path: Path) -> None:
    """Each line starts with a number, as in a list of phones."""
    try:
        lines = [line.split() for line in path.read_text(encoding="ascii").splitlines() if line.strip()]
        for line in lines:
            int(line[0])
    except (UnicodeDecodeError, ValueError):
        raise BrokenFileError("is not the kind of file it should be") from None
    if not lines:
        raise BrokenFileError("is empty")


def _boundaries(path: Path) -> None:
    _numbers(path)
    kinds = {"nonword", "begin", "end", "internal", "singleton"}
    if any(len(line.split()) != 2 or line.split()[1] not in kinds for line in path.read_text("ascii").splitlines()):
        raise BrokenFileError("is cut off")


def _fst(path: Path) -> None:
    """An OpenFst file at least as long as its header says its states and arcs are."""
    size = path.stat().st_size
    with path.open("rb") as source:
        try:
            kind, _, states, arcs = _fst_header(source)
            if kind.endswith("lookahead"):  # a matcher's data wrapped around another FST
                source.seek(4, 1)
                kind, _, states, arcs = _fst_header(source)
        except struct.error:
            raise BrokenFileError("is cut off") from None
        if kind == "const":
            needed = source.tell() + 20 * states + 16 * arcs
        elif kind == "ngram":
            for _ in _symbols(source):
                pass
            for _ in _symbols(source):
                pass
            needed = source.tell() + _ngram_size(*_unpack(source, "<3Q"))
        else:
            needed = 0
    if size < needed:
        raise BrokenFileError("is cut off")


def _fst_header(source: BinaryIO) -> tuple[str, int, int, int]:
    """kind, flags, states, arcs."""
    (magic,) = _unpack(source, "<i")
    if magic != FST_MAGIC:
        raise BrokenFileError("is not the kind of file it should be")
    kind = _text(source)
    _text(source)  # kind of arc
    _version, flags, _properties, _start, states, arcs = _unpack(source, "<iiQqqq")
    return kind, flags, states, arcs


def _fst_words(source: BinaryIO) -> Iterator[str]:
    """The input symbols, which are the words: a grammar's input and output are the same."""
    _, flags, _, _ = _fst_header(source)
    if not flags & (HAS_INPUT_SYMBOLS | HAS_OUTPUT_SYMBOLS):
        raise BrokenFileError("names no words")
    return _symbols(source)


def _symbols(source: BinaryIO) -> Iterator[str]:
    (magic,) = _unpack(source, "<i")
    if magic != SYMBOLS_MAGIC:
        raise BrokenFileError("is not the kind of file it should be")
    _text(source)
    _next_key, count = _unpack(source, "<qq")
    for _ in range(count):
        yield _text(source)
        source.seek(8, 1)


def _text(source: BinaryIO) -> str:
    (length,) = _unpack(source, "<i")
    if not 0 <= length < 4096:
        raise BrokenFileError("is not the kind of file it should be")
    data = source.read(length)
    if len(data) < length:
        raise BrokenFileError("is cut off")
    return data.decode("utf-8", "replace")


def _unpack(source: BinaryIO, form: str) -> tuple[int, ...]:
    size = struct.calcsize(form)
    data = source.read(size)
    if len(data) < size:
        raise BrokenFileError("is cut off")
    return struct.unpack(form, data)


def _ngram_size(states: int, futures: int, finals: int) -> int:
    """Bytes of an n-gram FST's tables: three bit maps in 64-bit words, then labels and weights of 4 bytes."""
    bits = sum(-(-count // 64) for count in (2 * states + 1, futures + states + 1, states))
    return 8 * bits + 4 * (states + 1 + futures) + 4 * (states + 1 + finals + futures + 1)


_FILES: dict[str, Callable[[Path], None]] = {
    "am/final.mdl": _starts(b"\0B<TransitionModel>"),
    "conf/mfcc.conf": _options("num-mel-bins"),
    "conf/model.conf": _options("endpoint.silence-phones", "frame-subsampling-factor"),
    "graph/HCLr.fst": _fst,
    "graph/Gr.fst": _fst,
    "graph/disambig_tid.int": _numbers,
    "graph/phones/word_boundary.int": _boundaries,
    "ivector/final.ie": _starts(b"\0B<IvectorExtractor>"),
    "ivector/final.dubm": _starts(b"\0B<DiagGMM>"),
    "ivector/final.mat": _starts(b"\0BFM", b"\0BDM", b"\0BCM"),
    "ivector/global_cmvn.stats": _starts(b"\0B", b" ["),
    "ivector/online_cmvn.conf": _options(),
    "ivector/splice.conf": _options("left-context", "right-context"),
}
_MAY_BE_EMPTY = {"ivector/online_cmvn.conf"}
REQUIRED = tuple(_FILES)
