"""A table for the terminal that breaks no word, however narrow the terminal is."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.cells import cell_len
from rich.console import Console, ConsoleOptions, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

_BETWEEN = 3  # what rich puts between two columns, and one more at the end


class Sheet:
    """Columns beside each other where every word fits into its column; else a few lines for each row, as on a phone.

    A column that is empty in every row is left out.
    """

    def __init__(self, title: str, *columns: str) -> None:
        self._title = title
        self._columns = columns
        self._rows: list[tuple[Text, ...]] = []

    def add_row(self, *cells: str | Text) -> None:
        """As many cells as there are columns; what they say is no markup."""
        self._rows.append(tuple(cell if isinstance(cell, Text) else Text(cell) for cell in cells))

    def __rich_console__(self, _: Console, options: ConsoleOptions) -> Iterator[RenderableType]:
        filled = [at for at in range(len(self._columns)) if any(row[at].plain for row in self._rows)]
        widths = self._widths(filled, options.max_width)
        yield from self._lines(filled) if widths is None else self._table(filled, widths)

    def _widths(self, filled: Sequence[int], room: int) -> list[int] | None:
        """As wide as their longest line if there is room, never less than their longest word; None if that is not."""
        texts = [[self._columns[at], *(row[at].plain for row in self._rows)] for at in filled]
        least = [max(cell_len(word) for text in column for word in text.split() or [""]) for column in texts]
        wanted = [max(cell_len(line) for text in column for line in text.split("\n")) for column in texts]
        room -= _BETWEEN * len(filled) + 1
        if sum(least) > room:
            return None
        while sum(wanted) > room:
            wide = max((at for at in range(len(wanted)) if wanted[at] > least[at]), key=lambda at: wanted[at])
            wanted[wide] -= 1
        return wanted

    def _table(self, filled: Sequence[int], widths: Sequence[int]) -> Iterator[RenderableType]:
        made = Table(title=self._title, title_justify="left", title_style="bold", header_style="bold", expand=False)
        for at, width in zip(filled, widths, strict=True):
            made.add_column(self._columns[at], overflow="fold", width=width)
        for row in self._rows:
            made.add_row(*(row[at] for at in filled))
        yield made

    def _lines(self, filled: Sequence[int]) -> Iterator[RenderableType]:
        yield Text(self._title, style="bold")
        first, *others = filled
        for row in self._rows:
            yield row[first]
            for at in others:
                if row[at].plain:
                    yield Padding(Text.assemble(f"{self._columns[at]}: ", row[at]), (0, 0, 0, 2))
