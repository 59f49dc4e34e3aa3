"""Measurements and defects against limits with their sources. Pure, exact, no clock, no device.

Findings, never a release: a qualified person decides about the vehicle.
"""

from voice.judge.air import elapsed, leak_rate, reserve_share
from voice.judge.defect import judge_defect
from voice.judge.limit import Criterion, Limit, LimitSet, Source
from voice.judge.load import limit_files, load_limits, shipped_limits
from voice.judge.model import Finding, Level, Result, Subject
from voice.judge.reading import judge_reading
from voice.judge.speech import printed, quantity_name, show, spoken

__all__ = [
    "Criterion",
    "Finding",
    "Level",
    "Limit",
    "LimitSet",
    "Result",
    "Source",
    "Subject",
    "elapsed",
    "judge_defect",
    "judge_reading",
    "leak_rate",
    "limit_files",
    "load_limits",
    "printed",
    "quantity_name",
    "reserve_share",
    "shipped_limits",
    "show",
    "spoken",
]
