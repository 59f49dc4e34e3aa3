"""gladhand export, verify, cosign, photo: what a finished inspection leaves behind."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from voice.cli.options import Home, complete_session, name_given

if TYPE_CHECKING:
    from voice.record.verify import Verification

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
    app.command()(cosign)
    app.command()(photo)


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

    A report carries the certifications of repair and a second driver's signature given since.
    An unfinished inspection is written as a draft.
    """
    from voice.data import folders
    from voice.record.cosign import cosignatures
    from voice.record.open_defects import certifications_of
    from voice.record.report import render_html
    from voice.record.schema import schema_text
    from voice.record.seal import dump_record, replace_file
    from voice.record.table import entries_csv, readings_csv
    from voice.session.recorded import find, record_of

    if schema:
        typer.echo(schema_text(), nl=False)
        return
    found = find(folders.home(home), session or "last")
    record = record_of(folders.home(home), found)
    name = record.id if record.sign_off is not None else f"{record.id}-draft"
    texts: dict[str, str] = {}
    if format in ("json", "all"):
        texts[f"{name}.json"] = dump_record(record)
    if format in ("csv", "all"):
        texts[f"{name}-entries.csv"] = entries_csv(record)
        texts[f"{name}-readings.csv"] = readings_csv(record)
    if format in ("html", "all"):
        since = (certifications_of(folders.home(home), record), cosignatures(folders.home(home), record))
        texts[f"{name}.html"] = render_html(record, *since, paper=paper)
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


# --- verify ------------------------------------------------------------------------------------------------------


def verify(
    targets: Annotated[
        list[str] | None,
        typer.Argument(
            help="Inspections (id, folder or 'last'), record files, or files of a day; else all inspections.",
            autocompletion=complete_session,
        ),
    ] = None,
    key: Annotated[
        list[Path] | None, typer.Option("--key", help="Public key (device.pub) of another device to trust.")
    ] = None,
    home: Home = None,
) -> None:
    """Find out whether a record, its journal or a recording was changed, and what differs. Exit 1 if so.

    Of an inspection that is not signed yet, the journal is looked at.

    A hash shows a change by accident or by someone who did not work it out again; the device's signature also shows
    one by somebody who did, but who has not this device's key. Whoever has the key can make anything look right.
    """
    from voice.data import folders
    from voice.journal.folder import sessions
    from voice.record.device import fingerprint, read_public, trusted_keys
    from voice.session.recorded import nothing

    folder = folders.home(home)
    trusted = trusted_keys(folder)
    for path in key or ():
        public = read_public(path)
        trusted[fingerprint(public)] = public
    names: Sequence[str] = targets or [found.id for found in sessions(folder)]
    if not names:
        typer.echo(nothing(folder, "There are no inspections"))
        return
    verdicts = [_verdict(folder, name, trusted, named=bool(targets)) for name in names]
    if worst := max(verdicts):
        raise typer.Exit(worst)


def _verdict(home: Path, name: str, trusted: dict[str, bytes], *, named: bool = False) -> int:
    """Checks one, so that the next is checked whatever is wrong with it.

    named: by the user, who then wants a record.

    0 sound, 1 a fault, 2 there is no such one.
    """
    from voice.errors import GladhandError, SetupError, tell

    try:
        return 0 if _verify_one(home, name, trusted, named=named) else 1
    except GladhandError as error:
        tell(error)
        return 2 if isinstance(error, SetupError) else 1


def _verify_one(home: Path, name: str, trusted: dict[str, bytes], *, named: bool) -> bool:
    from voice.data.folders import is_file
    from voice.day.files import is_day, verify_day
    from voice.errors import SetupError
    from voice.record.verify import verify_record, verify_session
    from voice.session.recorded import find, rebuild, verify_unsigned

    path = Path(name)
    if path.suffix == ".json" and not is_file(path):
        raise SetupError(f"There is no file {path}.", "Check the path, or give an inspection's id.")
    if is_file(path) and is_day(path):
        typer.echo(path)
        return _print(verify_day(path, home, trusted))
    alone = is_file(path) and not (path.name == "record.json" and (path.parent / "plan.json").exists())
    if alone:
        checked = verify_record(path, trusted)
        typer.echo(f"{path}  (the record only: its journal is not beside it)")
    else:
        found = find(home, str(path.parent) if is_file(path) else name)
        if found.signed:
            checked = verify_session(found.path, home, trusted, lambda: rebuild(home, found))
        else:
            checked = verify_unsigned(home, found)
            if named and checked.sound:
                hint = f"Finish it: 'gladhand resume {found.id}'."
                raise SetupError(f"{found.id} is not signed, so there is no record yet.", hint)
        typer.echo(found.id)
    return _print(checked)


def _print(checked: Verification) -> bool:
    """Each check in a line. Whether nothing was wrong."""
    for check in checked.checks:
        for fault in check.faults:
            typer.echo(f"  FAULT  {check.name}: {fault}")
        if not check.faults:
            typer.echo(f"  ok     {check.name}: {check.good}")
    return checked.sound


# --- cosign ------------------------------------------------------------------------------------------------------


def cosign(
    session: Annotated[
        str,
        typer.Argument(
            help="Signed inspection: its id, the beginning of it, or 'last'.", autocompletion=complete_session
        ),
    ],
    driver: Annotated[str, typer.Option("--driver", help="The second driver's name.", callback=name_given)],
    home: Home = None,
) -> None:
    """Sign a finished inspection as a second driver, who agrees with it. Added to cosignatures.jsonl.

    Of a two-driver team one signature is enough, provided both agree: 49 CFR 396.11(a)(2)(ii).
    """
    from voice.data import folders
    from voice.record.cosign import cosignatures_file
    from voice.session.cosigning import co_sign
    from voice.session.driving import driver_of
    from voice.session.recorded import find
    from voice.session.resources import known_drivers

    folder = folders.home(home)
    name = driver_of(driver, known_drivers(folder))
    record = co_sign(folder, find(folder, session), name)
    typer.echo(f"{record.id}: signed by {name} too. Written to {cosignatures_file(folder)}.")


# --- photo -------------------------------------------------------------------------------------------------------


def photo(
    session: Annotated[
        str,
        typer.Argument(
            help="Signed inspection: its id, the beginning of it, or 'last'.", autocompletion=complete_session
        ),
    ],
    part: Annotated[str, typer.Argument(help="Which reported defect: its key, or words of it: 'glad-hands#leaking'.")],
    file: Annotated[Path, typer.Argument(help="The picture: JPEG or PNG.")],
    name: Annotated[
        str | None, typer.Option("--name", help="Who puts it there; else who signed.", callback=name_given)
    ] = None,
    home: Home = None,
) -> None:
    """Keep a photo beside an inspection, for one of its reported defects. Shown on the unit's page of the desk.

    A smaller copy without place, time and device is kept; the file itself is not touched. It stays on this machine, and
    is removed with the inspection.
    """
    from voice.data import folders
    from voice.session.photographed import add_photo
    from voice.session.recorded import find

    folder = folders.home(home)
    found = find(folder, session)
    kept, title = add_photo(folder, found, part, file, name)
    typer.echo(f"{kept.record}: {title}: a photo by {kept.name}. Written to {found.path / kept.file}.")
