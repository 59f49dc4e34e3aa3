"""All route data, loaded: items, defects, cautions, places, groups and routes.

The shipped data comes first; files of the user's own folder, laid out in the same way, add to it and replace what has
the same id.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel

from voice.data import prompts_dir
from voice.errors import DataError
from voice.route.files import Caution, Defect, Group, Places, Route
from voice.route.load import line_of, parse, read_yaml
from voice.route.model import Item

OTHER = "other"  # the defect that fits every item and leads to a note

M = TypeVar("M", bound=BaseModel)


@dataclass(frozen=True, slots=True)
class Origin:
    """Where something was written: its file and the path of keys to it."""

    file: Path
    loc: tuple[str | int, ...]

    def error(self, message: str, hint: str = "", *more: str | int) -> DataError:
        """A DataError at this place, or at `more` below it."""
        return DataError(message, hint, file=self.file, line=line_of(self.file, (*self.loc, *more)))


@dataclass(frozen=True)
class Library:
    """Everything by id. sha256: over all files read, in order. origins: ("item", id) -> where it was written."""

    items: Mapping[str, Item]
    defects: Mapping[str, Defect]
    cautions: Mapping[str, Caution]
    places: Places
    groups: Mapping[str, Group]
    routes: Mapping[str, Route]
    sha256: str
    origins: Mapping[tuple[str, str], Origin] = field(default_factory=dict)

    def defects_of(self, item: Item) -> tuple[Defect, ...]:
        """The closed list of an item's defects, "other" last."""
        return tuple(self.defects[each] for each in item.defects)


def load_library(overlay: Path | None = None) -> Library:
    """The shipped data, with the files of `overlay` over it. Raises DataError for the first mistake."""
    folders = [prompts_dir()] + ([overlay] if overlay is not None and overlay.is_dir() else [])
    return load_folders(folders)


def load_folders(folders: list[Path]) -> Library:
    """Library of several folders; later ones replace what has the same id, within one folder an id is given once."""
    reader = _Reader()
    for folder in folders:
        reader.folder(folder)
    return reader.library()


class _Reader:
    def __init__(self) -> None:
        self.found: dict[str, dict[str, Any]] = {"item": {}, "defect": {}, "caution": {}, "group": {}, "route": {}}
        self.origins: dict[tuple[str, str], Origin] = {}
        self.places: Places | None = None
        self.hash = hashlib.sha256()

    def folder(self, folder: Path) -> None:
        new: set[tuple[str, str]] = set()
        for file in sorted(folder.glob("items/*.yaml")):
            self.table(file, "item", Item, new, _item)
        for name, model in (("defect", Defect), ("caution", Caution)):
            if (file := folder / f"{name}s.yaml").is_file():
                self.table(file, name, model, new)
        if (file := folder / "groups.yaml").is_file():
            self.table(file, "group", Group, new, _entries)
        for file in sorted(folder.glob("routes/*.yaml")):
            data = self.read(file)
            if not isinstance(data, dict):
                raise DataError("a route file is a mapping of keys.", file=file)
            route = parse(Route, _route(data), file)
            self.keep("route", route.id, route, Origin(file, ()), new)
        if (file := folder / "places.yaml").is_file():
            self.places = parse(Places, self.read(file), file)

    def read(self, file: Path) -> Any:
        self.hash.update(file.name.encode() + b"\0" + file.read_bytes() + b"\0")
        return read_yaml(file)

    def table(
        self,
        file: Path,
        kind: str,
        model: type[BaseModel],
        new: set[tuple[str, str]],
        shape: Callable[[dict[str, Any]], dict[str, Any]] = dict,
    ) -> None:
        data = self.read(file)
        if not isinstance(data, dict):
            raise DataError(f"this file is a mapping from {kind} id to {kind}.", file=file)
        for key, value in data.items():
            origin = Origin(file, (key,))
            if isinstance(value, list) and kind == "group":
                value = {"entries": value}
            if not isinstance(value, dict):
                raise origin.error(f'{kind} "{key}" is not a mapping of keys.')
            thing = parse(model, {"id": key, **shape(value)}, file, (key,))
            self.keep(kind, str(key), thing, origin, new)

    def keep(self, kind: str, key: str, thing: BaseModel, origin: Origin, new: set[tuple[str, str]]) -> None:
        if (kind, key) in new:
            first = self.origins[kind, key]
            line = line_of(first.file, first.loc)
            raise origin.error(f'{kind} "{key}" was already given in {first.file}:{line}.', "Give it another id.")
        new.add((kind, key))
        self.origins[kind, key] = origin
        self.found[kind][key] = thing

    def library(self) -> Library:
        if self.places is None:
            raise DataError("there is no places.yaml.", "The installation is incomplete; install again.")
        return Library(
            items=self.found["item"],
            defects=self.found["defect"],
            cautions=self.found["caution"],
            places=self.places,
            groups=self.found["group"],
            routes=self.found["route"],
            sha256=self.hash.hexdigest(),
            origins=self.origins,
        )


def _item(data: dict[str, Any]) -> dict[str, Any]:
    """Short forms an author may use: `answer: condition`, `when: {dual: true}`, `points: {id: [phrases]}`.

    "other" is added to the defects.
    """
    shaped = dict(data)
    shaped.setdefault("answer", "condition")
    if isinstance(shaped["answer"], str):
        shaped["answer"] = {"kind": shaped["answer"]}
    if isinstance(when := shaped.get("when"), dict):
        shaped["when"] = {key: value if isinstance(value, list) else [value] for key, value in when.items()}
    if isinstance(points := shaped.get("points"), dict):
        shaped["points"] = [_point(key, value) for key, value in points.items()]
    defects = shaped.get("defects", [])
    if isinstance(defects, list) and OTHER not in defects:
        shaped["defects"] = [*defects, OTHER]
    return shaped


def _point(key: str, value: Any) -> Any:
    if isinstance(value, list):
        return {"id": key, "say": value}
    return {"id": key, **value} if isinstance(value, dict) else value


def _entries(data: dict[str, Any]) -> dict[str, Any]:
    """A bare word in a list of entries is an item's id."""
    shaped = dict(data)
    if isinstance(entries := shaped.get("entries"), list):
        shaped["entries"] = [{"item": each} if isinstance(each, str) else each for each in entries]
    return shaped


def _route(data: dict[str, Any]) -> dict[str, Any]:
    shaped = dict(data)
    if isinstance(sections := shaped.get("sections"), list):
        shaped["sections"] = [_entries(each) if isinstance(each, dict) else each for each in sections]
    return shaped


def walk_entries(library: Library, route: Route) -> Iterator[str]:
    """Ids of all items a route names, groups opened, in order, without expansion."""
    for section in route.sections:
        stack = list(reversed(section.entries))
        while stack:
            entry = stack.pop()
            if entry.item is not None:
                yield entry.item
            elif entry.group is not None and entry.group in library.groups:
                stack.extend(reversed(library.groups[entry.group].entries))
