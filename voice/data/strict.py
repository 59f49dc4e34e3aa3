"""The base of everything read from a file."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict

from voice.data.fields import MAX_TEXT


class Strict(BaseModel):
    """Base of all data read from files: frozen, unknown keys refused, texts bounded."""

    model_config = ConfigDict(extra="forbid", frozen=True, str_max_length=MAX_TEXT, allow_inf_nan=False)
