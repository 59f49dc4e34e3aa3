"""Nothing is left out: what the published test looks at, and the parts of the driver's report, are all asked.

Topics: model commercial driver's license manual (American Association of Motor Vehicle Administrators), Section 11,
2005 system, July 2017 edition: 11.1 engine and cab, 11.2 external, 11.3 school bus, 11.4 trailer, 11.5 coach.
The parts: 49 CFR 396.11(a)(1).
"""

from __future__ import annotations

from typing import get_args

import pytest

from tests.route.vehicles import FIVE_AXLE, SCHOOL_BUS, TRUCK, altered, library, sample, with_axle
from voice.route import make_plan
from voice.route.model import Part, Plan
from voice.route.vehicle import Vehicle

# (section of the manual, topic, words one of the steps must have in its full wording or title)
EVERYWHERE = [
    ("11.1.1", "leaks under the engine", "drips"),
    ("11.1.1", "hoses", "all hoses"),
    ("11.1.1", "oil level", "dipstick"),
    ("11.1.1", "coolant level", "coolant in the sight glass"),
    ("11.1.1", "power steering fluid", "power steering fluid"),
    ("11.1.1", "belts", "every belt"),
    ("11.1.1", "belt play", "three quarters of an inch"),
    ("11.1.1", "water pump", "water pump"),
    ("11.1.1", "alternator", "alternator"),
    ("11.1.1", "safe start", "clutch"),
    ("11.1.1", "radiator", "radiator"),
    ("11.1.1", "fan and shroud", "shroud"),
    ("11.1.1", "wiring", "wires"),
    ("11.1.2", "oil pressure gauge", "oil pressure"),
    ("11.1.2", "temperature gauge", "engine temperature"),
    ("11.1.2", "voltmeter", "voltmeter"),
    ("11.1.2", "mirrors", "mirrors are clean"),
    ("11.1.2", "windshield", "windshield"),
    ("11.1.2", "emergency equipment", "extinguisher"),
    ("11.1.2", "triangles", "triangles"),
    ("11.1.2", "steering play", "ten degrees"),
    ("11.1.2", "wipers", "wiper arms"),
    ("11.1.2", "washers", "washers"),
    ("11.1.2", "dash indicators", "turn indicators"),
    ("11.1.2", "horn", "electric horn"),
    ("11.1.2", "heater and defroster", "defroster"),
    ("11.1.2", "parking brake check", "low gear"),
    ("11.1.2", "service brake check", "five miles an hour"),
    ("11.1.2", "seat belt", "seat belt"),
    ("11.1.2", "head lamps", "high beam"),
    ("11.1.2", "clearance lamps", "clearance and identification"),
    ("11.1.2", "tail lamps", "red tail"),
    ("11.1.2", "turn signals", "turn signals"),
    ("11.1.2", "four-way flashers", "hazard flashers"),
    ("11.1.2", "brake lamps", "brake lights"),
    ("11.1.2", "reflectors", "reflectors"),
    ("11.2.1", "steering box", "steering box"),
    ("11.2.1", "steering column", "steering column"),
    ("11.2.1", "pitman arm", "pitman arm"),
    ("11.2.1", "steering linkage", "drag link"),
    ("11.2.1", "castle nuts and cotter pins", "cotter pin"),
    ("11.2.2", "springs", "leaf"),
    ("11.2.2", "spring mounts", "hangers"),
    ("11.2.2", "u-bolts", "u-bolts"),
    ("11.2.2", "shock absorbers", "shock absorber"),
    ("11.2.3", "brake hoses", "hose"),
    ("11.2.3", "linings", "not too thin"),
    ("11.2.4", "rims", "rim not bent"),
    ("11.2.4", "tread depth", "four thirty-seconds"),
    ("11.2.4", "tire condition", "bulges"),
    ("11.2.4", "tire inflation", "cold tire with a gauge"),
    ("11.2.4", "hub seals", "axle seal"),
    ("11.2.4", "lug nuts", "lug nut"),
    ("11.2.4", "spacers and duals", "spacer"),
    ("11.2.5", "fuel tank", "fuel tank"),
    ("11.2.5", "battery", "batteries"),
    ("11.2.5", "drive shaft", "drive shaft"),
    ("11.2.5", "exhaust", "exhaust"),
    ("11.2.5", "frame", "frame rails"),
    ("11.2.6", "splash guards", "mud flap"),
]  # fmt: skip
AIR = [
    ("11.1.1", "air compressor", "air compressor"),
    ("11.1.2", "air gauge", "governor cuts out"),
    ("11.1.2", "applied leak", "pedal held fully down"),
    ("11.1.2", "low air warning", "fifty-five"),
    ("11.1.2", "parking valve", "forty-five and twenty"),
    ("11.2.3", "slack adjuster and pushrod", "slack adjuster and pushrod"),
    ("11.2.3", "brake chamber", "chamber tight"),
    ("11.2.3", "drum", "drum without"),
]
HYDRAULIC = [("11.1.1", "master cylinder", "master cylinder"), ("11.1.2", "hydraulic check", "three times")]
TRUCKS = [
    ("11.2.5", "doors", "hinges"),
    ("11.2.5", "steps", "steps and grab handle"),
    ("11.4", "header board", "header board"),
    ("11.2.6", "doors, ties, lifts", "cargo doors"),
    ("11.4", "under-ride guard", "guard under the rear"),
    ("2.1.4", "cargo", "load is balanced"),
]
COMBINATION = [
    ("11.2.7", "air lines", "air lines"),
    ("11.2.7", "electrical line", "electrical line"),
    ("11.2.7", "glad hands", "glad hands"),
    ("11.2.7", "catwalk", "catwalk"),
    ("11.2.7", "mounting bolts", "hold the fifth wheel to the frame"),
    ("11.2.7", "release arm", "release arm"),
    ("11.2.7", "locking jaws", "jaws"),
    ("11.2.7", "platform and skid plate", "skid plate"),
    ("11.2.7", "kingpin and apron", "apron"),
    ("11.2.7", "gap", "no light may show"),
    ("11.2.7", "sliding pins", "sliding fifth wheel"),
    ("11.4", "landing gear", "landing gear"),
    ("11.4", "trailer frame", "cross members and body"),
    ("11.4", "tandem release", "holes of the rail"),
    ("11.1.2", "trailer brake check", "trailer's brakes"),
    ("11.1.2", "supply valve", "trailer supply valve"),
    ("2.1.5", "trailer antilock lamp", "antilock lamp"),
    ("11.1.2", "tape", "red and white tape"),
    ("11.2.2", "air bags", "air bag"),
    ("11.2.2", "torque arms", "torque arm"),
    ("11.2.6", "rear of the tractor", "rear of the tractor"),
]
BUS = [
    ("11.5.1", "passenger entry", "passenger door"),
    ("11.5.1", "hand rails", "handrails"),
    ("11.5.2", "emergency exits", "emergency door"),
    ("396.3(a)(2)", "exits every ninety days", "ninety days"),
    ("11.5.3", "seating", "every seat"),
    ("11.5.1", "lift", "wheelchair lift"),
]
SCHOOL = [
    ("11.3", "student lights", "amber"),
    ("11.3", "student mirrors", "show the ground in front"),
    ("11.3", "stop arm", "stop arm"),
    ("11.3", "kits", "body fluid"),
]
COACH = [("11.5.4", "baggage doors", "baggage")]

