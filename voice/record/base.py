"""What the parts of a record are made of: their base, a result against a limit, a measured value."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from voice.data.fields import MAX_TEXT, Amount, Exact, Key, Name, Text, Title, Unit
from voice.measure.level import LevelName


class Model(BaseModel):
    """Base of a record's parts: unknown fields refused, every value bounded."""

    model_config = ConfigDict(extra="forbid", frozen=True, str_max_length=MAX_TEXT, allow_inf_nan=False)


class FindingRecord(Model):
    """One result against one limit; see voice.judge.model.Finding. Numbers are exact fractions as text ("4/32")."""

    level: LevelName
    quantity: Name
    limit: Name
    limit_text: Text
    source: Text
    known: Literal["read", "second-hand", "memory", "practice"]
    layer: Name
    reading: Exact | None = None
    margin: Exact | None = None
    unit: Unit | None = None
    defect: Name | None = None
    condition: Text = Field("", description="What the criterion also asks and nobody measured; a person decides.")


class Standing(FindingRecord):
    """A finding of the summary.

    step: None for the vehicle as a whole.
    name: where, as it is said.
    """

    step: Key | None = None
    name: Title = ""
    told: Text = Field("", description="What, as it is said; empty where the finding tells it.")


class ReadingRecord(Model):
    """A measured value.

    value: exact ("7/32").
    decimal: the same for programs.
    name: gauge or follow-up, if several.
    """

    quantity: Name
    value: Exact
    decimal: Amount
    unit: Unit
    name: Name = ""
