from __future__ import annotations

import pytest

from voice.hear.ear import VoiceEar
from voice.hear.moonshine import Moonshine
from voice.hear.recording import ArrayMicrophone
from voice.hear.sphinx import Sphinx


@pytest.fixture(scope="session")
def moonshine() -> Moonshine:
    return Moonshine()


@pytest.fixture(scope="session")
def sphinx() -> Sphinx:
    return Sphinx()


@pytest.fixture
def ear(moonshine: Moonshine, sphinx: Sphinx) -> VoiceEar:
    """The real engines on an empty recording; give it one with hear()."""
    microphone = ArrayMicrophone()
    return VoiceEar(microphone, moonshine, sphinx, clock=microphone)
