"""Every mistake an author can make is reported with the file and line it is in."""

from __future__ import annotations

from pathlib import Path
from textwrap import dedent

import pytest

from tests.route.vehicles import library
from voice.author.check import check_files, check_shipped
from voice.author.check_library import check_library
from voice.author.sounds import confusable, distance
from voice.author.trial import trial_vehicles
from voice.data.folders import prompts_dir
from voice.data.reader import read_yaml
from voice.route.library import load_folders
from voice.route.vehicles import faults

ITEM = """\
seat-heater:
  title: Seat heater
  call: [seat heater]
  part: other
  say:
    terse: Seat heater?
    normal: Does the seat heater work?
    full: Check that the seat heater works.
  defects: [not-working, noisy]
"""
ROUTE = """\
id: van-walk
title: Short walk
call: [short walk]
fits: [straight-truck]
standard: false
sections:
  - id: seats
    title: Seats
    entries:
      - seat-heater
"""
VEHICLE = """\
id: truck-nine
name: truck nine
kind: straight-truck
body: van
brakes: air
axles:
  - unit: truck
    role: steer
    suspension: leaf
    brake: {kind: air-drum, slack: automatic}
  - unit: truck
    role: drive
    suspension: air
    brake: {kind: air-drum, slack: automatic}
"""


def report(tmp_path: Path, **files: str) -> list[str]:
    """The faults of these files, as "file:line: message" with bare file names. Names: items, route, vehicle ..."""
    places = {
        "items": "items/own.yaml", "second": "items/second.yaml", "route": "routes/own.yaml", "groups": "groups.yaml",
        "defects": "defects.yaml", "cautions": "cautions.yaml", "vehicle": "vehicles/own.yaml", "places": "places.yaml",
    }  # fmt: skip
    written = []
    for name, text in files.items():
        file = tmp_path / places[name]
        file.parent.mkdir(exist_ok=True)
        file.write_text(text, encoding="utf-8")
        written.append(file)
    return [str(fault).replace(f"{tmp_path}/", "") for fault in check_files(written)]


def test_the_shipped_data_has_no_mistake() -> None:
    assert [str(fault) for fault in check_shipped()] == []


def test_a_correct_file_has_no_mistake(tmp_path: Path) -> None:
    assert report(tmp_path, items=ITEM, route=ROUTE, vehicle=VEHICLE) == []


def test_shipped_files_can_be_checked_by_name() -> None:
    assert check_files(sorted(prompts_dir().glob("routes/*.yaml"))) == []


