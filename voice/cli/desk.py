"""gladhand desk: pages in a browser for the mechanic, the office and the instructor."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer
from typer.core import TyperGroup

from voice.cli.options import Depot, Home
from voice.cli.shared import need_extra, warn

if TYPE_CHECKING:
    from voice.desk.store import Store

RoleName = Literal["driver", "mechanic", "office", "instructor", "administrator"]


class _ServeFirst(TyperGroup):
    """`desk` alone serves: whatever is not a command is taken for an option of it."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        if "--help" not in args and (not args or args[0] not in self.commands):
            args = ["serve", *args]
        return super().parse_args(ctx, args)


desk = typer.Typer(
    cls=_ServeFirst,
    help="Pages in a browser for the mechanic, the office and the instructor. 'gladhand desk' serves them on this "
    "machine alone, until it is stopped.",
    rich_markup_mode=None,
)
account = typer.Typer(help="Who may sign in at the desk, and as what.", no_args_is_help=True, rich_markup_mode=None)
desk.add_typer(account, name="account")


def register(app: typer.Typer) -> None:
    app.add_typer(desk, name="desk")


def _need_desk() -> None:
    """Raises SetupError if the desk's libraries are missing."""
    from importlib.util import find_spec

    from voice.errors import SetupError

    need_extra()
    if any(find_spec(name) is None for name in ("starlette", "uvicorn", "argon2")):
        raise SetupError("The desk's libraries are not installed.", "pip install 'gladhand[desk]'")


@desk.command("serve")
def serve_(
    port: Annotated[int, typer.Option("--port", min=1, max=65535, help="Where to serve.")] = 8396,
    host: Annotated[
        str, typer.Option("--host", help="Address to serve on; other than this machine's own only with https.")
    ] = "127.0.0.1",
    certificate: Annotated[Path | None, typer.Option("--certificate", help="For https: certificate, PEM.")] = None,
    key: Annotated[Path | None, typer.Option("--key", help="For https: its private key, PEM.")] = None,
    name: Annotated[
        list[str] | None, typer.Option("--name", help="A name it may be asked for under; may be given several times.")
    ] = None,
    depot: Depot = False,
    home: Home = None,
) -> None:
    """Serve the pages until it is stopped. Every page needs an account: see 'gladhand desk account'."""
    from voice.data import folders

    _need_desk()
    from voice.desk.serve import Place, check, desk_of, serve
    from voice.desk.store import Store

    folder = folders.home(home)
    place = Place(host, port, tuple(name or ()), certificate, key)
    check(place, Store(folder))
    with desk_of(folder, warn, depot=depot) as opened:
        serve(opened, place, lambda: typer.echo(f"{place.address} is served until Ctrl-C."))


@desk.command("grant")
def grant(
    name: Annotated[str, typer.Argument(help="The desk's name; becomes its database role.")],
    credentials: Annotated[
        Path, typer.Option("--credentials", help="New file for its URL with a fresh password (mode 0600).")
    ],
    home: Home = None,
) -> None:
    """At the depot: let a desk read what its pages show and hand in certifications, and nothing else."""
    from voice.cli.shared import depot_of
    from voice.data import folders

    _need_desk()
    from voice.logbook.roles import grant_desk

    engine = depot_of(folders.home(home))
    grant_desk(engine, name, credentials)
    engine.dispose()
    typer.echo(f"{name} may read what the pages show, and hand in certifications")
    typer.echo(f"{credentials} goes to the desk as its depot.url")


@desk.command("revoke")
def revoke(name: Annotated[str, typer.Argument(help="The desk's name.")], home: Home = None) -> None:
    """At the depot: a desk may no longer connect. What it handed in stays."""
    from voice.cli.shared import depot_of
    from voice.data import folders

    _need_desk()
    from voice.logbook.roles import DESK
    from voice.logbook.roles import revoke as run

    engine = depot_of(folders.home(home))
    run(engine, name, group=DESK)
    engine.dispose()
    typer.echo(f"{name} may no longer connect")


@account.command("add")
def add(
    name: Annotated[str, typer.Argument(help="First and last name, as it is to stand under a certification.")],
    role: Annotated[RoleName, typer.Option("--role", help="What the person may see and do.")],
    home: Home = None,
) -> None:
    """Make an account. The password is asked for, or read as one line from standard input; never an option."""
    store = _store(home)
    from voice.desk import accounts, trail

    made = accounts.add(store, name, role, _password())
    trail.by_command(store, "add", f"{made.name} {made.role}")
    typer.echo(f"{made.name} may sign in as {made.role}")


@account.command("password")
def password(name: Annotated[str, typer.Argument(help="Whose.")], home: Home = None) -> None:
    """Set a new password. Whoever is signed in with the old one is signed out; a lock-out is lifted."""
    store = _store(home)
    from voice.desk import accounts, trail

    accounts.set_password(store, name, _password())
    trail.by_command(store, "password", name)
    typer.echo(f"{name} has a new password")


@account.command("unlock")
def unlock(name: Annotated[str, typer.Argument(help="Whose.")], home: Home = None) -> None:
    """Let somebody sign in again who is locked out after too many wrong passwords."""
    store = _store(home)
    from voice.desk import accounts, trail

    accounts.unlock(store, name)
    trail.by_command(store, "unlock", name)
    typer.echo(f"{name} may try again")


@account.command("remove")
def remove(name: Annotated[str, typer.Argument(help="Whose.")], home: Home = None) -> None:
    """Remove an account, and sign the person out. What the person did stays in the trail."""
    store = _store(home)
    from voice.desk import accounts, trail

    accounts.remove(store, name)
    trail.by_command(store, "remove", name)
    typer.echo(f"{name} can no longer sign in")


@account.command("list")
def list_(home: Home = None) -> None:
    """List who may sign in, and as what; and who is locked out."""
    from datetime import datetime

    store = _store(home)
    from voice.desk import accounts
    from voice.desk.sessions import locked_until

    for person in accounts.everyone(store):
        until = locked_until(store, person.name)
        locked = "" if until is None else f" (locked out until {datetime.fromtimestamp(until):%H:%M})"
        typer.echo(f"{person.name}: {person.role}{locked}")


def _store(home: Path | None) -> Store:
    """What the desk keeps. Raises SetupError if the desk's libraries are missing, so it comes before their imports."""
    from voice.data import folders

    _need_desk()
    from voice.desk.store import Store

    return Store(folders.home(home))


def _password() -> str:
    """Typed twice without being shown, or one line of standard input where that is no terminal."""
    if not sys.stdin.isatty():
        return sys.stdin.readline().rstrip("\r\n")
    return str(typer.prompt("Password", hide_input=True, confirmation_prompt=True))
