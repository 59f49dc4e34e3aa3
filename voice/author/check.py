"""Checks what authors wrote: the shipped data, or single files as if they were laid over it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path

from voice.author.audit import audit
from voice.author.trial import trial_vehicles
from voice.data.folders import prompts_dir
from voice.data.reader import MistakesError, line_of, read_yaml
from voice.errors import DataError
from voice.judge import LimitSet
from voice.judge.load import load_limits
from voice.route.dropped import dropped
from voice.route.expand import expand
from voice.route.facts import AXLE_FACTS, VALUES
from voice.route.library import Library, Reader, data_files, kind_of, load_folders
from voice.route.model import Plan
from voice.route.vehicle import Vehicle
from voice.route.vehicles import faults, profile_files, read_profiles, read_vehicle, shared_names, vehicle_files
from voice.route.visit import visits
from voice.understand.clashes import check as check_phrases
from voice.understand.lexicon import load as load_lexicon
from voice.understand.parts import check as check_parts
from voice.understand.phrases import Phrasebook
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
            found += (wrong := check_vehicle(file))
            vehicles += [] if wrong else [(file, read_vehicle(file))]
        else:
            reader.file(file, kind)
    found += shared_names(vehicles)
    found += _or_none(reader, limits)
    return _sorted(fault for fault in found if _own(fault, own) or _key(fault) not in before)


def check_wording(overlay: Path) -> list[DataError]:
    """Faults of the user's own dialogue.yaml, pace.yaml and commands.yaml: each takes the place of the shipped file."""
    found: list[DataError] = []
    for name, read in (("dialogue.yaml", load_talk), ("pace.yaml", load_pace_talk), ("commands.yaml", load_lexicon)):
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


def check_library(library: Library, limits: LimitSet | None = None) -> list[DataError]:
    """Faults of a whole library: of its entries, and of its routes on vehicles of many kinds."""
    book = Phrasebook()
    found = audit(library, limits or load_limits(), fixed_phrases(), lambda item: [p.text for p in book.good(item)])
    found += _meanings(library)
    if _can_expand(library):
        found += _expansions(library)
    return found


def check_vehicle(file: Path) -> list[DataError]:
    """All faults of a vehicle profile."""
    try:
        vehicle = read_vehicle(file)
    except MistakesError as several:
        return several.each
    except DataError as one:
        return [one]
    return [DataError(message, file=file, line=line_of(file, loc)) for loc, message in faults(vehicle)]


def fixed_phrases() -> Mapping[str, str]:
    """What can be said in answer to any condition, besides its defects: phrase -> meaning."""
    lexicon = load_lexicon()
    answers = lexicon.answers.model_dump()
    fixed = {phrase: name for name in ("ok", "clear", "not_applicable", "yes", "no") for phrase in answers[name]}
    fixed.update((phrase, "defect") for phrase in answers["defect"])
    for name, phrases in lexicon.commands.items():
        fixed.update((phrase, f"command {name}") for phrase in phrases)
    return fixed


def _meanings(library: Library) -> Iterator[DataError]:
    """Items one of whose questions would have a phrase with two meanings."""
    book = Phrasebook()
    said = {defect.id: defect.say for defect in library.defects.values()}
    for item in library.items.values():
        if all(name in said for name in item.defects):
            for fault in check_phrases(book, [item], said):
                yield library.origins["item", item.id].error(fault.message, fault.hint)


def _can_expand(library: Library) -> bool:
    """Whether every name in the routes leads somewhere; the audit has said so if not."""
    for route in library.routes.values():
        for visit in visits(library, route):
            entry = visit.entry
            item = library.items.get(entry.item or "")
            asked = {*entry.when, *(item.when if item else ())}
            known = set(VALUES) if visit.at_axle else set(VALUES) - AXLE_FACTS
            if visit.circle or (item is None and entry.group not in library.groups) or not asked <= known:
                return False
    return True


def _expansions(library: Library) -> Iterator[DataError]:
    """Faults that only show when a route is expanded: the same step twice, the same spoken name twice."""
    told: set[str] = set()
    book = Phrasebook()
    for vehicle in trial_vehicles():
        for route in library.routes.values():
            if vehicle.kind not in route.fits:
                continue
            try:
                plan = expand(library, route, vehicle)
            except DataError as fault:
                if str(fault) not in told:
                    told.add(str(fault))
                    yield fault
                continue
            yield from _names(library, plan, told)
            yield from _looks(library, plan, book, told)


def _names(library: Library, plan: Plan, told: set[str]) -> Iterator[DataError]:
    """Two items of one plan that answer to the same spoken name."""
    names: dict[str, set[str]] = {}
    for step in plan.steps:
        for call in step.item.call:
            names.setdefault(call, set()).add(step.item.id)
    for name, items in names.items():
        if len(items) > 1:
            first, second = sorted(items)[:2]
            key = f"{name}/{first}/{second}"
            if key not in told:
                told.add(key)
                yield library.origins["item", second].error(
                    f'item "{second}" is called "{name}", and so is "{first}".', "Change one.", "call"
                )


def _looks(library: Library, plan: Plan, book: Phrasebook, told: set[str]) -> Iterator[DataError]:
    """Parts of one look that cannot be told apart by what is said."""
    said = {defect.id: defect.say for defect in library.defects.values()}
    if any(name not in said for step in plan.steps for name in step.item.defects):
        return  # the audit says so
    for fault in check_parts(book, plan, said):
        if str(fault) not in told:
            told.add(str(fault))
            name = fault.message.split('"')[1].partition("@")[0]
            yield library.origins["look", name].error(fault.message, fault.hint)


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
