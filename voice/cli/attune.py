"""gladhand attune: how a driver says okay, from a guided reading and from earlier walks."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated

import typer

from voice.cli.options import Home, Voice, name_given
from voice.cli.walk import Input, Output, RealTime, Script, Wav, stoppable

attune_app = typer.Typer(
    help="How a driver says okay: a guided reading of two minutes, used by 'gladhand walk --driver NAME'.",
    no_args_is_help=True,
)


Driver = Annotated[str, typer.Argument(help="The driver's name, as it is given to walk --driver.", callback=name_given)]


def register(app: typer.Typer) -> None:
    app.add_typer(attune_app, name="attune")


@attune_app.command()
def read(
    name: Driver,
    anew: Annotated[bool, typer.Option("--anew", help="From the first word, though a reading broke off.")] = False,
    keep_sound: Annotated[
        bool, typer.Option("--keep-sound", help="Keep the recordings, too; else only numbers are kept.")
    ] = False,
    input: Input = None,
    output: Output = None,
    voice: Voice = "auto",
    script: Script = None,
    wav: Wav = None,
    real_time: RealTime = False,
    home: Home = None,
) -> None:
    """Say 24 words after the assistant. One that broke off goes on; a whole one is replaced."""
    from voice.data import folders
    from voice.errors import SetupError, shown
    from voice.session.attuned import Shelf
    from voice.session.equipment import EquipmentWanted, load_engines, open_equipment
    from voice.session.readaloud import begun, read_aloud

    place = folders.home(home)
    shelf = Shelf(place)
    one = begun(shelf, name, anew=anew)
    engines = load_engines(place)
    wanted = EquipmentWanted(input, output, voice, script, wav, real_time, home=place)
    with stoppable("What was read is kept.", f"Go on with 'gladhand attune read \"{shown(name)}\"'."):
        equipment = open_equipment(wanted)
        try:
            if not engines.result().judge.spells:
                raise SetupError("A speech engine is missing: a reading would tell nothing.", engines.result().warning)
            one = read_aloud(equipment, shelf, one, typer.echo, sound=keep_sound)
        finally:
            equipment.close()
    _tell(one.likeness)


@attune_app.command()
def learn(name: Driver, home: Home = None) -> None:
    """Learn from earlier walks: the okays that were asked back and confirmed. Needs their recordings."""
    from voice.data import folders
    from voice.errors import SetupError
    from voice.session.attuned import Shelf
    from voice.session.confirmed import learn as run
    from voice.session.equipment import load_engines

    place = folders.home(home)
    shelf = Shelf(place)
    judge = load_engines(place).result().judge
    if not judge.spells:
        raise SetupError("A speech engine is missing, so nothing can be learnt.", "'gladhand models check' says which.")
    one = run(place, shelf.current(name), judge)
    if not one.confirmed:
        raise SetupError(
            f"No walk of {name} has an okay that was asked back and confirmed.",
            "Only walks begun with --driver and that name count, with their recordings.",
        )
    shelf.keep(one)
    typer.echo(f"{len(one.confirmed)} confirmed answers.")
    _tell(one.likeness)


@attune_app.command(name="list")
def list_readings(home: Home = None) -> None:
    """Who has read, how much of it could be used, and what was learnt."""
    from voice.data import folders
    from voice.errors import shown
    from voice.hear.likeness import counts
    from voice.session.attuned import Shelf

    found = Shelf(folders.home(home)).all()
    for one in found:
        used = "" if one.enough or not one.asked else ", too few to be used"
        heard = f"{sum(map(counts, one.read))} of {one.asked} words understood{used}"
        typer.echo(shown(f"{one.name}: {heard}; {len(one.confirmed)} confirmed answers of walks"))
        _tell(one.likeness)
    if not found:
        typer.echo("Nobody has read yet. Begin with 'gladhand attune read NAME'.")


@attune_app.command()
def forget(name: Driver, home: Home = None) -> None:
    """Delete all that was learnt of a driver: numbers and recordings of the reading. Walks keep theirs."""
    from voice.data import folders
    from voice.errors import SetupError, shown
    from voice.session.attuned import Shelf

    if not Shelf(folders.home(home)).forget(name):
        raise SetupError(f'Nothing is kept of "{name}".', "'gladhand attune list' says who has read.")
    typer.echo(shown(f"Deleted: what was learnt of {name}."))


def _tell(like: Mapping[str, tuple[str, ...]]) -> None:
    for word, nears in like.items():
        if nears:
            typer.echo(f'  "{word}" may sound like ' + " or ".join(f'"{near}"' for near in nears))
