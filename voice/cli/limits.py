"""`gladhand limits`: the limits in force, where each comes from, and which file decided."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, get_args

import typer

from voice.cli.options import Home, files_given

if TYPE_CHECKING:
    from voice.judge.limit import Criterion, Limit, LimitSet

limits_app = typer.Typer(help="Limits and what defects mean: list, show, check, choose; what changed in the law.")


def register(app: typer.Typer) -> None:
    app.add_typer(limits_app, name="limits", no_args_is_help=True)


def _all(home: Path | None) -> LimitSet:
    """Those of all days."""
    from voice.data.folders import home as own
    from voice.judge.load import limit_files, load_limits

    return load_limits(limit_files(own(home)))


def _today() -> date:
    return datetime.now().astimezone().date()


@limits_app.command("list")
def list_limits(
    words: Annotated[
        str,
        typer.Argument(
            help="Only those whose id, title or source has this in it, or whose figure is known in this way."
        ),
    ] = "",
    criteria: Annotated[bool, typer.Option("--criteria", help="What named defects mean, instead of limits.")] = False,
    home: Home = None,
) -> None:
    """One line for each in force today: id, title, limit, consequence, source, how that is known, file that decided.

    Exit status 2 if there is none with these words.
    """
    from voice.author.table import limit_words
    from voice.errors import SetupError
    from voice.judge.limit import Limit
    from voice.judge.wording import level_words

    whole = _all(home)
    found = _with(words, whole.on(_today()), criteria=criteria)
    if not found:
        what = "criterion" if criteria else "limit"
        elsewhere = _elsewhere(words, whole, criteria=criteria)
        raise SetupError(f"There is no {what} with '{words}' in its id, title or source.", elsewhere)
    for rule in found:
        what = f"{rule.title} | {limit_words(rule)}" if isinstance(rule, Limit) else rule.title
        source = f"{rule.source.section} ({rule.source.known})"
        typer.echo(f"{rule.id:30} {what} | {level_words(rule.level)} | {source} | {rule.file}")


def _with(words: str, limits: LimitSet, *, criteria: bool) -> list[Limit | Criterion]:
    """Those with the words in their id, title or source; or all whose figure is known in that way ("second-hand")."""
    from voice.judge.model import Known

    rules: list[Limit | Criterion] = [*(limits.criteria if criteria else limits.limits)]
    wanted = words.lower()
    if wanted in get_args(Known):
        return [rule for rule in rules if rule.source.known == wanted]
    return [rule for rule in rules if wanted in f"{rule.id} {rule.title} {rule.source.section}".lower()]


def _elsewhere(words: str, whole: LimitSet, *, criteria: bool) -> str:
    """Where the words are instead: in the other kind, or in what does not hold today."""
    if _with(words, whole.on(_today()), criteria=not criteria):
        return "A limit has it: leave out --criteria." if criteria else "A criterion has it: add --criteria."
    names = [rule.id for kind in (False, True) for rule in _with(words, whole, criteria=kind)]
    if names:
        return f"Not in force today: {', '.join(names)}; 'gladhand limits show ID' tells when."
    return "Give less of it, or none."


@limits_app.command("show")
def show_limit(name: Annotated[str, typer.Argument(metavar="ID")], home: Home = None) -> None:
    """Everything that is known about one limit or criterion: where it is from, who uses it, examples, its test."""
    from voice.errors import SetupError

    limits = _all(home)
    rule = limits.rule(name)
    if rule is None:
        hint = f"{_near(name, limits)}'gladhand limits list' has the limits, with --criteria the criteria."
        raise SetupError(f"There is no limit or criterion '{name}'.", hint)
    for line in (*_described(rule, limits), *_used(rule, limits, home)):
        typer.echo(line)


def _near(name: str, limits: LimitSet) -> str:
    """ "Did you mean ...? " of ids that are like the name; empty if none is."""
    from rapidfuzz import fuzz, process

    ids = [each.id for each in (*limits.limits, *limits.criteria)]
    wanted = name.lower()
    hits = [each for each in ids if len(wanted) > 3 and wanted in each]
    hits += [each for each, *_ in process.extract(wanted, ids, scorer=fuzz.ratio, limit=3, score_cutoff=70)]
    near = list(dict.fromkeys(hits))[:3]
    return f"Did you mean {' or '.join(near)}? " if near else ""


def _described(rule: Limit | Criterion, limits: LimitSet) -> list[str]:
    from voice.author.calendar import holds
    from voice.author.table import BRAKE_COUNT, STATUS, limit_words, table_figures, watched
    from voice.judge.limit import Limit
    from voice.judge.wording import level_words

    lines = [f"{rule.id}: {rule.title}"]
    scope = dict(rule.applies)
    if isinstance(rule, Limit):
        lines += [f"  quantity     {rule.quantity}", f"  must be      {limit_words(rule)}"]
        lines += [f"  table        {row}" for row in table_figures(limits, rule)]
    else:
        lines += [f"  items        {', '.join(rule.items or rule.parts) or 'any'}"]
        lines += [f"  defects      {', '.join(rule.defects) or 'any'}"]
        scope |= rule.details
    for name, values in scope.items():
        lines.append(f"  where        {name}: {', '.join(str(value).lower() for value in values)}")
    lines.append(f"  {'if not' if isinstance(rule, Limit) else 'then':12} {level_words(rule.level)}")
    if isinstance(rule, Limit) and (close := watched(limits, rule)):
        lines.append(f"  {level_words('watch'):12} {close}")
    if rule.condition:
        lines.append(f"  condition    {rule.condition}")
    if rule.brake != "none":
        lines.append(f"  brake count  {BRAKE_COUNT[rule.brake]}")
    source = rule.source
    lines.append(f"  source       {source.section}{f' ({source.title})' if source.title else ''}")
    lines.append(f"  known        {STATUS[source.known]}{f': {source.where}' if source.where else ''}")
    if source.note:
        lines.append(f"  note         {source.note}")
    lines.append(f"  holds        {holds(rule) or 'on every day, as far as is known'}")
    lines += [f"  {change.day}   {change.what}" for change in rule.changes]
    over = f", over {', '.join(rule.before)}" if rule.before else ""
    lines.append(f"  decided by   {rule.file}{over}")
    return lines


def _used(rule: Limit | Criterion, limits: LimitSet, home: Path | None) -> list[str]:
    """The entry seen from outside."""
    from voice.author.second_view import examples, users, where_tested
    from voice.data.folders import home as own
    from voice.route import load_library, vehicle_files
    from voice.route.vehicles import read_profiles

    folder = own(home)
    library = load_library(folder / "prompts")
    vehicles = read_profiles(vehicle_files(folder)).vehicles.values()
    day = _today() if rule.holds_on(_today()) else rule.valid_to or rule.valid_from or _today()
    lines = [f"  used by      {', '.join(users(library, rule)) or 'no item, for routes of your own'}"]
    found = list(examples(limits.on(day), library, rule, vehicles))
    lines += [f"  example      {text}" for text in found or ["no vehicle known here has it"]]
    lines.append(f"  test         {where_tested(rule) or 'none, it is from a file of your own'}")
    return lines


@limits_app.command("changed")
def changed(
    since: Annotated[str, typer.Option("--since", metavar="DATE", help='From which day on, as "2026-01-01".')],
    home: Home = None,
) -> None:
    """What changed since a day, what is to come, and why.

    "begins" and "ends" are entries that hold from that day on, or hold no more; "noted" is a change beside the figure,
    or a proposal. An inspection is judged by what holds on the day it begins. Exit status 2 if that is no date.
    """
    from voice.author.calendar import calendar
    from voice.errors import SetupError

    try:
        day = date.fromisoformat(since)
    except ValueError:
        raise SetupError(f'"{since}" is no date.', "Write it as year-month-day, 2026-01-01.") from None
    days = calendar(_all(home), day)
    for each in days:
        coming = ", to come" if each.day > _today() else ""
        typer.echo(f"{each.day}  {each.id} ({each.kind}{coming}): {each.what}.")
    if not days:
        typer.echo(f"No change since {day} is known.")


@limits_app.command("check")
def check_limits(
    files: Annotated[list[Path] | None, typer.Argument(help="Files to check on top of those in force.")] = None,
    home: Home = None,
) -> None:
    """Reads all limits files, says what each changes, and warns where a change is looser than the layer below it.

    The program's own limits are the lowest layer; each file of your limits folder lies over them and decides where it
    says something else. Looser means that it lets through what the layer below reports: right where another
    rule holds, as in the examples, but worth knowing. Exit status 0 even then; 1 if there is a mistake in a file, or if
    one is not read because of its name.
    """
    from voice.author.changes import changes
    from voice.data.folders import home as own
    from voice.data.own import unread
    from voice.errors import DataError
    from voice.judge.load import limit_files, load_limits

    files_given(files or ())
    passed_over = unread(own(home), ("limits",))
    for fault in passed_over:
        typer.echo(str(fault))
    layers = (*limit_files(own(home)), *(files or ()))
    try:
        limits = load_limits(layers)
    except DataError as error:
        typer.echo(str(error))
        typer.echo("A mistake in the limits; what comes after it was not looked at.")
        raise typer.Exit(1) from None
    for layer in limits.layers:
        typer.echo(f"{layer.file}: {layer.title}")
    found = changes(layers)
    for change in found:
        typer.echo(f"  {change.file}: {change.id} {change.kind}")
    known = [rule.source.known for rule in (*limits.limits, *limits.criteria)]
    total = f"{len(limits.limits)} limits and {len(limits.criteria)} criteria"
    second = f"{known.count('second-hand')} of them second-hand, {known.count('memory')} from memory and to be checked"
    typer.echo(f"{total}, {second}.")
    for number, layer in enumerate(layers):
        for change in found:
            if change.file == layer.name and change.kind == "looser":
                _warn_looser(change.id, load_limits(layers[:number]), load_limits(layers[: number + 1]), layer.name)
    if passed_over:
        raise typer.Exit(1)


def _warn_looser(name: str, below: LimitSet, above: LimitSet, file: str) -> None:
    """Says what a looser limit was, what it is now, and what that means."""
    from voice.author.table import limit_words
    from voice.judge.limit import Limit
    from voice.judge.wording import level_words

    old, new = below.rule(name), above.rule(name)
    if old is None or new is None:
        return
    figures = ""
    if isinstance(old, Limit) and isinstance(new, Limit) and limit_words(old) != limit_words(new):
        figures = f" It was {limit_words(old)} ({old.source.section}), now it is {limit_words(new)}."
    if old.level != new.level:
        figures += f' Its level was "{level_words(old.level)}", now it is "{level_words(new.level)}".'
    typer.echo(
        f"Warning: {file} makes {name} looser, so something that was reported before no longer is.{figures} "
        f"Keep it only where this rule holds: {new.source.section}.",
        err=True,
    )


@limits_app.command("use")
def use_layer(
    name: Annotated[str, typer.Argument(help="Name of an example that ships with the program.")], home: Home = None
) -> None:
    """Copies an example layer into your own limits folder, where it counts from the next inspection on."""
    import shutil

    from voice.data.folders import home as own
    from voice.errors import SetupError
    from voice.judge.load import example_layers

    examples = example_layers()
    if name not in examples:
        raise SetupError(f"There is no example '{name}'.", f"There are: {', '.join(examples)}.")
    target = own(home) / "limits" / examples[name].name
    if target.exists():
        raise SetupError(f"{target} is there already.", "Edit it, or take it away first.")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(examples[name], target)
    except OSError as error:
        where = error.filename or target
        raise SetupError(
            f"{where} cannot be written: {error.strerror}.",
            "Check its permissions, or give another folder with --home.",
        ) from error
    typer.echo(f"Copied to {target}. It counts from the next inspection on.")
