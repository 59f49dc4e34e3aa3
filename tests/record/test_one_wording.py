"""One wording and one rounding: a record, its report, the history, the exports and what is said print the same."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from fractions import Fraction

import pytest

from tests.logbook.data import checked, day, record
from voice.data.folders import prompts_dir
from voice.data.reader import read_yaml
from voice.judge import load_limits
from voice.judge.assessment import what
from voice.judge.model import Finding, Subject
from voice.judge.reading import judge_reading
from voice.judge.wording import level_words, verdicts
from voice.logbook.database import initialize, open_engine, parse_url, reading, writing
from voice.logbook.exports import rows
from voice.logbook.history import gather
from voice.logbook.store import import_records
from voice.logbook.trends import Wear, last_words, limit_words
from voice.measure import Measure
from voice.measure.book import unit_book
from voice.measure.level import NAMES, Level
from voice.measure.telling import printed, spoken
from voice.record.entry import finding_record
from voice.record.model import EntryRecord, InspectionRecord, ReadingRecord
from voice.record.readings import Readings
from voice.record.report import render_html
from voice.record.seal import seal
from voice.record.table import readings_csv
from voice.record.wording import words
from voice.rehearse.listen.words import TokenReader
from voice.route import load_library, load_vehicle, make_plan
from voice.route.model import Place
from voice.route.units import units_of
from voice.route.vehicle import Vehicle

LIMITS = load_limits()
NOW = datetime(2026, 9, 1, tzinfo=UTC)
QUANTITIES = sorted({limit.quantity for limit in LIMITS.limits})
PLACES = (Place(), *(Place(side="left", axle=axle) for axle in (1, 2, 3)), Place(axle=1), Place(axle=2))


Kept = tuple[InspectionRecord, list[Wear], dict[str, str]]  # a record, what its units' histories show, and exports


@dataclass
class Case:
    """A reading with its findings. value: exact."""

    quantity: str
    step: str
    item: str
    place: Place
    measure: Measure
    findings: tuple[Finding, ...]


def asked(vehicle: Vehicle) -> dict[str, tuple[str, str, Place]]:
    """Step, item and place of the first question for each quantity; what is worked out has none."""
    found: dict[str, tuple[str, str, Place]] = {}
    for step in make_plan(load_library(), vehicle).steps:
        for answer in (step.item.answer, *(follow.answer for follow in step.item.follow_ups)):
            found.setdefault(getattr(answer, "quantity", ""), (step.id, step.item.id, step.place))
    return found


def cases(vehicle: Vehicle, number: int) -> Iterator[Case]:
    """A reading of every quantity that has a limit on this vehicle.

    number: 0 at a limit, 1 half of it, 2 twice, 3 a value that lies between two that could be printed.
    """
    known = asked(vehicle)
    for quantity in QUANTITIES:
        unit = LIMITS.of_quantity(quantity)[0].unit
        for place in PLACES if quantity not in known else (known[quantity][2],):
            if place.axle is not None and place.axle > len(vehicle.axles):
                continue
            step, item, _ = known.get(quantity, (quantity, quantity, place))
            subject = Subject(vehicle, item, place)
            if not (found := judge_reading(LIMITS, subject, quantity, Measure(Fraction(1), unit))):
                continue
            margin = found[0].margin
            assert margin is not None
            figure = 1 + abs(margin.value)
            value = (figure, figure / 2, figure * 2, Fraction(int(figure * 20) * 2 + 1, 40))[number]
            measure = Measure(value, unit)
            yield Case(quantity, step, item, place, measure, judge_reading(LIMITS, subject, quantity, measure))
            break


def made(vehicle: Vehicle, number: int) -> InspectionRecord:
    entries = []
    for case in cases(vehicle, number):
        value = case.measure.value
        taken = ReadingRecord(quantity=case.quantity, value=str(value), decimal=float(value), unit=case.measure.unit)
        entries.append(
            EntryRecord(
                step=case.step, item=case.item, section="all", part="other", title=case.quantity,
                place=case.place, spoken_place="", outcome="reading", readings=(taken,),
                findings=tuple(finding_record(finding) for finding in case.findings),
            )
        )  # fmt: skip
    blank = record(f"r-{vehicle.id}", day(number), odometer=412_345)
    return seal(blank.model_copy(update={"vehicle": vehicle, "entries": tuple(entries)}))


@pytest.fixture(scope="module")
def all_of(tmp_path_factory: pytest.TempPathFactory) -> list[Kept]:
    """Each record with the history and the export that the logbook makes of it."""
    records = []
    for file in sorted((prompts_dir() / "vehicles").glob("*.yaml")):
        for number in range(4):
            if (sample := load_vehicle(file)).kind == "trailer":
                continue  # walked with a tractor
            system = "si" if number == 3 and sample.kind == "bus" else "us"
            changes = {"id": f"{sample.id}-{number}", "display_units": system}
            if number == 2:
                changes["air_system"] = "single"  # the other quantity of building up
            records.append(made(sample.model_copy(update=changes), number))
    engine = open_engine(parse_url(f"sqlite:///{tmp_path_factory.mktemp('one')}/logbook.sqlite", "test"))
    initialize(engine)
    with writing(engine) as session:
        import_records(session, [checked(each) for each in records], ["local"] * len(records))
    with reading(engine) as session:
        found = []
        for each in records:
            out = {row.model_dump()["quantity"]: row.model_dump()["printed"]
                   for row in rows(session, "readings", (each.vehicle.id,))}  # fmt: skip
            units = [gather(session, unit.id, LIMITS, NOW) for unit in units_of(each.vehicle)]
            assert {unit.system for unit in units} == {each.vehicle.display_units}
            found.append((each, [wear for unit in units for wear in unit.wears], out))
    engine.dispose()
    return found


def test_report_history_and_exports_print_each_reading_and_its_limit_alike(
    all_of: list[Kept],
) -> None:
    covered: set[str] = set()
    for made_of, wears, exported in all_of:
        readings = Readings(made_of, words("report"))
        cells = {row["quantity"]: row["printed"] for row in csv.DictReader(io.StringIO(readings_csv(made_of)))}
        by_quantity = {wear.series.quantity: wear for wear in wears}
        for entry in made_of.entries:
            (taken,) = entry.readings
            lines = readings.rows(entry, taken)
            wear = by_quantity[taken.quantity]
            shown = lines[0].reading
            assert (
                last_words(wear, made_of.vehicle.display_units)
                == shown
                == exported[taken.quantity]
                == cells[taken.quantity]
            )
            limits = list(dict.fromkeys(line.finding.limit_text for line in lines if line.finding))
            assert limit_words(wear).split("; ")[: len(limits)] == limits, taken.quantity
            covered.add(taken.quantity)
    assert covered == set(QUANTITIES)


def test_what_is_said_and_what_is_printed_are_the_same_number() -> None:
    """Read back by the reader of free speech, which knows nothing of how a number is printed."""
    reader, compared = TokenReader.shipped(), set()
    for file in sorted((prompts_dir() / "vehicles").glob("*.yaml")):
        if (vehicle := load_vehicle(file)).kind == "trailer":
            continue
        for number in range(4):
            for case in cases(vehicle, number):
                aloud = spoken(case.measure, quantity=case.quantity)
                told = [what(finding, {}) for finding in case.findings]
                assert all(each.startswith(f"{aloud}, the limit is ") for each in told)
                shown = number_of(printed(case.measure, quantity=case.quantity), case.measure.unit)
                figures = [token.figures[0] for token in reader.tokens(f"it is {aloud} and clean")
                           if token.role == "figure"]  # fmt: skip
                if len(figures) == 1:
                    assert figures[0].value == shown, (aloud, shown)
                    compared.add(case.quantity)
    assert len(compared) >= len(QUANTITIES) - 4, set(QUANTITIES) - compared


def number_of(text: str, unit: str) -> Fraction:
    figures = text.removesuffix(unit_book().units[unit].printed).strip()
    return sum((Fraction(part) for part in figures.split()), Fraction(0))


def test_the_applied_leak_of_the_issue() -> None:
    """5.7 psi a minute in the report was 5.5 in the history, which rounded to halves."""
    leak = Measure(Fraction(567, 100), "psi/min")
    assert printed(leak, quantity="air-leak-applied") == "5.7 psi/min"
    assert spoken(leak, quantity="air-leak-applied") == "five point seven p s i a minute"


def test_each_level_has_one_name_in_every_file_of_words(
    all_of: list[Kept],
) -> None:
    """No other file of words has a list of the levels; report and history take the names from there."""
    names = verdicts().levels
    assert len(set(names.values())) == len(NAMES)
    for file in prompts_dir().rglob("*.yaml"):
        if "limits" not in file.parts and file.name != "verdicts.yaml":
            for mapping in _mappings(read_yaml(file)):
                if {"repair", "halt"} <= mapping.keys():  # such a text may only ask for the name
                    assert all("{level}" in str(mapping[name]) for name in ("watch", "repair", "halt")), file
    found = next(each for each, _, _ in all_of if any(f.level == "halt" for e in each.entries for f in e.findings))
    page = render_html(found)
    tags = set(re.findall(r'<span class="tag (\w+)">([^<]*)</span>', page))
    assert {level for level, _ in tags} >= {"repair", "halt"}
    assert tags <= {(name, level_words(Level(NAMES.index(name)), capital=True)) for name in NAMES}
    counts = dict(re.findall(r'<li class="(halt|repair|watch|nil)"><b>\d+</b> ([^<]*)</li>', page))
    assert set(counts.values()) <= set(names.values()) | set(words("report")["count"].values())


def _mappings(value: object) -> Iterator[dict[str, object]]:
    if isinstance(value, dict):
        yield value
        for each in value.values():
            yield from _mappings(each)
    elif isinstance(value, list | tuple):
        for each in value:
            yield from _mappings(each)
