"""Each kind of inspection asks what it must, of each sample vehicle.

Sources: 49 CFR 396.11(a)(1), the eleven parts, read on reglogic.com; 49 CFR 392.9(b), the cargo on the way, read in a
copy of the eCFR; model commercial driver manual (American Association of Motor Vehicle Administrators),
section 6.4.1 coupling and 6.4.2 uncoupling, read in a state's edition of 2023; its list of what to check during a trip,
second-hand.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from typer.testing import CliRunner

from tests.route.vehicles import FIVE_AXLE, SCHOOL_BUS, TRACTOR, TRUCK, altered, library, sample
from tests.walk.talkative import SAMPLES, Talk, context, finish
from voice.author.check import check_files
from voice.cli import app
from voice.data.folders import prompts_dir
from voice.errors import DataError
from voice.route import load_library, make_plan
from voice.route.kinds import kinds_for
from voice.route.model import Plan
from voice.route.units import unit_of
from voice.walk.context import Context

KINDS = {
    FIVE_AXLE: ["pre-trip", "en-route", "post-trip", "after-repair", "drop", "hook", "brake-measurement"],
    TRACTOR: ["pre-trip", "en-route", "post-trip", "after-repair", "brake-measurement"],
    TRUCK: ["pre-trip", "en-route", "post-trip", "after-repair", "brake-measurement"],
    SCHOOL_BUS: ["pre-trip", "en-route", "post-trip", "after-repair", "brake-measurement"],
}
WALKED = [(name, kind) for name, kinds in KINDS.items() for kind in kinds]


def plan_of(name: str, kind: str) -> Plan:
    return make_plan(library(), sample(name), kind_id=kind)


def asked(plan: Plan) -> set[str]:
    return {step.item.id for step in plan.steps}


@pytest.mark.parametrize("name", KINDS)
def test_which_kinds_a_vehicle_has(name: str) -> None:
    assert [kind.id for kind in kinds_for(library(), sample(name))] == KINDS[name]


@pytest.mark.parametrize(("name", "kind"), WALKED)
def test_the_plan_says_which_kind_it_is_and_the_first_sentence_too(name: str, kind: str) -> None:
    plan = plan_of(name, kind)
    title = library().kinds[kind].title
    assert (plan.kind, plan.kind_title) == (kind, title)
    assert Plan.model_validate_json(plan.model_dump_json()) == plan
    base = context()
    talk = Talk(Context(plan, base.limits, base.talk, base.book, base.defects, base.cautions, ("Rosa Quill",)))
    assert talk.heard.startswith(f"{title}: {sample(name).name}. ")


@pytest.mark.parametrize(("name", "kind"), WALKED)
def test_what_the_walk_before_driving_asks_too_has_the_same_id(name: str, kind: str) -> None:
    """Else a defect that is found on the way would be another one than the one found in the morning."""
    items, known = ({step.item.id for step in p.steps} for p in (plan_of(name, kind), plan_of(name, "pre-trip")))
    ids = {step.id for step in plan_of(name, "pre-trip").steps}
    shared = [step.id for step in plan_of(name, kind).steps if step.item.id in items & known]
    assert set(shared) <= ids


REAR = dict.fromkeys((FIVE_AXLE, TRUCK, SCHOOL_BUS), "rear-lights")
STOP = dict.fromkeys((FIVE_AXLE, TRUCK, SCHOOL_BUS), "brake-lights")
DRUM = dict.fromkeys((FIVE_AXLE, TRACTOR, SCHOOL_BUS), "brake-drum")
# 49 CFR 396.11(a)(1)(i) to (xi), each with the items that ask it on a five-axle combination, a tractor alone, a truck
# and a school bus.
REPORT: list[tuple[str, str | dict[str, str]]] = [
    ("(i) service brakes", "brakes-today"),
    ("(i) hydraulic lines", {TRUCK: "brake-hose"}),
    ("(i) trailer brake connections", {FIVE_AXLE: "air-lines"}),
    ("(i) trailer brake connections", {FIVE_AXLE: "glad-hands"}),
    ("(i) the brakes at the wheels", DRUM | {TRUCK: "brake-disc"}),
    ("(ii) parking brake", "parking-brake-test"),
    ("(iii) steering mechanism", "steering-today"),
    ("(iv) lighting devices and reflectors, front", "headlights"),
    ("(iv) lighting devices and reflectors, side", "side-lights"),
    ("(iv) lighting devices and reflectors, rear", REAR | {TRACTOR: "tractor-rear-lights"}),
    ("(iv) stop lamps", STOP | {TRACTOR: "tractor-rear-lights"}),
    ("(v) tires, steered", "tire-condition"),
    ("(v) tires, duals", "dual-tires"),
    ("(vi) horn", "horn-electric"),
    ("(vii) windshield wipers", "wipers"),
    ("(viii) rear vision mirrors", "mirror-outside"),
    ("(ix) coupling devices", {FIVE_AXLE: "locking-jaws"}),
    ("(x) wheels and rims", "rim-lugs"),
    ("(xi) emergency equipment", "triangles"),
    ("(xi) emergency equipment", "fire-extinguisher"),
]  # fmt: skip


@pytest.mark.parametrize("name", KINDS)
def test_the_report_at_the_end_of_the_day_covers_the_eleven_parts(name: str) -> None:
    plan = plan_of(name, "post-trip")
    for part, item in REPORT:
        wanted = item if isinstance(item, str) else item.get(name)
        assert wanted is None or wanted in asked(plan), f"49 CFR 396.11(a)(1){part}"
    parts = {step.item.part for step in plan.steps}
    assert len(parts - {"other"}) == (11 if name in (FIVE_AXLE, TRACTOR) else 10), "all, but for coupling on one unit"
    wheels = {(step.place.side, step.place.axle) for step in plan.steps if step.item.id == "rim-lugs"}
    assert len(wheels) == 2 * len(sample(name).axles)


CARGO = {
    "van": "rear-doors",
    "reefer": "rear-doors",
    "flatbed": "tie-downs",
    "container": "tie-downs",
    "tank": "tank-valves",
}


@pytest.mark.parametrize("body", CARGO)
def test_the_check_on_the_way_asks_of_the_cargo_and_of_what_holds_it(body: str) -> None:
    """49 CFR 392.9(b)(2) and (3): the cargo, and the devices used to secure it; (b)(4): not what is sealed."""
    trailer = {"body": body, "tandem": "sliding", "length_ft": 53}
    plan = make_plan(library(), altered(FIVE_AXLE, trailer=trailer), kind_id="en-route")
    assert CARGO[body] in asked(plan)
    if body != "tank":
        cargo = next(step for step in plan.steps if step.item.id in ("cargo-securement", "cargo-load"))
        assert "sealed" in cargo.say.full
    purpose = library().kinds["en-route"].purpose
    assert all(
        word in purpose for word in ("first 50 miles", "change of duty status", "3 hours", "150 miles", "sealed")
    )


def test_the_check_on_the_way_looks_at_what_the_manual_lists() -> None:
    """Tires, wheels and rims; brakes; lights; brake and electrical connections; coupling; what holds the cargo."""
    plan = plan_of(FIVE_AXLE, "en-route")
    assert {
        "tire-condition", "dual-tires", "rim-lugs", "wheel-heat", "rear-lights", "air-lines", "electric-line",
        "locking-jaws", "release-arm", "cargo-load",
    } <= asked(plan)  # fmt: skip
    assert len(plan.steps) < len(plan_of(FIVE_AXLE, "pre-trip").steps) / 4
    assert not {step.item.answer.kind for step in plan.steps} & {"reading", "hold", "climb", "call"}, (
        "no gauge on the way"
    )


def test_the_drop_is_asked_in_the_order_of_uncoupling() -> None:
    """6.4.2: position, brakes and chocks, landing gear down, lines, release, partly clear, supports, clear."""
    steps = [step.id for step in plan_of(FIVE_AXLE, "drop").steps]
    assert steps == [
        "drop-place", "trailer-secured", "lines-stowed", "fifth-wheel-released", "landing-gear-down",
        "fifth-wheel-clear",
    ]  # fmt: skip


def test_the_hook_walks_the_trailer_alone_with_the_coupling_and_all_brake_checks() -> None:
    plan, whole = plan_of(FIVE_AXLE, "hook"), plan_of(FIVE_AXLE, "pre-trip")
    trailer = [number for number, axle in enumerate(sample(FIVE_AXLE).axles, 1) if axle.unit == "trailer"]
    assert {step.place.axle for step in plan.steps if step.place.axle is not None} == set(trailer)
    assert {s.id for s in whole.steps if s.place.unit == "trailer" or s.place.axle in trailer} <= {
        s.id for s in plan.steps
    }
    checks = [step.id for step in whole.steps if step.section == "brake-checks"]
    assert [step.id for step in plan.steps if step.section == "brake-checks"] == checks
    assert not asked(plan) & {"oil-level", "wipers", "horn-electric", "headlights", "steering-box"}
    # 6.4.1: fifth wheel and kingpin before; air lines; the pull; the coupling; electrical cord; landing gear.
    order = [step.item.id for step in plan.steps]
    manual = [
        "fifth-wheel-mount", "kingpin-apron", "hook-chocks", "trailer-brakes-heard", "coupling-tug", "coupling-gap",
        "electric-line", "landing-gear",
    ]  # fmt: skip
    assert sorted(manual, key=order.index) == manual


# Asked only on the way, at the end of the day, and when a trailer is dropped or hooked: whose each item is.
OWN = {
    "tractor": [
        "brakes-today", "steering-today", "coupling-tug", "lines-stowed", "fifth-wheel-released", "fifth-wheel-clear",
    ],
    "trailer": ["hook-chocks", "trailer-brakes-heard", "drop-place", "trailer-secured", "landing-gear-down"],
    "axle": ["wheel-heat", "pushrod-stroke", "lining-thickness"],
}  # fmt: skip


@pytest.mark.parametrize("body", CARGO)
@pytest.mark.parametrize("kind", KINDS[FIVE_AXLE])
def test_a_part_is_of_the_same_unit_whatever_the_inspection(kind: str, body: str) -> None:
    """Else what is found on the trailer at the end of the day would be kept of the tractor, and stay with it."""
    vehicle = altered(FIVE_AXLE, trailer={"body": body, "tandem": "sliding", "length_ft": 53})
    own = {item: unit for unit, items in OWN.items() for item in items}
    standard = {step.id: unit_of(vehicle, step.place) for step in make_plan(library(), vehicle).steps}
    for step in make_plan(library(), vehicle, kind_id=kind).steps:
        unit = unit_of(vehicle, step.place)
        if step.id in standard:
            assert unit == standard[step.id], step.id
        elif own[step.item.id] == "axle":
            assert step.place.axle is not None
            assert unit.unit == vehicle.axles[step.place.axle - 1].unit, step.id
        else:
            assert unit.unit == own[step.item.id], step.id


def test_the_lights_and_the_cargo_at_the_rear_are_the_trailers() -> None:
    """By name, so that it does not rest on the standard route alone."""
    vehicle = sample(FIVE_AXLE)
    for kind, items in (
        ("en-route", ("rear-lights", "rear-turn", "rear-doors", "cargo-load")),
        ("post-trip", ("rear-lights", "rear-turn", "brake-lights", "plate-lamp", "glad-hands", "landing-gear")),
        ("hook", ("rear-lights", "rear-doors", "cargo-load", "kingpin-apron")),
    ):
        of = {step.item.id: unit_of(vehicle, step.place).unit for step in plan_of(FIVE_AXLE, kind).steps}
        assert {of[item] for item in items} == {"trailer"}, kind


@pytest.mark.parametrize("kind", ["en-route", "post-trip", "brake-measurement"])
def test_a_tractor_alone_is_asked_of_the_tractor_what_a_combination_is(kind: str) -> None:
    alone, whole, vehicle = plan_of(TRACTOR, kind), plan_of(FIVE_AXLE, kind), sample(FIVE_AXLE)
    ids = {step.id for step in alone.steps}
    assert not [step.id for step in alone.steps if step.place.unit == "trailer"]
    coupled = {"locking-jaws", "coupling-gap"}
    of_tractor = {step.id for step in whole.steps if unit_of(vehicle, step.place).unit == "tractor"} - coupled
    assert of_tractor <= ids
    assert ids - of_tractor <= {"tractor-rear-lights"}, "nothing else is at its rear"
    assert kind == "brake-measurement" or "tractor-rear-lights" in ids
    assert kind != "post-trip" or {"side-lights@tractor-left", "side-lights@tractor-right"} <= ids


def test_a_kind_that_a_vehicle_has_not_is_one_sentence() -> None:
    with pytest.raises(DataError, match=r'truck seven has no inspection "hook"\.'):
        plan_of(TRUCK, "hook")
    with pytest.raises(DataError, match='there is no kind of inspection "moon"'):
        plan_of(TRUCK, "moon")


def test_a_route_that_is_named_alone_is_the_kind_that_takes_it_else_pre_trip(tmp_path: Path) -> None:
    assert make_plan(library(), sample(TRUCK), "post-trip").kind == "post-trip"
    own = tmp_path / "routes" / "own.yaml"
    own.parent.mkdir()
    own.write_text(
        "id: own\ntitle: Own\ncall: [own]\nfits: [bus]\nstandard: false\n"
        "sections:\n  - {id: one, title: Front, entries: [chocks]}\n"
    )
    assert make_plan(load_library(tmp_path), sample(SCHOOL_BUS), "own").kind == "pre-trip"


@pytest.mark.parametrize("kind", SAMPLES)
def test_every_kind_can_be_walked_to_its_end(kind: str) -> None:
    for each in ("en-route", "post-trip", *(("drop", "hook") if kind == "tractor-semitrailer" else ())):
        plan, base = plan_of(SAMPLES[kind], each), context()
        known = Context(plan, base.limits, base.talk, base.book, base.defects, base.cautions, ("Rosa Quill",))
        talk = finish(Talk(known, depth="by-place"))
        assert set(talk.state.answers) == {step.id for step in plan.steps}


def test_what_can_be_said_to_an_item_that_only_another_kind_asks_is_shown(tmp_path: Path) -> None:
    call = ["routes", "say", "too hot", "--item", "wheel-heat", "--vehicle", TRUCK, "--home", str(tmp_path)]
    said = CliRunner().invoke(app, call)
    assert (said.exit_code, "wheel-heat@left-1" in said.stdout) == (0, True), said.output
    listed = CliRunner().invoke(app, ["routes", "list", "--home", str(tmp_path)]).stdout
    assert all(kind in listed for kind in KINDS[FIVE_AXLE])


HOOK = "routes: {tractor-semitrailer: hook}"


@pytest.mark.parametrize(
    ("before", "after", "fault"),
    [
        (HOOK, "routes: {tractor-semitrailer: moon}", r'kinds.yaml:\d+: .*no route "moon"'),
        (HOOK, "routes: {bus: hook}", r"does not fit a bus"),
        (HOOK, "routes: {bus: bus}", r"is a standard route"),
        (
            "call: [take a trailer, connect the trailer, pick up a trailer, hook a trailer, hook]",
            "call: [drop]",
            r'the kind "drop" is called "drop" too',
        ),
        (HOOK, "routes: {tractor-semitrailer: drop}", r'takes the route "drop" too'),
        ("known: second-hand", "known: heard", r'kinds.yaml:\d+: en-route.known: "heard" is not known'),
    ],
)  # fmt: skip
def test_mistakes_in_ones_own_kinds_are_told_with_their_line(
    tmp_path: Path, before: str, after: str, fault: str
) -> None:
    text = (prompts_dir() / "kinds.yaml").read_text(encoding="utf-8")
    assert before in text
    own = tmp_path / "kinds.yaml"
    own.write_text(text.replace(before, after, 1), encoding="utf-8")
    found = [str(each) for each in check_files([own])]
    assert any(re.search(fault, each) for each in found), found
