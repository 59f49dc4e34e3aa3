"""Expansion: total, unique, ordered, and filled in, for any vehicle a profile can describe."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings

from tests.route.vehicles import FIVE_AXLE, SCHOOL_BUS, TRUCK, altered, library, sample, vehicles, with_axle
from voice.author.audit_item import quantities
from voice.data.folders import prompts_dir
from voice.errors import DataError
from voice.judge.cargo import LENGTH, LIMIT, NUMBER, WEIGHT
from voice.judge.load import load_limits
from voice.route import expand, fitting_routes, load_library, make_plan
from voice.route.expand import axle_order
from voice.route.facts import FACTS, VALUES, facts
from voice.route.model import Item, Place, Plan
from voice.route.vehicle import Vehicle
from voice.route.vehicles import faults


def ids(plan: Plan) -> set[str]:
    return {step.id for step in plan.steps}


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(vehicles())
def test_any_vehicle_gets_a_whole_plan(vehicle: Vehicle) -> None:
    assert list(faults(vehicle)) == []
    for route in fitting_routes(library(), vehicle):
        plan = expand(library(), route, vehicle)
        steps = plan.steps
        assert steps
        assert max(Counter(step.id for step in steps).values()) == 1
        assert max(Counter(step.name for step in steps).values()) == 1
        assert {step.section for step in steps} == {section.id for section in plan.sections}
        for step in steps:
            for text in (step.say.terse, step.say.normal, step.say.full, step.name):
                assert text == text.strip() != ""
                assert "{" not in text
                assert "  " not in text
            assert step.say.normal[0] == step.say.normal[0].upper()
            if step.spoken_place:
                assert step.spoken_place.lower() in step.say.normal.lower()
        for side, descending in (("left", False), ("right", True)):
            axles = [step.place.axle for step in steps if step.place.side == side and step.place.axle is not None]
            if axles:
                assert axles == sorted(axles, reverse=descending)
                trailer = {n for n, axle in enumerate(vehicle.axles, 1) if axle.unit == "trailer"}
                assert set(axles) == (trailer if route.id == "hook" else set(range(1, len(vehicle.axles) + 1)))


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(vehicles())
def test_what_is_asked_at_the_wheels_is_what_is_there(vehicle: Vehicle) -> None:
    """Counted from the profile alone, without the project's own expansion."""
    found = Counter(step.item.id for step in make_plan(library(), vehicle).steps)
    axles = vehicle.axles
    tires = sum(4 if axle.dual else 2 for axle in axles)
    air = [axle for axle in axles if axle.brake.kind.startswith("air")]
    assert found["tire-tread"] == found["tire-pressure"] == tires
    assert found["dual-tires"] == 2 * sum(axle.dual for axle in axles)
    assert found["tire-condition"] == 2 * sum(not axle.dual for axle in axles)
    assert found["rim-lugs"] == found["hub-seal"] == 2 * len(axles)
    assert found["springs"] == 2 * sum(axle.suspension == "leaf" for axle in axles)
    assert found["air-bags"] == 2 * sum(axle.suspension == "air" for axle in axles)
    assert found["coil-springs"] == 2 * sum(axle.suspension == "coil" for axle in axles)
    assert found["torsion-beam"] == 2 * sum(axle.suspension in ("torsion", "walking-beam") for axle in axles)
    assert found["shocks"] == 2 * sum(axle.shocks for axle in axles)
    assert found["torque-arms"] == 2 * sum(axle.torque_arms for axle in axles)
    assert found["brake-chamber"] == 2 * len(air)
    assert found["brake-hose"] == 2 * (len(axles) - len(air))
    assert found["brake-drum"] == 2 * sum(axle.brake.kind.endswith("drum") for axle in axles)
    assert found["brake-disc"] == 2 * sum(axle.brake.kind.endswith("disc") for axle in axles)
    assert found["pushrod-free-play"] == 2 * sum(axle.brake.slack == "manual" for axle in axles)
    assert found["tandem-slider"] == (2 if vehicle.trailer and vehicle.trailer.tandem == "sliding" else 0)
    assert found["supply-valve-pop"] == (1 if vehicle.trailer and vehicle.brakes == "air" else 0)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(vehicles())
def test_facts_keep_to_their_published_values(vehicle: Vehicle) -> None:
    places = [Place(), *(Place(side="left", axle=number + 1) for number in range(len(vehicle.axles)))]
    for place in places:
        for name, value in facts(vehicle, place).items():
            assert value in VALUES[name]
    assert set(facts(vehicle, places[-1])) == set(FACTS) == set(VALUES)


