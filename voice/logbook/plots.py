"""The pictures of a vehicle's history, as SVG by matplotlib: small panels, laid out as the wheels are."""

from __future__ import annotations

import io
import re
from collections import defaultdict
from collections.abc import Sequence
from contextlib import AbstractContextManager
from datetime import datetime
from typing import TYPE_CHECKING, Any

from voice.logbook.history import History
from voice.logbook.trends import Series, Wear, place_words
from voice.logbook.visits import Inspection
from voice.logbook.wear import Sample
from voice.logbook.wording import words
from voice.measure.book import unit_book
from voice.measure.level import Level
from voice.measure.telling import System, minutes, quantity_name, shown_in, to_division, told
from voice.route.model import Place

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

INK, SOFT, LINE = "#17202a", "#5a6672", "#d4dae0"
DEEP, LIMIT, TREND = "#1f3a52", "#b3261e", "#d9730d"
LEVELS = ("#2c5f43", "#c9a400", "#d9730d", "#b3261e")
_COLUMNS = (("left", "outer"), ("left", "inner"), ("right", "inner"), ("right", "outer"))


_STYLE: dict[str, Any] = {
    "svg.fonttype": "none",  # text stays text: it can be found, read aloud and is small
    "font.family": "sans-serif",
    "font.sans-serif": ["Helvetica Neue", "Helvetica", "Arial", "Liberation Sans", "DejaVu Sans"],
    "font.size": 8,
    "axes.edgecolor": LINE,
    "axes.labelcolor": SOFT,
    "xtick.color": SOFT,
    "ytick.color": SOFT,
    "text.color": INK,
    "axes.spines.top": False,
    "axes.spines.right": False,
}


def _styled(salt: str = "") -> AbstractContextManager[None]:
    """Within it figures look alike.

    salt: keeps the ids of several pictures in one page apart.
    """

    import matplotlib as mpl

    style: Any = {**_STYLE, "svg.hashsalt": salt}
    return mpl.rc_context(style)


def _svg(figure: Figure, salt: str) -> str:
    """The figure as an SVG element."""
    from matplotlib.backends.backend_svg import FigureCanvasSVG

    out = io.StringIO()
    with _styled(salt):
        FigureCanvasSVG(figure)
        figure.savefig(out, format="svg", metadata={"Date": None, "Creator": None, "Format": None, "Type": None})
    text = out.getvalue()
    # The figure around it has the words for who does not see it; the groups' ids are the same in every picture.
    return re.sub(r'<g id="[^"]*">', "<g>", text[text.index("<svg") :].replace("<svg", '<svg aria-hidden="true"', 1))


def readings(history: History) -> list[tuple[str, str]]:
    """(quantity's name, SVG) for each quantity with at least two readings somewhere, the worn ones first."""

    groups: dict[tuple[str, str], list[Wear]] = defaultdict(list)
    for wear in history.wears:
        if len(wear.series.points) >= 2:
            groups[wear.series.item, wear.series.quantity].append(wear)
    found = []
    with _styled():
        for (item, quantity), wears in sorted(groups.items(), key=lambda group: -len(group[1])):
            found.append((quantity_name(quantity), _svg(_grid(wears, history.system), f"{item}/{quantity}")))
    return found


def _column(place: Place) -> tuple[int, int]:
    """(column, width in columns) of a position: four across, a single tire takes its side's two."""
    if place.tire is not None:
        return _COLUMNS.index((str(place.side), place.tire)), 1
    return (0 if place.side == "left" else 2, 2) if place.side else (0, 4)


def _grid(wears: Sequence[Wear], system: System) -> Figure:
    from matplotlib.figure import Figure

    axles = sorted({wear.series.position.axle for wear in wears}, key=lambda axle: axle or 0)
    if axles == [None]:
        return _row(wears, system)
    height = 1.35 * len(axles) + 0.45
    figure = Figure(figsize=(10, height))
    grid = figure.add_gridspec(
        len(axles), 4, left=0.055, right=0.995, top=1 - 0.22 / height, bottom=0.24 / height, hspace=0.42, wspace=0.07
    )
    low, high = _range(wears)
    for wear in wears:
        column, width = _column(wear.series.position)
        row = axles.index(wear.series.position.axle)
        axes = figure.add_subplot(grid[row, column : column + width])
        _panel(axes, wear, (low, high), system)
        axes.tick_params(labelbottom=row == len(axles) - 1, labelleft=column == 0)
    return figure


def _row(wears: Sequence[Wear], system: System) -> Figure:
    from matplotlib.figure import Figure

    figure = Figure(figsize=(10, 1.9))
    figure.subplots_adjust(left=0.055, right=0.995, top=0.86, bottom=0.14, wspace=0.15)
    low, high = _range(wears)
    for number, wear in enumerate(wears):
        axes = figure.add_subplot(1, len(wears), number + 1)
        _panel(axes, wear, (low, high), system)
    return figure


def _range(wears: Sequence[Wear]) -> tuple[float, float]:
    values = [point.value for wear in wears for point in wear.series.points]
    values += [wear.bound.value for wear in wears if wear.bound is not None]
    low, high = min(values), max(values)
    room = 0.08 * (high - low) or 0.5
    return low - room, high + room


