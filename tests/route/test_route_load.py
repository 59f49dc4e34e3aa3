"""Reading YAML: mistakes are refused with their line, and both readers of the library read the same."""

from __future__ import annotations

from datetime import date
from fractions import Fraction
from pathlib import Path

import pytest
from ruamel.yaml import YAML

from tests.route.vehicles import FIVE_AXLE, SCHOOL_BUS, TRACTOR, TRAILERS, TRUCK
from voice.author.check import check_files, check_vehicle
from voice.data.folders import prompts_dir
from voice.data.reader import line_of, read_yaml
from voice.errors import DataError, SetupError
from voice.route import load_vehicle, vehicle_files
from voice.route.vehicle import Governor
from voice.route.vehicles import faults, find_profile

BROKEN = [
    ("a: 1\nb: 2\na: 3\n", 3, 'two keys "a"'),
    ("a: 1\nb:\n\t- c\n", 3, "there is a tab"),
    ("a: 1\nb: *nowhere\n", 2, "alias"),
    ("a: 1\nb: @c\n", 2, 'begins with "@"'),
    ("a: 1\nb: !!python/object/apply:os.getcwd []\n", 2, "tag"),
]


@pytest.mark.parametrize(("text", "line", "words"), BROKEN)
def test_broken_yaml_is_refused_with_its_line(tmp_path: Path, text: str, line: int, words: str) -> None:
    file = tmp_path / "x.yaml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(DataError) as caught:
        read_yaml(file)
    assert caught.value.line == line
    assert str(caught.value).startswith(f"{file}:{line}: ")
    assert words in str(caught.value)


def test_a_file_that_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(DataError, match="cannot be read"):
        read_yaml(tmp_path / "absent.yaml")
    file = tmp_path / "latin.yaml"
    file.write_bytes("a: caf\u00e9\n".encode("latin-1"))
    with pytest.raises(DataError, match="UTF-8"):
        read_yaml(file)


def test_lines_are_found_by_path(tmp_path: Path) -> None:
    file = tmp_path / "x.yaml"
    file.write_text("# note\na:\n  b:\n    - c: 1\n    - c: 2\n      d: 3\n", encoding="utf-8")
    assert line_of(file, ()) == 1
    assert line_of(file, ("a",)) == 2
    assert line_of(file, ("a", "b", 1)) == 5
    assert line_of(file, ("a", "b", 1, "d")) == 6
    assert line_of(file, ("a", "b", 1, "absent")) == 5
    assert line_of(file, ("a", "tag-of-a-union", "b", 0, "c")) == 4
    assert line_of(file, ("a", 0)) == 3  # a mapping that stands for a list


@pytest.mark.parametrize("file", sorted(prompts_dir().rglob("*.yaml")), ids=lambda file: file.name)
def test_the_fast_reader_reads_what_the_careful_one_reads(file: Path) -> None:
    """The C reader against the pure Python one of the same library, but for dates, which stay text here."""
    assert read_yaml(file) == _dates_as_text(YAML(typ="safe", pure=True).load(file.read_text(encoding="utf-8")))


def _dates_as_text(value: object) -> object:
    match value:
        case dict():
            return {key: _dates_as_text(each) for key, each in value.items()}
        case list():
            return [_dates_as_text(each) for each in value]
        case date():
            return value.isoformat()
    return value


def test_sample_vehicles() -> None:
    files = vehicle_files()
    assert set(files) == {FIVE_AXLE, TRUCK, SCHOOL_BUS, TRACTOR, *TRAILERS}
    tractor = load_vehicle(files[FIVE_AXLE])
    assert [axle.unit for axle in tractor.axles] == ["tractor"] * 3 + ["trailer"] * 2
    assert [axle.role for axle in tractor.axles] == ["steer", "drive", "drive", "trailer", "trailer"]
    assert tractor.axles[1].brake.chamber is not None
    assert tractor.axles[1].brake.chamber.size == "30"
    assert tractor.governor.cut_out == Fraction(125)
    assert load_vehicle(files[TRUCK]).brakes == "hydraulic"
    assert load_vehicle(files[SCHOOL_BUS]).bus == "school"


def test_own_vehicles_take_the_place_of_the_samples(tmp_path: Path) -> None:
    assert vehicle_files(tmp_path) == vehicle_files()
    (tmp_path / "vehicles").mkdir()
    source = vehicle_files()[TRUCK]
    (tmp_path / "vehicles" / "nine.yaml").write_text(source.read_text(encoding="utf-8"), encoding="utf-8")
    assert list(vehicle_files(tmp_path)) == ["nine"]


def test_a_wrong_vehicle_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "x.yaml"
    text = vehicle_files()[TRUCK].read_text(encoding="utf-8")
    file.write_text(text.replace("body: van\n", ""), encoding="utf-8")
    with pytest.raises(DataError, match="which body"):
        load_vehicle(file)


def test_axles_are_listed_from_the_front() -> None:
    vehicle = load_vehicle(vehicle_files()[FIVE_AXLE])
    turned = vehicle.model_copy(update={"axles": (*vehicle.axles[:1], *vehicle.axles[3:], *vehicle.axles[1:3])})
    assert [loc for loc, message in faults(turned) if "front to the back" in message] == [("axles", 3, "unit")]


