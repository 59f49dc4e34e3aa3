"""gladhand models: the speech models there are, and those added."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from voice.cli.options import Home

if TYPE_CHECKING:
    from voice.models.catalogue import SpeechModel
    from voice.models.shelf import Installed

models = typer.Typer(no_args_is_help=True, help="Speech models: list, add, check, remove. Nothing is downloaded.")

SHOWN = 40  # words named before "and N more"


def register(app: typer.Typer) -> None:
    app.add_typer(models, name="models")


@models.command("list")
def list_models(home: Home = None) -> None:
    """List the models in use, those added, and those that can be had, with size, license and address."""
    from voice.data import folders
    from voice.models.catalogue import load_catalogue
    from voice.models.shelf import Shelf

    catalogue = load_catalogue()
    shelf = Shelf(folders.home(home), catalogue)
    typer.echo("Inside Python packages:")
    for entry in catalogue.models:
        if entry.package is not None:
            fault = entry.package.fault()
            _tell(entry, "as tried by this project" if fault is None else f"NOT USED: {fault}. {entry.package.repair}")
    typer.echo("\nAdded by you:")
    added = shelf.installed()
    for model in added:
        state = "as added" if model.unchanged() else "CHANGED since it was added: check it"
        typer.echo(f"  {model.id}  {_size(model)}  {state}\n      {model.folder}")
    if not added:
        typer.echo("  none")
    typer.echo("\nTo be had (get the file at a connected machine, then: gladhand models add FILE):")
    for entry in catalogue.models:
        if entry.address is not None:
            _tell(entry, "tried by this project" if entry.tried else "not tried by this project")
            typer.echo(f"      {entry.address}")


@models.command()
def add(
    source: Annotated[Path, typer.Argument(help="Zip file or folder with a Vosk model.")],
    name: Annotated[str | None, typer.Option("--name", help="Name to keep it by; its own if not given.")] = None,
    all_words: Annotated[bool, typer.Option("--all-words", help="Name every word it does not know.")] = False,
    home: Home = None,
) -> None:
    """Check a Vosk model and copy it into the Gladhand folder."""
    from voice.data import folders
    from voice.models.shelf import Shelf, require

    require(source)
    typer.echo(f"Checking {source} ...", err=True)
    model = Shelf(folders.home(home)).add(source, name)
    origin = "its checksum is the catalogue's" if model.manifest.known else "not in the catalogue by checksum"
    typer.echo(f"Added {model.id}, {_size(model)}, {origin}.")
    typer.echo(f"Use it with: gladhand walk --model-dir {model.folder}")
    _words(model, all_words)


@models.command()
def check(
    model: Annotated[str | None, typer.Argument(help="Name of an added model; all of them if not given.")] = None,
    all_words: Annotated[bool, typer.Option("--all-words", help="Name every word it does not know.")] = False,
    home: Home = None,
) -> None:
    """Check models again: files unchanged, engine works, every word of the routes known. Exit code 1 if not."""
    from voice.data import folders
    from voice.errors import SetupError
    from voice.models.catalogue import load_catalogue
    from voice.models.shelf import Shelf

    catalogue = load_catalogue()
    shelf = Shelf(folders.home(home), catalogue)
    chosen = [shelf.get(model)] if model else shelf.installed()
    faults = 0
    for entry in catalogue.models:
        if model is None and entry.package is not None and entry.package.folder() is not None:
            fault = entry.package.fault()
            typer.echo(f"{entry.id}: {fault or 'whole'}")
            faults += fault is not None
    for each in chosen:
        try:
            each.check()
        except SetupError as error:
            typer.echo(f"{each.id}: {error}")
            faults += 1
            continue
        typer.echo(f"{each.id}: whole, and the engine works with it")
        faults += _words(each, all_words)
    if faults:
        raise typer.Exit(1)


@models.command()
def remove(
    model: Annotated[str, typer.Argument(help="Name of an added model.")],
    home: Home = None,
) -> None:
    """Delete an added model."""
    from voice.data import folders
    from voice.models.shelf import Shelf

    Shelf(folders.home(home)).remove(model)
    typer.echo(f"Removed {model}.")


def _tell(entry: SpeechModel, state: str) -> None:
    graph = "" if entry.graph is None else f"  {entry.graph} graph"
    typer.echo(f"  {entry.id}  {entry.engine}  {entry.language}  {entry.size}  {entry.license}{graph}  {state}")
    typer.echo(f"      {entry.note}")


def _size(model: Installed) -> str:
    from voice.models.disk import size_text

    return size_text(model.bytes)


def _words(model: Installed, all_words: bool) -> bool:
    """Tells which words of the routes the model does not know; True if there are any."""
    from voice.understand.vocabulary import words_of_routes

    wanted = words_of_routes()
    unknown = model.unknown(wanted)
    if not unknown:
        typer.echo(f"It knows all {len(wanted)} words of the shipped routes.")
        return False
    shown = unknown if all_words else unknown[:SHOWN]
    more = f" and {len(unknown) - len(shown)} more" if len(shown) < len(unknown) else ""
    typer.echo(
        f"It does not know {len(unknown)} of the {len(wanted)} words of the shipped routes: {', '.join(shown)}{more}."
    )
    return True
