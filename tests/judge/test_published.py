"""Every shipped limit against its published figure, with its section, at the figure and on both sides of it.

The figures are copied here on purpose: a change of the data file must be made twice, by someone who looked.
"""

# ruff: noqa: E501 - a table, one line for each figure

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import pytest

from tests.judge.yard import at, axle, found, rig, shipped, steer, truck, with_chamber
from voice.judge import Subject
from voice.judge.limit import Limit
from voice.measure import exact
from voice.measure.level import Level
from voice.route.vehicle import Brake, Governor, Steering, Trailer


@dataclass(frozen=True)
class Published:
    """A figure of a source. meets: readings that meet it, the one nearest to the figure first; fails: that do not."""

    limit: str
    section: str
    subject: Subject
    quantity: str
    unit: str
    meets: tuple[str, ...]
    fails: tuple[str, ...]
    level: Level = Level.REPAIR


def brakes(kind: str, role: str = "drive", lining: str = "continuous") -> Subject:
    brake = Brake(kind=kind, lining=lining)
    if role == "steer":
        return at(truck((steer("truck", brake=brake), axle("truck"))), 1, "left")
    return at(truck((steer("truck"), axle("truck", role, brake=brake))), 2, "left")


def lash(power: bool, diameter: str) -> Subject:
    return at(truck(steering=Steering(power=power, wheel_in=exact(diameter))))


RIG, TRUCK, BUS = rig(), truck(), truck(kind="bus", bus="transit")
INFLATED = at(rig((steer(cold_psi=110, max_psi=120), axle(cold_psi=100, max_psi=110))), 2, "left")
TRIPLE = rig(towed_units=2)
HALT, WATCH = Level.HALT, Level.WATCH

