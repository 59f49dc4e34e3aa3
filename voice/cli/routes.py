"""gladhand routes: which there are, what they ask, and what is wrong with the data."""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from voice.cli.options import Home, complete_vehicle, files_given

if TYPE_CHECKING:
    from voice.route import Library
    from voice.route.vehicle import Vehicle


class Wordings(StrEnum):
    terse = "terse"
    normal = "normal"
    full = "full"


def register(app: typer.Typer) -> None:
    app.add_typer(routes, name="routes")


routes = typer.Typer(
    help="The walks: list them, show what one asks of a vehicle, check files you wrote.",
    no_args_is_help=True,
    rich_markup_mode=None,
)


@routes.command("list")
def list_routes(home: Home = None) -> None:
    """Name every route, the vehicles it fits, and how many items it names; the kinds of inspection; the known vehicles.

    What cannot be used is named with its mistake, and left out; exit status 1 then.
    """
    from voice.author.audit import audit_route
    from voice.data.folders import home as home_folder
    from voice.data.folders import prompts_dir
    from voice.errors import DataError
    from voice.route import make_plan, vehicle_files
    from voice.route.library import load_folders
    from voice.route.vehicles import read_profiles
    from voice.route.visit import visits

    folder = home_folder(home)
    faults: list[DataError] = []
    library = load_folders([prompts_dir(), *([folder / "prompts"] if (folder / "prompts").is_dir() else [])], faults)
    for route in sorted(library.routes.values(), key=lambda each: (not each.standard, each.id)):
        if prompts_dir() not in library.origins["route", route.id].file.parents:
            faults += audit_route(library, route)
        asked = {visit.entry.item for visit in visits(library, route)} - {None}
        remark = "" if route.standard else ", only when asked for"
        typer.echo(f"{route.id:22} {route.title} ({len(asked)} items; fits {', '.join(route.fits)}{remark})")
    typer.echo("")
    for kind in library.kinds.values():
        typer.echo(f"{kind.id:22} {kind.title}, for 'gladhand walk --kind' ({kind.rests_on}; known: {kind.known})")
    typer.echo("")
    files = vehicle_files(folder)
    profiles = read_profiles(files)
    for name, vehicle in profiles.vehicles.items():
        try:
            plan = make_plan(library, vehicle)
            walk = f"{plan.route}, {len(plan.steps)} steps"
        except DataError as error:
            walk = f"cannot be walked: {error}"
        written = "" if vehicle.id == name else f", in {files[name].name}"
        typer.echo(f"{vehicle.id:26} {vehicle.name} ({vehicle.kind}{written}): {walk}")
    faults += profiles.faults
    if faults:
        typer.echo("")
        for fault in faults:
            typer.echo(str(fault), err=True)
        raise typer.Exit(1)


