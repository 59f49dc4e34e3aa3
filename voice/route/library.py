"""All route data, loaded: items, defects, cautions, places, groups and routes.

The shipped data comes first; files of the user's own folder, laid out in the same way, add to it and replace what has
the same id.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pydantic import BaseModel

from voice.data.folders import prompts_dir
from voice.data.own import TABLES
from voice.data.reader import MistakesError, line_of, parse, read_yaml
from voice.errors import DataError
from voice.route.files import Caution, DefectKind, Due, Group, InspectionKind, LookKind, Places, Route
from voice.route.model import Item

OTHER = "other"  # the defect that fits every item and leads to a note

_MODELS: Mapping[str, type[BaseModel]] = {
    "item": Item,
    "defect": DefectKind,
    "caution": Caution,
    "group": Group,
    "look": LookKind,
    "due": Due,
    "route": Route,
    "kind": InspectionKind,
}


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
    """Everything by id.

    sha256: over all files read, in order.
    origins: ("item", id) -> where it was written.
    """

    items: Mapping[str, Item]
    defects: Mapping[str, DefectKind]
    cautions: Mapping[str, Caution]
    places: Places
    groups: Mapping[str, Group]
    looks: Mapping[str, LookKind]
    due: Mapping[str, Due]
    routes: Mapping[str, Route]
    kinds: Mapping[str, InspectionKind]
    sha256: str
    origins: Mapping[tuple[str, str], Origin] = field(default_factory=dict)

    def defects_of(self, item: Item) -> tuple[DefectKind, ...]:
        """The closed list of an item's defects, "other" last."""
        return tuple(self.defects[each] for each in item.defects)


def load_library(overlay: Path | None = None) -> Library:
    """The shipped data, with the files of `overlay` over it. Raises DataError for the first mistake."""
    folders = [prompts_dir()] + ([overlay] if overlay is not None and overlay.is_dir() else [])
    return load_folders(folders)


def load_folders(folders: Sequence[Path], faults: list[DataError] | None = None) -> Library:
    """Library of several folders; later ones replace what has the same id, within one folder an id is given once.

    With a list of `faults`, mistakes are added to it and what is wrong is left out, instead of raising the first.
    """
    reader = Reader(faults)
    for folder in folders:
        reader.folder(folder)
    return reader.library()