@settings(max_examples=25, deadline=None)
@given(vehicles())
def test_a_plan_survives_being_written_and_read(vehicle: Vehicle) -> None:
    """The plan is kept beside the journal; a resumed walk must find exactly the same steps."""
    plan = make_plan(library(), vehicle)
    assert Plan.model_validate_json(plan.model_dump_json()) == plan


def test_ids_are_stable_and_readable() -> None:
    """Records and the logbook follow a defect over time by these."""
    assert {
        "oil-level", "tire-tread@left-1", "tire-tread@left-3-outer", "tire-pressure@right-5-inner",
        "mirror-outside@left", "springs@right-4", "brake-chamber@left-2", "side-lights@tractor-left",
        "side-lights@trailer-left", "splash-guard@trailer-right",
        "tandem-slider@left", "landing-gear", "air-leak-applied",
    } <= ids(make_plan(library(), sample(FIVE_AXLE)))  # fmt: skip
    assert {"tire-tread@right-2-inner", "side-lights@left", "splash-guard@right"} <= ids(
        make_plan(library(), sample(TRUCK))
    )


def test_an_id_does_not_depend_on_what_else_the_vehicle_has() -> None:
    """The same place has the same id on every vehicle of the kind that has it."""
    long = ids(make_plan(library(), sample(FIVE_AXLE)))
    plain = ids(
        make_plan(
            library(),
            altered(
                FIVE_AXLE,
                fifth_wheel={},
                trailer={"body": "tank", "tandem": "fixed", "length_ft": 28},
                sleeper=False,
                abs_built=None,
                steering={"power": False},
            ),
        )
    )
    assert plain - long == {"tank-valves"}
    assert len(plain & long) > 200


def test_places_are_spoken_as_a_driver_says_them() -> None:
    steps = {step.id: step for step in make_plan(library(), sample(FIVE_AXLE)).steps}
    tread = steps["tire-tread@left-3-outer"]
    assert tread.spoken_place == "left side, axle three, outer tire"
    assert tread.name == "left axle three outer tread"
    assert tread.say.normal == "Tread depth, left side, axle three, outer tire?"
    assert tread.say.terse == "Left axle three outer tread?"
    assert steps["tire-tread@left-1"].name == "left steer tread"
    assert steps["side-lights@trailer-right"].name == "right trailer side lights"
    assert steps["oil-level"].name == "oil"
    assert steps["oil-level"].spoken_place == ""
    assert steps["landing-gear"].place.side is None


def test_two_steer_axles_are_told_apart_by_number() -> None:
    vehicle = with_axle(FIVE_AXLE, 2, role="steer", dual=False)
    names = {step.name for step in make_plan(library(), vehicle).steps}
    assert {"left axle one tread", "left axle two tread"} <= names
    assert not any("steer" in name.split() and "tread" in name for name in names)


@pytest.mark.parametrize("name", [FIVE_AXLE, TRUCK, SCHOOL_BUS])
def test_the_standard_route_is_picked_and_another_on_request(name: str) -> None:
    vehicle = sample(name)
    assert make_plan(library(), vehicle).route == vehicle.kind
    stroke = make_plan(library(), vehicle, "brake-measurement")
    measured = {step.item.id for step in stroke.steps}
    assert "lining-thickness" in measured
    assert ("pushrod-stroke" in measured) == (vehicle.brakes == "air")
    assert fitting_routes(library(), vehicle)[0].standard


def test_a_route_that_does_not_fit_or_exist_is_refused() -> None:
    with pytest.raises(DataError, match="does not fit"):
        make_plan(library(), sample(TRUCK), "bus")
    with pytest.raises(DataError, match="no route"):
        make_plan(library(), sample(TRUCK), "moon")


def test_axles_can_be_asked_of_one_unit_only() -> None:
    vehicle = sample(FIVE_AXLE)
    assert axle_order(vehicle, ("steer", "drive", "trailer"), "tractor", "left") == [1, 2, 3]
    assert axle_order(vehicle, ("steer", "drive", "trailer"), "trailer", "right") == [5, 4]
    assert axle_order(vehicle, ("drive", "trailer"), None, None) == [2, 3, 4, 5]


def test_limits_of_the_rules_that_decide_what_is_asked() -> None:
    """49 CFR 393.11, Table 1: intermediate side lamps from 30 ft. 49 CFR 393.55(d)(2): in-cab lamp from 2001 on."""
    for feet, wanted in ((29, False), (30, True), (53, True)):
        plan = make_plan(library(), altered(FIVE_AXLE, trailer={"body": "van", "length_ft": feet}))
        assert ("middle-marker@left" in ids(plan)) == wanted
    for year, wanted in ((2000, False), (2001, True)):
        assert ("abs-trailer-light-cab" in ids(make_plan(library(), altered(FIVE_AXLE, abs_built=year)))) == wanted


