"""gladhand repairs: open defects, and their certification by the carrier."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any, Literal

import typer
from typer.core import TyperGroup

from voice.cli.options import Home, complete_defect, complete_vehicle, name_given


class _ListFirst(TyperGroup):
    """`repairs VEHICLE` lists: whatever is not a command is taken for one's argument."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        if "--help" not in args and (not args or args[0] not in self.commands):
            args = ["list", *args]
        return super().parse_args(ctx, args)


repairs = typer.Typer(
    cls=_ListFirst,
    help="Open defects, and their certification by the carrier (49 CFR 396.11(a)(3)). "
    "'gladhand repairs [VEHICLE]' lists what is open.",
    rich_markup_mode=None,
)


def register(app: typer.Typer) -> None:
    app.add_typer(repairs, name="repairs")


@repairs.command("list")
def list_repairs(
    vehicle: Annotated[
        str | None, typer.Argument(help="Vehicle id; else all of them.", autocompletion=complete_vehicle)
    ] = None,
    home: Home = None,
) -> None:
    """List defects that were reported and not yet certified, the worst and oldest first.

    Exit status 2 for a vehicle of which there is neither a profile nor a signed inspection.
    """
    from voice.data import folders
    from voice.errors import SetupError
    from voice.judge.wording import level_words
    from voice.record.open_defects import open_defects
    from voice.record.past import known_vehicles, past_records
    from voice.record.wording import words
    from voice.session.recorded import nothing

    folder = folders.home(home)
    answers = words("report")["carried"]["answers"]
    _tell_missing(folder, vehicle)
    vehicles = sorted({past.vehicle for past in past_records(folder, vehicle)})
    if not vehicles:
        known = known_vehicles(folder)
        if vehicle is not None and vehicle not in known:
            raise SetupError(f'There is no vehicle "{vehicle}".', f"Known: {', '.join(known) or 'none'}.")
        typer.echo(nothing(folder, f"No signed inspection of {vehicle or 'any vehicle'}"))
        return
    for name in vehicles:
        found = open_defects(folder, name)
        typer.echo(f"{name}: " + (f"{len(found)} open" if found else "nothing open"))
        for defect in found:
            seen = f", seen {defect.times_seen} times" if defect.times_seen > 1 else ""
            said = f"; driver's last word: {answers[defect.said]}" if defect.said else ""
            typer.echo(f"  {defect.title}")
            reported = f"reported {defect.found:%Y-%m-%d %H:%M} in {defect.record}"
            typer.echo(f"    {level_words(defect.level)}; {reported}{seen}{said}")
            typer.echo(f"    key: {defect.key}")


def _tell_missing(home: Path, vehicle: str | None) -> None:
    """Names inspections that were signed and whose record is gone: what they report cannot be listed."""
    from voice.errors import GladhandError, tell
    from voice.session.recorded import without_record
    from voice.session.resources import missing

    try:
        for found, of in without_record(home):
            if vehicle is None or vehicle in of:
                tell(f"{found.id} is {missing(found)}. Defects that it reports are not listed.")
    except GladhandError as error:
        tell(error)


@repairs.command()
def certify(
    key: Annotated[
        str, typer.Argument(help="The defect's key, as 'gladhand repairs' shows it.", autocompletion=complete_defect)
    ],
    verdict: Annotated[
        Literal["repaired", "unnecessary"], typer.Option("--verdict", help="It was repaired, or needs no repair.")
    ],
    name: Annotated[str, typer.Option("--name", help="Who certifies it, for the carrier.", callback=name_given)],
    remark: Annotated[str, typer.Option("--remark", help="What was done.")] = "",
    vehicle: Annotated[
        str | None,
        typer.Option("--vehicle", help="Which vehicle, if it is open on several.", autocompletion=complete_vehicle),
    ] = None,
    home: Home = None,
) -> None:
    """Certify that a defect was repaired or that repair is unnecessary. Added to repairs.jsonl; nothing is changed.

    Exit status 2 if there is no such open defect, or if it is open on several vehicles and none is named.
    """
    from datetime import UTC, datetime

    from voice.data import folders
    from voice.data.fields import MAX_TEXT
    from voice.errors import SetupError
    from voice.record.device import load_key
    from voice.record.model import Certification
    from voice.record.open_defects import find_open
    from voice.record.repairs import Repair, repairs_file
    from voice.record.repairs import certify as add

    folder = folders.home(home)
    if len(remark) > MAX_TEXT:
        raise SetupError(f"The remark has more than {MAX_TEXT} characters.", "Make it shorter.")
    owner, defect = find_open(folder, key, vehicle)
    certification = Certification(
        key=key,
        verdict="repaired" if verdict == "repaired" else "repair-unnecessary",
        name=name,
        at=datetime.now(UTC).astimezone(),
        remark=remark.strip(),
    )
    add(folder, Repair(owner, defect.last, certification), load_key(folder))
    said = certification.verdict.replace("-", " ")
    typer.echo(f"{owner}: {defect.title}: certified as {said} by {certification.name}.")
    typer.echo(f"Written to {repairs_file(folder)}.")