CASES = [
    (FIVE_AXLE, [*EVERYWHERE, *AIR, *TRUCKS, *COMBINATION]),
    (TRUCK, [*EVERYWHERE, *HYDRAULIC, *TRUCKS]),
    (SCHOOL_BUS, [*EVERYWHERE, *AIR, *BUS, *SCHOOL]),
]


def plan_of(vehicle: Vehicle) -> Plan:
    return make_plan(library(), vehicle)


@pytest.mark.parametrize(
    ("name", "section", "topic", "words"),
    [(name, *topic) for name, topics in CASES for topic in topics],
)
def test_a_topic_of_the_manual_is_asked(name: str, section: str, topic: str, words: str) -> None:
    texts = [f"{step.item.title}. {step.say.full}".lower() for step in plan_of(sample(name)).steps]
    assert any(words in text for text in texts), f"Section {section}: {topic}"


def test_a_coach_has_its_baggage_doors_asked() -> None:
    steps = plan_of(altered(SCHOOL_BUS, bus="coach")).steps
    for _, _, words in [*COACH, *BUS]:
        assert any(words in step.say.full.lower() for step in steps)


@pytest.mark.parametrize("name", [FIVE_AXLE, TRUCK, SCHOOL_BUS])
def test_all_parts_of_the_drivers_report_are_covered(name: str) -> None:
    """49 CFR 396.11(a)(1): eleven parts; coupling devices only where there are some."""
    eleven = set(get_args(Part)) - {"other"}
    assert len(eleven) == 11
    wanted = eleven if name == FIVE_AXLE else eleven - {"coupling"}
    assert {step.item.part for step in plan_of(sample(name)).steps} - {"other"} == wanted


def test_the_tractor_semitrailer_walk_is_complete_but_not_endless() -> None:
    """The project's own mark: at least 90 steps after expansion."""
    assert 90 <= len(plan_of(sample(FIVE_AXLE)).steps) <= 250
    assert len(plan_of(sample(TRUCK)).steps) >= 90
    assert len(plan_of(sample(SCHOOL_BUS)).steps) >= 90