@routes.command()
def show(
    route: Annotated[
        str | None, typer.Argument(help="Route or kind of inspection; by default the route that fits.")
    ] = None,
    vehicle: Annotated[
        str | None,
        typer.Option(
            "--vehicle", help="Vehicle profile: a file, or a name from 'routes list'.", autocompletion=complete_vehicle
        ),
    ] = None,
    length: Annotated[Wordings, typer.Option("--length", help="Which wording to show.")] = Wordings.normal,
    ids: Annotated[bool, typer.Option("--ids", help="Show the step ids too.")] = False,
    home: Home = None,
) -> None:
    """Show every step of a route for a vehicle, in walking order, as it will be spoken.

    Without a vehicle, the first known one that the route fits is taken; the first line says which.
    """
    from voice.data.folders import home as home_folder
    from voice.errors import SetupError
    from voice.route import load_library, make_plan, vehicle_files
    from voice.route.units import named_vehicle
    from voice.route.vehicles import read_profiles

    folder = home_folder(home)
    library = load_library(folder / "prompts")
    if vehicle is not None:
        chosen = named_vehicle(folder, vehicle)
    else:
        known = list(read_profiles(vehicle_files(folder)).vehicles.values())
        if route is None and len(known) > 1:
            names = ", ".join(each.id for each in known)
            raise SetupError("Of which vehicle?", f"Give one with --vehicle: {names}; or name a route.")
        if route is not None and route not in (*library.routes, *library.kinds):
            names = ", ".join(sorted({*library.routes, *library.kinds}))
            raise SetupError(f'There is no route or kind of inspection "{route}".', f"Known: {names}.")
        found = next((each for each in known if route is None or _fits(library, each, route)), None)
        if found is None:
            raise SetupError("No known vehicle fits this route.", "Give one with --vehicle FILE.")
        chosen = found
    named_kind = route in library.kinds and route not in library.routes
    plan = make_plan(library, chosen, kind_id=route) if named_kind else make_plan(library, chosen, route)
    typer.echo(f"{plan.title}, for {chosen.name} ({chosen.id}): {len(plan.steps)} steps")
    titles = {section.id: section for section in plan.sections}
    section = ""
    for number, step in enumerate(plan.steps, 1):
        if step.section != section:
            section = step.section
            typer.echo(f"\n{titles[section].title}")
            for caution in titles[section].cautions:
                typer.echo(f"     ! {library.cautions[caution].print}")
        typer.echo(f"{number:4} {getattr(step.say, length.value)}" + (f"   [{step.id}]" if ids else ""))


def _fits(library: Library, vehicle: Vehicle, name: str) -> bool:
    """Whether the vehicle is one for this route, or for this kind of inspection."""
    from voice.route.kinds import kinds_for

    if name in library.routes:
        return vehicle.kind in library.routes[name].fits
    return any(kind.id == name for kind in kinds_for(library, vehicle))


@routes.command("say")
def say(
    text: Annotated[str, typer.Argument(help='What is said, as "leaking".')],
    item: Annotated[str, typer.Option("--item", help="To which item: its id, or how it is called.")],
    vehicle: Annotated[
        str | None,
        typer.Option("--vehicle", help="On which vehicle; without it, the first known one that has the item."),
    ] = None,
    route: Annotated[str | None, typer.Option("--route", help="On which route; without it, the usual one.")] = None,
    home: Home = None,
) -> None:
    """Show what a sentence would mean if it were said to an item, at which question, and which file says so.

    Nothing is spoken or heard. Words that are "not listened for" are found only in what the ear writes down freely,
    which is less sure. Exit status 1 if it is not understood; then the nearest phrases are shown.
    """
    from voice.author.say import context_of, find_step, lines, plans_of, said
    from voice.data.folders import home as home_folder
    from voice.judge import limits_of
    from voice.route import fitting_routes, load_library, vehicle_files
    from voice.route.units import named_vehicle
    from voice.route.vehicles import read_profiles

    folder = home_folder(home)
    library = load_library(folder / "prompts")
    known = (
        [each for each in read_profiles(vehicle_files(folder)).vehicles.values() if fitting_routes(library, each)]
        if vehicle is None
        else [named_vehicle(folder, vehicle)]
    )
    fitting = [
        each
        for each in known
        if route is None or route not in library.routes or each.kind in library.routes[route].fits
    ]
    plan, step = find_step(plans_of(library, fitting, route), item)
    limits = limits_of(folder, datetime.now().astimezone().date())
    saying = said(context_of(folder, library, plan, limits), library, step, text, folder)
    for line in lines(saying, text):
        typer.echo(line)
    if not saying.senses:
        raise typer.Exit(1)


