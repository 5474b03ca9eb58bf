#!/bin/sh
# Make the virtual environment $1 with a Python that wrung runs on, or say plainly what is missing.
# PYTHON=/path/to/python make ... asks for a certain one.
set -eu
target=$1

suits() {
    # Run it: a shim on PATH may stand for a version that is not there.
    "$1" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null
}

# An environment made by hand stays as it is.
if suits "$target/bin/python" && "$target/bin/python" -m pip --version >/dev/null 2>&1; then
    exit 0
fi

find_python() {
    if [ -n "${PYTHON:-}" ]; then
        if suits "$PYTHON"; then echo "$PYTHON"; return; fi
        echo "PYTHON=$PYTHON is no Python 3.11 or newer." >&2
        return 1
    fi
    for candidate in python3 python3.14 python3.13 python3.12 python3.11 python; do
        if suits "$candidate"; then echo "$candidate"; return; fi
    done
    {
        echo "wrung needs Python 3.11 or newer; none was found on PATH."
        echo "  python3 here: $(python3 --version 2>/dev/null || echo none)"
        echo "  Install one, or name one: make demo PYTHON=/path/to/python3.12"
    } >&2
    return 1
}

python=$(find_python)

if ! "$python" -c 'import ensurepip, venv' 2>/dev/null; then
    version=$("$python" -c 'import sys; print("%d.%d" % sys.version_info[:2])')
    {
        echo "$python ($version) has no venv with pip (the modules venv and ensurepip)."
        echo "  On Debian and Ubuntu: apt-get install python$version-venv"
    } >&2
    exit 1
fi

echo "Making $target with $("$python" --version)"
"$python" -m venv --clear "$target"