# (what is wrong, changes to the item, line, words of the message)
ITEM_MISTAKES = [
    ("unknown key", [("  part: other\n", "  part: other\n  color: red\n")], 5, 'no key "color"'),
    ("missing key", [("  part: other\n", "")], 1, '"part" is missing'),
    ("wrong part", [("part: other", "part: engine")], 4, "seat-heater.part"),
    ("unknown defect", [("[not-working, noisy]", "[not-working, nosy]")], 9, 'no defect "nosy"'),
    ("defect twice", [("[not-working, noisy]", "[noisy, noisy]")], 9, "listed twice"),
    ("no defects", [("  defects: [not-working, noisy]\n", "")], 1, "needs the defects"),
    ("alike defects", [("[not-working, noisy]", "[cracked, bent, dented]")], 9, "too alike by ear"),
    (
        "too many defects",
        [("[not-working, noisy]", "[leaking, cracked, missing, bent, frayed, noisy, cut, flat, blocked]")],
        9,
        "9 defects are too many",
    ),
    ("unknown caution", [("  defects", "  cautions: [hot-seat]\n  defects")], 9, 'no caution "hot-seat"'),
    ("unknown limit", [("  defects", "  limits: [seat-heat]\n  defects")], 9, 'no limit "seat-heat"'),
    ("limit of another quantity", [("  defects", "  limits: [belt-play]\n  defects")], 9, "not measured here"),
    (
        "option that is a command",
        [
            (
                "  defects",
                "  answer:\n    kind: choice\n    options:\n      - {id: a, title: A, say: [skip]}\n"
                "      - {id: b, title: B, say: [cold]}\n  defects",
            )
        ],
        1,
        '"skip" would mean both',
    ),
    ("unknown fact", [("  defects", "  when: {seats: true}\n  defects")], 9, 'no fact "seats"'),
    ("unknown value", [("  defects", "  when:\n    bus: [city]\n  defects")], 10, '"bus" is never "city"'),
    ("truth for a word", [("  defects", "  when: {bus: true}\n  defects")], 9, '"bus" is never "true"'),
    ("negative", [("Does the seat heater work?", "Seat heater whole, no cracks?")], 7, 'asks in the negative ("no")'),
    ("free of", [("Seat heater?", "Heater free of cracks?")], 6, 'asks in the negative ("free of")'),
    ("long terse", [("Seat heater?", "Does the heater of the seat work?")], 6, "7 words, at most 5"),
    ("long normal", [("Does the seat heater work?", "a b c d e f g h i j?")], 7, "10 words, at most 9"),
    ("long full", [("Check that", "Check " * 80 + "that")], 8, "at most 75"),
    ("unknown blank", [("terse: Seat heater?", 'terse: "{side} heater?"')], 6, "nothing fills in {side}"),
    ("call not spoken", [("[seat heater]", "[Seat-heater]")], 3, "not lower-case words"),
    ("call taken", [("[seat heater]", "[seat heater, seat heater]")], 3, "listed twice"),
    (
        "unit does not fit",
        [("  defects", "  answer: {kind: reading, quantity: tread-depth, unit: psi, low: 0, high: 9}\n  defects")],
        9,
        'unit "psi" does not fit tread-depth',
    ),
    (
        "no such unit",
        [
            (
                "  defects",
                "  answer:\n    kind: reading\n    quantity: tread-depth\n    unit: furlongz\n    low: 0\n"
                "    high: 9\n  defects",
            )
        ],
        12,
        '"furlongz" is not a unit',
    ),
    (
        "unit without words",
        [("  defects", "  answer: {kind: reading, quantity: tread-depth, unit: fathom, low: 0, high: 9}\n  defects")],
        9,
        'no words for the unit "fathom"',
    ),
    (
        "unknown quantity",
        [("  defects", "  answer: {kind: reading, quantity: warmth, unit: psi, low: 0, high: 9}\n  defects")],
        9,
        'no quantity "warmth"',
    ),
    (
        "range upside down",
        [("  defects", "  answer:\n    {kind: reading, quantity: belt-play, unit: in, low: 9, high: 1}\n  defects")],
        10,
        "low is below high",
    ),
    (
        "uneven steps",
        [
            (
                "  defects",
                "  answer: {kind: reading, quantity: oil-pressure, unit: psi, low: 0, high: 9, step: 2}\n  defects",
            )
        ],
        9,
        "not a whole number of steps",
    ),
    (
        "hold of no rate",
        [
            (
                "  defects",
                "  answer: {kind: hold, quantity: oil-pressure, unit: psi, low: 0, high: 9, begin: Go.}\n  defects",
            )
        ],
        9,
        'unit "psi/min" does not fit oil-pressure',
    ),
    (
        "climb downwards",
        [
            (
                "  defects",
                "  answer: {kind: climb, quantity: air-build-up, unit: psi, start: 9, stop: 1, begin: Go.}\n  defects",
            )
        ],
        9,
        "start is below stop",
    ),
    (
        "option twice",
        [
            (
                "  defects",
                "  answer:\n    kind: choice\n    options:\n      - {id: a, title: A, say: [warm]}\n"
                "      - {id: a, title: B, say: [cold]}\n  defects",
            )
        ],
        13,
        'option "a" is given twice',
    ),
    (
        "options alike",
        [
            (
                "  defects",
                "  answer:\n    kind: choice\n    options:\n      - {id: a, title: A, say: [inside]}\n"
                "      - {id: b, title: B, say: [outside]}\n  defects",
            )
        ],
        11,
        "too alike by ear",
    ),
    (
        "option's defect not listed",
        [
            (
                "  defects",
                "  answer:\n    kind: choice\n    options:\n      - {id: a, title: A, say: [warm]}\n"
                "      - {id: b, title: B, say: [cold], defect: leaking}\n  defects",
            )
        ],
        13,
        "not on the item's list",
    ),
    (
        "follow-up after nothing",
        [
            (
                "  defects",
                "  follow_ups:\n    - id: where\n      after: leaking\n      ask: Where?\n"
                "      answer: {kind: condition}\n  defects",
            )
        ],
        11,
        '"leaking" is not an answer',
    ),
    (
        "point's limit",
        [("  defects", "  points:\n    a: [warm]\n    b: {say: [hot], limit: seat-heat}\n  defects")],
        11,
        'no limit "seat-heat"',
    ),
    (
        "point's phrase twice",
        [("  defects", "  points:\n    a: [warm]\n    b: [warm]\n  defects")],
        11,
        '"warm" counts for both',
    ),
    ("key twice", [("  part: other\n", "  part: other\n  part: horn\n")], 5, 'two keys "part"'),
    ("not a mapping", [(ITEM, "seat-heater: yes\n")], 1, "not a mapping"),
    ("bad id", [("seat-heater:\n", "Seat_heater:\n")], 1, "Seat_heater.id"),
    ("broken YAML", [("[not-working, noisy]", "[not-working, noisy")], 9, "not closed"),
]  # fmt: skip


