"""An older profile that describes a tractor and its trailer in one, made into a profile for each."""

from __future__ import annotations

import io
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.comments import CommentedMap

from voice.data import durable
from voice.errors import DataError, SetupError
from voice.route.units import split
from voice.route.vehicle import Vehicle
from voice.route.vehicles import load_vehicle

_TRAILERS = ("brakes", "placarded", "display_units")  # keys that hold for both


def uncouple(file: Path, names: Mapping[str, str]) -> tuple[Path, Path, Path]:
    """Writes the profile of the tractor and that of the trailer beside it; the old one is kept with "~" after its name.

    names: how the tractor and the trailer are called aloud; what is left out is taken from the old name.
    Their ids are those under which the logbook has what was said of them until now, so their history goes on.
    Returns the two, and where the old one is kept. Raises SetupError, and DataError for a profile with a mistake.
    """
    whole = load_vehicle(file)
    units = split(whole)
    if len(units) != 2:
        raise SetupError(f"{file} describes one vehicle ({whole.kind}).", "Nothing is to be done.")
    units = (_called(units[0], names.get("tractor")), _called(units[1], names.get("trailer")))
    paths = (file.with_name(f"{units[0].id}.yaml"), file.with_name(f"{units[1].id}.yaml"))
    kept = file.with_name(f"{file.name}~")
    for path in (*paths, kept):
        if path.exists():
            raise SetupError(f"{path} is there already.", "Move it away first.")
    try:
        for path, unit in zip(paths, units, strict=True):
            durable.replace(path, _text(file, whole, unit))
        for path, unit in zip(paths, units, strict=True):
            if load_vehicle(path) != unit:
                raise DataError("the profile cannot be divided faithfully.", "Write the two by hand.", file=file)
        file.rename(kept)
        durable.sync_folder(file.parent)
    except (OSError, DataError) as error:
        if file.exists():  # nothing has taken its place
            for path in paths:
                path.unlink(missing_ok=True)
        if isinstance(error, OSError):
            raise SetupError(*durable.trouble(f"{file.parent} cannot be written", error)) from error
        raise
    return (*paths, kept)


def _called(unit: Vehicle, name: str | None) -> Vehicle:
    return unit if name is None else unit.model_copy(update={"name": name})


def _text(file: Path, whole: Vehicle, unit: Vehicle) -> bytes:
    """The old profile's text with what is not this unit's taken out; remarks stay where they can."""
    yaml = YAML()
    yaml.width = 10_000
    data: CommentedMap = yaml.load(file.read_text(encoding="utf-8"))
    own = [axle for axle, known in zip(data["axles"], whole.axles, strict=True) if known.unit == unit.kind]
    if unit.kind == "tractor":
        del data["trailer"]
        made = data
    else:
        made = CommentedMap()
        spec: dict[str, Any] = data["trailer"]
        plate = spec.pop("plate", None)
        made.update({"id": "", "name": "", "kind": ""} | ({} if plate is None else {"plate": plate}))
        made.update({key: data[key] for key in _TRAILERS if key in data})
        made["trailer"] = spec
    made.update({"id": unit.id, "name": unit.name, "kind": unit.kind, "axles": own})
    out = io.StringIO()
    yaml.dump(made, out)
    return out.getvalue().encode()
