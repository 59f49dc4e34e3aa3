"""Cases of a second reader: written from the sources that are named beside them, before looking at the first cases.

They follow the text that was read for them (the entries that tests/judge/audit.tsv marks as read by two) and nothing
else: the figure, a step to each side, and a vehicle, axle or day of which the source does not speak.

They were written at two times, by two readers. The second had seen the figures of eleven limits in a listing by then
(air pressure, governor cut-out, the driver's steering check, sheeting, windshield, triangles, cargo checks, pintle hook),
and took from the program what a source leaves open: whether meeting a figure is watched, and what one answer can tell.
"""

from __future__ import annotations

from datetime import date

from tests.judge.by_source.defects import Said
from tests.judge.by_source.readings import Read
from tests.judge.by_source.spots import (
    BUS,
    DRIVE,
    HYDRAULIC,
    HYDRAULIC_RIG,
    OTHERS,
    RIG,
    STEER,
    TAG,
    THREE_TOWED,
    TOWED,
    TRUCK,
    TWO_TOWED,
    governor,
    spot,
    trailer,
    wheel,
)  # fmt: skip
from voice.judge import Subject
from voice.route.model import Part

# ruff: noqa: E501 - a table


def off_steer(brake: str) -> tuple[Subject, ...]:
    return tuple(spot(role, brake=brake) for role in ("drive", "tag", "trailer"))


def steered(brake: str, lining: str = "continuous") -> Subject:
    return spot("steer", brake=brake, lining=lining)


FRONTS = (STEER, spot("steer", "truck"), spot("steer", "bus"))
STRIP, TWO_PAD = steered("air-drum"), steered("air-drum", "two-pad")
COLD = spot("drive", cold_psi=100, max_psi=120)
LISTED: tuple[Part, ...] = (
    "service-brakes",
    "parking-brake",
    "steering",
    "lighting",
    "tires",
    "horn",
    "wipers",
    "mirrors",
    "coupling",
    "wheels",
    "emergency-equipment",
)
PSI, STROKE = "psi/min", "pushrod-stroke-applied"
NEW_TRUCK, OLD_TRUCK = spot(kind="truck", abs_built=1997), spot(kind="truck", abs_built=1996)
NEW_BUS, OLD_BUS = spot(kind="bus", abs_built=1997), spot(kind="bus", abs_built=1996)