def _panel(axes: Axes, wear: Wear, between: tuple[float, float], system: System) -> None:
    points, (low, high) = wear.series.points, between
    odometer = wear.trend.axis == "mile" if wear.trend is not None else False
    if odometer:
        points = tuple(point for point in points if point.odometer is not None)
    xs: list[Any] = [_x(point, odometer) for point in points]
    axes.plot(xs, [point.value for point in points], ".", color=DEEP, markersize=3.2, alpha=0.75)
    if wear.bound is not None:
        axes.axhline(wear.bound.value, color=LIMIT, linewidth=0.9)
        edge = low if wear.bound.falling else high
        axes.axhspan(min(edge, wear.bound.value), max(edge, wear.bound.value), color=LIMIT, alpha=0.07, linewidth=0)
    if wear.trend is not None:
        trend = wear.trend
        if odometer:
            ends: list[Any] = [(trend.last - trend.span) / 1000, trend.last / 1000]
        else:
            ends = [trend.since, trend.until]
        axes.plot(ends, [trend.level - trend.slope * trend.span, trend.level], color=TREND, linewidth=1.4)
    axes.set_ylim(low, high)
    _ticks(axes, wear.series, high - low, system)
    axes.set_title(place_words(wear), fontsize=7.5, loc="left", color=INK, pad=3)
    axes.margins(x=0.04)
    axes.grid(axis="y", color=LINE, linewidth=0.5)
    axes.set_axisbelow(True)
    if not odometer:
        _dates(axes)
    else:
        axes.locator_params(axis="x", nbins=5)


def _ticks(axes: Axes, series: Series, height: float, system: System) -> None:
    """As the gauge is read and the tables print it: tread in thirty-seconds, lining in sixteenths; or metric."""
    from matplotlib.ticker import FuncFormatter, MultipleLocator

    quantity, unit = series.quantity, series.unit
    entry = unit_book().quantities.get(quantity)
    divided = entry is not None and entry.denominator and entry.unit == unit and system == "us"
    bare = shown_in(unit, quantity, system)[0]

    def label(value: float, _: int | None = None) -> str:
        rounded = to_division(value, unit, quantity) if divided else value
        return told(rounded, unit, quantity=quantity, system=system).removesuffix(f" {bare}")

    if entry is not None and divided:
        parts = entry.denominator or 1
        step = next(step for step in (1, 2, 4, 8, 16, 10**6) if height * parts / step <= 5)
        axes.yaxis.set_major_locator(MultipleLocator(step / parts))
    else:
        axes.locator_params(axis="y", nbins=4)
    axes.yaxis.set_major_formatter(FuncFormatter(label))


def _x(point: Sample, odometer: bool) -> float | datetime:
    return (point.odometer or 0.0) / 1000 if odometer else point.at


def _dates(axes: Axes) -> None:
    from matplotlib.dates import AutoDateLocator, ConciseDateFormatter

    left, right = axes.dataLim.x0, axes.dataLim.x1
    if right - left < 14:  # a day or a few: nothing to lay a calendar on
        axes.set_xlim((left + right) / 2 - 7, (left + right) / 2 + 7)
    locator = AutoDateLocator(maxticks=5)  # type: ignore[no-untyped-call]
    axes.xaxis.set_major_locator(locator)
    axes.xaxis.set_major_formatter(ConciseDateFormatter(locator))  # type: ignore[no-untyped-call]


def defects(history: History, *, most: int = 40) -> str:
    """A line for each defect from found to certified; open ones run to the right edge.

    most: the latest so many.
    """
    from matplotlib.figure import Figure

    names = list(dict.fromkeys(life.title for life in history.lives))[-most:]
    if not names:
        return ""
    with _styled():
        figure = Figure(figsize=(10, 0.24 * len(names) + 0.7), layout="constrained")
        axes = figure.add_subplot()
        ends = [visit.at for visit in history.visits] + [life.closed or life.seen for life in history.lives]
        edge = max(ends)
        for life in history.lives:
            if life.title not in names:
                continue
            row = len(names) - 1 - names.index(life.title)
            color = LEVELS[Level(life.level)]
            whole: list[Any] = [life.opened, life.closed or edge]
            dots: list[Any] = [life.opened, life.seen]
            axes.plot(whole, [row, row], color=color, linewidth=4, solid_capstyle="butt")
            axes.plot(dots, [row, row], ".", color=INK, markersize=4)
            if life.closed is not None:
                axes.plot(whole[1:], [row], "|", color=INK, markersize=9, markeredgewidth=1.4)
        axes.set_yticks(range(len(names)), list(reversed(names)), color=INK)
        axes.set_ylim(-0.7, len(names) - 0.3)
        axes.grid(axis="x", color=LINE, linewidth=0.5)
        axes.set_axisbelow(True)
        _dates(axes)
        return _svg(figure, "defects")


def durations(visits: Sequence[Inspection]) -> str:
    """Minutes of each inspection, with their median; those with a quick section are drawn hollow."""
    from statistics import median

    from matplotlib.figure import Figure

    timed = [(visit, visit.seconds / 60) for visit in visits if visit.seconds is not None]
    if not timed:
        return ""
    with _styled():
        figure = Figure(figsize=(10, 2.1), layout="constrained")
        axes = figure.add_subplot()
        usual = median(length for _, length in timed)
        axes.axhline(usual, color=TREND, linewidth=1.2)
        axes.annotate(
            words().page.usual.format(minutes=minutes(usual * 60)), (1, usual), xycoords=("axes fraction", "data"),
            ha="right", va="bottom", color=INK, fontsize=7.5,
        )  # fmt: skip
        for rushed, face in ((False, DEEP), (True, "white")):
            some: list[tuple[Any, float]] = [
                (visit.at, length) for visit, length in timed if bool(visit.rushed) == rushed
            ]
            if some:
                axes.plot(
                    [at for at, _ in some], [length for _, length in some], "o", color=DEEP, markerfacecolor=face,
                    markersize=4,
                )  # fmt: skip
        axes.set_ylim(bottom=0)
        axes.set_ylabel(words().page.minutes)
        axes.grid(axis="y", color=LINE, linewidth=0.5)
        axes.set_axisbelow(True)
        _dates(axes)
        return _svg(figure, "durations")