def test_a_section_without_a_step_is_left_out(tmp_path: Path) -> None:
    (tmp_path / "routes").mkdir()
    (tmp_path / "routes" / "own.yaml").write_text(
        "id: own\ntitle: Own\ncall: [own]\nfits: [bus]\nstandard: false\nsections:\n"
        "  - {id: first, title: First, entries: [lean]}\n  - {id: second, title: Second, entries: [placards]}\n",
        encoding="utf-8",
    )
    plan = make_plan(load_library(tmp_path), sample(SCHOOL_BUS), "own")
    assert [section.id for section in plan.sections] == ["first"]


def test_the_engine_of_a_bus_is_met_where_it_is() -> None:
    plan = make_plan(library(), altered(SCHOOL_BUS, bus="coach"))
    engine = [step.section for step in plan.steps if step.item.id == "oil-level"]
    assert engine == ["rear"]  # in a coach the engine is at the rear, in a school bus in front
    front = [step.section for step in make_plan(library(), sample(SCHOOL_BUS)).steps if step.item.id == "oil-level"]
    assert front == ["engine"]


def test_an_unknown_fact_names_the_file_and_line(tmp_path: Path) -> None:
    (tmp_path / "items").mkdir()
    file = tmp_path / "items" / "own.yaml"
    file.write_text(
        "hoses:\n  title: Hoses\n  call: [hoses]\n  part: other\n  when:\n    hose: true\n"
        "  say: {terse: Hoses, normal: Hoses, full: Hoses}\n  defects: [leaking]\n",
        encoding="utf-8",
    )
    with pytest.raises(DataError, match=r"own\.yaml:6: .*no fact \"hose\""):
        make_plan(load_library(tmp_path), sample(FIVE_AXLE))


def test_an_overlay_folder_changes_the_plan(tmp_path: Path) -> None:
    assert load_library(tmp_path / "absent").sha256 == library().sha256
    (tmp_path / "routes").mkdir()
    text = (prompts_dir() / "routes" / "bus.yaml").read_text(encoding="utf-8")
    (tmp_path / "routes" / "own.yaml").write_text(text.replace("      - student-lights\n", ""), encoding="utf-8")
    changed = make_plan(load_library(tmp_path), sample(SCHOOL_BUS))
    plain = make_plan(library(), sample(SCHOOL_BUS))
    assert ids(plain) - ids(changed) == {"student-lights"}
    assert changed.data_sha256 != plain.data_sha256


def test_every_item_has_what_a_walk_and_a_student_need() -> None:
    """Two to five key points each: a project rule, so that a recital can be scored."""
    for item in library().items.values():
        assert isinstance(item, Item)
        assert item.title
        assert item.say.full.endswith((".", "?"))
        assert 1 <= len(item.points) <= 5


def test_okay_is_the_answer_when_nothing_is_wrong() -> None:
    """A prompt like "Any leaks?" would make "no" the good answer; that must not happen. Things to do end in "Done?"."""
    turned = {"Any", "Is", "Are", "Does", "Do", "Did", "Can", "No", "How"}
    for item in library().items.values():
        for text in (item.say.terse, item.say.normal):
            if item.answer.kind == "condition":
                assert text.split()[0] not in turned, item.id
            if item.answer.kind == "done":
                assert text.endswith("Done?"), item.id


def test_what_is_measured_can_be_judged() -> None:
    """Every quantity a driver is asked for has a limit in the shipped set, and every item names its limits.

    A load's four figures are judged together (voice/judge/cargo.py).
    """
    limits = load_limits()
    for item in library().items.values():
        asked = set(quantities(item)) - {LENGTH, WEIGHT, NUMBER, LIMIT}
        wanted = {limit.id for quantity in asked for limit in limits.of_quantity(quantity)}
        assert all(limits.of_quantity(quantity) for quantity in asked), item.id
        assert set(item.limits) == wanted, item.id


def test_rules_for_defects_speak_of_items_and_defects_that_exist() -> None:
    known = library()
    for rule in load_limits().criteria:
        assert set(rule.defects) <= set(known.defects), rule.id


def test_a_fleet_may_name_the_axles_in_its_own_way(tmp_path: Path) -> None:
    shipped = (prompts_dir() / "places.yaml").read_text(encoding="utf-8")
    own = ", ".join(f"number {n}" for n in range(1, 21))
    (tmp_path / "places.yaml").write_text(f"{shipped}numbers: [{own}]\n", encoding="utf-8")
    plan = make_plan(load_library(tmp_path), sample(FIVE_AXLE))
    assert any("axle number 3" in step.spoken_place for step in plan.steps)
