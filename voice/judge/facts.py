"""What a limit may depend on: facts (names and truths) and figures (numbers) of the vehicle at a place.

The route's own facts hold here too (voice.route.facts), so that a limit and an item ask for the same thing in the
same words.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from voice.judge.model import Subject
from voice.measure import Measure
from voice.route.facts import FACTS as ROUTE_FACTS
from voice.route.facts import Fact
from voice.route.facts import facts as route_facts
from voice.route.model import Place
from voice.route.vehicle import Axle, Brake, Chamber, Trailer

EXTRA_FACTS: Mapping[str, str] = {
    "vehicles": "1, 2, 3 (powered unit and what it draws, 3 for three or more)",
    "studs": "8-or-fewer, more-than-8 (wheel fasteners of one wheel)",
    "lining": "continuous, two-pad (of a drum brake's shoe)",
    "chamber_kind": "clamp, bolt, rotochamber, dd3, none",
    "chamber_size": "as in the tables of 49 CFR 393.47(e); none",
    "chamber_stroke": "standard, long, long-3 (type 20 or 24 with a rated stroke of 3 in), none",
    "steering_wheel": "16, 18, 19, 20, 21, 22 (diameter in inches, 16 for any smaller), unlisted",
    "guard_built": "1998 (that year or later), 1952 (1953 to 1997), earlier, none (no trailer, or one that needs none)",
    "sheeting_built": "1993 (that year or later), earlier, none (no trailer, or one that needs none)",
    "cut_in_built": "1997 (powered unit of that year or later), earlier, unknown",
}
FACTS: Mapping[str, str] = {**ROUTE_FACTS, **EXTRA_FACTS}

FIGURES: Mapping[str, str] = {
    "cold_psi": "psi: the maker's cold inflation pressure of the axle's tires",
    "max_psi": "psi: the maximum pressure marked on the axle's tires",
    "governor_cut_in": "psi: the maker's cut-in pressure",
    "governor_cut_out": "psi: the maker's cut-out pressure",
    "parking_valve": "psi: the maker's pressure at which the parking valve pops out",
    "rated_stroke": "in: the rated stroke of the brake chamber",
    "steering_wheel": "in: the diameter of the steering wheel",
}

GUARD_YEAR = 1998  # 49 CFR 393.86(a): made on or after 26 January 1998; the whole year counts as new here
GUARD_OLD_YEAR = 1953  # 49 CFR 393.86(b): made after 31 December 1952
GUARD_POUNDS = 10_000  # 49 CFR 393.86(a): trailers of this gross weight rating or more (64 FR 47703); not in (b)
SHEETING_YEAR = 1993  # 49 CFR 393.11: made on or after 1 December 1993; the whole year counts as new here
SHEETING_INCHES, SHEETING_POUNDS = 80, 10_001  # 49 CFR 393.13: as wide and as heavy as this, or more (64 FR 15588)
CUT_IN_YEAR = 1997  # 49 CFR 571.121, S5.1.1.1: made on or after 1 March 1997 (61 FR 6173); the whole year counts
LONG_RATED_SIZES = ("20", "24")  # 49 CFR 393.47(e): 3-inch rated stroke has its own row for these
LISTED_WHEELS = (18, 19, 20, 21, 22)  # 49 CFR 393.209(b), besides "16 or less"


def facts(subject: Subject) -> dict[str, Fact]:
    """All facts that hold at the subject's place: name -> value. Facts of an axle only if the place has one."""
    vehicle, place, axle = subject.vehicle, subject.place, subject.axle
    if axle is not None and place.unit is None:
        place = Place(unit=axle.unit, side=place.side, axle=place.axle, tire=place.tire)
    found = route_facts(vehicle, place)
    towed = max(vehicle.towed_units, 0 if vehicle.trailer is None else 1)
    found["vehicles"] = str(min(1 + towed, 3))
    diameter = vehicle.steering.wheel_in
    found["steering_wheel"] = "16" if diameter <= 16 else str(diameter) if diameter in LISTED_WHEELS else "unlisted"
    found["guard_built"] = _era(_guard_year(vehicle.trailer), (GUARD_YEAR, "1998"), (GUARD_OLD_YEAR, "1952"))
    found["sheeting_built"] = _era(_sheeting_year(vehicle.trailer), (SHEETING_YEAR, "1993"))
    made = vehicle.abs_built
    found["cut_in_built"] = "unknown" if made is None else _era(made, (CUT_IN_YEAR, "1997"))
    if axle is not None:
        found.update(_axle_facts(axle, subject))
    return found


def _guard_year(trailer: Trailer | None) -> int | None:
    """The year of a trailer that needs a rear guard; one whose weight is not given is taken to.

    Only newer trailers are excused by their weight: 393.86(b), for older vehicles, names none.
    """
    if trailer is None or trailer.guard_exempt:
        return None
    light = trailer.gvwr_lb is not None and trailer.gvwr_lb < GUARD_POUNDS
    return None if light and trailer.built >= GUARD_YEAR else trailer.built


def _sheeting_year(trailer: Trailer | None) -> int | None:
    """The year of a trailer that needs sheeting; one whose width and weight are not given is taken to."""
    if trailer is None:
        return None
    narrow = trailer.width_in is not None and trailer.width_in < SHEETING_INCHES
    light = trailer.gvwr_lb is not None and trailer.gvwr_lb < SHEETING_POUNDS
    return None if narrow or light else trailer.built


def _era(year: int | None, *eras: tuple[int, str]) -> str:
    if year is None:
        return "none"
    return next((name for first, name in eras if year >= first), "earlier")


def _axle_facts(axle: Axle, subject: Subject) -> dict[str, Fact]:
    chamber = chamber_at(axle.brake, subject.place)
    return {
        "studs": "8-or-fewer" if axle.studs <= 8 else "more-than-8",
        "lining": axle.brake.lining,
        "chamber_kind": chamber.kind if chamber else "none",
        "chamber_size": chamber.size if chamber else "none",
        "chamber_stroke": stroke_kind(chamber) if chamber else "none",
    }


def chamber_at(brake: Brake, place: Place) -> Chamber | None:
    """The chamber on the place's side; the right one may differ from the left."""
    return brake.right_chamber if place.side == "right" and brake.right_chamber else brake.chamber


def stroke_kind(chamber: Chamber) -> str:
    """Which column of the table holds: standard, long, or long-3."""
    if chamber.kind == "clamp" and chamber.size in LONG_RATED_SIZES and chamber.rated_stroke_in == 3:
        return "long-3"
    return "long" if chamber.long_stroke else "standard"


def figures(subject: Subject) -> dict[str, Measure]:
    """The figures that are known at the subject's place: name -> measure."""
    vehicle, axle = subject.vehicle, subject.axle
    chamber = chamber_at(axle.brake, subject.place) if axle else None
    known: dict[str, tuple[Fraction | None, str]] = {
        "governor_cut_in": (vehicle.governor.cut_in, "psi"),
        "governor_cut_out": (vehicle.governor.cut_out, "psi"),
        "parking_valve": (vehicle.parking_valve_psi, "psi"),
        "steering_wheel": (vehicle.steering.wheel_in, "in"),
        "cold_psi": (axle.cold_psi if axle else None, "psi"),
        "max_psi": (axle.max_psi if axle else None, "psi"),
        "rated_stroke": (chamber.rated_stroke_in if chamber else None, "in"),
    }
    return {name: Measure(value, unit) for name, (value, unit) in known.items() if value is not None}
