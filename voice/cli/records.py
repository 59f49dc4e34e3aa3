"""gladhand export, verify, repairs: what a finished inspection leaves behind."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer
from typer.core import TyperGroup

from voice.cli.options import Home, complete_defect, complete_session, complete_vehicle, name_given

if TYPE_CHECKING:
    from voice.journal.folder import Session
    from voice.record.model import InspectionRecord
    from voice.record.verify import Rebuilt

Format = Literal["json", "csv", "html", "all"]
Target = Annotated[
    str | None,
    typer.Argument(
        help="Inspection: its id, the beginning of it, its folder, or 'last'.", autocompletion=complete_session
    ),
]


def register(app: typer.Typer) -> None:
    app.command()(export)
    app.command()(verify)
    app.add_typer(repairs, name="repairs")


# --- export ------------------------------------------------------------------------------------------------------


def export(
    session: Target = None,
    format: Annotated[Format, typer.Option("--format", "-f", help="What to write.")] = "all",
    out: Annotated[Path, typer.Option("--out", "-o", help="Folder to write to; made if it is not there.")] = Path(),
    paper: Annotated[
        Literal["auto", "a4", "letter"],
        typer.Option("--paper", help="Sheet of the report; auto: the printer's."),
    ] = "auto",
    schema: Annotated[bool, typer.Option("--schema", help="Print the JSON Schema of records and stop.")] = False,
    home: Home = None,
) -> None:
    """Write an inspection as JSON, as CSV for a spreadsheet, and as a report to print or to read on a phone.

    A report carries the certifications of repair given since. An unfinished inspection is written as a draft.
    """
    from voice.data import folders
    from voice.record.canonical import dump_record, replace_file
    from voice.record.open_defects import certifications_of
    from voice.record.report import render_html
    from voice.record.schema import schema_text
    from voice.record.table import entries_csv, readings_csv

    if schema:
        typer.echo(schema_text(), nl=False)
        return
    found = _find(folders.home(home), session or "last")
    record = _record(folders.home(home), found)
    name = record.id if record.sign_off is not None else f"{record.id}-draft"
    texts: dict[str, str] = {}
    if format in ("json", "all"):
        texts[f"{name}.json"] = dump_record(record)
    if format in ("csv", "all"):
        texts[f"{name}-entries.csv"] = entries_csv(record)
        texts[f"{name}-readings.csv"] = readings_csv(record)
    if format in ("html", "all"):
        texts[f"{name}.html"] = render_html(record, certifications_of(folders.home(home), record), paper=paper)
    _make_folder(out)
    for file, text in texts.items():
        replace_file(out / file, text.encode(), mode=0o644)  # made to be handed on
        typer.echo(out / file)


def _make_folder(out: Path) -> None:
    from voice.errors import SetupError

    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise SetupError(f"{out} cannot be made: {error.strerror}.", "Give another folder with --out.") from error


def _nothing(home: Path, what: str) -> str:
    return f"{what} in {home}{'' if home.is_dir() else ': that folder does not exist'}."


def _find(home: Path, name: str) -> Session:
    """By id, the beginning of one, folder, record file, or "last"."""
    from voice.errors import SetupError
    from voice.journal import folder as session

    known = list(session.sessions(home))
    if name == "last":
        if not known:
            raise SetupError(_nothing(home, "There are no inspections"), "Begin one with 'gladhand walk'.")
        return known[0]
    hits = [found for found in known if found.id.startswith(name)] if name else []
    if len(hits) == 1 or any(found.id == name for found in hits):
        return next((found for found in hits if found.id == name), hits[0])
    if len(hits) > 1:
        raise SetupError(f"'{name}' is the beginning of {len(hits)} inspections.", "Give more of its id.")
    return session.find(home, name)


def _record(home: Path, found: Session) -> InspectionRecord:
    """A signed session's record as it was written; an open one's as a draft from its journal."""
    from voice.record.canonical import load_record

    return load_record(found.record) if found.signed else _rebuild(home, found).record


def _rebuild(home: Path, found: Session) -> Rebuilt:
    """The record made from the journal, by the plan and the limits that the session began with."""
    from voice.journal import folder as session
    from voice.journal import journal
    from voice.record.files import make_record
    from voice.record.verify import Rebuilt
    from voice.session.resources import open_resources

    resources = open_resources(home)
    plan, limits = session.load_snapshot(found)
    file = journal.read(found.journal)
    context = resources.context(plan, limits, file.heading.drivers)
    state = session.replay(context, file)
    record = make_record(plan, file, state, limits, context.defects)
    program = None if file.heading.program == session.PROGRAM else session.PROGRAM
    return Rebuilt(record, resources.library.sha256 == plan.data_sha256, program)


# --- verify ------------------------------------------------------------------------------------------------------


def verify(
    targets: Annotated[
        list[str] | None,
        typer.Argument(
            help="Inspections (id, folder or 'last') or record files; else all of them.",
            autocompletion=complete_session,
        ),
    ] = None,
    key: Annotated[
        list[Path] | None, typer.Option("--key", help="Public key (device.pub) of another device to trust.")
    ] = None,
    home: Home = None,
) -> None:
    """Find out whether a record, its journal or a recording was changed, and what differs. Exit 1 if so.

    A hash shows a change by accident or by someone who did not work it out again; the device's signature also shows
    one by somebody who did, but who has not this device's key. Whoever has the key can make anything look right.
    """
    from voice.data import folders
    from voice.journal.folder import sessions
    from voice.record.device import fingerprint, read_public, trusted_keys

    folder = folders.home(home)
    trusted = trusted_keys(folder)
    for path in key or ():
        public = read_public(path)
        trusted[fingerprint(public)] = public
    names: Sequence[str] = targets or [found.id for found in sessions(folder) if found.signed]
    if not names:
        typer.echo(_nothing(folder, "There are no signed inspections"))
        return
    verdicts = [_verdict(folder, name, trusted) for name in names]
    if worst := max(verdicts):
        raise typer.Exit(worst)


def _verdict(home: Path, name: str, trusted: dict[str, bytes]) -> int:
    """Checks one, so that the next is checked whatever is wrong with it. 0 sound, 1 a fault, 2 there is no such one."""
    from voice.errors import GladhandError, SetupError, tell

    try:
        return 0 if _verify_one(home, name, trusted) else 1
    except GladhandError as error:
        tell(error)
        return 2 if isinstance(error, SetupError) else 1


def _verify_one(home: Path, name: str, trusted: dict[str, bytes]) -> bool:
    from voice.data.folders import is_file
    from voice.errors import SetupError
    from voice.record.verify import verify_record, verify_session

    path = Path(name)
    alone = is_file(path) and not (path.name == "record.json" and (path.parent / "plan.json").exists())
    if alone:
        checked, _ = verify_record(path, trusted)
        typer.echo(f"{path}  (the record only: its journal is not beside it)")
    else:
        found = _find(home, str(path.parent) if is_file(path) else name)
        if not found.signed:
            raise SetupError(f"{found.id} is not signed, so there is no record yet.", "Finish it: 'gladhand resume'.")
        checked = verify_session(found.path, home, trusted, lambda: _rebuild(home, found))
        typer.echo(found.id)
    for check in checked.checks:
        for fault in check.faults:
            typer.echo(f"  FAULT  {check.name}: {fault}")
        if not check.faults:
            typer.echo(f"  ok     {check.name}: {check.good}")
    return checked.sound


# --- repairs -----------------------------------------------------------------------------------------------------


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
    from voice.judge.wording import verdicts
    from voice.record.open_defects import open_defects
    from voice.record.past import past_records
    from voice.record.wording import words

    folder = folders.home(home)
    levels, answers = verdicts().levels, words("report")["carried"]["answers"]
    vehicles = sorted({past.vehicle for past in past_records(folder, vehicle)})
    if not vehicles:
        known = _vehicles(folder)
        if vehicle is not None and vehicle not in known:
            raise SetupError(f'There is no vehicle "{vehicle}".', f"Known: {', '.join(known) or 'none'}.")
        typer.echo(_nothing(folder, f"No signed inspection of {vehicle or 'any vehicle'}"))
        return
    for name in vehicles:
        found = open_defects(folder, name)
        typer.echo(f"{name}: " + (f"{len(found)} open" if found else "nothing open"))
        for defect in found:
            seen = f", seen {defect.times_seen} times" if defect.times_seen > 1 else ""
            said = f"; driver's last word: {answers[defect.said]}" if defect.said else ""
            typer.echo(f"  {defect.title}")
            reported = f"reported {defect.found:%Y-%m-%d %H:%M} in {defect.record}"
            typer.echo(f"    {levels[defect.level]}; {reported}{seen}{said}")
            typer.echo(f"    key: {defect.key}")


def _vehicles(home: Path) -> list[str]:
    """Ids of the vehicles that have a profile in the home, or a signed inspection."""
    from voice.record.past import past_records
    from voice.route.vehicles import profile_files, read_profiles

    profiles = read_profiles({file.stem: file for file in profile_files(home / "vehicles")}).vehicles
    return sorted({past.vehicle for past in past_records(home)} | {vehicle.id for vehicle in profiles.values()})


@repairs.command()
def certify(
    key: Annotated[
        str, typer.Argument(help="The defect's key, as 'gladhand repairs' shows it.", autocompletion=complete_defect)
    ],
    verdict: Annotated[
        Literal["repaired", "unnecessary"], typer.Option("--verdict", help="It was repaired, or needs no repair.")
    ],
    name: Annotated[str, typer.Option("--name", help="Who certifies it, for the carrier.")],
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
    if not name.strip():
        raise SetupError("A certification needs a name.", "Give it with --name.")
    name_given(name)
    if len(remark) > MAX_TEXT:
        raise SetupError(f"The remark has more than {MAX_TEXT} characters.", "Make it shorter.")
    owner, defect = find_open(folder, key, vehicle)
    certification = Certification(
        key=key,
        verdict="repaired" if verdict == "repaired" else "repair-unnecessary",
        name=name.strip(),
        at=datetime.now(UTC).astimezone(),
        remark=remark.strip(),
    )
    add(folder, Repair(owner, defect.last, certification), load_key(folder))
    said = certification.verdict.replace("-", " ")
    typer.echo(f"{owner}: {defect.title}: certified as {said} by {certification.name}.")
    typer.echo(f"Written to {repairs_file(folder)}.")
