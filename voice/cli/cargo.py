"""`gladhand cargo`: how many tie-downs a piece of cargo needs, and how strong."""

from __future__ import annotations

from fractions import Fraction
from typing import Annotated

import typer

from voice.judge.tiedownfigures import Way
from voice.judge.tiedowns import Kind


def register(app: typer.Typer) -> None:
    app.command("cargo")(cargo)


def cargo(
    length: Annotated[str, typer.Option(help='Of the piece of cargo: "18", "18 feet", "5.5 meters".')],
    weight: Annotated[str, typer.Option(help='Of the piece of cargo: "40200", "40200 pounds", "18000 kg".')],
    number: Annotated[int, typer.Option(min=0, help="Tie-downs on it.")],
    limit: Annotated[str, typer.Option(help='Working load limit marked on each: "5000", "2000 kg".')] = "",
    kind: Annotated[Kind | None, typer.Option(help="Of tie-downs without a mark.")] = None,
    size: Annotated[str, typer.Option(help='Of tie-downs without a mark, inches: "3/8", "4".')] = "",
    way: Annotated[Way, typer.Option(help="Over to the other side, to the cargo itself, or back to the same side.")] = (
        "across"
    ),
    blocked: Annotated[bool, typer.Option("--blocked", help="Something fastened is before it.")] = False,
) -> None:
    """Says how many tie-downs the federal rules ask for, how strong, and which rule says so.

    Exit status 1 if those on it are too few or too weak; 2 if something is missing.
    """
    from voice.errors import SetupError
    from voice.judge.tiedowns import Cargo, TieDowns, secured, tie_down_rules, unmarked_limit

    piece = Cargo(_number(length, "ft", "length"), _number(weight, "lb", "weight"), blocked)
    if bool(limit) == bool(kind):
        raise SetupError("The strength of the tie-downs is not known.", "Give --limit, or --kind and --size instead.")
    if kind is None:
        each = _number(limit, "lb", "limit")
    else:
        each, sentence = unmarked_limit(kind, size)
        typer.echo(sentence)
    found = secured(piece, TieDowns(number, each, way), tie_down_rules())
    typer.echo("\n".join(found.told))
    if not found.enough:
        raise typer.Exit(1)


def _number(text: str, unit: str, name: str) -> Fraction:
    """A measure in the unit, above zero. Raises SetupError."""
    from voice.errors import SetupError
    from voice.measure.reading import Reading, parse

    read = parse(text, unit, Fraction(1, 100), Fraction(10**7), Fraction(1, 100))
    if not isinstance(read, Reading) or not read.plausible:
        raise SetupError(f"'{text}' is no {name}.", f"Give a number above zero, with its unit if that is not {unit}.")
    return read.value