PUBLISHED = [
    # 49 CFR 393.75(b): 4/32 in on front wheels; (c): 2/32 in on all others
    Published("tread-steer", "49 CFR 393.75(b)", at(RIG, 1, "left"), "tread-depth", "in", ("4/32", "5/32", "20/32"), ("3/32", "127/1024", "0")),
    Published("tread-other", "49 CFR 393.75(c)", at(RIG, 2, "left"), "tread-depth", "in", ("2/32", "3/32"), ("1/32", "63/1024")),
    Published("tread-other", "49 CFR 393.75(c)", at(RIG, 4, "left"), "tread-depth", "in", ("2/32",), ("1/32",)),
    # out-of-service criteria, tires: less than 2/32 in on steer tires, less than 1/32 in on others
    Published("tread-steer-halt", "CVSA out-of-service criteria, tires", at(RIG, 1), "tread-depth", "in", ("2/32",), ("1/32", "0"), HALT),
    Published("tread-other-halt", "CVSA out-of-service criteria, tires", at(RIG, 4), "tread-depth", "in", ("1/32",), ("0", "31/1024"), HALT),
    # 49 CFR 393.75(i)(1): not below the pressure specified for the load
    Published("inflation-cold", "49 CFR 393.75(i)(1)", INFLATED, "cold-inflation", "psi", ("100", "105"), ("99", "99.9")),
    Published("inflation-practice", "common practice, no source", INFLATED, "cold-inflation", "psi", ("81",), ("80", "60")),
    # out-of-service criteria: 50 percent of the sidewall's maximum or less is flat
    Published("inflation-flat", "CVSA out-of-service criteria, tires", INFLATED, "cold-inflation", "psi", ("56",), ("55", "0"), HALT),
    Published("inflation-max", "Model CDL manual, 2.1.3", INFLATED, "cold-inflation", "psi", ("110",), ("111",), WATCH),
    # out-of-service criteria, brake systems: a quarter of an inch or more beyond the stroke's limit is one whole brake
    Published("overstroke-whole", "CVSA out-of-service criteria, brake systems", at(RIG, 2, "left"), "overstroke", "in", ("1/8", "31/128"), ("1/4", "1/2")),
    # model driver manual 5.3.2: more than about one inch
    Published("free-play", "Model CDL manual, 5.3.2", at(RIG, 2, "left"), "pushrod-free-play", "in", ("1", "7/8"), ("1 1/8",)),
    # 49 CFR 393.47(d)(1), (2): linings and pads
    Published("lining-steer-strip", "49 CFR 393.47(d)(1)", brakes("air-drum", "steer"), "lining-thickness", "in", ("3/16", "1/4"), ("2/16",)),
    Published("lining-steer-two-pad", "49 CFR 393.47(d)(1)", brakes("air-drum", "steer", "two-pad"), "lining-thickness", "in", ("1/4",), ("3/16",)),
    Published("lining-air-disc", "49 CFR 393.47(d)", brakes("air-disc", "steer"), "lining-thickness", "in", ("1/8",), ("1/16",)),
    Published("lining-air-disc", "49 CFR 393.47(d)", brakes("air-disc"), "lining-thickness", "in", ("1/8",), ("1/16",)),
    Published("lining-steer-hydraulic", "49 CFR 393.47(d)(1)", brakes("hydraulic-disc", "steer"), "lining-thickness", "in", ("1/8",), ("1/16",)),
    Published("lining-other-drum", "49 CFR 393.47(d)(2)", brakes("air-drum"), "lining-thickness", "in", ("1/4",), ("3/16",)),
    Published("lining-other-hydraulic", "49 CFR 393.47(d)(2)", brakes("hydraulic-drum"), "lining-thickness", "in", ("1/16",), ("1/32",)),
    # out-of-service criteria, steering axle (from memory)
    Published("lining-steer-strip-halt", "CVSA out-of-service criteria, steering axle brakes", brakes("air-drum", "steer"), "lining-thickness", "in", ("3/16",), ("2/16",), HALT),
    Published("lining-steer-two-pad-halt", "CVSA out-of-service criteria, steering axle brakes", brakes("air-drum", "steer", "two-pad"), "lining-thickness", "in", ("1/4",), ("3/16",), HALT),
    Published("lining-steer-air-disc-halt", "CVSA out-of-service criteria, steering axle brakes", brakes("air-disc", "steer"), "lining-thickness", "in", ("1/8",), ("1/16",), HALT),
    # Appendix A to Part 396, 1.a(6)(d): 1/4 in for every steering drum
    Published("lining-steer-annual", "Appendix A to 49 CFR Part 396, 1.a(6)(d)", brakes("air-drum", "steer"), "lining-thickness", "in", ("1/4",), ("3/16",), WATCH),
    # out-of-service criteria: 20 percent or more defective brakes; 25 percent of spring brakes (from memory)
    Published("defective-brakes", "CVSA out-of-service criteria, brake systems", at(RIG), "defective-brakes", "percent", ("19.9", "15"), ("20", "30"), HALT),
    Published("inoperative-spring-brakes", "CVSA out-of-service criteria, brake systems", at(RIG), "inoperative-spring-brakes", "percent", ("24",), ("25",), HALT),
    # model driver manual 11.1.2: cut-out 120 to 140 psi; 49 CFR 571.121 S5.1.1.1: cut-in 100 (truck), 85 (bus) or more
    Published("governor-cut-out", "Model CDL manual, 11.1.2", at(RIG), "governor-cut-out", "psi", ("120", "140", "125"), ("119", "141")),
    Published("governor-cut-out", "Model CDL manual, 11.1.2", at(rig(governor=Governor(cut_out=110))), "governor-cut-out", "psi", ("105", "115"), ("104", "116", "125")),
    Published("governor-cut-in", "49 CFR 571.121, S5.1.1.1", at(RIG), "governor-cut-in", "psi", ("100", "110"), ("99",)),
    # the maker's figure less five psi for the gauge: common practice, no source, and cited as that
    Published("governor-cut-in", "common practice, no source: the maker's figure, less five psi for the gauge", at(rig(governor=Governor(cut_in=105))), "governor-cut-in", "psi", ("100",), ("99",)),
    Published("governor-cut-in-bus", "49 CFR 571.121, S5.1.1.1", at(BUS), "governor-cut-in", "psi", ("85",), ("84",)),
    # model driver manual 5.3.3: static less than 2 and 3, applied not more than 3 and 4; three vehicles: California, 5 and 6
    Published("leak-static-single", "Model CDL manual, 5.3.3", at(TRUCK), "air-leak-static", "psi/min", ("1.9",), ("2", "2.1")),
    Published("leak-static-combination", "Model CDL manual, 5.3.3", at(RIG), "air-leak-static", "psi/min", ("2.9",), ("3", "3.1")),
    Published("leak-static-three", "California Commercial Driver Handbook, in-cab air brake check", at(TRIPLE), "air-leak-static", "psi/min", ("5",), ("5.1",)),
    Published("leak-applied-single", "Model CDL manual, 5.3.3", at(TRUCK), "air-leak-applied", "psi/min", ("3", "2.9"), ("3.1",)),
    Published("leak-applied-combination", "Model CDL manual, 5.3.3", at(RIG), "air-leak-applied", "psi/min", ("4", "3.9"), ("4.1",)),
    Published("leak-applied-three", "California Commercial Driver Handbook, in-cab air brake check", at(TRIPLE), "air-leak-applied", "psi/min", ("6",), ("6.1",)),
    # model driver manual 11.1.2 (2017): before it falls below 55 psi; 393.51(c): 55 or half the cut-out (from memory)
    Published("low-air", "Model CDL manual, 11.1.2", at(RIG), "low-air-warning", "psi", ("55", "60"), ("54",)),
    Published("low-air-in-service", "49 CFR 393.51(c)", at(rig(governor=Governor(cut_out=100))), "low-air-warning", "psi", ("50", "52"), ("49",)),
    Published("low-air-in-service", "49 CFR 393.51(c)", at(rig(governor=Governor(cut_out=120))), "low-air-warning", "psi", ("55",), ("54",)),
    Published("low-air-built", "49 CFR 571.121, S5.1.5", at(RIG), "low-air-warning", "psi", ("60",), ("59",), WATCH),
    # 393.43(b) (from memory) and model driver manual 5.3.3: 20 to 45 psi
    Published("supply-valve", "49 CFR 393.43(b)", at(RIG), "supply-valve-pop", "psi", ("20", "45", "30"), ("19", "46")),
    Published("parking-valve", "Model CDL manual, 5.3.3", at(TRUCK), "parking-valve-pop", "psi", ("20", "45", "38"), ("19", "46")),
    # model driver manual 5.3.3: 85 to 100 within 45 s (dual), 50 to 90 within three minutes (single)
    Published("build-up", "Model CDL manual, 5.3.3", at(RIG), "air-build-up", "s", ("45", "30"), ("45.1", "46")),
    Published("build-up-single", "Model CDL manual, 5.3.3", at(truck(air_system="single")), "air-build-up-single", "s", ("180",), ("181",)),
    # 49 CFR 393.50(a): 70 percent left after one full application
    Published("reserve", "49 CFR 393.50(a)", at(RIG), "air-reserve", "percent", ("70", "75"), ("69.9",)),
    # 49 CFR 393.209(b)(1), the table by wheel diameter; (b)(2) 14 and 30 degrees for others
    Published("steering-lash", "49 CFR 393.209(b)", lash(False, "16"), "steering-lash", "in", ("2",), ("2 1/8",)),
    Published("steering-lash", "49 CFR 393.209(b)", lash(False, "14"), "steering-lash", "in", ("2",), ("2 1/8",)),
    Published("steering-lash", "49 CFR 393.209(b)", lash(False, "18"), "steering-lash", "in", ("2 1/4",), ("2 3/8",)),
    Published("steering-lash", "49 CFR 393.209(b)", lash(False, "19"), "steering-lash", "in", ("2 3/8",), ("2 1/2",)),
    Published("steering-lash", "49 CFR 393.209(b)", lash(False, "20"), "steering-lash", "in", ("2 1/2",), ("2 5/8",)),
    Published("steering-lash", "49 CFR 393.209(b)", lash(False, "21"), "steering-lash", "in", ("2 5/8",), ("2 3/4",)),
    Published("steering-lash", "49 CFR 393.209(b)", lash(False, "22"), "steering-lash", "in", ("2 3/4",), ("2 7/8",)),
    Published("steering-lash-power", "49 CFR 393.209(b)", lash(True, "16"), "steering-lash", "in", ("4 1/4",), ("4 3/8",)),
    Published("steering-lash-power", "49 CFR 393.209(b)", lash(True, "18"), "steering-lash", "in", ("4 3/4",), ("4 7/8",)),
    Published("steering-lash-power", "49 CFR 393.209(b)", lash(True, "19"), "steering-lash", "in", ("5",), ("5 1/8",)),
    Published("steering-lash-power", "49 CFR 393.209(b)", lash(True, "20"), "steering-lash", "in", ("5 1/4",), ("5 3/8",)),
    Published("steering-lash-power", "49 CFR 393.209(b)", lash(True, "21"), "steering-lash", "in", ("5 1/2",), ("5 5/8",)),
    Published("steering-lash-power", "49 CFR 393.209(b)", lash(True, "22"), "steering-lash", "in", ("5 3/4",), ("5 7/8",)),
    # 24 in is not listed: 14 degrees are pi x 24 x 14/360 = 2.932 in, 30 degrees 6.283 in
    Published("steering-lash", "49 CFR 393.209(b)", lash(False, "24"), "steering-lash", "in", ("2.93",), ("2.94",)),
    Published("steering-lash-power", "49 CFR 393.209(b)", lash(True, "24"), "steering-lash", "in", ("6.28",), ("6.29",)),
    # model driver manual 2.1.3: about 2 in at a 20-in wheel
    Published("steering-lash-driver", "Model CDL manual, 2.1.3", lash(True, "20"), "steering-lash", "in", ("2",), ("2 1/8",), WATCH),
    # model driver manual 11.1.1: 1/2 to 3/4 in
    Published("belt-play", "Model CDL manual, 11.1.1", at(TRUCK), "belt-play", "in", ("1/2", "3/4", "5/8"), ("3/8", "7/8")),
    Published("oil-pressure", "Model CDL manual, figure 2.5", at(TRUCK), "oil-pressure", "psi", ("5", "40"), ("4",)),
    # 393.205(c) (from memory): none; out-of-service criteria: three of ten, two of eight
    Published("fasteners", "49 CFR 393.205(c)", at(RIG, 2), "loose-fasteners", "count", ("0",), ("1",)),
    Published("fasteners-ten-halt", "CVSA out-of-service criteria, wheels", at(RIG, 2), "loose-fasteners", "count", ("2",), ("3",), HALT),
    Published("fasteners-eight-halt", "CVSA out-of-service criteria, wheels", at(truck((steer("truck"), axle("truck", studs=8))), 2), "loose-fasteners", "count", ("1",), ("2",), HALT),
    # Appendix A to Part 396, 2.a(4): 1/2 in between upper and lower fifth wheel halves
    Published("fifth-wheel-movement", "Appendix A to 49 CFR Part 396, 2.a(4)", at(RIG), "fifth-wheel-movement", "in", ("1/2",), ("5/8",)),
    Published("fifth-wheel-movement-halt", "CVSA out-of-service criteria, coupling devices", at(RIG), "fifth-wheel-movement", "in", ("1/2",), ("5/8",), HALT),
    Published("mud-flap", "common practice, no source", at(RIG), "mud-flap-height", "in", ("10",), ("10 1/4",), WATCH),
    # 49 CFR 393.86 (from memory): 22 in from 1998, 30 in before and for single trucks
    Published("rear-guard", "49 CFR 393.86(a)", at(rig(trailer=Trailer(body="van", built=1998))), "rear-guard-height", "in", ("22",), ("22 1/4",)),
    Published("rear-guard-older", "49 CFR 393.86(b)", at(rig(trailer=Trailer(body="van", built=1997))), "rear-guard-height", "in", ("30",), ("30 1/4",)),
    Published("rear-guard-truck", "49 CFR 393.86(b)", at(TRUCK), "rear-guard-height", "in", ("30",), ("31",)),
    # 49 CFR 571.108: at least half of the side, trailers from December 1993; 393.13 for older ones
    Published("sheeting", "49 CFR 393.11, 571.108", at(rig(trailer=Trailer(body="van", built=1994))), "sheeting-share", "percent", ("50",), ("49",)),
    Published("sheeting-older", "49 CFR 393.13", at(rig(trailer=Trailer(body="van", built=1990))), "sheeting-share", "percent", ("50",), ("49",)),
    # 49 CFR 393.60(c): damage that a 3/4-in disc covers
    Published("windshield-damage", "49 CFR 393.60(c)", at(RIG), "windshield-damage", "in", ("3/4",), ("1",)),
    Published("drum-crack", "Model CDL manual, 5.3.2", at(RIG, 2), "cracked-drum", "percent", ("50",), ("51",)),
    # 49 CFR 393.95(a): 5 B:C, 10 B:C with placards; (f): three triangles
    Published("extinguisher-rating", "49 CFR 393.95(a)", at(RIG), "extinguisher-rating", "count", ("5", "10"), ("4",)),
    Published("extinguisher-rating-placarded", "49 CFR 393.95(a)", at(rig(placarded=True)), "extinguisher-rating", "count", ("10",), ("5",)),
    Published("triangles-count", "49 CFR 393.95(f)", at(RIG), "warning-triangles", "count", ("3",), ("2",)),
    # 49 CFR 392.9(b): first 50 miles, then 150 miles or three hours
    Published("cargo-check-first", "49 CFR 392.9(b)", at(RIG), "cargo-check-first", "mi", ("50",), ("52",)),
    Published("cargo-check-distance", "49 CFR 392.9(b)", at(RIG), "cargo-check-distance", "mi", ("150",), ("151",)),
    Published("cargo-check-time", "49 CFR 392.9(b)", at(RIG), "cargo-check-time", "h", ("3",), ("3.1",)),
    Published("pintle", "Ontario truck handbook, daily inspection", at(RIG), "pintle-movement", "in", ("3/8",), ("1/2",), WATCH),
]  # fmt: skip


