"""Readings and defects against limits with their sources. Findings, never a release: a person decides.

In: an answer, the vehicle, prompts/limits/.
Out: `Finding`s with limit, source, and how the source is known.
May use: errors, data, measure, route.
"""

from voice.judge.air import elapsed, leak_rate, reserve_share
from voice.judge.assessment import Assessment, Standout, assess, assess_results
from voice.judge.brakes import BrakeCount
from voice.judge.citation import spoken_source
from voice.judge.defect import judge_defect
from voice.judge.limit import Criterion, Limit, LimitSet
from voice.judge.load import limit_files, limits_of, load_limits, shipped_limits
from voice.judge.model import Finding, Result, Subject
from voice.judge.reading import judge_reading
from voice.judge.result import judge_answer
from voice.judge.sentence import sentence
from voice.judge.source import Source

__all__ = [
    "Assessment",
    "BrakeCount",
    "Criterion",
    "Finding",
    "Limit",
    "LimitSet",
    "Result",
    "Source",
    "Standout",
    "Subject",
    "assess",
    "assess_results",
    "elapsed",
    "judge_answer",
    "judge_defect",
    "judge_reading",
    "leak_rate",
    "limit_files",
    "limits_of",
    "load_limits",
    "reserve_share",
    "sentence",
    "shipped_limits",
    "spoken_source",
]
