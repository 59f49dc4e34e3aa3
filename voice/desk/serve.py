"""Starts the desk: opens its file and the logbook, refuses what would not be safe, serves until it is stopped."""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

from voice.desk.accounts import everyone
from voice.desk.app import HOST, LOCAL, make_app
from voice.desk.page import Desk
from voice.desk.store import Store
from voice.errors import SetupError
from voice.logbook.access import opened
from voice.record.device import device_key

PORT = 8396  # of no other program that is known; nothing more is meant by it


@dataclass(frozen=True, slots=True)
class Place:
    """Where the desk is served.

    names: it may be asked for under, besides the host.
    certificate, key: PEM files for https.
    """

    host: str = "127.0.0.1"
    port: int = PORT
    names: tuple[str, ...] = ()
    certificate: Path | None = None
    key: Path | None = None

    @property
    def local(self) -> bool:
        return self.host in ("127.0.0.1", "localhost", "::1")

    @property
    def hosts(self) -> tuple[str, ...]:
        own = () if self.host in ("0.0.0.0", "::") else (f"[{self.host}]" if ":" in self.host else self.host,)  # noqa: S104
        return tuple(dict.fromkeys((*LOCAL, *own, *self.names)))

    @property
    def address(self) -> str:
        host = f"[{self.host}]" if ":" in self.host else self.host
        return f"{'https' if self.certificate else 'http'}://{host}:{self.port}/"


def check(place: Place, store: Store) -> None:
    """Raises SetupError for what would not be safe: no account, or passwords and findings in the clear on a network."""
    if not everyone(store):
        raise SetupError(
            "There is no account yet, and every page needs one.",
            'Make one: gladhand desk account add "Ida Marsh" --role mechanic',
        )
    for name in place.names:
        found = HOST.fullmatch(name.lower())
        if found is None or found[1] != name.lower():
            raise SetupError(
                f'"{name}" is not the name of a machine.', "Give it without https:// and port: --name desk.example.org"
            )
    if (place.certificate is None) != (place.key is None):
        raise SetupError("https needs both a certificate and its key.", "Give --certificate and --key.")
    for file in (place.certificate, place.key):
        if file is not None and not file.is_file():
            raise SetupError(f"{file}: there is no such file.", "Check the path.")
    if not place.local and place.certificate is None:
        raise SetupError(
            f"On {place.host} passwords would go over the network in the clear.",
            "Give --certificate and --key, or stay on 127.0.0.1.",
        )


@contextmanager
def desk_of(home: Path, warn: Callable[[str], None], *, depot: bool) -> Iterator[Desk]:
    """The desk's file and the logbook. Raises SetupError.

    depot: the depot's logbook; its inbox is taken in by 'gladhand logbook absorb', which has the rights to.
    """
    with closing(Store(home)) as store, opened(home, warn, depot=depot, fill=not depot) as engine:
        if depot:
            device_key(home)  # there from the start, so that its public half can be carried to the depot
        yield Desk(home, store, engine, depot)


def _settle() -> None:
    """What is there by now stays, so the search for cycles of objects leaves it out, and looks less often.

    Else all readers wait a tenth of a second for it again and again.
    """
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, *gc.get_threshold()[1:])


def serve(desk: Desk, place: Place, ready: Callable[[], None] = lambda: None) -> None:
    """Serves until it is stopped. Raises SetupError if the port is taken.

    ready: called when it answers.
    """
    import socket

    import uvicorn

    from voice.desk.data.fleet import fleet
    from voice.desk.data.fresh import version
    from voice.desk.data.outlook import Outlook

    class Server(uvicorn.Server):
        async def startup(self, sockets: list[socket.socket] | None = None) -> None:
            await super().startup(sockets)
            ready()

    fleet(desk, version(desk))  # the first look at all records takes seconds at a million: before anybody waits for it
    _settle()
    family = socket.AF_INET6 if ":" in place.host else socket.AF_INET
    try:
        # The protocol is named: else asyncio does not see that it is TCP, and each answer waits 40 ms for the
        # other side's confirmation of its first part.
        with socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP) as listening:
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            listening.bind((place.host, place.port))
            config = uvicorn.Config(
                make_app(desk, place.hosts),
                ssl_certfile=place.certificate,
                ssl_keyfile=place.key,
                log_level="warning",
                access_log=False,
                server_header=False,
                proxy_headers=False,
                timeout_graceful_shutdown=5,
                limit_concurrency=500,
                timeout_keep_alive=30,
            )
            with Outlook(desk):
                Server(config).run([listening])
    except OSError as error:
        raise SetupError(
            f"{place.host}:{place.port} cannot be served: {error.strerror or error}.", "Take another --port or --host."
        ) from error
