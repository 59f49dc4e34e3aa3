"""A tractor and a trailer are vehicles of their own, and what is walked is put together from them."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from tests.route.vehicles import FIVE_AXLE, SCHOOL_BUS, TRACTOR, TRAILERS, TRUCK, library, sample, vehicles
from voice.author.check import check_vehicle
from voice.author.uncouple import uncouple
from voice.data.fields import MAX_ID
from voice.errors import DataError, SetupError
from voice.route import load_vehicle, make_plan, vehicle_files
from voice.route.model import Place
from voice.route.units import combine, in_unit, named_vehicle, on_vehicle, split, unit_of, units_of
from voice.route.vehicle import Vehicle


def coupled(trailer: str = TRAILERS[0]) -> Vehicle:
    return combine(sample(TRACTOR), sample(trailer))


def test_a_combination_is_walked_as_its_old_profile_in_one_is() -> None:
    old, new = make_plan(library(), sample(FIVE_AXLE)), make_plan(library(), coupled())
    assert [(step.id, step.say.full) for step in new.steps] == [(step.id, step.say.full) for step in old.steps]
    assert new.vehicle.name == old.vehicle.name
    assert new.vehicle.trailer == old.vehicle.trailer


def test_its_units_are_told_with_their_axles() -> None:
    told = [(unit.id, unit.name, unit.first_axle, unit.axles) for unit in units_of(coupled())]
    assert told == [(TRACTOR, "tractor twelve", 1, 3), (TRAILERS[0], "trailer forty", 4, 2)]
    ids = [(unit.id, unit.first_axle) for unit in units_of(sample(FIVE_AXLE))]
    assert ids == [(f"{FIVE_AXLE}-tractor", 1), (f"{FIVE_AXLE}-trailer", 4)]
    for alone in (TRUCK, SCHOOL_BUS, TRACTOR, TRAILERS[0]):
        assert [unit.id for unit in units_of(sample(alone))] == [alone]


@given(vehicles())
@settings(max_examples=40, deadline=None)
def test_split_and_put_together_again_it_is_the_same(whole: Vehicle) -> None:
    parts = split(whole)
    assert [part.id for part in parts] == [unit.id for unit in units_of(whole)]
    if len(parts) == 1:
        assert parts == (whole,)
        return
    again = combine(parts[0], parts[1])
    own = {"id": whole.id, "name": whole.name, "units": ()}
    assert again.model_copy(update=own) == whole
    for part in parts:
        assert Vehicle.model_validate(part.model_dump()) == part


@given(vehicles(), st.data())
@settings(max_examples=25, deadline=None)
def test_every_step_is_at_one_unit_and_is_found_again(whole: Vehicle, data: st.DataObject) -> None:
    plan = make_plan(library(), whole)
    step = data.draw(st.sampled_from(plan.steps))
    for key in (step.id, f"{step.id}#worn-out"):
        unit, own = in_unit(whole, key, step.place)
        assert on_vehicle(whole, unit, own) == key
        assert unit == unit_of(whole, step.place).id
        if step.place.axle is not None:
            assert unit == in_unit(whole, key)[0]
            axle = whole.axles[step.place.axle - 1]
            assert unit.endswith(axle.unit) or whole.kind != "tractor-semitrailer"


def test_the_trailers_first_axle_is_its_own_behind_any_tractor() -> None:
    key = "tire-tread@left-4-outer#worn"
    assert in_unit(coupled(), key) == (TRAILERS[0], "tire-tread@left-1-outer#worn")
    assert in_unit(coupled(), "glad-hands#loose", Place(unit="trailer")) == (TRAILERS[0], "glad-hands#loose")
    assert in_unit(coupled(), "side-lights@trailer-left") == (TRAILERS[0], "side-lights@trailer-left")
    assert in_unit(coupled(), "horn-air") == (TRACTOR, "horn-air")
    with pytest.raises(KeyError):
        on_vehicle(coupled(), "another", key)


def test_a_tractor_alone_is_asked_nothing_of_a_trailer() -> None:
    alone = make_plan(library(), sample(TRACTOR))
    ids = {step.id for step in alone.steps}
    assert ids < {step.id for step in make_plan(library(), coupled()).steps}
    assert not [step.id for step in alone.steps if step.place.unit == "trailer"]
    assert not {step.item.id for step in alone.steps} & {"locking-jaws", "coupling-gap", "kingpin-apron", "glad-hands"}
    assert {"fifth-wheel-plate", "air-leak-static", "tractor-rear-lights"} <= ids


def test_two_are_named_together(tmp_path: Path) -> None:
    for name in (f"{TRACTOR}+{TRAILERS[1]}", f"Tractor twelve + {TRAILERS[1]}", "trailer fifty one+tractor twelve"):
        assert named_vehicle(None, name) == coupled(TRAILERS[1])
    for name, words in (
        ("a+b+c", "no combination"),
        (f"{TRACTOR}+", "no combination"),
        (f"{TRACTOR}+x", 'vehicle "x"'),
    ):
        with pytest.raises(SetupError, match=words):
            named_vehicle(tmp_path, name)
    with pytest.raises(DataError, match="are not a tractor and a trailer"):
        named_vehicle(None, f"{TRACTOR}+{TRUCK}")
    with pytest.raises(DataError, match="walked with its tractor"):
        make_plan(library(), sample(TRAILERS[0]))


def test_long_ids_make_one_that_is_not_too_long_and_is_theirs_alone() -> None:
    ids = [
        combine(
            sample(TRACTOR).model_copy(update={"id": "t" * 64}), sample(TRAILERS[0]).model_copy(update={"id": other})
        ).id
        for other in ("a" * 64, "a" * 63, "b")
    ]
    assert len(set(ids)) == 3
    assert all(len(id) == MAX_ID for id in ids)


def test_what_cannot_be_coupled_is_refused() -> None:
    tractor, trailer = sample(TRACTOR), sample(TRAILERS[0])
    for one, other, words in (
        (tractor, tractor, "not a tractor and a trailer"),
        (tractor, trailer.model_copy(update={"brakes": "hydraulic"}), "has air brakes"),
        (tractor.model_copy(update={"axles": tractor.axles * 7}), trailer, "more than 20 axles"),
    ):
        with pytest.raises(DataError, match=words):
            combine(one, other)


WRONG = [
    (TRAILERS[0], "kind: trailer", "kind: trailer\nsleeper: true", "sleeper", "belongs to the tractor"),
    (TRAILERS[0], "trailer: {body: van,", "trailer: {plate: X, body: van,", "plate", "written as plate"),
    (TRAILERS[0], "trailer: {body: van, tandem: sliding, length_ft: 53, built: 2018}\n", "", "", "says what it is"),
    (TRAILERS[0], "kind: trailer", "kind: trailer\nfifth_wheel: {}", "fifth_wheel", "has no fifth_wheel"),
    (TRAILERS[0], "length_ft: 53", "length_ft: 530", "length_ft", "from 5 to 100"),
    (TRACTOR, "fifth_wheel: {slide: sliding}\n", "", "", "has a fifth_wheel"),
    (TRACTOR, "kind: tractor", "kind: tractor\ntrailer: {body: van}", "trailer:", "a profile of its own"),
    (TRACTOR, "kind: tractor", "kind: tractor\nunits: [{id: a, unit: tractor, name: a, first_axle: 1, axles: 1}]",
     "units", "not written in a profile"),
]  # fmt: skip


@pytest.mark.parametrize(("name", "old", "new", "key", "words"), WRONG)
def test_a_mistake_in_a_units_profile_is_told_with_its_line(
    tmp_path: Path, name: str, old: str, new: str, key: str, words: str
) -> None:
    text = vehicle_files()[name].read_text(encoding="utf-8")
    assert text.count(old) == 1
    file = tmp_path / "x.yaml"
    file.write_text(text.replace(old, new), encoding="utf-8")
    (mistake,) = check_vehicle(file)
    assert words in str(mistake)
    if key:
        assert mistake.line is not None
        assert key in file.read_text(encoding="utf-8").splitlines()[mistake.line - 1]


def test_an_older_profile_is_made_into_one_for_each(tmp_path: Path) -> None:
    old = tmp_path / f"{FIVE_AXLE}.yaml"
    shutil.copy(vehicle_files()[FIVE_AXLE], old)
    whole = load_vehicle(old)
    one, other, kept = uncouple(old, {"trailer": "van four zero"})
    assert not old.exists()
    assert kept.read_bytes() == vehicle_files()[FIVE_AXLE].read_bytes()
    tractor, trailer = load_vehicle(one), load_vehicle(other)
    assert (tractor.id, tractor.name) == (f"{FIVE_AXLE}-tractor", "tractor twelve")
    assert (trailer.id, trailer.name) == (f"{FIVE_AXLE}-trailer", "van four zero")
    assert combine(tractor, trailer).model_copy(update={"id": whole.id, "name": whole.name, "units": ()}) == whole
    assert [unit.id for unit in units_of(whole)] == [tractor.id, trailer.id], "so their history goes on"
    assert "diameter of the steering wheel" in one.read_text(encoding="utf-8"), "remarks stay"
    shutil.copy(kept, old)
    with pytest.raises(SetupError, match="there already"):
        uncouple(old, {})
    with pytest.raises(SetupError, match="one vehicle"):
        uncouple(one, {})


def test_units_that_do_not_fit_are_no_vehicle() -> None:
    """As a record that was made up might have them."""
    whole = coupled().model_dump()
    first, second = whole["units"]
    for wrong in (
        [first],
        [second, first],
        [first, {**second, "first_axle": 3}],
        [first, {**second, "axles": 1}],
        [first, {**second, "id": first["id"]}],
        [first, second, second],
    ):
        with pytest.raises(ValidationError, match="do not fit the axles"):
            Vehicle.model_validate({**whole, "units": wrong})
    assert Vehicle.model_validate(whole) == coupled()
    for lame in ({"trailer": None}, {"axles": whole["axles"][:3]}):
        known = sample(FIVE_AXLE).model_dump()
        assert len(units_of(Vehicle.model_validate({**known, **lame}))) == 1