class Reader:
    """Reads files of all kinds into one library.

    faults: where mistakes go; None raises the first.
    """

    def __init__(self, faults: list[DataError] | None = None) -> None:
        self.faults = faults
        self.found: dict[str, dict[str, Any]] = {kind: {} for kind in _MODELS}
        self.origins: dict[tuple[str, str], Origin] = {}
        self.places: Places | None = None
        self.hash = hashlib.sha256()
        self._layer: set[tuple[str, str]] = set()

    def folder(self, folder: Path) -> None:
        self.new_layer()
        for file in data_files(folder):
            self.file(file, kind_of(file) or "item")

    def new_layer(self) -> None:
        """From here on, an id that is known already is replaced."""
        self._layer = set()

    def file(self, file: Path, kind: str) -> None:
        """Take in one file of a kind: "places", "route" (one a file), or a table of items, defects ..."""
        with self._collect():
            data = self._read(file)
            if not isinstance(data, dict):
                raise DataError("this file is a mapping of keys.", "See the shipped files for an example.", file=file)
            if kind == "places":
                self.places = parse(Places, data, file)
            elif kind == "route":
                route = parse(Route, _route(data), file)
                self._keep("route", route.id, route, Origin(file, ()))
            else:
                for key, value in data.items():
                    with self._collect():
                        self._entry(kind, str(key), value, Origin(file, (key,)))

    def library(self) -> Library:
        if self.places is None:
            raise DataError("there is no places.yaml.", "The installation is incomplete; install again.")
        return Library(
            items={name: self._with_beside(item) for name, item in self.found["item"].items()},
            defects=self.found["defect"],
            cautions=self.found["caution"],
            places=self.places,
            groups=self.found["group"],
            looks=self.found["look"],
            due=self.found["due"],
            routes=self.found["route"],
            kinds=self.found["kind"],
            sha256=self.hash.hexdigest(),
            origins=self.origins,
        )

    def _with_beside(self, item: Item) -> Item:
        """The item, its list with the defects that stand beside one of its own; "other" stays last."""
        own = [name for name in item.defects if name != OTHER]
        kinds: Iterable[DefectKind] = self.found["defect"].values()
        more = [kind.id for kind in kinds if kind.id not in own and set(kind.beside) & set(own)]
        return item if not more else item.model_copy(update={"defects": (*own, *more, OTHER)})

    @contextmanager
    def _collect(self) -> Iterator[None]:
        try:
            yield
        except MistakesError as several:
            if self.faults is None:
                raise several.each[0] from several
            self.faults.extend(several.each)
        except DataError as one:
            if self.faults is None:
                raise
            self.faults.append(one)

    def _read(self, file: Path) -> Any:
        data = read_yaml(file)
        self.hash.update(file.name.encode() + b"\0" + file.read_bytes() + b"\0")
        return data

    def _entry(self, kind: str, key: str, value: Any, origin: Origin) -> None:
        if kind == "group" and isinstance(value, list):
            value = {"entries": value}
        if not isinstance(value, dict):
            raise origin.error(f'{kind} "{key}" is not a mapping of keys.')
        shaped = {"id": key, **_SHAPES.get(kind, dict)(value)}
        self._keep(kind, key, parse(_MODELS[kind], shaped, origin.file, origin.loc), origin)

    def _keep(self, kind: str, key: str, thing: BaseModel, origin: Origin) -> None:
        if (kind, key) in self._layer:
            first = self.origins[kind, key]
            line = line_of(first.file, first.loc)
            raise origin.error(f'{kind} "{key}" was already given in {first.file}:{line}.', "Give it another id.", "id")
        self._layer.add((kind, key))
        self.origins[kind, key] = origin
        self.found[kind][key] = thing


def data_files(folder: Path) -> list[Path]:
    """The files of a data folder, in a fixed order."""
    tables = (folder / f"{name}.yaml" for name in TABLES)
    return [
        *sorted(folder.glob("items/*.yaml")),
        *(file for file in tables if file.is_file()),
        *sorted(folder.glob("routes/*.yaml")),
    ]


def kind_of(file: Path) -> str | None:
    """What kind of data a file is to hold, by its name and folder; None if that does not say."""
    by_name = {
        "defects": "defect", "cautions": "caution", "groups": "group", "looks": "look", "due": "due",
        "places": "places", "kinds": "kind",
    }  # fmt: skip
    by_folder = {"items": "item", "routes": "route"}
    return by_name.get(file.stem) or by_folder.get(file.parent.name)


def _item(data: dict[str, Any]) -> dict[str, Any]:
    """Short forms an author may use: `answer: condition`, `when: {dual: true}`, `points: {id: [phrases]}`.

    "other" is added to the defects.
    """
    shaped = dict(data)
    _when(shaped)
    shaped.setdefault("answer", "condition")
    if isinstance(shaped["answer"], str):
        shaped["answer"] = {"kind": shaped["answer"]}
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
        shaped["entries"] = [_entry(each) for each in entries]
    return shaped


def _entry(data: Any) -> Any:
    if isinstance(data, str):
        return {"item": data}
    if isinstance(data, dict):
        _when(data := dict(data))
    return data


def _when(data: dict[str, Any]) -> None:
    """`when: {dual: true}` stands for `when: {dual: [true]}`."""
    if isinstance(when := data.get("when"), dict):
        data["when"] = {key: value if isinstance(value, list) else [value] for key, value in when.items()}


def _route(data: dict[str, Any]) -> dict[str, Any]:
    shaped = dict(data)
    if isinstance(sections := shaped.get("sections"), list):
        shaped["sections"] = [_entries(each) if isinstance(each, dict) else each for each in sections]
    return shaped


_SHAPES: Mapping[str, Callable[[dict[str, Any]], dict[str, Any]]] = {"item": _item, "group": _entries}
