"""From the shipped routes to what is recited: every item once for each kind of axle, with the right figures."""

from fractions import Fraction
from pathlib import Path

import pytest

from voice.data.folders import prompts_dir
from voice.errors import DataError
from voice.judge import load_limits
from voice.rehearse.listen.part import Range, Syllabus
from voice.rehearse.listen.score import Scheme
from voice.rehearse.listen.syllabus import PointsFile, make_syllabus
from voice.route import load_library, load_vehicle, make_plan
from voice.route.model import Plan

LIBRARY, LIMITS = load_library(), load_limits()


def plan(name: str) -> Plan:
    return make_plan(LIBRARY, load_vehicle(prompts_dir() / "vehicles" / f"{name}.yaml"))


TRACTOR = make_syllabus(plan("tractor-trailer-five-axle"), LIMITS)


def test_each_item_once_for_each_role_in_walking_order() -> None:
    keys = [part.key for part in TRACTOR.parts]
    assert len(keys) == len(set(keys))
    assert [key for key in keys if key.startswith("tire-tread")] == [
        "tire-tread/steer", "tire-tread/drive", "tire-tread/trailer"
    ]  # fmt: skip
    assert "horn-electric" in keys
    order = [section.id for section in plan("tractor-trailer-five-axle").sections]
    sections = [order.index(part.section) for part in TRACTOR.parts]
    assert sections == sorted(sections)


def test_every_item_of_the_plan_with_points_is_recited() -> None:
    made = plan("tractor-trailer-five-axle")
    assert {step.item.id for step in made.steps if step.item.points} == {part.item for part in TRACTOR.parts}


@pytest.mark.parametrize(
    ("key", "point", "right", "wrong", "unit"),
    [
        # 49 CFR 393.75(b) and (c)
        ("tire-tread/steer", "steer-depth", "4/32", "2/32", "in"),
        ("tire-tread/drive", "other-depth", "2/32", "4/32", "in"),
        ("tire-tread/trailer", "other-depth", "2/32", "4/32", "in"),
        # model manual of commercial driver's licenses, 11.1.1, 11.1.2, 5.3.3
        ("belt-play", "play", "3/4", "1", "in"),
        ("governor-cut-out", "range", "120", "100", "psi"),
        ("governor-cut-out", "range", "140", "150", "psi"),
        ("air-leak-static", "combination", "3", "2", "psi"),
        ("air-leak-applied", "combination", "4", "3", "psi"),
        ("low-air-warning", "pressure", "55", "40", "psi"),
        ("parking-valve-pop", "pressure", "40", "60", "psi"),
        ("air-build-up", "time", "45", "60", "s"),
    ],
)
def test_figures(key: str, point: str, right: str, wrong: str, unit: str) -> None:
    wanted = TRACTOR.part(key).point(point).wanted
    assert any(r.unit == unit and r.holds(Fraction(right)) for r in wanted)
    assert not any(r.unit == unit and r.holds(Fraction(wrong)) for r in wanted)


def test_a_figure_that_does_not_apply_is_left_out() -> None:
    """A single vehicle may lose 2 psi a minute, a combination 3; steer tires need 4/32, others 2/32."""
    truck = make_syllabus(plan("straight-truck-two-axle"), LIMITS)

    def points(syllabus: Syllabus, key: str) -> set[str]:
        return {point.id for point in syllabus.part(key).points}

    assert points(TRACTOR, "air-leak-static") >= {"combination"}
    assert "single" not in points(TRACTOR, "air-leak-static")
    assert "steer-depth" not in points(TRACTOR, "tire-tread/drive")
    if any(part.key == "air-leak-static" for part in truck.parts):
        assert "combination" not in points(truck, "air-leak-static")


def test_no_position_is_left_open_in_any_wording() -> None:
    for name in ("tractor-trailer-five-axle", "straight-truck-two-axle", "school-bus"):
        for part in make_syllabus(plan(name), LIMITS).parts:
            assert "{" not in part.say.full + part.say.normal + part.say.terse + part.title


def test_the_points_file_names_only_what_there_is() -> None:
    file = PointsFile.shipped()
    assert set(file.names) <= set(LIBRARY.items)
    for item, points in file.limits.items():
        there = {point.id for point in LIBRARY.items[item].points}
        assert set(points) <= there, item
        for number in points.values():
            assert all(LIMITS.rule(name) is not None for name in number.limits), item


def test_an_unknown_limit_is_refused_by_name() -> None:
    file = PointsFile.shipped()
    broken = file.model_copy(
        update={
            "limits": {
                "steering-lash": {"play": file.limits["steering-lash"]["play"].model_copy(update={"limits": ("x",)})}
            }
        }
    )
    with pytest.raises(DataError, match='"x"'):
        make_syllabus(plan("tractor-trailer-five-axle"), LIMITS, broken)


def test_the_air_brake_check_of_the_scheme_is_in_the_route() -> None:
    whole = next(each for each in Scheme.shipped().whole if each.id == "air-brake-check")
    assert {part.item for part in TRACTOR.parts if whole.covers(part)} == set(whole.items)


def test_range_includes_both_ends() -> None:
    assert Range(Fraction(1, 2), Fraction(3, 4), "in").holds(Fraction(3, 4))


def test_without_a_vehicle_the_homes_first_is_taken_or_the_sample(tmp_path: Path) -> None:
    from voice.rehearse.lesson.course import open_course

    assert open_course(tmp_path, None, None).vehicle == "tractor twelve with trailer forty"
    (tmp_path / "vehicles").mkdir()
    shipped = prompts_dir() / "vehicles"
    for name in ("straight-truck-two-axle", "school-bus"):
        text = (shipped / f"{name}.yaml").read_text(encoding="utf-8")
        (tmp_path / "vehicles" / f"{name}.yaml").write_text(text, encoding="utf-8")
        assert open_course(tmp_path, None, None).vehicle == load_vehicle(shipped / f"{name}.yaml").name
