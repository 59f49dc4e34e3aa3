#!/bin/sh
# The school's side: progress of an invented class over 200 invented rehearsals, as a table, a page and a CSV file.
set -eu
cd "$(dirname "$0")/.."
. tests/setup.sh
prepare .venv-demo "espeak-ng alsa-utils flite libportaudio2 libpango-1.0-0 libpangoft2-1.0-0" requirements.lock
rm -rf out/learn
.venv-demo/bin/python demo/learn_demo.py out/learn
echo "Open out/learn/progress.html; other commands: .venv-demo/bin/gladhand progress --home out/learn/home"
