#!/bin/sh
# Sets everything up on a fresh Debian or Ubuntu machine and runs all tests, the linter and the type checker.
set -eu
cd "$(dirname "$0")/.."
. tests/setup.sh
prepare .venv-tests "espeak-ng alsa-utils flite festival festvox-kallpc16k sox pulseaudio libportaudio2 libasound2-plugins ffmpeg chromium chromium-driver poppler-utils strace libpango-1.0-0 libpangoft2-1.0-0 postgresql" tests/requirements.lock
say "Linter and types"
.venv-tests/bin/ruff check voice tests demo
.venv-tests/bin/ruff format --check voice tests demo
.venv-tests/bin/mypy
say "Tests"
# Sound must not starve: the tests of the sound card run first and alone. The others take one worker a core; a file stays
# with one worker, since some start a server of their own. (pytest ends with 5 when "$@" chose nothing for a round.)
round() { .venv-tests/bin/python -m pytest "$@" || [ $? -eq 5 ]; }
round -m soundcard "$@"
round -m "not soundcard" -n auto --dist loadfile "$@"
