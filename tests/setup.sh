# Sourced by demo/run.sh and tests/run.sh: system packages with apt, then a virtual environment of their own.

say() { echo "== $* =="; }

as_root() {
    if [ "$(id -u)" = 0 ]; then "$@"; elif command -v sudo >/dev/null; then sudo "$@"; else
        echo "This needs root once, to install: $*" >&2
        return 2
    fi
}

# prepare FOLDER "DEBIAN PACKAGES" LOCK: installs what is missing; a second run installs nothing.
# Every package must have the hash that LOCK names; Gladhand itself is then put on top, without looking anything up.
prepare() {
    missing=""
    for package in python3-venv $2; do
        dpkg -s "$package" >/dev/null 2>&1 || missing="$missing $package"
    done
    # A Python that is not Debian's own may bring venv itself.
    if python3 -c "import venv, ensurepip" 2>/dev/null; then
        missing=$(echo "$missing" | sed 's/ python3-venv//')
    fi
    if [ -n "$missing" ]; then
        say "Installing system packages:$missing"
        as_root apt-get update -q
        as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -q --no-install-recommends $missing
    fi
    python3 -c 'import sys; sys.exit(sys.version_info < (3, 11))' || {
        echo "Gladhand needs Python 3.11 or later; this is $(python3 --version)." >&2
        return 2
    }
    stamp="$1/.made-from"
    wanted=$(cat pyproject.toml "$3" | cksum)
    if [ "$(cat "$stamp" 2>/dev/null)" != "$wanted" ]; then
        say "Making the virtual environment $1 (some 900 MB, once)"
        python3 -m venv --clear "$1"
        "$1/bin/python" -m pip install -q --disable-pip-version-check --require-hashes -r "$3"
        "$1/bin/python" -m pip install -q --disable-pip-version-check --no-deps --no-build-isolation -e .
        echo "$wanted" > "$stamp"
    fi
}
