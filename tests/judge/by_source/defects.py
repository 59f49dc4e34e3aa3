"""Each criterion by its source: what it says of a defect, and of which it must not decide."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from tests.judge.by_source.spots import DRIVE, OTHERS, RIG, STEER, TRUCK, spot
from voice.judge import Subject
from voice.route.model import Part

# ruff: noqa: E501 - a table


@dataclass(frozen=True)
class Said:
    """named: "item defect defect, item ...": of all of them it decides at every place.

    not_named: of none of these it does.
    off: places where it does not fit.
    beaten: places where it fits, and a worse entry decides.
    details: follow-up answers; not_details: ones it is not for.
    counts: what such a brake counts in the share of defective brakes.
    part: for the general rule, of any item.
    """

    id: str
    level: str
    named: str
    not_named: str = ""
    at: tuple[Subject, ...] = (DRIVE,)
    off: tuple[Subject, ...] = ()
    beaten: tuple[Subject, ...] = ()
    details: dict[str, tuple[str, ...]] = field(default_factory=dict)
    not_details: dict[str, str] = field(default_factory=dict)
    counts: str = "0"
    part: Part | None = None
    day: date = date(2026, 6, 1)
    not_on: date | None = None


FRONTS = (STEER, spot("steer", "truck"), spot("steer", "bus"))
ELEVEN: tuple[Part, ...] = (
    "service-brakes", "parking-brake", "steering", "lighting", "tires", "horn", "wipers", "mirrors", "coupling", "wheels",
    "emergency-equipment",
)  # fmt: skip

DEFECTS = (
    # 396.11(a)(1) lists eleven parts; (a)(3): repaired, or certified as not needing it; (a)(2) any other that bears on safety
    *(Said("listed-part", "repair", "any-item any-defect", part=part) for part in ELEVEN),
    Said("other-part", "repair", "any-item any-defect", part="other"),
    # 393.75(a): no vehicle shall be operated on a tire that (1) shows ply or belt, (2) separates, (3) is flat or leaks audibly
    Said("tire-flat", "halt", "tire-pressure flat leaking", "hoses flat leaking, tire-pressure valve"),
    Said("tire-cords", "halt", "tire-tread cords, tire-condition cords", "hoses cords, tire-tread uneven"),
    Said("tire-separating", "halt", "tire-tread separating, tire-condition separating, dual-tires separating", "hoses separating, tire-tread uneven"),
    Said("tire-cut", "repair", "tire-tread cut, tire-condition cut, dual-tires cut", "air-bags cut, splash-guard cut, tire-tread uneven, tire-condition valve"),
    # out-of-service criteria, tires (memory)
    Said("tire-bulge", "halt", "tire-tread bulge, tire-condition bulge, dual-tires bulge", "hoses bulge, tire-condition valve"),
    Said("tire-touching", "halt", "dual-tires touching", "dual-tires debris, hoses touching"),
    Said("tire-mismatched", "repair", "dual-tires mismatched", "dual-tires debris, spare-fuses mismatched"),
    Said("tire-uneven", "watch", "tire-tread uneven, tire-condition uneven", "tire-condition valve, hoses uneven"),
    # 393.75(d): no bus shall be operated with a retread on a front wheel; (e): regrooved ones on trucks' front wheels; else allowed
    Said("tire-retread", "watch", "tire-condition retread", "tire-condition valve, hoses retread", (*OTHERS, spot("drive", "bus")), beaten=FRONTS),
    Said("tire-retread-steer", "watch", "tire-condition retread", "tire-condition valve, hoses retread", (STEER, spot("steer", "truck")), (*OTHERS, spot("steer", "bus"), spot("drive", "truck"))),
    Said("tire-retread-bus", "halt", "tire-condition retread", "tire-condition valve, hoses retread", (spot("steer", "bus"),), (STEER, spot("steer", "truck"), spot("drive", "bus"))),
    # wheels: out-of-service criteria in state and trade reprints; 393.205 in a list of violations; driver manual 2.1.3
    Said("wheel-cracked", "halt", "rim-lugs cracked", "rim-lugs bent, glad-hands cracked"),
    Said("wheel-welded", "repair", "rim-lugs welded", "rim-lugs bent, trailer-frame welded", (spot("drive", wheel="spoke"),), beaten=(DRIVE,)),
    Said("wheel-welded-disc", "halt", "rim-lugs welded", "rim-lugs bent, trailer-frame welded", (DRIVE, STEER), (spot("drive", wheel="spoke"),)),
    Said("wheel-fasteners", "repair", "rim-lugs loose missing", "rim-lugs bent, glad-hands loose missing"),
    Said("wheel-stud-hole", "repair", "rim-lugs stud-hole", "rim-lugs bent, hub-seal stud-hole"),
    Said("wheel-rust", "repair", "rim-lugs rust-trails", "rim-lugs bent, hub-seal rust-trails"),
    Said("hub-open", "halt", "hub-seal missing", "hub-seal low-level, glad-hands missing"),
    Said("hub-leaking", "repair", "hub-seal leaking", "hub-seal low-level, glad-hands leaking"),
    # Appendix A, 1.a: (2) missing or broken parts, (3) loose ones, (4) audible leak at a chamber: a brake that has one is defective
    Said("brake-leaking", "repair", "brake-chamber leaking", "brake-chamber dented, glad-hands leaking", counts="1"),
    Said("brake-loose", "repair", "brake-chamber loose, brake-drum loose, brake-disc loose", "brake-chamber dented, glad-hands loose", counts="1"),
    Said("brake-broken", "repair", "brake-chamber broken missing, pushrod-stroke broken, brake-drum missing", "brake-chamber dented, glad-hands missing, release-arm broken", OTHERS, beaten=FRONTS, counts="1"),
    Said("brake-broken-steer", "halt", "brake-chamber broken missing, pushrod-stroke broken, brake-drum missing", "brake-chamber dented, glad-hands missing, release-arm broken", FRONTS, OTHERS, counts="1"),
    Said("brake-overstroke", "repair", "brake-chamber overstroke, pushrod-stroke overstroke", "brake-chamber dented, pushrod-free-play overstroke", (DRIVE, STEER), counts="1"),
    # 1.a(6)(b): saturated with oil, grease or brake fluid; so not any trace counts as a defective brake
    Said("brake-contaminated", "repair", "brake-drum contaminated, brake-disc contaminated, lining-thickness contaminated", "brake-disc worn, hub-seal contaminated", (DRIVE, STEER)),
    # 393.47(d), and the out-of-service criteria of the steering axle (memory)
    Said("brake-thin", "repair", "brake-drum thin, brake-disc thin, lining-thickness thin", "brake-disc worn, hub-seal thin", OTHERS, beaten=FRONTS, counts="1"),
    Said("brake-thin-steer", "halt", "brake-drum thin, brake-disc thin, lining-thickness thin", "brake-disc worn, hub-seal thin", FRONTS, OTHERS, counts="1"),
    # driver manual 2.1.3: cracked drums; Utah R714-162-11(1)(e): linings
    Said("brake-cracked", "repair", "brake-drum cracked, brake-disc cracked", "brake-disc worn, lining-thickness cracked, glad-hands cracked", (DRIVE, STEER), counts="1"),
    Said("lining-cracked", "repair", "lining-thickness cracked", "lining-thickness worn, glad-hands cracked", (DRIVE, STEER), counts="1"),
    # Massachusetts 540 CMR 7.08(3): damage through the reinforcement, bulge or swelling
    Said("brake-hose-hydraulic", "repair", "brake-hose leaking bulge", "brake-hose chafed, hoses bulge, glad-hands leaking", counts="1"),
    # 393.47(b), (c): chambers and effective slack adjuster lengths alike at both ends of an axle; steer: reprint for school buses, Quebec 166(8)
    Said("chambers-differ", "repair", "axle-chambers mismatched", "axle-chambers worn, spare-fuses mismatched", OTHERS, beaten=FRONTS),
    Said("chambers-differ-steer", "halt", "axle-chambers mismatched", "axle-chambers worn, spare-fuses mismatched", FRONTS, OTHERS),
    Said("slacks-differ", "repair", "axle-slacks mismatched", "axle-slacks worn, spare-fuses mismatched", OTHERS, beaten=FRONTS),
    Said("slacks-differ-steer", "halt", "axle-slacks mismatched", "axle-slacks worn, spare-fuses mismatched", FRONTS, OTHERS),
    # Massachusetts 540 CMR 7.08(4); trade press of 2025; the trailer's from memory
    Said("parking-not-holding", "halt", "parking-brake-test not-holding", "parking-brake-test delayed, service-brake-test not-holding"),
    Said("trailer-not-holding", "halt", "trailer-brake-test not-holding", "trailer-brake-test delayed, service-brake-test not-holding"),
    Said("low-air-none", "halt", "low-air-warning no-warning", "low-air-warning lamp-out, abs-lamp no-warning"),
    Said("supply-valve-stays", "halt", "supply-valve-pop no-pop", "supply-valve-pop leaking, parking-valve-pop no-pop"),
    # 393.55: the malfunction lamp
    Said("abs-lamp", "repair", "abs-light-cab stays-on lamp-out, abs-trailer-light-cab stays-on, abs-lamp missing", "warning-lights stays-on"),
    # criteria in an axle maker's manual; 393.209(c) to (e)
    Said("steering-part", "halt", "steering-box loose cracked missing, pitman-arm loose cracked, steering-linkage cracked excess-play, castle-nuts missing loose broken", "steering-box leaking, glad-hands loose cracked missing, fifth-wheel-mount excess-play, release-arm broken"),
    Said("steering-column", "repair", "steering-shaft loose worn welded", "steering-shaft sticking, glad-hands loose worn, trailer-frame welded"),
    Said("power-steering", "repair", "power-steering-hoses leaking loose chafed bulge, power-steering-fluid leaking low-level", "power-steering-fluid cloudy, hoses leaking loose chafed bulge, coolant-level low-level"),
    # Appendix A 2.a as adopted by Utah: does not pass; not locked at all, out-of-service criteria (memory)
    Said("jaws-open", "halt", "locking-jaws jaws-open", "locking-jaws worn, release-arm jaws-open"),
    Said("release-arm", "repair", "release-arm not-locked", "release-arm bent, dump-body not-locked"),
    Said("coupling-gap", "repair", "coupling-gap gap", "coupling-gap worn, locking-jaws gap"),
    Said("fifth-wheel-loose", "repair", "fifth-wheel-mount loose cracked broken, fifth-wheel-plate cracked broken loose", "fifth-wheel-plate bent, glad-hands loose cracked, release-arm broken"),
    Said("jaws-broken", "halt", "locking-jaws broken", "locking-jaws worn, release-arm broken"),
    Said("slider-pins", "halt", "slider-pins not-locked missing, tandem-slider not-locked missing", "slider-pins leaking, release-arm missing, dump-body not-locked"),
    # driver manual 2.1.3: leaves missing, broken, shifted; the rest out-of-service criteria from memory
    Said("spring-leaf", "repair", "springs broken missing shifted", "springs worn, coil-springs shifted, release-arm broken missing", details={"part": ("leaf",)}),
    Said("spring-mount", "halt", "springs broken missing loose", "springs worn, glad-hands loose missing, release-arm broken", details={"part": ("hanger", "u-bolt")}, not_details={"part": "leaf"}),
    Said("spring-broken", "halt", "coil-springs broken cracked, torsion-beam broken cracked", "coil-springs shifted, glad-hands cracked, release-arm broken"),
    Said("air-bag-flat", "halt", "air-bags deflated", "air-bags cut, hoses deflated"),
    Said("torque-arm", "halt", "torque-arms cracked loose", "torque-arms bent, glad-hands cracked loose"),
    # state school bus criteria; 393.201(a) to (e); Utah R714-162-16
    Said("frame-cracked", "halt", "frame cracked, trailer-frame cracked", "frame puddle, glad-hands cracked"),
    Said("frame-loose", "repair", "frame loose", "frame puddle, glad-hands loose"),
    Said("frame-bent", "repair", "frame bent, trailer-frame bent", "frame puddle, driveline bent"),
    Said("frame-hole", "repair", "trailer-frame hole", "trailer-frame puddle, header-board hole"),
    Said("frame-rusted", "repair", "frame corroded, trailer-frame corroded", "frame puddle, battery-box corroded"),
    Said("body-bolts", "repair", "body-mounts loose cracked missing", "body-mounts bent, glad-hands loose cracked missing"),
    Said("fuel-leak", "halt", "fuel-tank leaking", "fuel-tank dirty, glad-hands leaking"),
    Said("fuel-tank", "repair", "fuel-tank loose missing damaged", "fuel-tank dirty, glad-hands loose missing, alternator damaged"),
    Said("exhaust", "repair", "exhaust leaking loose hole cracked", "glad-hands leaking"),
    Said("oil-pressure-low", "repair", "oil-pressure not-rising stays-on", "oil-pressure wrong-reading, voltmeter stays-on, air-gauge not-rising"),
    Said("lamp-out", "repair", "headlights lamp-out, rear-lights lamp-out, brake-lights lamp-out, rear-turn lamp-out", "headlights weak, front-turn lamp-out"),
    Said("sheeting-defect", "repair", "tape-side missing dirty damaged, tape-rear missing", "splash-guard missing"),
    Said("windshield", "repair", "windshield cracked", "windshield dirty, glad-hands cracked"),
    Said("seat-belt", "repair", "seat-belt frayed missing", "seats missing"),
    Said("extinguisher", "repair", "fire-extinguisher discharged missing", "first-aid-kit missing"),
    Said("triangles", "repair", "triangles missing broken too-few", "first-aid-kit missing", day=date(2026, 3, 23), not_on=date(2026, 3, 22)),
    Said("triangles-until-2026", "repair", "triangles missing broken too-few", "first-aid-kit missing", day=date(2026, 3, 22), not_on=date(2026, 3, 23)),
    # 393.95(b) asked for them until the change of 2026 took effect on 20 April
    Said("spare-fuses", "watch", "spare-fuses missing mismatched", "first-aid-kit missing", day=date(2026, 4, 20), not_on=date(2026, 4, 19)),
    Said("spare-fuses-until-2026", "repair", "spare-fuses missing mismatched", "first-aid-kit missing", day=date(2026, 4, 19), not_on=date(2026, 4, 20)),
    Said("papers", "repair", "papers missing out-of-date", "first-aid-kit missing"),
    Said("obstacle", "watch", "surroundings obstacle", "chocks obstacle", (RIG, TRUCK)),
    Said("reefer", "watch", "reefer-unit not-working", "reefer-unit leaking, heater-defroster not-working"),
    # 392.9(a): a driver may not operate a vehicle whose cargo is not secured
    Said("cargo", "halt", "cargo-securement cargo-shifted unsecured too-few, tie-downs too-few not-locked", "tie-downs worn, triangles too-few, fire-extinguisher unsecured, release-arm not-locked, header-board cargo-shifted"),
    Said("placards", "repair", "placards missing faded covered", "standee-line faded"),
    Said("rear-guard-defect", "repair", "rear-guard bent cracked loose missing, rear-guard-height missing", "splash-guard missing"),
)  # fmt: skip