@pytest.mark.parametrize(("what", "changes", "line", "words"), ITEM_MISTAKES, ids=[case[0] for case in ITEM_MISTAKES])
def test_a_mistake_in_an_item(tmp_path: Path, what: str, changes: list[tuple[str, str]], line: int, words: str) -> None:
    text = ITEM
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    found = report(tmp_path, items=text, route=ROUTE)
    assert any(each.startswith(f"items/own.yaml:{line}: ") and words in each for each in found), found


def test_several_mistakes_are_all_reported(tmp_path: Path) -> None:
    text = ITEM.replace("part: other", "part: engine").replace("  call: [seat heater]\n", "").replace("noisy", "nosy")
    found = report(tmp_path, items=text + ITEM.replace("seat-heater:", "foot-rest:").replace("noisy", "nosy"))
    assert [each.partition(": ")[0] for each in found] == [
        "items/own.yaml:1", "items/own.yaml:3", "items/own.yaml:9", "items/own.yaml:17",
    ]  # fmt: skip


def test_an_id_given_in_two_files(tmp_path: Path) -> None:
    found = report(tmp_path, items=ITEM, second=ITEM, route=ROUTE)
    assert len(found) == 1
    assert found[0].startswith('items/second.yaml:1: item "seat-heater" was already given in items/own.yaml:1')


def test_an_item_no_route_asks(tmp_path: Path) -> None:
    assert report(tmp_path, items=ITEM) == [
        'items/own.yaml:1: no route asks the item "seat-heater". Add it to a route.'
    ]


def test_a_name_that_two_items_of_a_walk_answer_to(tmp_path: Path) -> None:
    route = ROUTE.replace("- seat-heater\n", "- seat-heater\n      - seat-belt\n")
    found = report(tmp_path, items=ITEM.replace("[seat heater]", "[seat heater, seat belt]"), route=route)
    assert found == ['items/own.yaml:3: item "seat-heater" is called "seat belt", and so is "seat-belt". Change one.']


ROUTE_MISTAKES = [
    ("unknown item", [("- seat-heater", "- seat-warmer\n      - seat-heater")], 10, 'no item "seat-warmer"'),
    (
        "unknown group",
        [("- seat-heater", "- seat-heater\n      - {group: heaters}")],
        11,
        'no group "heaters"',
    ),
    ("item and group", [("- seat-heater", "- {item: seat-heater, group: start}")], 10, "either item or group"),
    ("unknown key", [("- seat-heater", "- {item: seat-heater, sides: left}")], 10, 'no key "sides"'),
    ("unknown side", [("- seat-heater", "- {item: seat-heater, side: port}")], 10, "side"),
    ("unknown vehicle", [("fits: [straight-truck]", "fits: [tricycle]")], 4, "fits"),
    (
        "unknown caution",
        [("    title: Seats\n", "    title: Seats\n    cautions: [hot-seat]\n")],
        9,
        'no caution "hot-seat"',
    ),
    (
        "section twice",
        [("      - seat-heater\n", "      - seat-heater\n  - id: seats\n    title: More\n    entries: [lean]\n")],
        11,
        'section "seats" is given twice',
    ),
    (
        "item twice",
        [("- seat-heater", "- seat-heater\n      - seat-heater")],
        1,
        '"seat-heater" is asked twice',
    ),
    (
        "tires without axles",
        [("- seat-heater", "- seat-heater\n      - {item: lean, each: tire}")],
        11,
        "tires are at axles",
    ),
    (
        "axle's item without axles",
        [("- seat-heater", "- seat-heater\n      - springs")],
        11,
        'asks for "suspension" of an axle',
    ),
    (
        "axle's fact without axles",
        [("- seat-heater", "- {item: seat-heater, when: {dual: true}}")],
        10,
        "belongs to an axle",
    ),
    ("second standard", [("standard: false", "standard: true")], 1, "is a standard route for a straight-truck too"),
]  # fmt: skip


