"""gladhand soundcheck: devices, loudspeaker, microphone, room noise and one word."""

from __future__ import annotations

import contextlib
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from collections.abc import Iterator

    from voice.hear.ear import VoiceEar
    from voice.sound.devices import Device
    from voice.sound.soundcard import RealClock, SoundCardMicrophone
    from voice.soundcheck import SoundcheckWording
    from voice.speak.port import Speaker


def register(app: typer.Typer) -> None:
    app.command()(soundcheck)


def soundcheck(
    input: Annotated[str | None, typer.Option("--input", help="Microphone, by a part of its name.")] = None,
    output: Annotated[str | None, typer.Option("--output", help="Loudspeaker, by a part of its name.")] = None,
    voice: Annotated[str, typer.Option("--voice", help="Speech engine, as for a walk.")] = "auto",
    list_only: Annotated[bool, typer.Option("--list", help="Only list the devices.")] = False,
) -> None:
    """Check loudspeaker, microphone, room noise and one spoken word; says what to do.

    Exit code 0: ready. 1: something is to be done, it is printed and said aloud. 2: no devices to check.
    """
    from voice.errors import DeviceError
    from voice.sound.cardlink import list_devices
    from voice.soundcheck import load_wording

    devices = list_devices()
    if not devices:
        raise DeviceError(
            "There is no sound card here: no microphone, no loudspeaker.", "Plug in a headset, run it again."
        )
    _tell_devices(devices)
    if list_only:
        return
    wording = load_wording()
    with _speaker(voice, output) as speaker, _microphone(input, speaker, wording) as microphone:
        _check(microphone, speaker, wording)


def _check(microphone: SoundCardMicrophone, speaker: Speaker, wording: SoundcheckWording) -> None:
    from voice.errors import DeviceError
    from voice.sound.soundcard import RealClock
    from voice.soundcheck import PATIENCE, run
    from voice.understand.phrases import Phrasebook
    from voice.understand.question import Question

    typer.echo(f"\nMicrophone: {microphone.name}. Loudspeaker speaks by: {speaker.name}.")
    ear = _ear(microphone, RealClock())
    question = Question("condition", Phrasebook().condition(), patience=PATIENCE)
    try:
        advice = run(microphone, speaker, ear, question, wording, typer.echo)
    except DeviceError as error:
        if "no sound at all" in error.message:
            _aloud(speaker, wording.silent)
        raise
    if microphone.overflows:
        typer.echo(f"The audio library lost samples {microphone.overflows} times: this machine was too busy.")
    if advice != ("ready",):
        raise typer.Exit(1)


def _tell_devices(devices: list[Device]) -> None:
    from voice.sound.devices import NOUN, usable

    for direction in ("input", "output"):
        present = usable(devices, direction)
        typer.echo(f"{NOUN[direction].capitalize()}s:" if present else f"No {NOUN[direction]}.")
        for device in present:
            mark = "*" if device.is_default(direction) else " "
            typer.echo(f" {mark} {device.label}  ({device.rate:.0f} Hz)")


def _ear(microphone: SoundCardMicrophone, clock: RealClock) -> VoiceEar | None:
    from voice.errors import SetupError
    from voice.session.equipment import EquipmentWanted, open_ear

    try:
        return open_ear(microphone, clock, EquipmentWanted(), tail=0.0)
    except SetupError as error:
        typer.echo(str(error))
        return None


@contextlib.contextmanager
def _speaker(voice: str, output: str | None) -> Iterator[Speaker]:
    from voice.speak.choose import open_speaker

    speaker = open_speaker(voice, device=output)
    try:
        yield speaker
    finally:
        speaker.close()


@contextlib.contextmanager
def _microphone(name: str | None, speaker: Speaker, wording: SoundcheckWording) -> Iterator[SoundCardMicrophone]:
    """The microphone; where there is none, that is said aloud too before it is an error."""
    from voice.errors import DeviceError
    from voice.sound.soundcard import open_microphone

    try:
        microphone = open_microphone(name)
    except DeviceError:
        _aloud(speaker, wording.no_microphone)
        raise
    try:
        yield microphone
    finally:
        microphone.close()


def _aloud(speaker: Speaker, text: str) -> None:
    """Says what is an error anyway; a loudspeaker that fails too does not hide it."""
    from voice.errors import GladhandError

    typer.echo(text)
    with contextlib.suppress(GladhandError):
        speaker.say(text)
