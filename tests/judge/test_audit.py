"""The audit of the shipped entries, one row each: what is cited, what was read of it, where, and what was corrected."""

from __future__ import annotations

import csv
import re
from collections import Counter
from pathlib import Path

from tests.judge.by_source.again import READ_AGAIN, SAID_AGAIN
from voice.author.table import limit_words
from voice.judge import load_limits
from voice.judge.limit import Limit

FILE = Path(__file__).parent / "audit.tsv"
LINES = FILE.read_text(encoding="utf-8").splitlines()
ROWS = list(csv.DictReader([line for line in LINES if not line.startswith("#")], delimiter="\t"))
VERDICTS = {
    "read": "verified in text",
    "second-hand": "secondary only",
    "memory": "could not be read",
    "practice": "common practice",
}


def test_every_entry_has_its_row_as_it_is_now() -> None:
    whole = load_limits()
    now = {
        rule.id: (limit_words(rule) if isinstance(rule, Limit) else rule.level, rule.source.section, rule.source.known)
        for rule in (*whole.limits, *whole.criteria)
    }
    assert {row["id"]: (row["value"], row["section"], row["marked"]) for row in ROWS} == now


def test_no_entry_is_said_to_be_better_known_than_the_audit_has_it() -> None:
    for row in ROWS:
        verdict = re.sub(r"partly verified \(.*\)", "could not be read", row["verdict"])
        assert verdict == VERDICTS[row["marked"]], row["id"]
        assert row["read where"] or row["marked"] in ("memory", "practice"), row["id"]


def test_the_second_reader_wrote_cases_of_every_entry_that_is_marked() -> None:
    """text: the rule or one that adopts it was seen; check values: figures collected before, apart from the entries."""
    marked = {row["id"]: row["second reader"] for row in ROWS if row["second reader"]}
    assert set(marked) == {case.id for case in READ_AGAIN + SAID_AGAIN}
    [told] = [line for line in LINES if line.startswith("# second reader: ")]
    counts = Counter(marked.values())
    assert set(counts) == {"text", "second-hand", "check values"}
    assert told.startswith(f"# second reader: {counts.total()} of {len(ROWS)} entries")
    assert told.endswith(": " + ", ".join(f"{counts[how]} {how}" for how in ("text", "second-hand", "check values")))


def test_the_rows_of_the_stroke_table_are_counted_as_they_are_marked() -> None:
    known = Counter(row.known or "memory" for row in load_limits().tables["pushrod-stroke"].rows)
    [row] = [row for row in ROWS if row["id"] == "stroke"]
    assert f"({known['read']} of {known.total()} rows)" in row["verdict"]
    counted = f"{known['read']} rows read, {known['second-hand']} second-hand, {known['memory']} from memory"
    assert counted in row["correction or note"]


def test_nothing_is_contradicted_or_applied_wrongly() -> None:
    counts = Counter(re.sub(r" \(.*\)", "", row["verdict"]) for row in ROWS)
    [after] = [line for line in LINES if line.startswith("# after: ")]
    told = {name: int(count) for count, name in re.findall(r"(\d+) ([a-z ]+?)(?=,|$)", after.partition("entries: ")[2])}
    assert told.pop("contradicted") == told.pop("right figure applied wrongly") == 0
    assert counts == told
    assert counts.total() == len(ROWS)
