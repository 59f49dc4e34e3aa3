"""Each limit by its source: readings at the figure and a step to each side, and where it must not hold."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

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

# ruff: noqa: E501 - a table


@dataclass(frozen=True)
class Read:
    """unit: of the readings. says: reading -> level, as "3/32 repair, 4/32 watch". at: where; off: where it must not hold.

    day: on which the inspection begins, where that matters; not_on: a day on which the entry must not hold.
    """

    id: str
    quantity: str
    unit: str
    says: str
    at: tuple[Subject, ...]
    off: tuple[Subject, ...] = ()
    day: date = date(2026, 6, 1)
    not_on: date | None = None


def ends(*kinds: str, roles: tuple[str, ...] = ("drive", "tag", "trailer")) -> tuple[Subject, ...]:
    """These brakes on axles of these roles."""
    return tuple(spot(role, brake=kind) for role in roles for kind in kinds)


def front(kind: str, lining: str = "continuous") -> Subject:
    return spot("steer", brake=kind, lining=lining)


INFLATED = spot("drive", cold_psi=100, max_psi=110)
EVERY_FRONT = (STEER, spot("steer", "truck"), spot("steer", "bus"))
HOLDS_PSI = "psi/min"

READINGS = (
    # 49 CFR 393.75(b): front wheels of a bus, truck or truck tractor, at least 4/32 in; (c): other tires at least 2/32
    Read("tread-steer", "tread-depth", "in", "3/32 repair, 4/32 watch, 5/32 watch, 6/32 within", EVERY_FRONT, OTHERS),
    Read("tread-other", "tread-depth", "in", "1/32 repair, 2/32 watch, 3/32 watch, 4/32 within", OTHERS, EVERY_FRONT),
    # out-of-service criteria as quoted: less than 2/32 in on front wheels, less than 1/32 on others
    Read("tread-steer-halt", "tread-depth", "in", "1/32 halt, 2/32 watch, 3/32 within", EVERY_FRONT, OTHERS),
    Read("tread-other-halt", "tread-depth", "in", "0 halt, 1/32 watch, 2/32 within", OTHERS, EVERY_FRONT),
    # 393.75(i)(1) as quoted: not less than what is specified for the load
    Read("inflation-cold", "cold-inflation", "psi", "99 repair, 100 within, 101 within", (INFLATED,), (DRIVE,)),
    Read("inflation-practice", "cold-inflation", "psi", "79 repair, 80 repair, 81 within", (INFLATED,), (DRIVE,)),
    # out-of-service criteria in the trade press: half of the maximum on the sidewall, or less
    Read("inflation-flat", "cold-inflation", "psi", "54 halt, 55 halt, 56 within", (INFLATED,), (DRIVE,)),
    Read("inflation-max", "cold-inflation", "psi", "109 within, 110 within, 111 watch", (INFLATED,), (DRIVE,)),
    # 393.47(e)(1): must not be greater than the table's value (type 30: 2 in)
    Read("stroke", "pushrod-stroke-applied", "in", "1 3/4 within, 1 7/8 watch, 2 watch, 2 1/8 repair", (DRIVE, spot("drive", brake="air-disc"), TAG), ends("hydraulic-drum", "hydraulic-disc")),
    # a truck maker's manual on the criteria: a quarter of an inch or more beyond is one brake
    Read("overstroke-whole", "overstroke", "in", "1/8 within, 1/4 repair, 3/8 repair", (DRIVE,)),
    # driver manual 5.3.2: more than about one inch
    Read("free-play", "pushrod-free-play", "in", "7/8 within, 1 watch, 1 1/8 repair", (DRIVE, STEER), ends("air-disc", "hydraulic-drum")),
    # 393.47(d)(1), steering axles: not less than 3/16 in (continuous strip), 1/4 (two pads), 1/8 (air disc); 1/16 or less is a defect (hydraulic)
    Read("lining-steer-strip", "lining-thickness", "in", "2/16 repair, 3/16 watch, 4/16 watch, 5/16 within", (front("air-drum"),), (front("air-drum", "two-pad"), front("air-disc"), front("hydraulic-drum"), DRIVE)),
    Read("lining-steer-two-pad", "lining-thickness", "in", "3/16 repair, 4/16 watch, 5/16 watch, 6/16 within", (front("air-drum", "two-pad"),), (front("air-drum"), front("air-disc", "two-pad"), front("hydraulic-drum", "two-pad"), spot("drive", lining="two-pad"))),
    Read("lining-steer-air-disc", "lining-thickness", "in", "1/16 repair, 2/16 watch, 3/16 watch, 4/16 within", (front("air-disc"),), (front("air-drum"), front("hydraulic-disc"), *ends("air-disc"))),
    Read("lining-steer-hydraulic", "lining-thickness", "in", "0 repair, 1/16 repair, 2/16 watch, 3/16 within", (front("hydraulic-drum"), front("hydraulic-disc")), (front("air-drum"), front("air-disc"), *ends("hydraulic-drum", "hydraulic-disc"))),
    # 393.47(d)(2), other axles: "shall not be operated with" less than 1/4 in (air drum), 1/8 (air disc), 1/16 (hydraulic)
    Read("lining-other-drum", "lining-thickness", "in", "3/16 halt, 4/16 watch, 5/16 watch, 6/16 within", ends("air-drum"), (front("air-drum"), *ends("air-disc", "hydraulic-drum"))),
    Read("lining-other-air-disc", "lining-thickness", "in", "1/16 halt, 2/16 watch, 3/16 watch, 4/16 within", ends("air-disc"), (front("air-disc"), *ends("air-drum", "hydraulic-disc"))),
    Read("lining-other-hydraulic", "lining-thickness", "in", "0 halt, 1/16 watch, 2/16 watch, 3/16 within", ends("hydraulic-drum", "hydraulic-disc"), (front("hydraulic-drum"), front("hydraulic-disc"), *ends("air-drum", "air-disc"))),
    # out-of-service criteria, steering axle (from memory): below the same figures
    Read("lining-steer-strip-halt", "lining-thickness", "in", "2/16 halt, 3/16 watch, 4/16 within", (front("air-drum"),), (front("air-drum", "two-pad"), front("air-disc"), DRIVE)),
    Read("lining-steer-two-pad-halt", "lining-thickness", "in", "3/16 halt, 4/16 watch, 5/16 within", (front("air-drum", "two-pad"),), (front("air-drum"), front("air-disc", "two-pad"), spot("drive", lining="two-pad"))),
    Read("lining-steer-air-disc-halt", "lining-thickness", "in", "1/16 halt, 2/16 watch, 3/16 within", (front("air-disc"),), (front("air-drum"), front("hydraulic-disc"), *ends("air-disc"))),
    # Appendix A, 1.a(6)(d): at least 1/4 in on every steering drum; the annual inspection's, so told and no more
    Read("lining-steer-annual", "lining-thickness", "in", "3/16 watch, 4/16 within, 5/16 within", (front("air-drum"), front("air-drum", "two-pad"), front("hydraulic-drum")), (front("air-disc"), front("hydraulic-disc"), *ends("air-drum"))),
    # out-of-service criteria: 20 percent or more of the brakes (trade press), 25 percent of the spring brakes (memory)
    Read("defective-brakes", "defective-brakes", "percent", "19 within, 20 halt, 21 halt", (RIG, TRUCK, BUS)),
    Read("inoperative-spring-brakes", "inoperative-spring-brakes", "percent", "24 within, 25 halt, 26 halt", (RIG,)),
    # driver manual 11.1.2: approximately 120 to 140 psi, or the maker's figure
    Read("governor-cut-out", "governor-cut-out", "psi", "114 repair, 115 watch, 119 watch, 120 within, 121 within, 139 within, 140 within, 141 watch, 145 watch, 146 repair", (RIG, TRUCK, BUS)),
    Read("governor-cut-out", "governor-cut-out", "psi", "104 repair, 105 within, 115 within, 116 repair, 125 repair", (governor(cut_out=110),)),
    # 61 FR 6173: under 100 psi the compressor must start, powered vehicles made from 1 March 1997; 61 FR 60635: buses 85
    Read("governor-cut-in", "governor-cut-in", "psi", "99 watch, 100 within, 101 within", (RIG, TRUCK, spot(abs_built=1997), spot(kind="truck", abs_built=2019)), (BUS, spot(abs_built=1996), spot(kind="truck", abs_built=1990))),
    Read("governor-cut-in", "governor-cut-in", "psi", "84 watch, 85 within", (governor(cut_in=90),)),
    Read("governor-cut-in-bus", "governor-cut-in", "psi", "84 watch, 85 within, 86 within", (BUS, spot(kind="bus", abs_built=1997)), (RIG, TRUCK, spot(kind="bus", abs_built=1996))),
    # driver manual 5.3.3: less than 2 (single) and 3 (two vehicles) released, not more than 3 and 4 applied; California: 5 and 6 for three
    Read("leak-static-single", "air-leak-static", HOLDS_PSI, "1.9 within, 2 repair, 2.1 repair", (TRUCK, BUS), (RIG, TWO_TOWED, HYDRAULIC)),
    Read("leak-static-combination", "air-leak-static", HOLDS_PSI, "2.9 within, 3 repair, 3.1 repair", (RIG,), (TRUCK, TWO_TOWED, HYDRAULIC_RIG)),
    Read("leak-static-three", "air-leak-static", HOLDS_PSI, "4.9 within, 5 watch, 5.1 repair", (TWO_TOWED, THREE_TOWED), (TRUCK, RIG, spot(towed_units=2, brakes="hydraulic"))),
    Read("leak-applied-single", "air-leak-applied", HOLDS_PSI, "2.9 within, 3 watch, 3.1 repair", (TRUCK, BUS), (RIG, TWO_TOWED, HYDRAULIC)),
    Read("leak-applied-combination", "air-leak-applied", HOLDS_PSI, "3.9 within, 4 watch, 4.1 repair", (RIG,), (TRUCK, TWO_TOWED, HYDRAULIC_RIG)),
    Read("leak-applied-three", "air-leak-applied", HOLDS_PSI, "5.9 within, 6 watch, 6.1 repair", (TWO_TOWED, THREE_TOWED), (TRUCK, RIG, spot(towed_units=2, brakes="hydraulic"))),
    # driver manual 11.1.2 of 2017: before it falls below 55; 393.51(c): 55 or half the cut-out, if that is less; 571.121: 60
    Read("low-air", "low-air-warning", "psi", "54 repair, 55 watch, 57 watch, 58 within", (RIG, TRUCK, BUS), (HYDRAULIC,)),
    Read("low-air-in-service", "low-air-warning", "psi", "54 repair, 55 watch, 56 within", (RIG, governor(cut_out=120)), (HYDRAULIC,)),
    Read("low-air-in-service", "low-air-warning", "psi", "49 repair, 50 watch, 51 within", (governor(cut_out=100),)),
    Read("low-air-built", "low-air-warning", "psi", "59 watch, 60 within, 61 within", (RIG, TRUCK), (HYDRAULIC,)),
    # 393.43(b) as adopted by D.C.: between 20 and 45 psi, where a trailer is drawn
    Read("supply-valve", "supply-valve-pop", "psi", "19 repair, 20 watch, 21 within, 44 within, 45 watch, 46 repair", (RIG,), (TRUCK, BUS, HYDRAULIC_RIG)),
    # driver manual 5.3.3: the maker's figure, usually 20 to 45 psi
    Read("parking-valve", "parking-valve-pop", "psi", "19 watch, 20 within, 21 within, 44 within, 45 within, 46 watch", (RIG, TRUCK, BUS), (HYDRAULIC,)),
    Read("parking-valve", "parking-valve-pop", "psi", "54 watch, 55 within, 65 within, 66 watch", (spot(parking_valve_psi=60),)),
    # driver manual 5.3.3: 85 to 100 psi within 45 s (dual system), 50 to 90 within three minutes (single)
    Read("build-up", "air-build-up", "s", "41 within, 42 watch, 45 watch, 46 repair", (RIG, TRUCK), (spot(air_system="single"), HYDRAULIC)),
    Read("build-up-single", "air-build-up-single", "s", "179 within, 180 watch, 181 repair", (spot(kind="truck", air_system="single"),), (TRUCK, spot(kind="truck", air_system="single", brakes="hydraulic"))),
    # 393.50(a): not below 70 percent
    Read("reserve", "air-reserve", "percent", "69 repair, 70 watch, 71 within", (RIG, TRUCK), (HYDRAULIC,)),
    # 393.209(b): the table by diameter; 14 and 30 degrees of a wheel that is not listed (24 in: 2.93 and 6.28 in)
    Read("steering-lash", "steering-lash", "in", "2 1/8 within, 2 1/4 watch, 2 1/2 watch, 2 5/8 repair", (wheel(False, "20"),), (wheel(True, "20"),)),
    Read("steering-lash", "steering-lash", "in", "2.68 within, 2.7 watch, 2.93 watch, 2.94 repair", (wheel(False, "24"),), (wheel(True, "24"),)),
    Read("steering-lash-power", "steering-lash", "in", "4 7/8 within, 5 watch, 5 1/4 watch, 5 3/8 repair", (wheel(True, "20"),), (wheel(False, "20"),)),
    Read("steering-lash-power", "steering-lash", "in", "6 within, 6.1 watch, 6.28 watch, 6.29 repair", (wheel(True, "24"),), (wheel(False, "24"),)),
    # driver manual 2.1.3: about 2 in at a 20-in wheel
    Read("steering-lash-driver", "steering-lash", "in", "1 7/8 within, 2 within, 2 1/8 watch", (wheel(True, "20"), wheel(False, "20"))),
    # driver manual 11.1.1: up to three quarters of an inch; nothing is said of a tight belt
    Read("belt-play", "belt-play", "in", "0 within, 3/8 within, 5/8 within, 3/4 within, 7/8 repair", (RIG, TRUCK, BUS)),
    Read("oil-pressure", "oil-pressure", "psi", "4 repair, 5 watch, 6 within", (RIG, BUS)),
    # 393.205(c): none loose or missing; criteria in a state reprint: ten positions three, eight or fewer two
    Read("fasteners", "loose-fasteners", "count", "0 within, 1 repair, 2 repair", (DRIVE, STEER, TOWED)),
    Read("fasteners-ten-halt", "loose-fasteners", "count", "2 within, 3 halt, 4 halt", (DRIVE, spot("drive", studs=9)), (spot("drive", studs=8),)),
    Read("fasteners-eight-halt", "loose-fasteners", "count", "1 within, 2 halt, 3 halt", (spot("drive", studs=8), spot("drive", studs=6)), (DRIVE, spot("drive", studs=9))),
    # Appendix A 2.a as adopted by Utah: more than 1/2 in is rejected; out-of-service the same (memory)
    Read("fifth-wheel-movement", "fifth-wheel-movement", "in", "1/4 within, 3/8 watch, 1/2 watch, 5/8 repair", (RIG,)),
    Read("fifth-wheel-movement-halt", "fifth-wheel-movement", "in", "3/8 within, 1/2 watch, 5/8 halt", (RIG,)),
    Read("mud-flap", "mud-flap-height", "in", "9 3/4 within, 10 within, 10 1/4 watch", (RIG,)),
    # 64 FR 47703: trailers of 10,000 lb or more made on or after 26 January 1998; before, 30 in; excluded kinds have none
    Read("rear-guard", "rear-guard-height", "in", "21 3/4 within, 22 watch, 22 1/4 repair", (trailer(built=1998), trailer(built=2020), trailer(built=1998, gvwr_lb=10_000)), (trailer(built=1997), trailer(built=2020, gvwr_lb=9_999), trailer(built=2020, guard_exempt=True), TRUCK)),
    Read("rear-guard-older", "rear-guard-height", "in", "29 3/4 within, 30 watch, 30 1/4 repair", (trailer(built=1997), trailer(built=1953), trailer(built=1997, gvwr_lb=9_999)), (trailer(built=1998), trailer(built=1952), trailer(built=1990, guard_exempt=True))),
    Read("rear-guard-truck", "rear-guard-height", "in", "29 3/4 within, 30 watch, 30 1/4 repair", (TRUCK,), (BUS, trailer(built=1950))),
    # 393.11 and 571.108; 64 FR 15588: trailers 80 in wide or wider and of 10,001 lb or more; older ones by 393.13
    Read("sheeting", "sheeting-share", "percent", "49 repair, 50 watch, 51 within", (trailer(built=1993), trailer(built=2020, width_in=80, gvwr_lb=10_001)), (trailer(built=1992), trailer(built=2020, width_in=79), trailer(built=2020, gvwr_lb=10_000), TRUCK)),
    Read("sheeting-older", "sheeting-share", "percent", "49 repair, 50 watch, 51 within", (trailer(built=1992), trailer(built=1980, width_in=80)), (trailer(built=1993), trailer(built=1980, width_in=79), trailer(built=1980, gvwr_lb=10_000), TRUCK)),
    Read("windshield-damage", "windshield-damage", "in", "1/2 within, 3/4 watch, 1 repair", (RIG,)),
    Read("drum-crack", "cracked-drum", "percent", "49 within, 50 watch, 51 repair", (DRIVE,)),
    # Utah R714-162-11(1)(d): movement that exceeds 1/16 in
    Read("wedge-movement", "wedge-movement", "in", "0 within, 1/16 watch, 2/16 repair", (DRIVE,)),
    # 393.95(a): one of 5 B:C, or two of 4 B:C; 10 B:C with placards
    Read("extinguisher-rating", "extinguisher-rating", "count", "3 repair, 4 watch, 5 within, 6 within", (RIG, TRUCK), (spot(placarded=True),)),
    Read("extinguisher-rating-placarded", "extinguisher-rating", "count", "9 repair, 10 within, 11 within", (spot(placarded=True),), (RIG, TRUCK)),
    # 393.95(f): three triangles; liquid-burning flares in their place until 22 March 2026
    Read("triangles-count", "warning-triangles", "count", "2 repair, 3 within, 4 within", (RIG,), day=date(2026, 3, 23), not_on=date(2026, 3, 22)),
    Read("triangles-count-until-2026", "warning-triangles", "count", "2 repair, 3 within, 4 within", (RIG,), day=date(2026, 3, 22), not_on=date(2026, 3, 23)),
    # 392.9(b): within the first 50 miles, then every 150 miles or three hours
    Read("cargo-check-first", "cargo-check-first", "mi", "49 within, 50 watch, 51 repair", (RIG,)),
    Read("cargo-check-distance", "cargo-check-distance", "mi", "149 within, 150 watch, 151 repair", (RIG,)),
    Read("cargo-check-time", "cargo-check-time", "h", "2.9 within, 3 watch, 3.1 repair", (RIG,)),
    # Ontario's handbook: 3/8 in (no federal figure, so told and no more)
    Read("pintle", "pintle-movement", "in", "1/4 within, 3/8 within, 1/2 watch", (RIG,)),
)  # fmt: skip
