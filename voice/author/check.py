"""Checks what authors wrote: the shipped data, or single files as if they were laid over it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from voice.author.check_library import check_library
from voice.author.trial import trial_vehicles
from voice.data.folders import prompts_dir
from voice.data.reader import MistakesError, line_of, read_yaml
from voice.errors import DataError
from voice.judge import LimitSet
from voice.judge.load import example_layers, load_limits
from voice.route.dropped import dropped
from voice.route.library import Reader, data_files, kind_of, load_folders
from voice.route.vehicle import Vehicle
from voice.route.vehicles import faults, profile_files, read_profiles, read_vehicle, shared_names, vehicle_files
from voice.understand.lexicon import load as load_lexicon
from voice.walk.drivingtalk import load_driving_talk
from voice.walk.pacetalk import load_pace_talk
from voice.walk.talk import load_talk

_OF_ITEMS = {"answer", "defects", "part", "follow_ups", "points", "limits"}  # keys that only an item has


def check_shipped() -> list[DataError]:
    """All faults of the shipped routes, items, defects, cautions, places and sample vehicles."""
    found: list[DataError] = []
    library = load_folders([prompts_dir()], found)
    found += check_library(library)
    for file in sorted((prompts_dir() / "vehicles").glob("*.yaml")):
        found += check_vehicle(file)
    return _sorted(found)


def own_files(home: Path) -> list[Path]:
    """The files a user has written: units, routes, items and the like, then vehicle profiles."""
    units = home / "prompts" / "units.yaml"
    return [*([units] if units.is_file() else []), *data_files(home / "prompts"), *profile_files(home / "vehicles")]


def check_files(files: Sequence[Path], overlay: Path | None = None, limits: LimitSet | None = None) -> list[DataError]:
    """All faults in these files, and those in others that they cause. Shipped files are checked where they are.

    overlay: the user's own folder of routes and items, which the files are laid over besides. Of vehicle profiles,
    two that could not be told apart are a fault too.
    limits: those that the user's items may name; by default the shipped ones.
    """
    found: list[DataError] = []
    limits = limits or load_limits()
    shipped = {file.resolve() for file in data_files(prompts_dir())}
    own = {file.resolve() for file in files}
    reader = Reader(found)
    reader.folder(prompts_dir())
    if overlay is not None:
        reader.new_layer()
        for file in data_files(overlay):
            if file.resolve() not in own:
                reader.file(file, kind_of(file) or "item")
    before = _known(reader, limits)
    vehicles: list[tuple[Path, Vehicle]] = []
    reader.new_layer()
    for file in files:
        if file.resolve() in shipped:
            continue
        try:
            kind = _guess(file)
        except DataError as fault:
            found.append(fault)
            continue
        if kind == "units":
            continue
        if kind == "vehicle":
            found += (wrong := check_vehicle(file, limits))
            vehicles += [] if wrong else [(file, read_vehicle(file))]
        else:
            reader.file(file, kind)
    found += shared_names(vehicles)
    found += _or_none(reader, limits)
    return _sorted(fault for fault in found if _own(fault, own) or _key(fault) not in before)


def check_wording(overlay: Path) -> list[DataError]:
    """Faults of the user's own files of wording, each of which takes the place of the shipped file."""
    found: list[DataError] = []
    for name, read in (
        ("dialogue.yaml", load_talk),
        ("driving.yaml", load_driving_talk),
        ("pace.yaml", load_pace_talk),
        ("commands.yaml", load_lexicon),
    ):
        if (overlay / name).is_file():
            try:
                read(overlay / name)
            except MistakesError as mistakes:
                found += mistakes.each
            except DataError as fault:
                found.append(fault)
    return found