@pytest.mark.parametrize(("what", "changes", "line", "words"), ROUTE_MISTAKES, ids=[case[0] for case in ROUTE_MISTAKES])
def test_a_mistake_in_a_route(tmp_path: Path, what: str, changes: list[tuple[str, str]], line: int, words: str) -> None:
    text = ROUTE
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    found = report(tmp_path, items=ITEM, route=text)
    assert any(each.startswith(f"routes/own.yaml:{line}: ") and words in each for each in found), found


def test_a_wording_without_its_place(tmp_path: Path) -> None:
    route = ROUTE.replace("- seat-heater", "- {item: seat-heater, side: left}")
    found = report(tmp_path, items=ITEM, route=route)
    assert [each.partition(": ")[0] for each in found] == [f"items/own.yaml:{line}" for line in (6, 7, 8)]
    assert all("{place}" in each for each in found)


def test_a_group_in_itself(tmp_path: Path) -> None:
    groups = "warm:\n  - seat-heater\n  - {group: warm}\n"
    route = ROUTE.replace("- seat-heater", "- {group: warm}")
    found = report(tmp_path, items=ITEM, route=route, groups=groups)
    assert found == ['groups.yaml:3: the group "warm" contains itself. Take it out of its own entries.']


def test_a_group_no_route_uses(tmp_path: Path) -> None:
    found = report(tmp_path, items=ITEM, route=ROUTE, groups="warm:\n  - seat-heater\n")
    assert found == ['groups.yaml:1: no route uses the group "warm". Take it out.']


def test_defects_and_cautions_nobody_uses(tmp_path: Path) -> None:
    defects = "# own\ntoo-hot: {title: Too hot, say: [far too hot]}\n"
    cautions = "hot-seat: {say: Hot., print: Hot.}\n"
    assert report(tmp_path, defects=defects, cautions=cautions) == [
        'cautions.yaml:1: nothing uses the caution "hot-seat". Take it out.',
        'defects.yaml:2: nothing uses the defect "too-hot". Take it out.',
    ]


def test_a_defect_said_like_a_command_or_like_okay(tmp_path: Path) -> None:
    for said, like in (("okey", "okay"), ("repeat", "command repeat")):
        defects = f"too-hot: {{title: Too hot, say: [{said}]}}\n"
        found = report(tmp_path, items=ITEM.replace("noisy", "too-hot"), route=ROUTE, defects=defects)
        assert any(each.startswith("items/own.yaml:9: ") and like in each for each in found), found


def test_defects_that_mean_the_same_words(tmp_path: Path) -> None:
    defects = "too-hot: {title: Too hot, say: [strange noise]}\n"
    found = report(
        tmp_path, items=ITEM.replace("[not-working, noisy]", "[noisy, too-hot]"), route=ROUTE, defects=defects
    )
    assert any(each.startswith("items/own.yaml:9: ") and "too alike" in each for each in found), found


