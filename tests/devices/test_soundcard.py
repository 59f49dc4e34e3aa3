"""Microphone and loudspeaker through a virtual sound card: PulseAudio null sinks behind ALSA and PortAudio."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from scipy import signal as dsp

from tests.devices.espeak import say
from tests.devices.pulse import VirtualCard
from voice.errors import DeviceError, SetupError
from voice.sound.cardlink import CardLink, list_devices
from voice.sound.cardprocess import flags_of
from voice.sound.loudspeaker import Loudspeaker
from voice.sound.port import BLOCK, RATE, Audio
from voice.sound.soundcard import LOST_AFTER, SILENT_AFTER, RealClock, SoundCardMicrophone, _Captured, open_microphone

soundcard = pytest.mark.soundcard


def read(mic: SoundCardMicrophone, seconds: float) -> Audio:
    return np.concatenate([mic.read() for _ in range(int(seconds * RATE / BLOCK))])


def until_lost(mic: SoundCardMicrophone) -> DeviceError:
    """Reads until the microphone complains; fails if it has not after ten seconds of sound."""
    with pytest.raises(DeviceError) as caught:
        read(mic, 10)
    return caught.value


def likeness(sent: Audio, heard: Audio) -> tuple[float, float]:
    """Correlation of what was sent with where it is best found in what was heard, in the speech band, at four times
    the rate (a sound card is free to be a fraction of a sample late); and the seconds it starts at."""
    band = dsp.butter(6, [100, 3500], "band", fs=RATE, output="sos")
    one, other = (dsp.resample_poly(dsp.sosfiltfilt(band, audio), 4, 1) for audio in (sent, heard))
    at = int(np.argmax(dsp.correlate(other, one, "valid")))
    found = other[at : at + len(one)]
    return float(np.corrcoef(one, found)[0, 1]), at / 4 / RATE


def test_what_is_lost_is_known_within_two_seconds() -> None:
    assert LOST_AFTER < 2
    assert SILENT_AFTER < 2


def test_the_real_clock_never_goes_back() -> None:
    clock = RealClock()
    times = [clock.now() for _ in range(1000)]
    assert times == sorted(times)
    assert times[0] >= 0


@soundcard
def test_speech_goes_out_of_one_device_and_in_by_the_other(card: VirtualCard, tmp_path: Path) -> None:
    speech = say("Left steer tire. Tread depth four thirty seconds of an inch.", tmp_path)
    mic, mouth = SoundCardMicrophone("cab_microphone"), Loudspeaker("driver_mouth")
    try:
        mic.flush()
        mouth.play(speech)
        heard = read(mic, len(speech) / RATE + 0.8)
        blocks = {len(mic.read()), mic.read().dtype.name}
    finally:
        mic.close()
        mouth.close()
    same, start = likeness(speech, heard)
    assert same > 0.98
    assert start < 0.8
    assert mic.overflows == 0
    assert mic.dropped == 0
    assert blocks == {BLOCK, "float32"}


@soundcard
def test_play_returns_when_the_sound_has_ended(card: VirtualCard, tmp_path: Path) -> None:
    """What the far ear has heard the moment play returns, is all of it: nothing is still to come."""
    speech = say("One hundred and five.", tmp_path)
    ear, speaker = SoundCardMicrophone("loudspeaker_ear", silent_after=None), Loudspeaker("cab_loudspeaker")
    try:
        speaker.play(np.zeros(RATE // 2, np.float32))
        ear.flush()
        clock = RealClock()
        speaker.play(speech)
        took = clock.now()
        heard = read(ear, took + 1.0)
    finally:
        ear.close()
        speaker.close()
    same, start = likeness(speech, heard)
    assert same > 0.98
    assert took >= len(speech) / RATE
    after = heard[int((took + 0.15) * RATE) :]  # 0.15 s: the way through two audio buffers of 0.1 s
    assert len(after) > RATE // 2
    assert np.abs(after).max() < 0.001
    assert start + len(speech) / RATE <= took + 0.15


@soundcard
@pytest.mark.parametrize("rate", [None, 44_100, 48_000, 16_000])
def test_a_tone_keeps_its_pitch_at_any_rate(card: VirtualCard, rate: float | None) -> None:
    """1000 Hz in is 1000 Hz out: the device's own rate is not taken for 16 kHz."""
    card.quiet()
    tone = (0.3 * np.sin(2 * np.pi * 1000 * np.arange(2 * RATE) / RATE)).astype(np.float32)
    mic, mouth = SoundCardMicrophone("cab_microphone", rate=rate, silent_after=None), Loudspeaker("driver_mouth")
    try:
        mic.flush()
        mouth.play(tone)
        heard = read(mic, 1.9)
    finally:
        mic.close()
        mouth.close()
    steady = heard[len(heard) // 2 :] * np.hanning(len(heard) - len(heard) // 2)
    power = np.abs(np.fft.rfft(steady, 8 * RATE)) ** 2
    peak = int(power.argmax()) / 8
    assert peak == pytest.approx(1000, abs=0.5)
    near = slice((1000 - 20) * 8, (1000 + 20) * 8)
    assert power[near].sum() / power.sum() > 0.999


@soundcard
def test_a_microphone_that_is_pulled_out_is_missed_and_found_again(card: VirtualCard) -> None:
    mic = open_microphone("cab_micro")
    try:
        assert mic.name == "cab_microphone"
        assert read(mic, 0.3).std() > 0
        card.unplug()
        error = until_lost(mic)
        assert error.retry
        assert "cab_microphone" in str(error)
        with pytest.raises(DeviceError) as still:
            mic.reopen()
        assert still.value.retry
        assert not mic.wait_back(limit=0.0)
        card.quiet()
        card.plug()
        card.hum()
        assert mic.wait_back(limit=20)
        assert mic.name == "cab_microphone"
        assert read(mic, 0.5).std() > 0
    finally:
        mic.close()


@soundcard
def test_a_sound_server_that_dies_takes_nobody_with_it(card: VirtualCard) -> None:
    """PortAudio spins for ever in this case; only its own process can be ended."""
    mic, speaker = SoundCardMicrophone("cab_microphone"), Loudspeaker("cab_loudspeaker")
    try:
        read(mic, 0.3)
        pids = {mic._link.pid, speaker._link.pid}
        card.stop()
        assert until_lost(mic).retry
        with pytest.raises(DeviceError) as lost:
            speaker.play(np.zeros(RATE // 10, np.float32))
        assert lost.value.retry
        card.start()
        card.hum()
        assert mic.wait_back(limit=20)
        assert read(mic, 0.3).std() > 0
        speaker.play(np.zeros(RATE // 10, np.float32))
        assert not {mic._link.pid, speaker._link.pid} & pids
        for pid in pids:
            with pytest.raises(ProcessLookupError):
                os.kill(pid, 0)
    finally:
        mic.close()
        speaker.close()


@soundcard
def test_a_muted_microphone_is_noticed_and_heard_again(card: VirtualCard) -> None:
    mic = SoundCardMicrophone("cab_microphone")
    try:
        read(mic, 0.3)
        card.mute()
        error = until_lost(mic)
        assert error.retry
        assert "no sound at all" in str(error)
        assert not mic.wait_back(limit=0.0)
        card.mute(False)
        assert mic.wait_back(limit=20)
        assert read(mic, 0.3).std() > 0
    finally:
        mic.close()


@soundcard
def test_a_microphone_that_stops_delivering_is_missed(card: VirtualCard) -> None:
    mic = SoundCardMicrophone("cab_microphone")
    try:
        read(mic, 0.3)
        card.stall()
        assert until_lost(mic).retry
        card.stall(False)
        assert mic.wait_back(limit=20)
        assert read(mic, 0.3).std() > 0
    finally:
        mic.close()


@soundcard
def test_a_program_held_up_gets_all_it_missed(card: VirtualCard) -> None:
    """The capture process stands still for a second, as on a machine that is too busy. PulseAudio keeps the sound for
    it, so nothing is lost, and nothing is taken for lost."""
    mic, other = SoundCardMicrophone("cab_microphone"), SoundCardMicrophone("loudspeaker_ear", silent_after=None)
    try:
        read(mic, 0.3)
        os.kill(mic._link.pid, signal.SIGSTOP)
        other.flush()
        read(other, 1.0)
        os.kill(mic._link.pid, signal.SIGCONT)
        clock = RealClock()
        late = read(mic, 1.8)
        assert clock.now() < 1.8  # more than could be captured in that time: the second before is among it
        assert late.std() > 0.001
        assert mic.overflows == 0
    finally:
        mic.close()
        other.close()


def test_samples_that_were_lost_are_counted() -> None:
    """By PortAudio's own status flags (2 is paInputOverflow in portaudio.h): no device here can be made to lose any."""
    from sounddevice import CallbackFlags

    captured = _Captured()
    for status in (0, 2, 2, 1):
        captured.put(flags_of(CallbackFlags(status)), b"\0" * 8)
    assert captured.overflows == 2
    assert captured.get(1.0) == b"\0" * 8


@soundcard
def test_sound_that_nobody_reads_is_dropped_from_its_old_end(
    card: VirtualCard, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("voice.sound.soundcard.KEEP", 0.5)
    mic, other = SoundCardMicrophone("cab_microphone"), SoundCardMicrophone("loudspeaker_ear", silent_after=None)
    try:
        other.flush()
        read(other, 1.5)
        assert 0.5 < mic.dropped < 60
        read(mic, 0.3)
    finally:
        mic.close()
        other.close()


@soundcard
def test_flush_drops_the_tools_own_voice(card: VirtualCard, tmp_path: Path) -> None:
    speech = say("Check the header board.", tmp_path)
    mic, mouth = SoundCardMicrophone("cab_microphone"), Loudspeaker("driver_mouth")
    try:
        mouth.play(speech)
        mic.flush()
        heard = read(mic, 1.0)
    finally:
        mic.close()
        mouth.close()
    assert np.abs(heard[RATE // 4 :]).max() < 0.02  # the hum; the speech is 20 times as loud
    assert np.abs(speech).max() > 0.2


@soundcard
def test_what_plays_can_be_cut_short(card: VirtualCard) -> None:
    import threading

    speaker = Loudspeaker("cab_loudspeaker")
    clock = RealClock()
    try:
        threading.Timer(0.3, speaker.stop).start()
        speaker.play(np.zeros(60 * RATE, np.float32))
        assert clock.now() < 60  # it would have lasted a minute
    finally:
        speaker.close()


@soundcard
def test_names_that_do_not_fit_are_refused_with_those_that_are(card: VirtualCard) -> None:
    names = {device.name for device in list_devices()}
    assert {"cab_microphone", "driver_mouth", "cab_loudspeaker", "loudspeaker_ear"} <= names
    with pytest.raises(SetupError) as ambiguous:
        SoundCardMicrophone("cab_")
    assert "cab_microphone" in str(ambiguous.value)
    assert "cab_loudspeaker" in str(ambiguous.value)
    with pytest.raises(DeviceError) as unknown:
        Loudspeaker("tuba")
    assert unknown.value.retry
    assert "cab_loudspeaker" in str(unknown.value)


@soundcard
def test_the_default_devices_are_the_cab_s(card: VirtualCard, tmp_path: Path) -> None:
    speech = say("Ready.", tmp_path)
    mic, mouth = open_microphone(), Loudspeaker("driver_mouth")
    tries: list[float] = []
    try:
        while len(tries) < 3 and max(tries, default=0) <= 0.97:  # a busy machine may drop a block
            mic.flush()
            mouth.play(speech)
            tries.append(likeness(speech, read(mic, len(speech) / RATE + 0.8))[0])
    finally:
        mic.close()
        mouth.close()
    assert max(tries) > 0.97


@soundcard
def test_no_sound_card_process_outlives_a_killed_program(card: VirtualCard) -> None:
    program = (
        "import os\nfrom voice.sound.soundcard import SoundCardMicrophone\n"
        "mic = SoundCardMicrophone('cab_microphone')\nprint(mic._link.pid, flush=True)\n"
        "while True: mic.read()\n"
    )
    walk = subprocess.Popen([sys.executable, "-c", program], stdout=subprocess.PIPE, text=True, env={**os.environ})
    assert walk.stdout is not None
    pid = int(walk.stdout.readline())
    os.kill(pid, 0)
    os.kill(walk.pid, signal.SIGKILL)
    walk.wait()
    walk.stdout.close()
    for _ in range(200):
        if not Path(f"/proc/{pid}").exists() or "zombie" in Path(f"/proc/{pid}/status").read_text():
            break
        list_devices()  # takes its time
    else:
        pytest.fail("the capture process is still there")


def test_no_devices_at_all_is_one_clear_sentence(no_card: None) -> None:
    with pytest.raises(DeviceError) as none:
        open_microphone()
    assert str(none.value) == "There is no microphone. Plug one in and run gladhand soundcheck."
    with pytest.raises(DeviceError, match="There is no loudspeaker"):
        Loudspeaker()


def test_a_crash_inside_the_audio_library_is_one_sentence(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """ALSA ends its process on this configuration (Debian 12); ours goes on."""
    (tmp_path / "asound.conf").write_text("pcm.none { type null }\n")
    monkeypatch.setenv("ALSA_CONFIG_PATH", str(tmp_path / "asound.conf"))
    with pytest.raises(DeviceError) as crashed:
        open_microphone("cab_microphone")
    assert crashed.value.retry
    assert len(str(crashed.value).splitlines()) == 1


def test_a_missing_portaudio_says_how_to_install_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """sounddevice's own search is told that the system has no such library, as on a fresh machine."""
    (tmp_path / "sitecustomize.py").write_text("import ctypes.util\nctypes.util.find_library = lambda name: None\n")
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    monkeypatch.setenv("HOME", str(tmp_path))
    with pytest.raises(SetupError) as missing_library:
        list_devices()
    assert "PortAudio" in missing_library.value.message
    assert "apt-get install libportaudio2" in missing_library.value.hint
    assert "brew install portaudio" in missing_library.value.hint


def test_a_card_that_stops_answering_is_given_up() -> None:
    link = CardLink("play", "no such device at all")
    try:
        with pytest.raises(DeviceError):
            link.expect("opened", 10)
        with pytest.raises(DeviceError) as gone:
            link.expect("opened", 10)
        assert gone.value.retry
    finally:
        link.close()