@routes.command("uncouple")
def uncouple_(
    vehicle: Annotated[
        str, typer.Argument(help="A profile that describes both: its file, or a name from 'routes list'.")
    ],
    tractor: Annotated[str | None, typer.Option("--tractor", help="How the tractor is called aloud.")] = None,
    trailer: Annotated[str | None, typer.Option("--trailer", help="How the trailer is called aloud.")] = None,
    home: Home = None,
) -> None:
    """Make an older profile of a tractor with its trailer into a profile for each, so that they can change partners.

    Their inspections, defects and readings until now are theirs afterwards. The old file is kept beside them.
    """
    from voice.author.uncouple import uncouple
    from voice.data.folders import home as home_folder
    from voice.data.folders import prompts_dir
    from voice.errors import SetupError
    from voice.route.vehicles import find_profile

    file = find_profile(home_folder(home), vehicle)
    if prompts_dir() in file.resolve().parents:
        raise SetupError(f"{file.name} is a sample.", "Copy it into the folder vehicles of your home folder first.")
    names = {unit: name for unit, name in (("tractor", tractor), ("trailer", trailer)) if name}
    one, other, kept = uncouple(file, names)
    for path in (one, other):
        typer.echo(f"written: {path}")
    typer.echo(f"kept: {kept}")


@routes.command("facts")
def list_facts(home: Home = None) -> None:
    """For authors: what `when` can ask for, the quantities that can be measured, and their limits."""
    from voice.data.folders import home as home_folder
    from voice.judge.load import limit_files, load_limits
    from voice.measure.book import unit_book
    from voice.route.facts import AXLE_FACTS, FACTS

    typer.echo("Facts for `when` (* only where the line stands at an axle):")
    for name, what in FACTS.items():
        typer.echo(f"  {name + ('*' if name in AXLE_FACTS else ''):18} {what}")
    typer.echo("\nQuantities, the unit they are judged in, and their limits:")
    limits = load_limits(limit_files(home_folder(home)))
    for name, words in unit_book().quantities.items():
        known = ", ".join(limit.id for limit in limits.of_quantity(name)) or "no limit"
        typer.echo(f"  {name:26} {words.unit:8} {known}")


@routes.command()
def check(
    files: Annotated[
        list[Path] | None,
        typer.Argument(
            help="Routes, items, groups, defects, cautions, places, units or vehicle profiles.", show_default=False
        ),
    ] = None,
    home: Home = None,
) -> None:
    """Report every mistake in your files, with file and line; without a file, check the shipped data and your own.

    A file is checked as if it were laid over the shipped data and what is in your own folder. Of several vehicles,
    two with the same id or the same spoken name are a mistake. Items may name limits of your own `limits/`. Exit
    status 1 if there is a mistake. What your files leave out of the shipped routes is named too, the items of the law
    first; that is for you to decide, and no mistake.
    """
    from voice.author.check import check_files, check_shipped, check_wording, is_units, left_out, own_files
    from voice.author.check_units import check_units
    from voice.data.folders import home as home_folder
    from voice.data.folders import prompts_dir
    from voice.data.own import unread
    from voice.judge.load import limit_files, load_limits

    folder = home_folder(home)
    files_given(files or ())
    own = files or own_files(folder)
    faults = check_units(folder / "prompts" / "units.yaml", *filter(is_units, files or ()))
    faults += [] if files else [*check_shipped(), *check_wording(folder / "prompts")]
    faults += check_files(own, folder / "prompts", load_limits(limit_files(folder))) if own else []
    faults += [] if files else unread(folder, ("prompts", "vehicles"))
    for fault in faults:
        typer.echo(str(fault))
    for note in left_out(own, folder) if own else ():
        typer.echo(f"Warning: {note}", err=True)
    what = f"{len(own)} file" + ("s" if len(own) > 1 else "")
    if not files:
        what = "the shipped data" + (f" and {what} of your own" if own else "")
    if not faults:
        typer.echo(f"No mistakes in {what}.")
        return
    shipped = sum(fault.file is not None and prompts_dir() in fault.file.parents for fault in faults)
    owners = (
        [(what, len(faults))] if files else [("the shipped data", shipped), ("your own files", len(faults) - shipped)]
    )
    typer.echo(" and ".join(f"{_counted(count)} in {whose}" for whose, count in owners if count) + ".")
    raise typer.Exit(1)


def _counted(mistakes: int) -> str:
    return f"{mistakes} mistake{'s' if mistakes > 1 else ''}"
