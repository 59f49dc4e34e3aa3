"""Everything the logbook knows of one vehicle, gathered for a table in the terminal or a page."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from sqlalchemy import select
from sqlalchemy.orm import Session

from voice.judge.limit import LimitSet
from voice.logbook.lookup import Signed, all_lives, entries_of, vehicle_row
from voice.logbook.schema import VehicleRow
from voice.logbook.trends import (
    UnevenPair,
    Wear,
    last_words,
    limit_words,
    pair_sentence,
    place_words,
    soon,
    uneven_pairs,
    value_words,
    vehicle_wear,
    wear_sentence,
)
from voice.logbook.visits import Inspection, visits_of
from voice.logbook.walked import profile_of
from voice.logbook.wear import Reach
from voice.logbook.wording import level_words, time_words, words
from voice.measure.level import Level
from voice.measure.telling import System, minutes, quantity_name, shown_in, told
from voice.record.lives import Life
from voice.route.vehicle import Vehicle

if TYPE_CHECKING:
    from rich.console import RenderableType


AHEAD = 183.0  # days: limits reached later than in half a year stand in the table only


@dataclass(frozen=True, slots=True)
class History:
    """All that is known of one vehicle.

    visits: its inspections, oldest first.
    lives: of all its defects, oldest first.
    wears, pairs: what its readings tell of wear, and of tires beside each other.
    signed: certifications and withdrawals, newest first.
    """

    id: str
    name: str
    vehicle: Vehicle | None
    visits: tuple[Inspection, ...]
    lives: tuple[Life, ...]
    wears: tuple[Wear, ...]
    pairs: tuple[UnevenPair, ...]
    signed: tuple[Signed, ...] = ()

    @property
    def system(self) -> System:
        return "us" if self.vehicle is None else self.vehicle.display_units

    @property
    def open(self) -> list[Life]:
        found = [life for life in self.lives if life.closed is None]
        return sorted(found, key=lambda life: (-life.level, life.opened, life.defect))

    @property
    def closed(self) -> list[Life]:
        return [life for life in reversed(self.lives) if life.closed is not None]

    @property
    def sentences(self) -> list[str]:
        """What stands out, in print: limits soon reached or passed, parts that began anew, uneven wear."""
        some = [wear for wear in self.wears if wear.ahead == "beyond"] + [wear for wear, _ in soon(self.wears, AHEAD)]
        found = [wear_sentence(wear, self.system, aloud=False) for wear in some]
        odd = [
            words().wear.printed.odd.format(place=place_words(wear), quantity=quantity_name(wear.series.quantity))
            for wear in self.wears
            if wear.trend is not None and wear.trend.odd_last
        ]
        uneven = [pair_sentence(pair, self.system, aloud=False) for pair in self.pairs]
        return [sentence for sentence in (*found, *uneven, *odd) if sentence]


def gather(session: Session, vehicle: str, limits: LimitSet, now: datetime) -> History:
    """The history of a vehicle; forecasts count from now. Raises SetupError if the logbook does not know it."""
    row = vehicle_row(session, vehicle)
    wears = tuple(vehicle_wear(session, vehicle, limits, now))
    return History(
        id=vehicle,
        name=row.name,
        vehicle=profile_of(session, vehicle),
        visits=visits_of(session, row.key),
        lives=tuple(all_lives(session, vehicle)),
        wears=wears,
        pairs=tuple(uneven_pairs(wears)),
        signed=entries_of(session, row.key),
    )


# --- cells, the same for terminal and page ----------------------------------------------------------------------------


def date(at: datetime) -> str:
    """In local time, as the driver knows it."""
    return f"{at.astimezone():%Y-%m-%d}"


def moment(at: datetime) -> str:
    """With the time of day: a unit may be inspected several times a day."""
    return f"{at.astimezone():%Y-%m-%d %H:%M}"


def odometer_words(miles: float | None, system: System) -> str:
    return "" if miles is None else told(miles, "mi", quantity="odometer", system=system)


def state_words(life: Life) -> str:
    states = words().table.states
    if life.closed is not None:
        template = states.unnecessary if life.verdict == "unnecessary" else states.repaired
        text = template.format(date=date(life.closed), by=life.by or words().table.none)
    elif life.said_repaired is not None:
        text = states.said_repaired.format(date=date(life.said_repaired))
    else:
        text = states.open
    return text if life.number == 1 else f"{text}; {states.again.format(number=life.number)}"


def change_words(wear: Wear, system: System) -> str:
    """The change per 10,000 miles or 30 days, with its sign, in the unit of the reading beside it."""
    if wear.trend is None:
        return ""
    unit, factor = shown_in(wear.series.unit, wear.series.quantity, system)
    per = factor * (10_000 if wear.trend.axis == "mile" else 30)
    slope, low, high = (value * per for value in (wear.trend.slope, wear.trend.low, wear.trend.high))
    return f"{slope:+.2g} ({low:+.2g} to {high:+.2g}) {unit}"


def forecast_words(wear: Wear) -> str:
    why = words().why
    if wear.bound is None:
        return why["none"]
    if wear.trend is None or wear.ahead is None:
        return why["unfit"]
    if isinstance(wear.ahead, Reach):
        if wear.ahead.days <= 0:
            return why["overdue"]
        soonest, latest = (time_words(days, aloud=False) for days in (wear.ahead.days_soonest, wear.ahead.days_latest))
        return f"{time_words(wear.ahead.days, aloud=False)}, {wear.ahead.day} ({soonest} – {latest})"
    return why[wear.ahead]


def minutes_words(visit: Inspection) -> str:
    return "" if visit.seconds is None else str(minutes(visit.seconds))


def rushed_words(visit: Inspection) -> str:
    said = words().rushed.said
    return "; ".join(
        said.format(title=stretch.title, seconds=round(stretch.seconds), median=round(stretch.usual or 0))
        for stretch in visit.rushed
    )


def now_words(wear: Wear, system: System) -> str:
    return "" if wear.trend is None else value_words(wear.trend.level, wear.series, system, aloud=False)


def as_tables(history: History, *, last: int = 15) -> list[RenderableType]:
    """For the terminal, with rich.

    last: how many inspections, newest first.
    """
    from rich.text import Text

    from voice.logbook.sheet import Sheet

    text = words().table
    colors = ("green", "yellow", "dark_orange", "red")

    def level(value: Level) -> Text:
        return Text(level_words(value), style=colors[value])

    visits = Sheet(
        text.inspections,
        text.date,
        text.kind,
        text.beside,
        text.driver,
        text.odometer,
        text.worst,
        text.defects,
        text.minutes,
        text.rushed,
    )
    for visit in list(reversed(history.visits))[:last]:
        visits.add_row(
            date(visit.at),
            visit.kind or text.none,
            ", ".join(visit.beside),
            visit.driver or (text.removed if visit.removed else text.none),
            odometer_words(visit.odometer, history.system),
            level(visit.level),
            str(visit.defects or ""),
            minutes_words(visit),
            rushed_words(visit),
        )
    parts: list[RenderableType] = [Text(text.title.format(name=history.name, id=history.id), style="bold"), visits]
    for title, lives in ((text.open, history.open), (text.closed, history.closed[:last])):
        defects = Sheet(title, text.defect, text.level, text.found, text.seen, text.times, text.state)
        for life in lives:
            defects.add_row(
                f"{life.title} ({life.defect})", level(life.level), date(life.opened), date(life.seen),
                str(life.times), state_words(life),
            )  # fmt: skip
        parts.append(defects if lives else Text(f"{title}: {text.none}"))
    if history.signed:
        signed = Sheet(text.entries, text.signed, text.defect, text.entry, text.name, text.remark)
        for one in history.signed[:last]:
            signed.add_row(moment(one.at), one.defect, text.verdicts[one.verdict], one.name, one.remark)
        parts.append(signed)
    trends = Sheet(text.trends, text.place, text.quantity, text.last, text.now, text.limit, text.forecast)
    for wear in history.wears:
        trends.add_row(
            place_words(wear), quantity_name(wear.series.quantity), last_words(wear, history.system),
            now_words(wear, history.system), limit_words(wear), forecast_words(wear),
        )  # fmt: skip
    if history.wears:
        parts.append(trends)
    parts += [Text(f"• {sentence}") for sentence in history.sentences]
    if any(visit.rushed for visit in history.visits):
        parts.append(Text(words().rushed.note.strip(), style="dim"))
    return parts


def vehicle_ids(session: Session) -> list[str]:
    """Ids of all vehicles of the logbook."""
    return list(session.scalars(select(VehicleRow.id).order_by(VehicleRow.id)))