VEHICLE_MISTAKES = [
    ("unknown key", "brakes: air", "brakes: air\nwheels: 6", 6, 'no key "wheels"'),
    ("wrong unit", "  - unit: truck\n    role: drive", "  - unit: trailer\n    role: drive", 11, "belongs to truck"),
    ("wrong role", "role: drive", "role: trailer", 12, 'role "trailer" does not fit'),
    ("no drive axle", "role: drive", "role: tag", 6, "no drive axle"),
    ("first axle", "role: steer", "role: drive", 8, "first axle is the steer axle"),
    ("no body", "body: van\n", "", 1, "which body"),
    ("fifth wheel", "brakes: air", "brakes: air\nfifth_wheel: {slide: fixed}", 6, "has no fifth_wheel"),
    ("brakes do not fit", "brakes: air", "brakes: hydraulic", 10, "does not fit a vehicle with hydraulic brakes"),
    (
        "slack adjuster on discs",
        "suspension: air\n    brake: {kind: air-drum,",
        "suspension: air\n    brake: {kind: air-disc,",
        14,
        "only air drum brakes",
    ),
    (
        "governor",
        "brakes: air",
        "brakes: air\ngovernor:\n  cut_in: 130\n  cut_out: 120",
        7,
        "below the cut-out",
    ),
    (
        "too many axles",
        "brakes: air\naxles:\n",
        "brakes: air\naxles:\n" + VEHICLE[VEHICLE.index("  - unit: truck\n    role: steer") :] * 11,
        6,
        "at most 20 axles",
    ),
    ("limits", "brakes: air", "brakes: air\nlayers:\n  - california\n  - texas", 8, 'no limits called "texas"'),
    ("one axle", VEHICLE[VEHICLE.index("  - unit: truck\n    role: drive") :], "", 6, "at least 2"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("what", "old", "new", "line", "words"), VEHICLE_MISTAKES, ids=[case[0] for case in VEHICLE_MISTAKES]
)
def test_a_mistake_in_a_vehicle(tmp_path: Path, what: str, old: str, new: str, line: int, words: str) -> None:
    assert old in VEHICLE
    found = report(tmp_path, vehicle=VEHICLE.replace(old, new, 1))
    assert any(each.startswith(f"vehicles/own.yaml:{line}: ") and words in each for each in found), found


def test_a_file_anywhere_is_known_by_its_content(tmp_path: Path) -> None:
    for name, text, words in (
        ("mine.yaml", ITEM, "no route asks"),
        ("walk.yaml", ROUTE, 'no item "seat-heater"'),
        ("truck.yaml", VEHICLE.replace("body: van\n", ""), "which body"),
        ("odd.yaml", "- 1\n- 2\n", "cannot tell what kind"),
    ):
        file = tmp_path / name
        file.write_text(text, encoding="utf-8")
        found = [str(fault) for fault in check_files([file])]
        assert len(found) == 1
        assert words in found[0]
        assert found[0].startswith(f"{file}")


def test_another_fleets_file_can_replace_an_item(tmp_path: Path) -> None:
    """An overlay replaces what has the same id; a mistake in the new one is reported there."""
    horn = dedent(
        """\
        horn-electric:
          title: Horn
          call: [horn]
          part: horn
          say: {terse: "Horn?", normal: "Does the horn sound well?", full: Sound the horn.}
          defects: [not-working]
        """
    )
    (tmp_path / "items").mkdir()
    file = tmp_path / "items" / "own.yaml"
    file.write_text(horn, encoding="utf-8")
    assert check_files([file]) == []
    merged = load_folders([prompts_dir(), tmp_path])
    assert merged.items["horn-electric"].say.normal == "Does the horn sound well?"
    assert len(merged.items) == len(library().items)
    assert merged.sha256 != library().sha256
    assert check_library(merged) == []


def test_trial_vehicles_are_themselves_correct_and_different() -> None:
    vehicles = list(trial_vehicles())
    assert [list(faults(vehicle)) for vehicle in vehicles] == [[] for _ in vehicles]
    assert {axle.suspension for vehicle in vehicles for axle in vehicle.axles} == {
        "leaf", "air", "coil", "torsion", "walking-beam",
    }  # fmt: skip
    assert {axle.brake.kind for vehicle in vehicles for axle in vehicle.axles} == {
        "air-drum", "air-disc", "hydraulic-drum", "hydraulic-disc",
    }  # fmt: skip
    assert {vehicle.bus for vehicle in vehicles} == {None, "school", "transit", "coach"}


def test_how_alike_phrases_sound() -> None:
    """Phones from the pronouncing dictionary that ships with pocketsphinx (CMU, US English)."""
    assert distance("okay", "okay") == 0
    assert confusable("inner", "inner")
    assert confusable("a dent", "bent")
    assert not confusable("leaking", "loose")
    assert not confusable("cracked", "okay")


def test_other_fits_every_item_and_is_written_in_none() -> None:
    for file in prompts_dir().glob("items/*.yaml"):
        for key, value in read_yaml(file).items():
            assert "other" not in value.get("defects", []), key
    assert all(item.defects[-1] == "other" for item in library().items.values())
