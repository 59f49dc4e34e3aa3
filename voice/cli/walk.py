"""gladhand walk, resume, sessions."""

from __future__ import annotations

import signal
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from voice.cli.options import BARE, Home, Voice, complete_session, complete_vehicle, name_given, odometer_given
from voice.errors import StoppedError

if TYPE_CHECKING:
    from voice.session.inspection import Finished

Input = Annotated[str | None, typer.Option("--input", help="Microphone, by a part of its name.")]
Output = Annotated[str | None, typer.Option("--output", help="Loudspeaker, by a part of its name.")]
Script = Annotated[
    Path | None, typer.Option("--script", help="A scripted driver instead of the microphone (demo and tests).")
]
Wav = Annotated[Path | None, typer.Option("--wav", help="A recording instead of the microphone.")]
RealTime = Annotated[bool, typer.Option("--real-time", help="With a script or recording: at the speed of speech.")]
ModelDir = Annotated[
    Path | None, typer.Option("--model-dir", help="A Vosk model that listens too: its folder, or an added one's name.")
]
Headset = Annotated[bool, typer.Option("--headset", help="Worn headset: you may speak over a prompt you know.")]
NoClips = Annotated[bool, typer.Option("--no-clips", help="Do not keep recordings of the answers.")]
Plain = Annotated[bool, typer.Option("--plain", help="One line a question and one an answer, no full-screen display.")]


def register(app: typer.Typer) -> None:
    app.command()(walk)
    app.command()(resume)
    app.command(name="sessions")(list_sessions)


def walk(
    vehicle: Annotated[
        str | None,
        typer.Option(
            "--vehicle",
            help="A known vehicle's id, or its profile file; TRACTOR+TRAILER.",
            autocompletion=complete_vehicle,
        ),
    ] = None,
    route: Annotated[str | None, typer.Option("--route", help="Route id; else the one that fits the vehicle.")] = None,
    kind: Annotated[
        str | None,
        typer.Option(
            "--kind",
            help="Kind of inspection: pre-trip, en-route, post-trip, after-repair, drop, hook ...; "
            "with a vehicle named and no kind, pre-trip.",
        ),
    ] = None,
    driver: Annotated[
        str | None, typer.Option("--driver", help="Your name, as you will sign.", callback=name_given)
    ] = None,
    co_driver: Annotated[
        str | None,
        typer.Option("--co-driver", help="A second driver, who signs after you.", callback=name_given),
    ] = None,
    length: Annotated[
        Literal["terse", "normal", "full"], typer.Option("--length", help="How much is said with each item.")
    ] = "normal",
    depth: Annotated[
        Literal["each-part", "by-place"] | None,
        typer.Option("--depth", help="One question for each part, or for all that is seen in one look."),
    ] = None,
    odometer: Annotated[
        str | None,
        typer.Option("--odometer", help=f'Odometer, e.g. "412345" or "663000 km"; {BARE}.', callback=odometer_given),
    ] = None,
    hubodometer: Annotated[
        str | None,
        typer.Option(
            "--hubodometer",
            help=f'The trailer\'s hubodometer, e.g. "88210" or "142000 km"; {BARE}.',
            callback=odometer_given,
        ),
    ] = None,
    new: Annotated[bool, typer.Option("--new", help="Begin a new inspection even if one is open.")] = False,
    limits: Annotated[
        list[Path] | None, typer.Option("--limits", help="More limits files, over the shipped ones and your own.")
    ] = None,
    layer: Annotated[
        list[str] | None,
        typer.Option("--layer", help="Limits of a shipped example on this walk: california ... May be repeated."),
    ] = None,
    metric: Annotated[
        bool,
        typer.Option(
            "--metric",
            help="Gauges and rulers are metric on this walk, and an odometer that is said aloud is in kilometers; "
            "--odometer stays in miles unless it says km.",
        ),
    ] = False,
    no_review: Annotated[bool, typer.Option("--no-review", help="Do not ask about open defects first.")] = False,
    no_clips: NoClips = False,
    plain: Plain = False,
    input: Input = None,
    output: Output = None,
    voice: Voice = "auto",
    headset: Headset = False,
    model_dir: ModelDir = None,
    script: Script = None,
    wav: Wav = None,
    real_time: RealTime = False,
    home: Home = None,
) -> None:
    """Walk round the vehicle and inspect it by voice. With no options, all that is needed is asked aloud."""
    from voice.data import folders
    from voice.session.equipment import EquipmentWanted, load_engines

    load_engines(folders.home(home))  # while the rest is imported and read
    from voice.cli.screen import open_screen
    from voice.session import inspection

    wanted = EquipmentWanted(input, output, voice, script, wav, real_time, model_dir, headset, folders.home(home))
    options = inspection.WalkOptions(
        vehicle=vehicle, route=route, kind=kind, driver=driver, co_driver=co_driver, length=length, depth=depth,
        odometer=odometer, hubodometer=hubodometer, new=new, limits=tuple(limits or ()), review=not no_review,
        clips=not no_clips, layers=tuple(layer or ()), metric=metric,
    )  # fmt: skip
    with stoppable():
        _tell(inspection.walk(home, wanted, options, open_screen(plain=plain)))