@pytest.mark.parametrize("name", [FIVE_AXLE, TRUCK, SCHOOL_BUS])
def test_every_tire_is_measured_for_tread_and_pressure(name: str) -> None:
    vehicle = sample(name)
    tires = sum(4 if axle.dual else 2 for axle in vehicle.axles)
    ids = [step.item.id for step in plan_of(vehicle).steps]
    assert ids.count("tire-tread") == ids.count("tire-pressure") == tires


ABSENT = [
    ("a gear-driven water pump has no belt",
     altered(FIVE_AXLE, pump_drive="gear"), "water-pump-belt", "water-pump-gear"),
    ("a belt-driven water pump has no gears",
     altered(FIVE_AXLE, pump_drive="belt"), "water-pump-gear", "water-pump-belt"),
    ("a fixed tandem has no slider",
     altered(FIVE_AXLE, trailer={"body": "van", "tandem": "fixed"}), "tandem-slider", "landing-gear"),
    ("a fixed fifth wheel has no slider pins", altered(FIVE_AXLE, fifth_wheel={}), "slider-pins", "locking-jaws"),
    ("a short trailer has no middle marker",
     altered(FIVE_AXLE, trailer={"body": "van", "length_ft": 28}), "middle-marker", "side-lights"),
    ("no placards without a placarded load", altered(FIVE_AXLE, placarded=False), "placards", "rear-doors"),
    ("a flatbed has no doors", altered(FIVE_AXLE, trailer={"body": "flatbed"}), "rear-doors", "tie-downs"),
    ("a van has no tie-downs", altered(FIVE_AXLE, trailer={"body": "van"}), "tie-downs", "rear-doors"),
    ("a tank has no cargo to tie", altered(FIVE_AXLE, trailer={"body": "tank"}), "cargo-securement", "tank-valves"),
    ("an old tractor has no in-cab lamp for the trailer",
     altered(FIVE_AXLE, abs_built=2000), "abs-trailer-light-cab", "abs-light-cab"),
    ("no sleeper, no bunk", altered(FIVE_AXLE, sleeper=False), "sleeper", "seat-belt"),
    ("circuit breakers need no spare fuses", altered(FIVE_AXLE, fuses="breakers"), "spare-fuses", "triangles"),
    ("no power steering, no fluid",
     altered(FIVE_AXLE, steering={"power": False}), "power-steering-fluid", "steering-box"),
    ("hydraulic brakes have no chambers", sample(TRUCK), "brake-chamber", "brake-hose"),
    ("hydraulic brakes lose no air", sample(TRUCK), "air-leak-applied", "hydraulic-hold"),
    ("air brakes have no master cylinder", sample(SCHOOL_BUS), "master-cylinder", "air-compressor"),
    ("a bus has no trailer valve", sample(SCHOOL_BUS), "supply-valve-pop", "parking-valve-pop"),
    ("a school bus has no standee line", sample(SCHOOL_BUS), "standee-line", "stop-arm"),
    ("a coach has no stop arm", altered(SCHOOL_BUS, bus="coach"), "stop-arm", "baggage-doors"),
    ("a single air system climbs from fifty",
     altered(FIVE_AXLE, air_system="single"), "air-build-up", "air-build-up-single"),
    ("automatic adjusters are not pulled by hand", sample(FIVE_AXLE), "pushrod-free-play", "brake-chamber"),
    ("a dump truck has no cargo doors", altered(TRUCK, body="dump"), "rear-doors", "dump-body"),
]  # fmt: skip


@pytest.mark.parametrize(("why", "vehicle", "absent", "present"), ABSENT, ids=[case[0] for case in ABSENT])
def test_items_that_do_not_apply_are_not_asked(why: str, vehicle: Vehicle, absent: str, present: str) -> None:
    ids = {step.item.id for step in plan_of(vehicle).steps}
    assert absent not in ids
    assert present in ids


def test_what_an_axle_has_is_asked_at_that_axle_only() -> None:
    vehicle = with_axle(
        FIVE_AXLE, 3, suspension="leaf", torque_arms=False, dual=False, brake={"kind": "air-drum", "slack": "manual"}
    )
    ids = {step.id for step in plan_of(vehicle).steps}
    assert {"springs@left-3", "air-bags@left-2", "pushrod-free-play@right-3", "tire-tread@left-3"} <= ids
    assert not {"air-bags@left-3", "torque-arms@left-3", "dual-tires@left-3", "tire-tread@left-3-outer"} & ids
    assert "pushrod-free-play@right-2" not in ids