READ_AGAIN = (
    # 393.75(b), (c): at least 4/32 in on the front wheels of a bus, truck or tractor, at least 2/32 in elsewhere
    Read("tread-steer", "tread-depth", "in", "3/32 repair, 4/32 watch, 6/32 within", FRONTS, OTHERS),
    Read("tread-other", "tread-depth", "in", "1/32 repair, 2/32 watch, 4/32 within", OTHERS, FRONTS),
    # out-of-service criteria, quoted: less than 2/32 on the front of the powered unit, less than 1/32 elsewhere
    Read("tread-steer-halt", "tread-depth", "in", "1/32 halt, 2/32 watch, 3/32 within", FRONTS, OTHERS),
    Read("tread-other-halt", "tread-depth", "in", "0 halt, 1/32 watch, 2/32 within", OTHERS, FRONTS),
    # 393.75, the paragraph on inflation: not less than what the load asks
    Read("inflation-cold", "cold-inflation", "psi", "99 repair, 100 within, 101 within", (COLD,), (DRIVE,)),
    # out-of-service criteria, told: half of the maximum on the sidewall, or less, is flat
    Read("inflation-flat", "cold-inflation", "psi", "59 halt, 60 halt, 61 within", (COLD,), (DRIVE,)),
    # 393.47(d)(1): steer axle. Drum: 3/16 in for a strip, 1/4 in for two pads; air disc 1/8 in; hydraulic: 1/16 in or less is too little
    Read(
        "lining-steer-strip",
        "lining-thickness",
        "in",
        "1/8 repair, 3/16 watch, 5/16 within",
        (STRIP,),
        (TWO_PAD, steered("air-disc"), steered("hydraulic-drum"), *OTHERS),
    ),
    Read(
        "lining-steer-two-pad",
        "lining-thickness",
        "in",
        "3/16 repair, 1/4 watch, 3/8 within",
        (TWO_PAD,),
        (STRIP, steered("air-disc"), *(spot(role, lining="two-pad") for role in ("drive", "trailer"))),
    ),
    Read(
        "lining-steer-air-disc",
        "lining-thickness",
        "in",
        "1/16 repair, 1/8 watch, 1/4 within",
        (steered("air-disc"),),
        (STRIP, steered("hydraulic-disc"), *off_steer("air-disc")),
    ),
    Read(
        "lining-steer-hydraulic",
        "lining-thickness",
        "in",
        "1/32 repair, 1/16 repair, 3/16 within",
        (steered("hydraulic-drum"), steered("hydraulic-disc")),
        (STRIP, steered("air-disc"), *off_steer("hydraulic-disc")),
    ),
    # 393.47(d)(2): elsewhere "shall not be operated" with less than 1/4 in (air drum), 1/8 in (air disc), 1/16 in (hydraulic)
    Read(
        "lining-other-drum",
        "lining-thickness",
        "in",
        "3/16 halt, 1/4 watch, 3/8 within",
        (*off_steer("air-drum"), spot("drive", lining="two-pad")),
        (STRIP, TWO_PAD, *off_steer("air-disc"), *off_steer("hydraulic-drum")),
    ),
    Read(
        "lining-other-air-disc",
        "lining-thickness",
        "in",
        "1/16 halt, 1/8 watch, 1/4 within",
        off_steer("air-disc"),
        (steered("air-disc"), *off_steer("air-drum"), *off_steer("hydraulic-disc")),
    ),
    Read(
        "lining-other-hydraulic",
        "lining-thickness",
        "in",
        "1/32 halt, 1/16 watch, 3/16 within",
        (*off_steer("hydraulic-drum"), *off_steer("hydraulic-disc")),
        (steered("hydraulic-drum"), steered("hydraulic-disc"), *off_steer("air-drum")),
    ),
    # Appendix A, 1.a(6)(c), (d): does not pass with less than 1/4 in on a steer drum of any kind, nor with 1/16 in or less on a hydraulic drum elsewhere
    Read(
        "lining-steer-annual",
        "lining-thickness",
        "in",
        "3/16 watch, 1/4 within, 3/8 within",
        (STRIP, TWO_PAD, steered("hydraulic-drum")),
        (steered("air-disc"), steered("hydraulic-disc"), *off_steer("air-drum"), *off_steer("hydraulic-drum")),
    ),
    Read(
        "lining-other-annual",
        "lining-thickness",
        "in",
        "1/32 watch, 1/16 watch, 1/8 within",
        off_steer("hydraulic-drum"),
        (steered("hydraulic-drum"), *off_steer("hydraulic-disc"), *off_steer("air-drum"), *off_steer("air-disc")),
    ),
    # 393.47(e): not greater than the table, of which every row was seen in a copy of the eCFR
    Read(
        "stroke",
        STROKE,
        "in",
        "1 within, 1 1/4 watch, 1 3/8 repair",
        (spot("drive", chamber=("clamp", "6")), spot("drive", chamber=("bolt", "D"))),
        (HYDRAULIC,),
    ),
    Read(
        "stroke",
        STROKE,
        "in",
        "1 1/8 within, 1 3/8 watch, 1 1/2 repair",
        (spot("steer", chamber=("clamp", "9")), spot("drive", chamber=("bolt", "A"))),
    ),
    Read(
        "stroke",
        STROKE,
        "in",
        "1 3/4 within, 2 watch, 2 1/8 repair",
        (
            spot("drive", chamber=("clamp", "30")),
            spot("steer", chamber=("clamp", "16", True, None)),
            spot("drive", chamber=("clamp", "24", True, None)),
            spot("drive", chamber=("bolt", "G")),
            spot("drive", chamber=("rotochamber", "16")),
        ),
    ),
    Read(
        "stroke",
        STROKE,
        "in",
        "2 1/4 within, 2 1/2 watch, 2 5/8 repair",
        (spot("trailer", chamber=("clamp", "30", True, None)), spot("drive", chamber=("clamp", "24", True, "3"))),
    ),
    # Appendix A, 1.a(5)(b): a chamber that is not in the tables has 80 percent of its rated stroke
    Read(
        "stroke",
        STROKE,
        "in",
        "2.2 within, 2.4 watch, 2.5 repair",
        (spot("drive", chamber=("clamp", "27", False, "3")),),
    ),
    # maker's manual that quotes the guideline: a quarter inch or more past the limit, or two brakes less than that
    Read("overstroke-whole", "overstroke", "in", "1/8 within, 1/4 repair, 3/8 repair", (DRIVE, STEER)),
    # driver manual, 5.3.2: about an inch by hand, where there is a slack adjuster
    Read(
        "free-play",
        "pushrod-free-play",
        "in",
        "7/8 within, 1 watch, 1 1/8 repair",
        (DRIVE, STEER, TOWED),
        (spot("drive", brake="air-disc"), spot("drive", "truck", brake="hydraulic-drum", brakes="hydraulic")),
    ),
    # the state officer and the roadside program: equal to or more than 20 percent
    Read("defective-brakes", "defective-brakes", "percent", "19 within, 20 halt, 21 halt", (RIG, TRUCK)),
    # driver manual, 5.3.3: released "less than" 2 and 3, applied "more than" 3 and 4 is too much; California: not more than 5 and 6 with three vehicles
    Read(
        "leak-static-single",
        "air-leak-static",
        PSI,
        "1 within, 2 repair, 3 repair",
        (TRUCK, BUS),
        (RIG, TWO_TOWED, HYDRAULIC),
    ),
    Read(
        "leak-static-combination",
        "air-leak-static",
        PSI,
        "2 within, 3 repair, 4 repair",
        (RIG,),
        (TRUCK, BUS, TWO_TOWED, HYDRAULIC_RIG),
    ),
    Read(
        "leak-static-three",
        "air-leak-static",
        PSI,
        "4 within, 5 watch, 6 repair",
        (TWO_TOWED, THREE_TOWED),
        (TRUCK, RIG),
    ),
    Read(
        "leak-applied-single",
        "air-leak-applied",
        PSI,
        "2 within, 3 watch, 4 repair",
        (TRUCK, BUS),
        (RIG, TWO_TOWED, HYDRAULIC),
    ),
    Read(
        "leak-applied-combination",
        "air-leak-applied",
        PSI,
        "3 within, 4 watch, 5 repair",
        (RIG,),
        (TRUCK, BUS, TWO_TOWED, HYDRAULIC_RIG),
    ),
    Read(
        "leak-applied-three",
        "air-leak-applied",
        PSI,
        "5 within, 6 watch, 7 repair",
        (TWO_TOWED, THREE_TOWED),
        (TRUCK, RIG),
    ),
    # driver manual, 11.1.2: before it falls below 55 psi; copies of 5.3.3 and the federal standard: 60
    Read("low-air", "low-air-warning", "psi", "54 repair, 55 watch, 60 within", (RIG, TRUCK, BUS), (HYDRAULIC,)),
    Read("low-air-built", "low-air-warning", "psi", "59 watch, 60 within, 65 within", (RIG, TRUCK, BUS), (HYDRAULIC,)),
    # 393.51(c) and the guidance on it: 55 psi or half of the cut-out, whichever is less
    Read(
        "low-air-in-service",
        "low-air-warning",
        "psi",
        "54 repair, 55 watch, 56 within",
        (RIG, governor(cut_out="120"), governor(cut_out="130")),
        (HYDRAULIC,),
    ),
    Read("low-air-in-service", "low-air-warning", "psi", "49 repair, 50 watch, 52 within", (governor(cut_out="100"),)),
    # 393.43(b) as D.C. has it: not lower than 20, not higher than 45, of a vehicle that tows
    Read(
        "supply-valve",
        "supply-valve-pop",
        "psi",
        "19 repair, 20 watch, 32 within, 45 watch, 46 repair",
        (RIG,),
        (TRUCK, BUS, HYDRAULIC_RIG),
    ),
    # driver manual, 5.3.3: 85 to 100 psi within 45 seconds with a dual system; an older, single one 50 to 90 within 3 minutes
    Read(
        "build-up",
        "air-build-up",
        "s",
        "40 within, 45 watch, 46 repair",
        (RIG, TRUCK),
        (HYDRAULIC, spot(air_system="single")),
    ),
    Read(
        "build-up-single",
        "air-build-up-single",
        "s",
        "179 within, 180 watch, 181 repair",
        (spot(air_system="single"),),
        (RIG, TRUCK),
    ),
    # 393.50(a): not below 70 percent
    Read("reserve", "air-reserve", "percent", "69 repair, 70 watch, 71 within", (RIG, TRUCK, BUS)),
    # 393.209(b): the table, and 14 or 30 degrees at a wheel that is not in it (17 in: 2.08 in and 4.45 in)
    Read(
        "steering-lash",
        "steering-lash",
        "in",
        "2 1/8 within, 2 1/2 watch, 2 5/8 repair",
        (wheel(False, "20"),),
        (wheel(True, "20"),),
    ),
    Read("steering-lash", "steering-lash", "in", "1 3/4 within, 2 watch, 2 1/8 repair", (wheel(False, "17"),)),
    Read(
        "steering-lash-power",
        "steering-lash",
        "in",
        "4 7/8 within, 5 1/4 watch, 5 3/8 repair",
        (wheel(True, "20"),),
        (wheel(False, "20"),),
    ),
    Read("steering-lash-power", "steering-lash", "in", "4 within, 4 3/8 watch, 4 1/2 repair", (wheel(True, "17"),)),
    # 61 FR 6173: powered vehicles of 1 March 1997 or later, 100 psi; 61 FR 60635: buses 85
    Read("governor-cut-in", "governor-cut-in", "psi", "99 watch, 101 within", (NEW_TRUCK,), (OLD_TRUCK, NEW_BUS)),
    Read("governor-cut-in-bus", "governor-cut-in", "psi", "84 watch, 86 within", (NEW_BUS,), (OLD_BUS, NEW_TRUCK)),
    # state school bus criteria: of 10 fasteners 3 anywhere, of 8 or fewer 2 anywhere; 393.205(c): none loose or missing
    Read("fasteners", "loose-fasteners", "count", "0 within, 1 repair", (DRIVE, STEER, TOWED)),
    Read(
        "fasteners-ten-halt",
        "loose-fasteners",
        "count",
        "2 within, 3 halt, 4 halt",
        (spot("drive", studs=10),),
        (spot("drive", studs=8), spot("drive", studs=5)),
    ),
    Read(
        "fasteners-eight-halt",
        "loose-fasteners",
        "count",
        "1 within, 2 halt, 3 halt",
        (spot("drive", studs=8), spot("drive", studs=6)),
        (spot("drive", studs=10),),
    ),
    # Appendix A, 2.a(4), as Utah has it: more than half an inch between the plates
    Read("fifth-wheel-movement", "fifth-wheel-movement", "in", "1/4 within, 1/2 watch, 5/8 repair", (RIG,)),
    # Utah, R714-162-11(1)(d): exceeds 1/16 in
    Read("wedge-movement", "wedge-movement", "in", "1/32 within, 1/16 watch, 3/32 repair", (DRIVE,)),
    # Appendix A, item 15: more than 22 in on trailers of 4,536 kg or more made since 26 January 1998; more than 30 in on older ones of any weight
    Read(
        "rear-guard",
        "rear-guard-height",
        "in",
        "21 within, 22 watch, 23 repair",
        (trailer(built=1998), trailer(built=2020, gvwr_lb=10_000)),
        (trailer(built=1997), trailer(built=2020, gvwr_lb=9_990), trailer(built=2020, guard_exempt=True), TRUCK),
    ),
    Read(
        "rear-guard-older",
        "rear-guard-height",
        "in",
        "29 within, 30 watch, 31 repair",
        (trailer(built=1997), trailer(built=1953), trailer(built=1990, gvwr_lb=9_000)),
        (
            trailer(built=1952),
            trailer(built=1998),
            trailer(built=2020, gvwr_lb=9_000),
            trailer(built=1990, guard_exempt=True),
        ),
    ),
    Read("rear-guard-truck", "rear-guard-height", "in", "29 within, 30 watch, 31 repair", (TRUCK,), (RIG,)),
    # South Carolina 38-393.95: 5 B:C, or two of 4 B:C; 10 B:C with placards
    Read(
        "extinguisher-rating",
        "extinguisher-rating",
        "count",
        "3 repair, 4 watch, 6 within",
        (RIG,),
        (spot(placarded=True),),
    ),
    Read(
        "extinguisher-rating-placarded",
        "extinguisher-rating",
        "count",
        "9 repair, 10 within, 11 within",
        (spot(placarded=True),),
        (RIG,),
    ),
    # British Columbia's handbook lists too much air among tire problems; Quebec, r. 32, 159(8): not above what the sidewall says
    Read("inflation-max", "cold-inflation", "psi", "119 within, 120 within, 121 watch", (COLD,), (DRIVE,)),
    # state handbook, 11.1.2: about 120 to 140 psi, or as the maker says
    Read(
        "governor-cut-out",
        "governor-cut-out",
        "psi",
        "110 repair, 130 within, 150 repair",
        (RIG, TRUCK, BUS),
    ),
    Read("governor-cut-out", "governor-cut-out", "psi", "110 within, 130 repair", (governor(cut_out="110"),)),
    # California's handbook: spring brakes of tractors and straight trucks come on in a range of 20 to 45 psi
    Read(
        "parking-valve",
        "parking-valve-pop",
        "psi",
        "19 watch, 32 within, 46 watch",
        (RIG, TRUCK, BUS),
        (HYDRAULIC,),
    ),
    # driver manual, quoted: more than 10 degrees, about 2 in at the rim of a 20-in wheel
    Read(
        "steering-lash-driver",
        "steering-lash",
        "in",
        "1 1/2 within, 2 within, 2 1/4 watch",
        (wheel(True, "20"), wheel(False, "20")),
    ),
    # driver manual, quoted: up to 3/4 in of play at the center of the belt; one state has 1/2 to 3/4
    Read("belt-play", "belt-play", "in", "1/2 within, 3/4 within, 7/8 repair", (RIG, TRUCK, BUS)),
    # Ontario's handbook: not to be driven with more than 1/2 in; Quebec, r. 32, 169(6): more than 12.8 mm
    Read("fifth-wheel-movement-halt", "fifth-wheel-movement", "in", "1/4 within, 1/2 watch, 5/8 halt", (RIG,)),
    # 393.11(b): 80 in wide, over 10,000 lb, made since 1 December 1993; the standard in the agency's letters: not less than half the length
    Read(
        "sheeting",
        "sheeting-share",
        "percent",
        "49 repair, 50 watch, 51 within",
        (trailer(built=1994), trailer(built=2020, width_in=80, gvwr_lb=10_001)),
        (
            trailer(built=1992),
            trailer(built=2020, width_in=79),
            trailer(built=2020, gvwr_lb=10_000),
            TRUCK,
        ),
    ),
    # the summaries of 64 FR 15588 and of the department's evaluation: older ones, 10,001 lb or more, where new ones have it
    Read(
        "sheeting-older",
        "sheeting-share",
        "percent",
        "49 repair, 50 watch, 51 within",
        (trailer(built=1992), trailer(built=1980, width_in=80, gvwr_lb=10_001)),
        (
            trailer(built=1994),
            trailer(built=1980, width_in=79),
            trailer(built=1980, gvwr_lb=10_000),
            TRUCK,
        ),
    ),
    # 393.60(c)(3): what a disc of 3/4 in can cover
    Read("windshield-damage", "windshield-damage", "in", "1/2 within, 3/4 watch, 7/8 repair", (RIG, TRUCK, BUS)),
    # two states' test questions on the driver manual: not longer than half the width of the friction area
    Read("drum-crack", "cracked-drum", "percent", "40 within, 50 watch, 60 repair", (DRIVE, STEER, TOWED)),
    # 393.95(f) before the change of 19 February 2026 and, told, after it: three
    Read(
        "triangles-count-until-2026",
        "warning-triangles",
        "count",
        "2 repair, 3 within, 4 within",
        (RIG, TRUCK, BUS),
        day=date(2026, 3, 22),
        not_on=date(2026, 3, 23),
    ),
    Read(
        "triangles-count",
        "warning-triangles",
        "count",
        "2 repair, 3 within, 4 within",
        (RIG, TRUCK, BUS),
        day=date(2026, 3, 23),
        not_on=date(2026, 3, 22),
    ),
    # 392.9(b): within the first 50 miles, then after 3 hours or 150 miles, whichever is first; of trucks and truck tractors
    Read("cargo-check-first", "cargo-check-first", "mi", "49 within, 50 watch, 51 repair", (RIG, TRUCK)),
    Read("cargo-check-distance", "cargo-check-distance", "mi", "149 within, 150 watch, 151 repair", (RIG, TRUCK)),
    Read("cargo-check-time", "cargo-check-time", "h", "2 within, 3 watch, 4 repair", (RIG, TRUCK)),
    # Ontario's handbook: more than 3/8 in between pintle hook and eye
    Read("pintle", "pintle-movement", "in", "1/4 within, 3/8 within, 1/2 watch", (RIG, TRUCK)),
)

