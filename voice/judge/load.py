"""Limits files into one LimitSet: layers in order, a later one overrides by id.

An entry whose id is known already needs only what changes, and a source: a fleet's own figure must not go under the
name of a federal rule. `drop` takes out ids of earlier layers. Whatever decided is remembered.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Any

from pydantic import Field

from voice.data.fields import Id, Name
from voice.data.folders import prompts_dir
from voice.data.reader import Loc, line_of, parse, read_yaml
from voice.data.strict import Strict
from voice.errors import DataError, SetupError
from voice.judge.limit import Criterion, Layer, Limit, LimitSet, Table
from voice.judge.tiedownfigures import Figures
from voice.judge.tiedowns import tie_down_rules
from voice.measure import fits, is_unit
from voice.measure.book import unit_book
from voice.route.vehicle import Number

SHIPPED = "us-federal.yaml"


class LimitsFile(Strict):
    """The outline of one file; its entries are read one by one, merged with those of earlier layers."""

    layer: Id
    title: str
    call: Name = ""
    near: dict[str, Number] = Field(default_factory=dict)
    tables: dict[str, Table] = Field(default_factory=dict)
    limits: tuple[dict[str, Any], ...] = ()
    criteria: tuple[dict[str, Any], ...] = ()
    drop: tuple[str, ...] = ()


def shipped_limits() -> Path:
    """The first layer: US federal rules."""
    return prompts_dir() / "limits" / SHIPPED


def limit_files(home: Path | None = None) -> tuple[Path, ...]:
    """The files in force, in order: the shipped one, then home/limits/*.yaml by name."""
    own = sorted((home / "limits").glob("*.yaml")) if home is not None else []
    return (shipped_limits(), *own)


def example_layers() -> Mapping[str, Path]:
    """The examples of further layers that ship with the program, by name."""
    return {file.stem: file for file in sorted((prompts_dir() / "limits" / "examples").glob("*.yaml"))}


def layer_files(home: Path, names: Iterable[str]) -> tuple[Path, ...]:
    """The files of examples by their names, in order. One that a home has a copy of holds there already.

    Raises SetupError for a name that there is not.
    """
    examples = example_layers()
    found = []
    for name in dict.fromkeys(names):
        if (home / "limits" / f"{name}.yaml").exists():
            continue
        if name not in examples:
            raise SetupError(f"There are no limits called '{name}'.", f"There are: {', '.join(examples)}.")
        found.append(examples[name])
    return tuple(found)


def load_limits(files: Sequence[Path] = ()) -> LimitSet:
    """The set made of these files (of the shipped one alone if none are given), with the entries of all days.

    Raises DataError with file and line.
    """
    merger = _Merger()
    for file in files or (shipped_limits(),):
        merger.add(file)
    return merger.result()


def limits_of(home: Path | None, day: date, more: Sequence[Path] = ()) -> LimitSet:
    """What holds on this day in a home: its files, then those given besides. Raises DataError with file and line."""
    return load_limits([*limit_files(home), *more]).on(day)


class _Merger:
    def __init__(self) -> None:
        self.layers: list[Layer] = []
        self.near: dict[str, Any] = {}
        self.tables: dict[str, Table] = {}
        self.raw: dict[str, dict[str, Any]] = {}
        self.made: dict[str, Limit | Criterion] = {}

    def add(self, file: Path) -> None:
        data = read_yaml(file)
        if not isinstance(data, dict):
            raise DataError("must be a mapping of keys.", "Compare it with the shipped file.", file=file, line=1)
        outline = parse(LimitsFile, data, file)
        digest = hashlib.sha256(file.read_bytes()).hexdigest()
        named = {"layer": outline.layer, "title": outline.title, "call": outline.call}
        self.layers.append(Layer(**named, file=file.name, sha256=digest))
        for quantity in outline.near:
            self._check_quantity(quantity, file, ("near", quantity))
        self.near.update(outline.near)
        for name, table in outline.tables.items():
            if not _known_unit(table.unit):
                raise _wrong(f"'{table.unit}' is not a unit.", file, ("tables", name, "unit"))
        self.tables.update(outline.tables)
        for index, name in enumerate(outline.drop):
            if self.made.pop(name, None) is None:
                raise _wrong(f"there is no limit '{name}' to drop.", file, ("drop", index))
            del self.raw[name]
        seen: set[str] = set()
        for index, entry in enumerate(outline.limits):
            self._entry(Limit, entry, file, ("limits", index), seen)
        for index, entry in enumerate(outline.criteria):
            self._entry(Criterion, entry, file, ("criteria", index), seen)

    def _entry(
        self, model: type[Limit] | type[Criterion], entry: dict[str, Any], file: Path, at: Loc, seen: set[str]
    ) -> None:
        for own in ("file", "before"):
            if own in entry:
                raise _wrong(f'there is no key "{own}" here.', file, (*at, own))
        name = entry.get("id")
        if isinstance(name, str) and name in seen:
            raise _wrong(f"the id '{name}' is used twice.", file, (*at, "id"))
        before: tuple[str, ...] = ()
        whole = dict(entry)
        if isinstance(name, str) and (known := self.made.get(name)) is not None:
            if not isinstance(known, model):
                raise _wrong(f"'{name}' is a limit in one file and a criterion in another.", file, (*at, "id"))
            if "source" not in entry:
                raise _wrong(f"the change of '{name}' needs a source of its own.", file, (*at, "id"))
            before = (*known.before, known.file)
            whole = {**self.raw[name], **entry}
            if {"value", "low", "high", "table", "figure"} & entry.keys():
                for key in ("value", "low", "high", "table", "figure"):
                    if key not in entry:
                        whole.pop(key, None)
        made = parse(model, {**whole, "file": file.name, "before": before}, file, at)
        if isinstance(made, Limit):
            self._check_limit(made, file, at)
        self.raw[made.id], self.made[made.id] = whole, made
        seen.add(made.id)

    def _check_limit(self, limit: Limit, file: Path, at: Loc) -> None:
        self._check_quantity(limit.quantity, file, (*at, "quantity"))
        unit = unit_book().quantities[limit.quantity].unit
        if not _known_unit(limit.unit):
            raise _wrong(f"'{limit.unit}' is not a unit.", file, (*at, "unit"))
        if not fits(limit.unit, unit):
            raise _wrong(f"the unit '{limit.unit}' does not fit {limit.quantity} ({unit}).", file, (*at, "unit"))
        if limit.table is not None:
            if (table := self.tables.get(limit.table)) is None:
                raise _wrong(f"there is no table '{limit.table}'.", file, (*at, "table"))
            if table.unit != limit.unit:
                raise _wrong(f"the table '{limit.table}' is in {table.unit}.", file, (*at, "unit"))

    @staticmethod
    def _check_quantity(quantity: str, file: Path, at: Loc) -> None:
        if quantity not in unit_book().quantities:
            raise _wrong(f"the quantity '{quantity}' is not in units.yaml.", file, at)

    def result(self) -> LimitSet:
        made = self.made.values()
        return LimitSet(
            layers=tuple(self.layers),
            near=self.near,
            tables=self.tables,
            limits=tuple(rule for rule in made if isinstance(rule, Limit)),
            criteria=tuple(rule for rule in made if isinstance(rule, Criterion)),
            tie_downs=Figures.model_validate(tie_down_rules().model_dump(include=set(Figures.model_fields))),
        )


def _known_unit(unit: str) -> bool:
    """Pint is only asked, and only loaded, about a unit that the units file does not list."""
    return unit in unit_book().units or is_unit(unit)


def _wrong(message: str, file: Path, at: Loc) -> DataError:
    return DataError(message, "Correct the entry.", file=file, line=line_of(file, at))