@pytest.mark.parametrize("case", PUBLISHED, ids=lambda case: f"{case.limit}-{case.meets[0]}")
def test_published_figure_and_both_sides_of_it(case: Published) -> None:
    for value in case.meets:
        finding = found(case.subject, case.quantity, value, case.unit)[case.limit]
        assert finding.level <= Level.WATCH, value
        assert finding.margin is not None
        assert finding.margin.value >= 0
    for value in case.fails:
        finding = found(case.subject, case.quantity, value, case.unit)[case.limit]
        assert finding.level is case.level, value
        assert finding.source == case.section
        assert finding.margin is not None
        assert finding.margin.value <= 0


# 49 CFR 393.47(e) as amended by 77 FR 46633: types 12 to 30 read in a truck maker's manual, the others from memory.
STROKES = [
    ("clamp", "6", "standard", "1 1/4"), ("clamp", "9", "standard", "1 3/8"), ("clamp", "12", "standard", "1 3/8"),
    ("clamp", "12", "long", "1 3/4"), ("clamp", "16", "standard", "1 3/4"), ("clamp", "16", "long", "2"),
    ("clamp", "20", "standard", "1 3/4"), ("clamp", "20", "long", "2"), ("clamp", "20", "long-3", "2 1/2"),
    ("clamp", "24", "standard", "1 3/4"), ("clamp", "24", "long", "2"), ("clamp", "24", "long-3", "2 1/2"),
    ("clamp", "30", "standard", "2"), ("clamp", "30", "long", "2 1/2"), ("clamp", "36", "standard", "2 1/4"),
    ("dd3", "30", "standard", "2 1/4"), ("bolt", "A", "standard", "1 3/8"), ("bolt", "B", "standard", "1 3/4"),
    ("bolt", "C", "standard", "1 3/4"), ("bolt", "D", "standard", "1 1/4"), ("bolt", "E", "standard", "1 3/8"),
    ("bolt", "F", "standard", "2 1/4"), ("bolt", "G", "standard", "2"), ("rotochamber", "9", "standard", "1 1/2"),
    ("rotochamber", "12", "standard", "1 1/2"), ("rotochamber", "16", "standard", "2"),
    ("rotochamber", "20", "standard", "2"), ("rotochamber", "24", "standard", "2"),
    ("rotochamber", "30", "standard", "2 1/4"), ("rotochamber", "36", "standard", "2 3/4"),
    ("rotochamber", "50", "standard", "3"),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "size", "stroke", "limit"), STROKES)
