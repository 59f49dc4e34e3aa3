#!/bin/sh
# Sets everything up on a fresh Debian or Ubuntu machine and plays a whole working day by voice on real audio.
set -eu
cd "$(dirname "$0")/.."
. tests/setup.sh
prepare .venv-demo "espeak-ng alsa-utils flite libportaudio2 libpango-1.0-0 libpangoft2-1.0-0" requirements.lock
echo "== A working day (a few minutes on two cores; --real-time plays it at speed) =="
exec .venv-demo/bin/python -m demo.whole_day "$@"
