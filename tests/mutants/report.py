"""The list of mutants: results.json for the program, RESULTS.md to read."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict
from functools import cache
from pathlib import Path

from ruamel.yaml import YAML

from tests.mutants.operators import Mutant, mutants
from tests.mutants.run import ROOT, Tried

HERE = Path(__file__).parent
RESULTS = HERE / "results.json"
LIST = HERE / "RESULTS.md"
NOTES = HERE / "notes.yaml"


def load() -> list[Tried]:
    """What was tried, but for mutants of text that stands in its file no longer."""
    if not RESULTS.exists():
        return []
    found = [Tried(**entry) for entry in json.loads(RESULTS.read_text(encoding="utf-8"))]
    there = {key(file, mutant) for file in {tried.file for tried in found} for mutant in _mutants(file)}
    return [tried for tried in found if key(tried.file, tried) in there]


@cache
def _mutants(file: str) -> list[Mutant]:
    path = ROOT / file
    return mutants(path.read_text(encoding="utf-8")) if path.is_file() else []


def key(file: str, mutant: Mutant | Tried) -> str:
    """What a mutant is called in notes.yaml; without the line, which moves."""
    number = f" #{mutant.number}" if mutant.number > 1 else ""
    return f"{file} {mutant.where}: {mutant.before} -> {mutant.after}{number}"


def notes() -> dict[str, str]:
    """What was said of survivors. A text that begins with "equivalent" says why the program is the same."""
    return dict(YAML(typ="safe").load(NOTES.read_text(encoding="utf-8")) or {}) if NOTES.exists() else {}


def save(found: Sequence[Tried]) -> None:
    ordered = sorted(found, key=lambda tried: (tried.file, tried.line, tried.before, tried.after, tried.number))
    RESULTS.write_text(json.dumps([asdict(tried) for tried in ordered], indent=1) + "\n", encoding="utf-8")
    LIST.write_text(text(ordered, notes()), encoding="utf-8")


def text(found: Sequence[Tried], said: dict[str, str]) -> str:
    """The Markdown list: how many of each, then every mutant with what became of it."""
    survivors = [tried for tried in found if tried.verdict == "survived"]
    same = sum(said.get(key(tried.file, tried), "").startswith("equivalent") for tried in survivors)
    lines = [
        "# Mutants",
        "",
        "Written by `python -m tests.mutants` (see its docstring). Line numbers are those of the run.",
        "",
        f"{len(found)} mutants: {sum(t.verdict == 'killed' for t in found)} killed, "
        f"{sum(t.verdict == 'timeout' for t in found)} stopped for taking for ever, {len(survivors)} survived "
        f"({same} of them the same program).",
        "",
        *_table(found),
        "",
        "## Survivors",
        "",
        *(_survivor(tried, said) for tried in survivors),
        "",
        "## Killed by a test that was written for it",
        "",
        *(
            f"- {_what(tried)}. {said[key(tried.file, tried)]}"
            for tried in found
            if tried.verdict != "survived" and key(tried.file, tried) in said
        ),
        "",
        "## All",
        "",
        "| where | what | becomes | |",
        "|---|---|---|---|",
        *(
            f"| {tried.file}:{tried.line} | `{_cell(tried.before)}` | `{_cell(tried.after)}` | {_fate(tried)} |"
            for tried in found
        ),
    ]
    return "\n".join(lines) + "\n"


def _table(found: Sequence[Tried]) -> list[str]:
    files = sorted({tried.file for tried in found})
    lines = ["| file | mutants | killed | survived |", "|---|---|---|---|"]
    for file in files:
        of_it = [tried.verdict for tried in found if tried.file == file]
        lines.append(f"| {file} | {len(of_it)} | {len(of_it) - of_it.count('survived')} | {of_it.count('survived')} |")
    return lines


def _survivor(tried: Tried, said: dict[str, str]) -> str:
    return f"- {_what(tried)}. {said.get(key(tried.file, tried), 'Nobody has looked at it yet.')}"


def _what(tried: Tried) -> str:
    return f"{tried.file}:{tried.line} {tried.kind}: `{_cell(tried.before)}` to `{_cell(tried.after)}`"


def _fate(tried: Tried) -> str:
    return {"killed": tried.by, "timeout": "stopped", "survived": "**SURVIVED**"}[tried.verdict]


def _cell(text: str) -> str:
    short = text if len(text) <= 90 else f"{text[:87]}..."
    return short.replace("|", "\\|").replace("`", "'")
