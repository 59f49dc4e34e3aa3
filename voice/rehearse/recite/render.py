"""A recital as one audio file with chapter marks, for listening on the road.

FLAC, WAV or OGG by soundfile, with a cue sheet beside it; M4A, M4B or MKA, with the chapters inside, by ffmpeg.
"""

from __future__ import annotations

import base64
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import IO

import numpy as np

from voice.data import durable
from voice.errors import SetupError
from voice.rehearse.recite.recite import RecitalLine, gap
from voice.rehearse.wording import ReciteFile
from voice.sound.port import RATE, Audio

PLAIN = {".flac": "FLAC", ".wav": "WAV", ".ogg": "OGG"}
INSIDE = {".m4a": ("aac", "ipod"), ".m4b": ("aac", "ipod"), ".mka": ("flac", "matroska")}
MOST_TRACKS = 99  # of a cue sheet


@dataclass(frozen=True, slots=True)
class Chapter:
    """start, end: seconds from the beginning of the file."""

    title: str
    start: float
    end: float


@dataclass(frozen=True, slots=True)
class Rendered:
    """What was rendered.

    path: the audio.
    cue: the sheet beside it, if it is of a kind that needs one.
    seconds: its length.
    """

    path: Path
    cue: Path | None
    chapters: tuple[Chapter, ...]
    seconds: float


@dataclass(frozen=True, slots=True)
class Target:
    """The file to write.

    title: as a player shows it.
    gaps: leave time to repeat after each part.
    """

    path: Path
    title: str
    gaps: bool = True


def render(
    lines: Sequence[RecitalLine],
    target: Target,
    file: ReciteFile,
    synthesize: Callable[[str], Audio],
    progress: Callable[[int, int], None] | None = None,
) -> Rendered:
    """Write the lines to the file, a chapter for each section (for each part, if there is one section only).

    synthesize: text to mono samples at 16 kHz.
    progress: is told how many lines of how many are done.

    Raises SetupError for an unknown kind of file, or if ffmpeg is needed and missing.
    """
    path, title = target.path, target.title
    kind = path.suffix.lower()
    if kind not in PLAIN and kind not in INSIDE:
        known = ", ".join(ending[1:] for ending in (*PLAIN, *INSIDE))
        raise SetupError(f'A recital cannot be written as "{path.suffix or path.name}".', f"Use one of: {known}.")

    def audio() -> Iterator[tuple[Audio, float]]:
        """Each line's sound, and the seconds of silence after it."""
        for number, line in enumerate(lines):
            sound = synthesize(line.text)
            pause = gap(line, len(sound) / RATE, file) if target.gaps or line.is_title else file.title_seconds
            yield sound, pause
            if progress is not None:
                progress(number + 1, len(lines))

    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.open("ab").close()  # the libraries that write it do not say why they cannot
        if kind in PLAIN:
            chapters, seconds = _write(lines, audio(), path, PLAIN[kind])
            cue = path.with_suffix(".cue")
            cue.write_text(cue_sheet(path.name, title, chapters), encoding="utf-8")
            return Rendered(path, cue, chapters, seconds)
    except OSError as error:
        raise SetupError(*durable.trouble(f"{path} cannot be written", error)) from error
    ffmpeg = shutil.which("ffmpeg")
    if ffmpeg is None:
        raise SetupError("Files with chapters inside need ffmpeg.", "Install it, or write a .flac with a cue sheet.")
    with tempfile.TemporaryFile() as plain:  # without a name: nothing is left of it, however this ends
        chapters, seconds = _write(lines, audio(), plain, "FLAC")
        plain.seek(0)
        marks = "data:text/plain;base64," + base64.b64encode(ffmetadata(title, chapters).encode()).decode()
        codec, form = INSIDE[kind]
        command = [ffmpeg, "-v", "error", "-y", "-f", "flac", "-i", "pipe:0", "-f", "ffmetadata", "-i", marks,
                   "-map_metadata", "1", "-map_chapters", "1", "-map", "0:a", "-c:a", codec, "-f", form,
                   str(path)]  # fmt: skip
        done = subprocess.run(command, stdin=plain, capture_output=True, check=False)  # noqa: S603
        if done.returncode:
            why = done.stderr.decode(errors="replace").strip().splitlines()[-1:] or ["no reason given"]
            raise SetupError(f"ffmpeg failed: {why[0]}.", "Write a .flac with a cue sheet instead.")
    return Rendered(path, None, chapters, seconds)


def _write(
    lines: Sequence[RecitalLine], sounds: Iterator[tuple[Audio, float]], out: Path | IO[bytes], form: str
) -> tuple[tuple[Chapter, ...], float]:
    """The lines' sounds, each with its pause, one after the other; the chapters and the length in seconds."""
    import soundfile

    by_part = len({line.section for line in lines}) == 1 and len(lines) <= MOST_TRACKS
    starts: list[tuple[str, float]] = []
    written = 0
    with soundfile.SoundFile(out, "w", RATE, 1, format=form) as file:
        for line, (audio, pause) in zip(lines, sounds, strict=True):
            if by_part or line.is_title:
                starts.append((line.title, written / RATE))
            silence = np.zeros(round(pause * RATE), np.float32)
            file.write(audio)
            file.write(silence)
            written += len(audio) + len(silence)
    ends = [*(start for _, start in starts[1:]), written / RATE]
    chapters = tuple(Chapter(title, start, end) for (title, start), end in zip(starts, ends, strict=True))
    return chapters, written / RATE


def cue_sheet(audio: str, title: str, chapters: Sequence[Chapter]) -> str:
    """A cue sheet: INDEX times are minutes:seconds:frames, 75 frames a second. FLAC and others are marked WAVE by
    common practice of players, since the format has no word for them."""
    rows = [f'TITLE "{_quoted(title)}"', f'FILE "{_quoted(audio)}" WAVE']
    for number, chapter in enumerate(chapters[:MOST_TRACKS], 1):
        frames = int(chapter.start * 75)  # never after the beginning
        rows += [
            f"  TRACK {number:02d} AUDIO",
            f'    TITLE "{_quoted(chapter.title)}"',
            f"    INDEX 01 {frames // 4500:02d}:{frames // 75 % 60:02d}:{frames % 75:02d}",
        ]
    return "\n".join(rows) + "\n"


def ffmetadata(title: str, chapters: Sequence[Chapter]) -> str:
    """Chapters in ffmpeg's metadata format, times in milliseconds."""
    rows = [";FFMETADATA1", f"title={_escaped(title)}"]
    for chapter in chapters:
        rows += [
            "[CHAPTER]",
            "TIMEBASE=1/1000",
            f"START={round(chapter.start * 1000)}",
            f"END={round(chapter.end * 1000)}",
            f"title={_escaped(chapter.title)}",
        ]
    return "\n".join(rows) + "\n"


def _quoted(text: str) -> str:
    return text.replace('"', "'").replace("\n", " ")


def _escaped(text: str) -> str:
    return "".join(f"\\{letter}" if letter in "=;#\\\n" else letter for letter in text)