SAID_AGAIN = (
    # 393.75(a): no vehicle on a tire with ply showing, tread or sidewall separating, flat or leaking audibly; a cut only as deep as the ply
    Said("tire-cords", "halt", "tire-condition cords, tire-tread cords", "tire-condition cut uneven", FRONTS + OTHERS),
    Said("tire-separating", "halt", "tire-condition separating, dual-tires separating", "tire-condition uneven", FRONTS + OTHERS),
    Said("tire-flat", "halt", "tire-pressure flat leaking", "tire-pressure valve", FRONTS + OTHERS),
    Said("tire-cut", "repair", "tire-condition cut, dual-tires cut", "tire-condition cords", FRONTS + OTHERS),
    # 393.75(d): on the front wheels of a bus; (e) and the guidance: of a truck or tractor it is allowed
    Said("tire-retread-bus", "halt", "tire-condition retread", "tire-condition uneven", (spot("steer", "bus"),), (STEER, spot("steer", "truck"), spot("drive", "bus"), DRIVE)),
    Said("tire-retread-steer", "watch", "tire-condition retread", "tire-condition uneven", (STEER, spot("steer", "truck")), (spot("steer", "bus"), DRIVE, TOWED)),
    # state school bus criteria: a welded repair of an aluminum wheel, or of a steel disc wheel; the driver manual: any
    Said("wheel-welded-disc", "halt", "rim-lugs welded", "rim-lugs bent", (spot("drive", wheel="disc"),), (spot("drive", wheel="spoke"),)),
    Said("wheel-welded", "repair", "rim-lugs welded", "rim-lugs bent", (spot("drive", wheel="spoke"),), beaten=(spot("drive", wheel="disc"),)),
    # 49 CFR 570.63(a), Quebec 161: no elongated bolt holes
    Said("wheel-stud-hole", "repair", "rim-lugs stud-hole", "rim-lugs rust-trails", (DRIVE, STEER, TOWED)),
    # state school bus criteria: open view into the hub; smoking from a failing bearing; a seal that wets the lining
    Said("hub-open", "halt", "hub-seal missing", "hub-seal low-level leaking", (DRIVE, STEER, TOWED)),
    Said("hub-smoking", "halt", "hub-seal smoking", "hub-seal leaking missing low-level", (DRIVE, STEER, TOWED, TAG)),
    Said("hub-leaking", "repair", "hub-seal leaking", "hub-seal smoking", (DRIVE, STEER, TOWED)),
    # Appendix A, 1.a(1): absence of braking action; (2) broken or missing; (3) loose; (4) an audible leak at the chamber
    Said("brake-no-action", "repair", "brake-chamber no-action, pushrod-stroke no-action", "brake-chamber dented", (DRIVE, TOWED, TAG), beaten=FRONTS, counts="1"),
    Said("brake-broken", "repair", "brake-chamber broken, brake-drum missing broken, brake-disc missing broken", "brake-chamber dented, brake-disc worn", (DRIVE, TOWED, TAG), beaten=FRONTS, counts="1"),
    Said("brake-loose", "repair", "brake-chamber loose, brake-drum loose, brake-disc loose", "brake-disc worn", (DRIVE, STEER, TOWED), counts="1"),
    Said("brake-leaking", "repair", "brake-chamber leaking", "brake-chamber chafed", (DRIVE, STEER, TOWED), counts="1"),
    # the roadside program's director: one inoperative brake of the steer axle is out of service by itself, elsewhere it counts
    Said("brake-no-action-steer", "halt", "brake-chamber no-action, pushrod-stroke no-action", "brake-chamber leaking", FRONTS, OTHERS, counts="1"),
    Said("brake-broken-steer", "halt", "brake-chamber broken, brake-disc missing", "brake-chamber leaking", FRONTS, OTHERS, counts="1"),
    # criteria for school buses: absence of effective braking action when the service brakes are applied
    Said("brakes-no-action", "halt", "service-brake-test no-action", "service-brake-test pulls delayed soft-pedal noisy, parking-brake-test delayed", (RIG, TRUCK, BUS)),
    # Appendix A, 1.a(6)(b) says saturated, so oil on it is a defect that does not count by itself; 393.47(d): worn to the indicator
    Said("brake-contaminated", "repair", "brake-drum contaminated, brake-disc contaminated", "brake-drum thin", (DRIVE, STEER, TOWED)),
    Said("brake-thin", "repair", "brake-drum thin, brake-disc thin, lining-thickness thin", "brake-drum contaminated", (DRIVE, TOWED), counts="1"),
    # Utah, R714-162-11(1)(e)
    Said("lining-cracked", "repair", "lining-thickness cracked", "lining-thickness contaminated", (DRIVE, STEER, TOWED), counts="1"),
    # 393.47(b), (c): the same at each end of an axle; on the steer axle out of service by criteria for school buses
    Said("chambers-differ", "repair", "axle-chambers mismatched", "axle-slacks mismatched", (DRIVE, TOWED, TAG), beaten=FRONTS),
    Said("chambers-differ-steer", "halt", "axle-chambers mismatched", "axle-slacks mismatched", FRONTS, OTHERS),
    Said("slacks-differ", "repair", "axle-slacks mismatched", "axle-chambers mismatched", (DRIVE, TOWED, TAG), beaten=FRONTS),
    Said("slacks-differ-steer", "halt", "axle-slacks mismatched", "axle-chambers mismatched", FRONTS, OTHERS),
    # 393.209(a): wheel secured, no spoke cracked through or missing; (c): column fastened; (d): joints not worn or welded; (e): power steering
    Said("steering-wheel", "repair", "steering-lash loose spoke", "steering-lash excess-play noisy, steering-shaft loose", (RIG, TRUCK, BUS)),
    Said("steering-column", "repair", "steering-shaft loose worn welded", "steering-box leaking", (RIG, TRUCK, BUS)),
    Said("steering-joint", "repair", "steering-linkage worn", "steering-linkage bent cracked, steering-shaft worn", (RIG, TRUCK, BUS)),
    Said("power-steering", "repair", "power-steering-fluid low-level, power-steering-hoses leaking loose, steering-box leaking", "oil-level low-level", (RIG, TRUCK), (wheel(False, "20"),)),
    # 393.201: (a) cracked, loose, sagging or broken; (c) flanges bent; (d) nothing welded but as the maker says; (e) no holes in the flanges
    Said("frame-loose", "repair", "frame loose, trailer-frame loose", "frame corroded, body-mounts loose", (RIG, TRUCK, BUS)),
    Said("frame-bent", "repair", "frame bent, trailer-frame bent", "frame corroded", (RIG, TRUCK, BUS)),
    Said("frame-welded", "repair", "frame welded, trailer-frame welded", "frame cracked, rim-lugs welded", (RIG, TRUCK, BUS)),
    Said("frame-hole", "repair", "frame hole, trailer-frame hole", "frame corroded, header-board hole", (RIG, TRUCK, BUS)),
    # Utah, R714-162-16(1)(c): rusted through; 393.201(b): bolts or brackets of cab and body
    Said("frame-rusted", "repair", "frame corroded, trailer-frame corroded", "frame bent", (RIG, TRUCK)),
    Said("body-bolts", "repair", "body-mounts loose missing", "body-mounts bent", (TRUCK,)),
    # state school bus criteria: a crack through the web's radius, or of an inch in the bottom flange
    Said("frame-cracked", "halt", "frame cracked, trailer-frame cracked", "frame bent", (RIG, TRUCK, BUS)),
    # Utah, R714-162-10, which has the appendix's words: does not pass
    Said("release-arm", "repair", "release-arm not-locked", "release-arm bent", (RIG,)),
    Said("coupling-gap", "repair", "coupling-gap gap", "fifth-wheel-plate dry", (RIG,)),
    Said("fifth-wheel-loose", "repair", "fifth-wheel-mount loose cracked", "fifth-wheel-plate dry", (RIG,)),
    # Utah, R714-162-14 and -15, Maine 222-1-200-15: exhaust leaks and loose parts; a tank without cap, loose or damaged
    Said("exhaust", "repair", "exhaust leaking loose hole cracked", "fuel-tank loose", (RIG, TRUCK, BUS)),
    Said("fuel-tank", "repair", "fuel-tank loose missing damaged", "fuel-tank leaking", (RIG, TRUCK, BUS)),
    # Utah, R714-162-16(1)(a); Maine 222-1-200-25; 172.504(a); Appendix A, item 15; 393.62
    Said("seat-belt", "repair", "seat-belt frayed missing unlatched", "seats cut", (RIG, BUS)),
    Said("lamp-out", "repair", "headlights lamp-out, brake-lights lamp-out", "interior-lights lamp-out", (RIG, TRUCK)),
    Said("lamp-out-other", "repair", "front-turn lamp-out, side-lights lamp-out, plate-lamp lamp-out, front-lights lamp-out, middle-marker lamp-out, tractor-rear-lights lamp-out, trailer-front-lights lamp-out, backup-lights lamp-out", "front-turn cracked, abs-lamp lamp-out, interior-lights lamp-out", (RIG, TRUCK, BUS)),
    Said("placards", "repair", "placards missing faded covered", "tape-rear missing", (spot(placarded=True),)),
    Said("rear-guard-defect", "repair", "rear-guard missing loose cracked bent", "splash-guard missing", (RIG, TRUCK)),
    Said("emergency-exit", "repair", "emergency-exits sticking blocked faded, exit-door-rear sticking", "passenger-door sticking", (BUS,)),
    # 90 FR 22946 and the press on 19 February 2026: spare fuses no longer asked for from 20 April 2026
    Said("spare-fuses-until-2026", "repair", "spare-fuses missing", "triangles missing", (RIG,), day=date(2026, 4, 19), not_on=date(2026, 4, 20)),
    Said("spare-fuses", "watch", "spare-fuses missing", "triangles missing", (RIG,), day=date(2026, 4, 20), not_on=date(2026, 4, 19)),
    # 396.11(a): the eleven parts of (1), any other that bears on safety of (2); (3) repaired or certified as needing none
    *(Said("listed-part", "repair", "any-item any-defect", part=part) for part in LISTED),
    Said("other-part", "repair", "any-item any-defect", part="other"),
    # Quebec, r. 32, 170: a bulge from a faulty carcass, a tire that touches the vehicle; Ontario's handbook: or another tire
    Said("tire-bulge", "halt", "tire-condition bulge, tire-tread bulge, dual-tires bulge", "hoses bulge, tire-condition valve uneven", FRONTS + OTHERS),
    Said("tire-touching", "halt", "dual-tires touching", "dual-tires debris spacer", OTHERS),
    # state manual of 2023, inspection of tires: mismatched diameters of duals; driver training: wear should be even, of which 393.75 says nothing
    Said("tire-mismatched", "repair", "dual-tires mismatched", "dual-tires debris, spare-fuses mismatched", OTHERS),
    Said("tire-uneven", "watch", "tire-condition uneven, tire-tread uneven", "tire-condition cut", FRONTS + OTHERS),
    # guidance on 393.75, question 3, archived: only a bus may not have them, and only in front
    Said("tire-retread", "watch", "tire-condition retread", "tire-condition uneven", (*OTHERS, spot("drive", "bus")), beaten=FRONTS),
    # trade summary of 2013, page 14: any crack around a rim, of a disc from hole to hole or of 3 in; Quebec 170(7): a crack
    Said("wheel-cracked", "halt", "rim-lugs cracked", "rim-lugs bent rust-trails", (DRIVE, STEER, TOWED)),
    # 49 CFR 570.63(c): all nuts in place and tight; the name of the violation of 393.205(c): loose or missing
    Said("wheel-fasteners", "repair", "rim-lugs loose missing", "rim-lugs rust-trails bent", (DRIVE, STEER, TOWED)),
    # 393.47(e): the stroke must not be greater than the table
    Said("brake-overstroke", "repair", "brake-chamber overstroke, pushrod-stroke overstroke", "brake-chamber dented", (DRIVE, STEER, TOWED), counts="1"),
    # the inspectors' alliance on its day of brake checks: defective linings of the steer axle are out of service by themselves
    Said("brake-thin-steer", "halt", "lining-thickness thin", "lining-thickness contaminated", FRONTS, OTHERS, counts="1"),
    # driver manual, 2.1.3: cracked drums
    Said("brake-cracked", "repair", "brake-drum cracked, brake-disc cracked", "brake-drum contaminated thin", (DRIVE, STEER, TOWED), counts="1"),
    # 393.45(d): no leaks; criteria for school buses, Quebec 165: no bulge under pressure
    Said("brake-hose-hydraulic", "repair", "brake-hose leaking bulge", "brake-hose chafed, hoses bulge", (HYDRAULIC,)),
    # Ontario, Schedule 1, part 1: a parking or emergency brake, a low air warning or a tractor protection that does not work; Quebec 166(6), (10)
    Said("parking-not-holding", "halt", "parking-brake-test not-holding", "parking-brake-test delayed", (RIG, TRUCK, BUS)),
    Said("trailer-not-holding", "halt", "trailer-brake-test not-holding", "trailer-brake-test delayed", (RIG,)),
    Said("low-air-none", "halt", "low-air-warning no-warning", "low-air-warning lamp-out", (RIG, TRUCK, BUS)),
    Said("supply-valve-stays", "halt", "supply-valve-pop no-pop", "supply-valve-pop leaking, parking-valve-pop no-pop", (RIG,)),
    # 393.55(d), (e): a circuit that tells of a malfunction, a lamp of the trailer outside
    Said("abs-lamp", "repair", "abs-light-cab stays-on lamp-out, abs-lamp stays-on lamp-out missing", "warning-lights lamp-out", (RIG,)),
    # a state's school bus manual: an arm cracked or loose, a nut loose or missing; Quebec 167(1), (5)
    Said("steering-part", "halt", "pitman-arm loose cracked, steering-linkage cracked, steering-box loose cracked missing, castle-nuts loose missing", "pitman-arm bent, steering-box leaking", (RIG, TRUCK, BUS)),
    # Ontario, Schedule 1, part 4: the locking mechanism is damaged or fails to lock; Quebec 169(4), (6), (7): pins of the sliders, a kingpin badly engaged
    Said("jaws-open", "halt", "locking-jaws jaws-open", "locking-jaws worn", (RIG,)),
    Said("jaws-broken", "halt", "locking-jaws broken", "locking-jaws worn", (RIG,)),
    Said("slider-pins", "halt", "slider-pins not-locked missing, tandem-slider not-locked missing", "slider-pins leaking, tandem-slider bent", (RIG,)),
    # driver manual, 2.1.3, and California's handbook: a quarter of the leaves puts it out of service, which one answer cannot tell; any such defect could be dangerous
    Said("spring-leaf", "repair", "springs broken missing shifted", "springs worn, coil-springs broken", (DRIVE, STEER, TOWED), details={"part": ("leaf",)}),
    # Quebec 168: (1), (1.1) what fastens or places the axle; (4) a coil spring or torsion bar; (6) an air bag without air; 393.207 as a school quotes it
    Said("spring-mount", "halt", "springs broken missing loose", "springs worn, shocks loose", (DRIVE, STEER, TOWED), details={"part": ("hanger", "u-bolt")}, not_details={"part": "leaf"}),
    Said("spring-broken", "halt", "coil-springs broken cracked, torsion-beam cracked", "coil-springs shifted, torsion-beam worn", (DRIVE, STEER, TOWED)),
    Said("air-bag-flat", "halt", "air-bags deflated", "air-bags leaking cracked", (DRIVE, TOWED)),
    Said("torque-arm", "halt", "torque-arms cracked loose", "torque-arms worn", (DRIVE, TOWED)),
    # name of a violation: a dripping leak of a liquid fuel system at any point; Ontario, part 12; Quebec 171(2)
    Said("fuel-leak", "halt", "fuel-tank leaking", "fuel-tank loose, engine-leaks leaking", (RIG, TRUCK, BUS)),
    # driver manual, inspection of the cab: rises or is normal, the warning light goes out
    Said("oil-pressure-low", "repair", "oil-pressure not-rising stays-on", "oil-pressure wrong-reading, engine-temperature not-rising", (RIG, TRUCK, BUS)),
    # 393.11(b): shall be equipped with it; 393.60(c); 393.95(a)(4), (f); 396.17(c): documentation is on the vehicle; 392.9(a)
    Said("sheeting-defect", "repair", "tape-side missing, tape-rear missing", "splash-guard missing, placards missing", (RIG,)),
    Said("windshield", "repair", "windshield cracked", "windshield dirty covered, headlights cracked", (RIG, TRUCK, BUS)),
    Said("extinguisher", "repair", "fire-extinguisher discharged unsecured missing", "triangles missing", (RIG, TRUCK, BUS)),
    Said("triangles-until-2026", "repair", "triangles missing too-few", "spare-fuses missing", (RIG, TRUCK, BUS), day=date(2026, 3, 22), not_on=date(2026, 3, 23)),
    Said("triangles", "repair", "triangles missing too-few", "spare-fuses missing", (RIG, TRUCK, BUS), day=date(2026, 3, 23), not_on=date(2026, 3, 22)),
    Said("papers", "repair", "papers missing out-of-date", "placards missing", (RIG, TRUCK, BUS)),
    Said("cargo", "halt", "cargo-securement cargo-shifted unsecured too-few, cargo-load cargo-shifted unsecured, tie-down-count too-few", "tie-downs worn, cargo-load seal-broken", (RIG, TRUCK)),
)  # fmt: skip