def test_a_governor_that_cuts_in_where_it_cuts_out_is_refused() -> None:
    vehicle = load_vehicle(vehicle_files()[FIVE_AXLE])
    for cut_in, wrong in ((120, False), (125, True), (130, True)):
        changed = vehicle.model_copy(update={"governor": Governor(cut_in=Fraction(cut_in), cut_out=Fraction(125))})
        assert bool(list(faults(changed))) == wrong


def mistakes_in(tmp_path: Path, *changes: tuple[str, str]) -> list[DataError]:
    """The faults of the five-axle sample with some of its text changed."""
    text = vehicle_files()[FIVE_AXLE].read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    file = tmp_path / "changed.yaml"
    file.write_text(text, encoding="utf-8")
    return check_vehicle(file)


# What is written wrongly, and what the mistake says besides file and line: the value, and what is wanted.
WRONG = [
    (("id: tractor", "id: Tractor"), "id", ['"Tractor-trailer-five-axle" cannot be an id', "small letters"]),
    (("brakes: air ", "brakes: steam "), "brakes", ['"steam" is not known', "air or hydraulic"]),
    (("cold_psi: 110", "cold_psi: lots"), "cold_psi", ['axles.0.cold_psi: "lots" is not a number', "without a unit"]),
    (("sleeper: true", "sleper: true"), "sleper", ['no key "sleper"', 'Did you mean "sleeper"?']),
    (("hub: oil", "oily: 1"), "oily", ['no key "oily"', "Keys: ", "cold_psi", "torque_arms"]),
    (("studs: 10", "studs: 40"), "studs", ["40", "at most 12"]),
    (("placarded: false", "placarded: perhaps"), "placarded", ["neither yes nor no", "true or false"]),
    (("  body: van", "  body: vann"), "body", ['Did you mean "van"?']),
    (("cold_psi: 110", "cold_psi: 130"), "cold_psi", ["cold_psi (130) is above max_psi", "(120)"]),
    (("cold_psi: 110", "cold_psi: -5"), "cold_psi", ["-5 psi", "more than 0"]),
    (("cold_psi: 110", "cold_psi: 0"), "cold_psi", ["more than 0"]),
    (("max_psi: 120", "max_psi: 1200"), "max_psi", ["1200 psi", "at most 200"]),
    (("cut_in: 100", "cut_in: -100"), "governor", ["cut_in is -100 psi"]),
    (("abs_built: 2019", "abs_built: 219"), "abs_built", ["219", "1900 to 2100"]),
    (("  built: 2018", "  built: 20188"), "built", ["20188", "1900 to 2100"]),
]


@pytest.mark.parametrize(("change", "key", "words"), WRONG, ids=[change[1] for change, *_ in WRONG])
def test_a_mistake_in_a_profile_is_told_alone_in_plain_words_with_its_line(
    tmp_path: Path, change: tuple[str, str], key: str, words: list[str]
) -> None:
    (mistake,) = mistakes_in(tmp_path, change)
    lines = (tmp_path / "changed.yaml").read_text(encoding="utf-8").splitlines()
    assert mistake.line is not None
    assert key in lines[mistake.line - 1]
    assert all(word in str(mistake) for word in words), str(mistake)


def test_a_list_that_is_really_too_short_is_told(tmp_path: Path) -> None:
    text = vehicle_files()[FIVE_AXLE].read_text(encoding="utf-8")
    file = tmp_path / "x.yaml"
    file.write_text(text[: text.index("axles:")] + "axles: []\n", encoding="utf-8")
    assert ["axles: this list has 0 entries and needs at least 1." in str(fault) for fault in check_vehicle(file)] == [
        True
    ]


def test_vehicles_that_cannot_be_told_apart(tmp_path: Path) -> None:
    text = vehicle_files()[TRUCK].read_text(encoding="utf-8")
    name = next(line for line in text.splitlines() if line.startswith("name:"))
    one, two, three = (tmp_path / f"{each}.yaml" for each in ("one", "two", "three"))
    one.write_text(text, encoding="utf-8")
    two.write_text(text.replace(name, "name: truck ninety"), encoding="utf-8")
    three.write_text(text.replace(f"id: {TRUCK}", "id: truck-91"), encoding="utf-8")
    assert check_files([one]) == []
    told = [(fault.file, fault.line) for fault in check_files([one, two, three])]
    assert told == [(three, text.splitlines().index(name) + 1), (two, text.splitlines().index(f"id: {TRUCK}") + 1)]


def test_a_profile_is_found_by_file_by_id_and_by_path(tmp_path: Path) -> None:
    (tmp_path / "vehicles").mkdir()
    file = tmp_path / "vehicles" / "nine.yml"
    file.write_text(vehicle_files()[TRUCK].read_text(encoding="utf-8"), encoding="utf-8")
    (tmp_path / "vehicles" / "broken.yaml").write_text("id: [\n", encoding="utf-8")
    assert find_profile(tmp_path, "nine") == find_profile(tmp_path, TRUCK) == find_profile(None, str(file)) == file
    with pytest.raises(SetupError, match=rf"Known: {TRUCK} \(truck seven\);"):
        find_profile(tmp_path, "ten")
