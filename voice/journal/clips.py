"""The recordings of the answers, beside the journal."""

from __future__ import annotations

import hashlib
import io
from pathlib import Path

from voice.data import durable
from voice.errors import JournalError
from voice.journal.journal import gone
from voice.journal.line import HearingNote
from voice.sound.port import RATE, Audio


class Clips:
    """Keeps the audio of answers beside the journal, as FLAC. Named by the event's number."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def keep(self, number: int, audio: Audio) -> HearingNote:
        """Writes the clip, durable before the journal names it. Raises JournalError."""
        import soundfile

        buffer = io.BytesIO()
        soundfile.write(buffer, audio, RATE, format="FLAC", subtype="PCM_16")
        data = buffer.getvalue()
        name = f"{number:05d}.flac"
        try:
            if self.folder.parent.is_dir():
                durable.make_folder(self.folder)
            durable.replace(self.folder / name, data)
        except OSError as error:
            if not self.folder.parent.is_dir():
                raise gone(self.folder.parent) from error
            raise JournalError(
                f"The answer's recording could not be stored: {durable.why(error)}.",
                "Free some space, then run 'gladhand resume'. Everything acknowledged before is kept.",
            ) from error
        return HearingNote(clip=f"clips/{name}", clip_sha256=hashlib.sha256(data).hexdigest())