def test_stroke_by_chamber(kind: str, size: str, stroke: str, limit: str) -> None:
    rated = "3" if stroke == "long-3" else None
    subject = at(with_chamber(kind, size, long=stroke != "standard", rated=rated), 2, "left")
    met = found(subject, "pushrod-stroke-applied", limit, "in")["stroke"]
    assert met.level is Level.WATCH  # "must not be greater than": equal meets it, and is flagged
    beyond = found(subject, "pushrod-stroke-applied", exact(limit) + Fraction(1, 8), "in")["stroke"]
    assert beyond.level is Level.REPAIR
    assert beyond.source == "49 CFR 393.47(e)"
    assert beyond.margin is not None
    assert beyond.margin.value == Fraction(-1, 8)
    under = found(subject, "pushrod-stroke-applied", exact(limit) - Fraction(1, 4), "in")["stroke"]
    assert under.level is Level.WITHIN


def test_every_row_of_the_stroke_table_is_checked_above() -> None:
    rows = {(row.of, row.value) for row in shipped().tables["pushrod-stroke"].rows}
    assert rows == {((kind, size, stroke), exact(limit)) for kind, size, stroke, limit in STROKES}


def test_stroke_rows_tell_whether_they_were_read() -> None:
    subject = at(with_chamber("clamp", "30"), 2, "left")
    assert found(subject, "pushrod-stroke-applied", 1, "in")["stroke"].known == "read"
    subject = at(with_chamber("rotochamber", "50"), 2, "left")
    assert found(subject, "pushrod-stroke-applied", 1, "in")["stroke"].known == "memory"