def left_out(files: Sequence[Path], home: Path) -> list[DataError]:
    """What the shipped routes ask and, with these files and the home's own over them, nobody is asked any more.

    It is looked for on the home's own vehicles and on vehicles of every kind. Files with mistakes are passed over:
    `check_files` names those.
    """
    reader = Reader([])
    reader.folder(prompts_dir())
    reader.new_layer()
    for file in dict.fromkeys((*data_files(home / "prompts"), *files)):
        if kind_of(file) is not None and file.is_file():
            reader.new_layer()
            reader.file(file, kind_of(file) or "item")
    vehicles = [*read_profiles(vehicle_files(home)).vehicles.values(), *trial_vehicles()]
    try:
        gone = dropped(reader.library(), vehicles)
    except DataError:
        return []
    return [each.origin.error(f"leaves out {each}.") for each in gone]


def check_vehicle(file: Path, limits: LimitSet | None = None) -> list[DataError]:
    """All faults of a vehicle profile.

    limits: those in force; the user's own files among them may be named as layers besides the shipped examples.
    """
    try:
        vehicle = read_vehicle(file)
    except MistakesError as several:
        return several.each
    except DataError as one:
        return [one]
    found = [DataError(message, file=file, line=line_of(file, loc)) for loc, message in faults(vehicle)]
    return [*found, *_layers(file, vehicle, limits)]


def _layers(file: Path, vehicle: Vehicle, limits: LimitSet | None) -> Iterator[DataError]:
    """Names of limits that there are not; a walk would be refused at its beginning."""
    examples = example_layers()
    own = {Path(layer.file).stem for layer in limits.layers[1:]} if limits is not None else set()
    for index, name in enumerate(vehicle.layers):
        if name not in examples and name not in own:
            yield DataError(
                f'layers: there are no limits called "{name}".', f"There are: {', '.join(examples)}.",
                file=file, line=line_of(file, ("layers", index)),
            )  # fmt: skip


_KNOWN: dict[str, frozenset[tuple[Path | None, int | None, str]]] = {}  # by the data and the limits


def _known(reader: Reader, limits: LimitSet) -> frozenset[tuple[Path | None, int | None, str]]:
    """The faults of what was read so far, so that only new ones are told; worked out once for the same data."""
    key = f"{reader.hash.hexdigest()} {'/'.join(limit.id for limit in limits.limits)}"
    if key not in _KNOWN:
        _KNOWN[key] = frozenset(_key(fault) for fault in [*(reader.faults or ()), *_or_none(reader, limits)])
    return _KNOWN[key]


def _or_none(reader: Reader, limits: LimitSet) -> list[DataError]:
    try:
        return check_library(reader.library(), limits)
    except DataError as fault:
        return [fault]


def is_units(file: Path) -> bool:
    """Whether it is to hold units and quantities."""
    return file.stem == "units"


def _guess(file: Path) -> str:
    """The kind of a file: by name and folder, else by what is in it."""
    if is_units(file):
        return "units"
    if (kind := kind_of(file)) is not None:
        return kind
    data = read_yaml(file)
    if isinstance(data, dict):
        if "axles" in data or file.parent.name == "vehicles":
            return "vehicle"
        if "sections" in data or "fits" in data:
            return "route"
        if data and all(isinstance(each, list) for each in data.values()):
            return "group"
        if data.keys() & _OF_ITEMS:
            raise DataError(
                "this is an item without its id around it.", 'Write "its-id:" first, and the rest indented.', file=file
            )
        first = next((each for each in data.values() if isinstance(each, dict)), None)
        if first is not None:
            item = isinstance(first.get("say"), dict) or bool(first.keys() & _OF_ITEMS)
            return "caution" if "print" in first else "item" if item else "defect"
    raise DataError(
        "cannot tell what kind of file this is.",
        "A route has sections, a vehicle has axles, items are a mapping from id to item.",
        file=file,
    )


def _key(fault: DataError) -> tuple[Path | None, int | None, str]:
    return fault.file, fault.line, str(fault)


def _own(fault: DataError, files: set[Path]) -> bool:
    return fault.file is not None and fault.file.resolve() in files


def _sorted(faults: Iterable[DataError]) -> list[DataError]:
    unique = {_key(fault): fault for fault in faults}
    return sorted(unique.values(), key=lambda fault: (str(fault.file), fault.line or 0, str(fault)))
