"""What migration 0005 has to understand of the past: a combination's profile, its records, the keys of its defects.

Repeated here as it was then, so that later versions of the program change nothing of what is carried over.
"""

from __future__ import annotations

import json
import re
import zlib
from collections.abc import Mapping
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from voice.measure.cardinal import cardinal

_MOST = 20  # axles
# Asked at the trailer by the routes of before. The last one was asked at the tractor, and is a part of the trailer.
_TRAILERS = {
    "abs-lamp", "brake-lights", "cargo-securement", "dump-body", "glad-hands", "header-board", "landing-gear",
    "middle-marker", "mud-flap-height", "placards", "plate-lamp", "rear-doors", "rear-guard", "rear-guard-height",
    "rear-lights", "rear-turn", "reefer-unit", "tandem-slider", "tank-valves", "tape-rear", "tape-side", "tie-downs",
    "trailer-air-tank", "trailer-frame", "trailer-front-lights", "kingpin-apron",
}  # fmt: skip
_LEVELS = {"within": 0, "watch": 1, "repair": 2, "halt": 3}

RECORD = sa.table(
    "record", sa.column("key"), sa.column("id"), sa.column("vehicle"), sa.column("level"), sa.column("defects")
)
DOCUMENT = sa.table("document", sa.column("record"), sa.column("body", sa.LargeBinary()))


def profiles(profile: Mapping[str, Any]) -> tuple[dict[str, Any], dict[str, Any]]:
    spec = profile["trailer"]
    both = re.fullmatch(r"(?P<tractor>.+) with (?P<trailer>.+)", profile["name"])
    names = {u: both[u] if both else f"{u} of {profile['name']}"[:300] for u in ("tractor", "trailer")}
    tractor = {
        **profile,
        "id": f"{profile['id']}-tractor",
        "name": names["tractor"],
        "kind": "tractor",
        "axles": [axle for axle in profile["axles"] if axle["unit"] == "tractor"],
        "trailer": None,
        "towed_units": max(profile["towed_units"], 1),
    }
    trailer = {
        "id": f"{profile['id']}-trailer",
        "name": names["trailer"],
        "kind": "trailer",
        "plate": spec.get("plate"),
        "axles": [axle for axle in profile["axles"] if axle["unit"] == "trailer"],
        "trailer": {**spec, "plate": None},
        "brakes": profile["brakes"],
        "placarded": profile["placarded"],
        "display_units": profile["display_units"],
    }
    return tractor, trailer


class Documents:
    """What the records of a combination say themselves: at which unit a step was, and the worst of each unit."""

    def __init__(self, bind: Connection, vehicle: int) -> None:
        self.units: dict[str, str] = {}
        self.levels: dict[int, dict[str, int]] = {}
        query = (
            sa.select(DOCUMENT.c.record, DOCUMENT.c.body)
            .join(RECORD, RECORD.c.key == DOCUMENT.c.record)
            .where(RECORD.c.vehicle == vehicle)
            .execution_options(yield_per=50)
        )
        for record, body in bind.execute(query):
            self._read(record, json.loads(zlib.decompress(body)))

    def _read(self, record: int, content: Mapping[str, Any]) -> None:
        axles = content["vehicle"]["axles"]
        levels = self.levels.setdefault(record, {"tractor": 0, "trailer": 0})
        for entry in content["entries"]:
            parts = entry["step"].partition("@")[2].split("-")
            axle = axle_in(parts) or entry["place"].get("axle")
            if axle is not None and axle <= len(axles):
                unit = axles[axle - 1]["unit"]
            elif parts[0] in ("tractor", "trailer"):
                unit = parts[0]
            else:
                unit = entry["place"].get("unit") if entry["item"] != "kingpin-apron" else "trailer"
                unit = "trailer" if unit == "trailer" else "tractor"
                self.units[entry["step"]] = unit
            found = [each["level"] for each in (*entry.get("findings", ()), *entry.get("defects", ()))]
            levels[unit] = max([levels[unit], *(_LEVELS[level] for level in found)])

    def unit(self, key: str, ahead: int) -> str:
        """The unit that a step's or defect's key is of."""
        step = key.partition("#")[0]
        item, _, place = step.partition("@")
        parts = place.split("-")
        axle = axle_in(parts)
        if axle is not None:
            return "trailer" if axle > ahead else "tractor"
        if parts[0] in ("tractor", "trailer"):
            return parts[0]
        return self.units.get(step) or ("trailer" if item in _TRAILERS else "tractor")


def axle_in(parts: list[str]) -> int | None:
    return next((int(part) for part in parts if part.isascii() and part.isdigit()), None)


def moved(key: str, by: int) -> str:
    """A place, or a key with one, with other numbers of its axles."""
    step, hash_, defect = key.partition("#")
    item, at, place = step.rpartition("@")
    parts = [str(int(part) + by) if part.isascii() and part.isdigit() else part for part in place.split("-")]
    return f"{item}{at}{'-'.join(parts)}{hash_}{defect}"


def reworded(text: str, axle: int | None, by: int) -> str:
    """Words with another number of an axle, where it stands in them once."""
    if axle is None or not (0 <= axle <= _MOST and 0 <= axle + by <= _MOST):
        return text
    changed, count = re.subn(rf"\b{cardinal(axle)}\b", cardinal(axle + by), text)
    return changed if count == 1 else text
