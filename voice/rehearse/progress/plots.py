"""The instructor's plots as SVG text, drawn by matplotlib without a display."""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from statistics import fmean
from typing import TYPE_CHECKING, Any

from voice.rehearse.progress.progress import History, PartRow
from voice.rehearse.wording import ProgressWords

if TYPE_CHECKING:
    from matplotlib.figure import Figure

# Colors that remain apart for people with the common kinds of color blindness (Okabe and Ito 2008).
COLORS = ("#0072b2", "#d55e00", "#009e73", "#cc79a7", "#e69f00", "#56b4e9", "#7f7f00", "#777777")

LANE = 11  # parts in a row of the map: as many as can carry their names


def learning_curve(history: History, words: ProgressWords) -> str:
    """Share of parts right, rehearsal by rehearsal: a line for each student, a thick one for the mean."""
    figure, axes = _figure(9, 4)
    for number, (name, sessions) in enumerate(sorted(history.items())):
        shares = [100 * session.share for session in sessions]
        axes.plot(
            range(1, len(shares) + 1), shares, ".-", color=COLORS[number % 8], lw=0.9, ms=4, alpha=0.7, label=name
        )
    longest = max(len(sessions) for sessions in history.values())
    means = [
        100 * fmean(session.share for sessions in history.values() for session in sessions[at : at + 1])
        for at in range(longest)
    ]
    if len(history) > 1:
        axes.plot(range(1, longest + 1), means, color="black", lw=2.5, label=words.mean)
    axes.set(xlabel=words.curve_x, ylabel=words.curve_y, ylim=(0, 103), xlim=(0.5, longest + 0.5))
    axes.grid(alpha=0.3)
    axes.legend(fontsize=8, loc="center left", bbox_to_anchor=(1.01, 0.5), frameon=False)
    return _svg(figure, "curve")


def heat_map(rows: Sequence[PartRow], sections: Sequence[tuple[str, str]], words: ProgressWords) -> str:
    """The route as a map: a row for each section, its parts in walking order, the redder the more often missed.

    sections: id and title in walking order.
    """
    lanes: list[tuple[str, list[PartRow]]] = []
    for id, title in sections:
        lane = [row for row in rows if row.section == id]
        # a long section goes on in the lane below
        lanes += [("" if at else title, lane[at : at + LANE]) for at in range(0, len(lane), LANE)]
    width = max(len(lane) for _, lane in lanes)
    figure, axes = _figure(11, 0.5 * len(lanes) + 0.9)
    grid = [[100 * lane[at].share if at < len(lane) else float("nan") for at in range(width)] for _, lane in lanes]
    shown = axes.imshow(grid, cmap="YlOrRd", vmin=0, vmax=100, aspect="auto")
    for y, (_, lane) in enumerate(lanes):
        for x, row in enumerate(lane):
            axes.text(x, y, _short(row.title), ha="center", va="center", fontsize=6,
                      color=_readable(shown.cmap(row.share)), linespacing=0.95)  # fmt: skip
    axes.set_yticks(range(len(lanes)), [title for title, _ in lanes], fontsize=8)
    axes.set_xticks([])
    axes.set_xlabel(words.heat_x, fontsize=9)
    for side in axes.spines.values():
        side.set_visible(False)
    bar = figure.colorbar(shown, ax=axes, fraction=0.02, pad=0.01)
    bar.set_label(words.heat_bar, fontsize=8)
    bar.ax.tick_params(labelsize=7)
    return _svg(figure, "map")


def slips(history: History, words: ProgressWords) -> str:
    """Parts out of order per rehearsal, averaged over the students."""
    figure, axes = _figure(9, 2.8)
    longest = max(len(sessions) for sessions in history.values())
    means = [
        fmean(len(session.slips) for sessions in history.values() for session in sessions[at : at + 1])
        for at in range(longest)
    ]
    axes.bar(range(1, longest + 1), means, color=COLORS[0])
    axes.set(xlabel=words.curve_x, ylabel=words.slips_y, xlim=(0.3, longest + 0.7))
    axes.grid(axis="y", alpha=0.3)
    return _svg(figure, "slips")


def _figure(width: float, height: float) -> tuple[Figure, Any]:
    from matplotlib.figure import Figure

    figure = Figure(figsize=(width, height), layout="constrained")
    return figure, figure.add_subplot()


def _svg(figure: Figure, salt: str) -> str:
    """salt: keeps the ids of several pictures in one page apart."""
    import matplotlib

    out = io.StringIO()
    # text stays text, and nothing of the moment gets in, so that the same data gives the same page
    with matplotlib.rc_context({"svg.fonttype": "none", "svg.hashsalt": salt}):
        figure.savefig(out, format="svg", metadata={"Date": None, "Creator": None})
    text = out.getvalue()
    # The figure around it has the words for who does not see it; the groups' ids are the same in every picture.
    return re.sub(r'<g id="[^"]*">', "<g>", text[text.index("<svg") :].replace("<svg", '<svg aria-hidden="true"', 1))


def _readable(behind: Sequence[float]) -> str:
    """Black or white, whichever stands out more: at least 4.5 to 1 on any color (WCAG 2.1, relative luminance)."""
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in behind[:3])
    return "black" if 0.2126 * red + 0.7152 * green + 0.0722 * blue > 0.179 else "white"


def _short(title: str) -> str:
    """A title in at most three short lines, for a cell of the map."""
    words = title.replace(",", "").split()
    lines: list[str] = []
    for word in words:
        if lines and len(lines[-1]) + len(word) < 12:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return "\n".join(line[:14] for line in lines[:3])
