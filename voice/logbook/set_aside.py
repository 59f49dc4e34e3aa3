"""Where refused records go: home/set-aside/, each with its reason beside it. Nothing is dropped."""

from __future__ import annotations

import hashlib
import re
from pathlib import Path

from voice.data import durable
from voice.errors import RecordError


def set_aside(home: Path, name: str, body: bytes, reason: str) -> Path:
    """Keep a refused record's bytes and the reason. The same bytes again are the same file. Raises RecordError."""
    digest = hashlib.sha256(body).hexdigest()[:12]
    safe = re.sub(r"[^A-Za-z0-9._-]+", "-", name).strip(".-")[-80:] or "record"
    folder = home / "set-aside"
    kept = folder / f"{safe}.{digest}.json"
    try:
        durable.make_folder(folder)
        durable.replace(kept, body)
        durable.replace(kept.with_suffix(".reason.txt"), f"{reason}\n".encode())
    except OSError as error:
        raise RecordError(*durable.trouble(f"{folder} cannot be written", error)) from error
    return kept