def test_chamber_that_is_not_listed_has_eighty_percent_of_its_rated_stroke() -> None:
    """Appendix A to Part 396, 1.a(5)(b)."""
    subject = at(with_chamber("clamp", "27", rated="3"), 2, "left")
    assert found(subject, "pushrod-stroke-applied", "2.4", "in")["stroke"].level is Level.WATCH
    assert found(subject, "pushrod-stroke-applied", "2.5", "in")["stroke"].level is Level.REPAIR


def test_chamber_about_which_nothing_is_known_is_not_judged() -> None:
    assert found(at(with_chamber("clamp", "27"), 2, "left"), "pushrod-stroke-applied", 3, "in") == {}


def test_the_right_chamber_has_its_own_limit() -> None:
    from voice.route.vehicle import Chamber

    brake = Brake(kind="air-drum", chamber=Chamber(size="30"), right_chamber=Chamber(size="24"))
    vehicle = rig((steer(), axle(brake=brake)))
    assert found(at(vehicle, 2, "left"), "pushrod-stroke-applied", 2, "in")["stroke"].level is Level.WATCH
    assert found(at(vehicle, 2, "right"), "pushrod-stroke-applied", 2, "in")["stroke"].level is Level.REPAIR


def test_every_shipped_limit_is_checked_in_this_file() -> None:
    assert {limit.id for limit in shipped().limits} - {case.limit for case in PUBLISHED} == {"stroke"}


