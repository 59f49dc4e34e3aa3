"""Readings against their limits as SVG, without script: each point tells its date and value when it is pointed at."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from markupsafe import Markup, escape

from voice.desk.data.wears import POINTS
from voice.logbook.history import History, date, forecast_words, odometer_words
from voice.logbook.trends import Wear, last_words, limit_words, place_words
from voice.logbook.wear import Sample
from voice.measure.telling import System, quantity_name, told
from voice.record.lives import Life

WIDTH, HEIGHT, EDGE = 240.0, 92.0, 6.0


@dataclass(frozen=True, slots=True)
class Panel:
    """One position.

    last: the last reading, as its report prints it.
    limit: the limits that the report tells.
    svg: inner part of an SVG of WIDTH by HEIGHT.
    told: the same for who does not see it.
    """

    place: str
    last: str
    limit: str
    forecast: str
    svg: Markup
    told: str


@dataclass(frozen=True, slots=True)
class Group:
    """One quantity at its positions, all drawn to one scale."""

    name: str
    panels: tuple[Panel, ...]


@dataclass(frozen=True, slots=True)
class Bar:
    """The life of a defect in a drawing 100 wide, from begin to end."""

    life: Life
    x: float
    width: float
    begin: datetime
    end: datetime


def bars(lives: Sequence[Life], now: datetime, most: int = 30) -> list[Bar]:
    """The latest so many, oldest first; one that is open runs to the right edge, which is now."""
    shown = sorted(lives, key=lambda life: (life.opened, life.defect))[-most:]
    if not shown:
        return []
    begin, end = shown[0].opened, max([now, *(life.seen for life in shown)])
    whole = max((end - begin).total_seconds(), 1.0)
    found = []
    for life in shown:
        x = 100 * (life.opened - begin).total_seconds() / whole
        width = 100 * ((life.closed or end) - life.opened).total_seconds() / whole
        found.append(Bar(life, round(min(x, 99.0), 2), round(max(width, 1.0), 2), begin, end))
    return found


def groups(history: History) -> list[Group]:
    """Each quantity that was read, if only once; those with the most positions first."""
    found: dict[tuple[str, str], list[Wear]] = defaultdict(list)
    for wear in history.wears:
        if wear.series.points:
            found[wear.series.item, wear.series.quantity].append(wear)
    ordered = sorted(found.items(), key=lambda pair: (-len(pair[1]), pair[0]))
    return [Group(quantity_name(quantity), tuple(_panels(wears, history.system))) for (_, quantity), wears in ordered]


def _panels(wears: Sequence[Wear], system: System) -> Iterator[Panel]:
    shown = [wear.series.points[-POINTS:] for wear in wears]
    values = [point.value for points in shown for point in points]
    values += [wear.bound.value for wear in wears if wear.bound is not None]
    low, high = min(values), max(values)
    room = 0.1 * (high - low) or 0.5
    begin = min(points[0].at for points in shown)
    end = max(points[-1].at for points in shown)
    if begin == end:  # a single dot stands in the middle
        begin, end = begin - timedelta(days=1), end + timedelta(days=1)
    scale = _Scale(begin, max((end - begin).total_seconds(), 1.0), low - room, high - low + 2 * room, system)
    for wear, points in zip(wears, shown, strict=True):
        place, svg = place_words(wear), Markup("".join(_drawn(wear, points, scale)))  # noqa: S704
        aloud = f"{place}: {len(points)} readings, {date(points[0].at)} to {date(points[-1].at)}"
        if len(points) == 1:
            aloud = f"{place}: 1 reading, {date(points[0].at)}"
        yield Panel(place, last_words(wear, system), limit_words(wear), forecast_words(wear), svg, aloud)


@dataclass(frozen=True, slots=True)
class _Scale:
    """One for all panels of a group.

    walks: where each walk's points stand, and when that was: worked out once for all its readings.
    """

    begin: datetime
    seconds: float
    low: float
    height: float
    system: System
    walks: dict[tuple[datetime, float | None], tuple[str, str, str]] = field(default_factory=dict)

    def x(self, at: datetime) -> float:
        return EDGE + (WIDTH - 2 * EDGE) * (at - self.begin).total_seconds() / self.seconds

    def y(self, value: float) -> float:
        return HEIGHT - EDGE - (HEIGHT - 2 * EDGE) * (value - self.low) / self.height

    def walk(self, point: Sample) -> tuple[str, str, str]:
        """A point's x, its date, and its miles in words."""
        if (known := self.walks.get(point[:2])) is None:
            miles = "" if point.odometer is None else f", {odometer_words(point.odometer, self.system)}"
            known = self.walks[point[:2]] = (f"{self.x(point.at):.1f}", date(point.at), miles)
        return known


def _drawn(wear: Wear, points: Iterable[Sample], scale: _Scale) -> Iterator[str]:
    """Only numbers and escaped words go into it."""
    if wear.bound is not None:
        y = scale.y(wear.bound.value)
        edge = HEIGHT if wear.bound.falling else 0.0
        yield f'<rect class="beyond" x="0" y="{min(y, edge):.1f}" width="{WIDTH:.0f}" height="{abs(edge - y):.1f}"/>'
        yield f'<line class="limit" x1="0" y1="{y:.1f}" x2="{WIDTH:.0f}" y2="{y:.1f}">'
        yield f"<title>{escape(wear.bound.printed)}</title></line>"
    if wear.trend is not None and wear.trend.until > scale.begin:
        trend = wear.trend
        share = max(0.0, (scale.begin - trend.since).total_seconds()) / max(
            (trend.until - trend.since).total_seconds(), 1.0
        )
        first = trend.level - trend.slope * trend.span * (1 - share)
        yield (
            f'<line class="trend" x1="{scale.x(max(trend.since, scale.begin)):.1f}" y1="{scale.y(first):.1f}"'
            f' x2="{scale.x(trend.until):.1f}" y2="{scale.y(trend.level):.1f}"/>'
        )
    said: dict[float, tuple[str, str]] = {}
    for point in points:
        if (known := said.get(point.value)) is None:
            value = told(point.value, wear.series.unit, quantity=wear.series.quantity, system=scale.system)
            known = said[point.value] = (f"{scale.y(point.value):.1f}", str(escape(value)))
        x, day, miles = scale.walk(point)
        yield f'<circle cx="{x}" cy="{known[0]}" r="3"><title>{day}: {known[1]}{miles}</title></circle>'