def resume(
    session: Annotated[
        str | None,
        typer.Argument(
            help="Session id, its beginning, its folder, or 'last'; else the newest open one.",
            autocompletion=complete_session,
        ),
    ] = None,
    salvage: Annotated[
        bool, typer.Option("--salvage", help="Go on from the last good event of a damaged journal, in a new file.")
    ] = False,
    no_clips: NoClips = False,
    plain: Plain = False,
    input: Input = None,
    output: Output = None,
    voice: Voice = "auto",
    headset: Headset = False,
    model_dir: ModelDir = None,
    script: Script = None,
    wav: Wav = None,
    real_time: RealTime = False,
    home: Home = None,
) -> None:
    """Go on with an inspection that was stopped or broke off."""
    from voice.data import folders
    from voice.session.equipment import EquipmentWanted, load_engines

    load_engines(folders.home(home))  # while the rest is imported and read
    from voice.cli.screen import open_screen
    from voice.session import inspection

    wanted = EquipmentWanted(input, output, voice, script, wav, real_time, model_dir, headset, folders.home(home))
    screen = open_screen(plain=plain)
    with stoppable():
        _tell(inspection.resume(home, wanted, session, screen, salvage=salvage, clips=not no_clips))


def _tell(finished: Finished) -> None:
    typer.echo("")
    for sentence in finished.record.summary.text:
        typer.echo(sentence)
    typer.echo("")
    if finished.record.sign_off is not None:
        typer.echo(f"record: {finished.found.record}")
    typer.echo(f"report: {finished.found.report}")
    for what, count in sorted(finished.counts.items()):
        typer.echo(f"scripted driver, {what}: {count}")


@contextmanager
def stoppable(
    kept: str = "Nothing acknowledged is lost.", hint: str = "Go on with 'gladhand resume'."
) -> Iterator[None]:
    """Ctrl-C or a polite kill is a stop like any other: one sentence, and what was begun can be gone on with."""

    def stop(number: int, frame: object) -> None:
        raise KeyboardInterrupt

    before = signal.signal(signal.SIGTERM, stop)
    try:
        yield
    except KeyboardInterrupt:
        raise StoppedError(f"Stopped. {kept}", hint) from None
    finally:
        signal.signal(signal.SIGTERM, before)


def list_sessions(home: Home = None) -> None:
    """List inspections, newest first, and which can be resumed."""
    from voice.errors import SetupError, shown
    from voice.journal.folder import sessions
    from voice.session.resources import open_resources, state_of

    if home is not None and not home.is_dir():
        raise SetupError(f"{home} is not a folder.", "Give your Gladhand folder as --home.")
    resources = open_resources(home)
    found = list(sessions(resources.home))
    for each in found:
        typer.echo(shown(f"{each.id}  {state_of(resources, each)}"))
    if not found:
        typer.echo(f"No inspections in {resources.home} yet. Begin one with 'gladhand walk'.")