def test_steering_degrees_of_an_unlisted_wheel_agree_with_pi() -> None:
    """49 CFR 393.209(b)(2): 14 and 30 degrees, against math.pi."""
    import math

    for power, degrees in ((False, 14), (True, 30)):
        name = "steering-lash-power" if power else "steering-lash"
        finding = found(lash(power, "23"), "steering-lash", 0, "in")[name]
        assert finding.margin is not None
        assert float(finding.margin.value) == pytest.approx(math.pi * 23 * degrees / 360, rel=1e-6)


def test_geometry_of_the_ten_degree_rule() -> None:
    """The manual's 10 degrees and about 2 in at a 20-in wheel: by arithmetic 10 degrees are 1.75 in, 2 in 11.5."""
    import math

    assert round(math.pi * 20 * 10 / 360, 2) == 1.75
    assert round(2 / (math.pi * 20) * 360, 1) == 11.5
    assert round(math.pi * 20 * 14 / 360, 2) == 2.44
    assert round(math.pi * 20 * 30 / 360, 2) == 5.24


def test_limits_of_the_facts_do_not_leak() -> None:
    """A truck has no trailer valve, a hydraulic vehicle no air limits, a wheel of eight none for ten."""
    assert found(at(TRUCK), "supply-valve-pop", 50, "psi") == {}
    assert found(at(truck(brakes="hydraulic")), "low-air-warning", 10, "psi") == {}
    assert "fasteners-eight-halt" not in found(at(RIG, 2), "loose-fasteners", 5, "count")
    assert found(at(truck(kind="bus")), "rear-guard-height", 90, "in") == {}
    assert "build-up" not in found(at(truck(air_system="single")), "air-build-up", 90, "s")


def test_limits_state_how_the_exact_figure_counts() -> None:
    for limit in shipped().limits:
        assert isinstance(limit, Limit)
        assert limit.must in ("at-least", "more-than", "at-most", "less-than", "between")
