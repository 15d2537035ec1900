#!/usr/bin/env bash
# Prepares .venv from requirements.lock and the parts that Python packages can't bring along.
# `setup.sh` does what running needs; `setup.sh solvers` compiles; `setup.sh chromium` adds what the
# tests look with: browsers, and a reader of PDFs that is not ours.
set -euo pipefail
cd "$(dirname "$0")/.."

say() { echo "setup: $*" >&2; }

# Installs Debian packages, or ends by naming the command that would.
debian() {
    local as_root=()
    if [ "$(id -u)" != 0 ]; then as_root=(sudo -n); fi
    if command -v apt-get >/dev/null && { [ "$(id -u)" = 0 ] || sudo -n true 2>/dev/null; }; then
        say "installing $*"
        { "${as_root[@]}" apt-get update -q &&
            "${as_root[@]}" env DEBIAN_FRONTEND=noninteractive \
                apt-get install -y -q --no-install-recommends "$@"; } >&2 </dev/null && return
    fi
    say "missing on this system; install with: sudo apt-get install $* (or your system's equivalent)"
    exit 1
}

python=
for candidate in python3.14 python3.13 python3.12 python3.11 python3; do
    if command -v "$candidate" >/dev/null &&
        "$candidate" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
        python=$candidate
        break
    fi
done
if [ -z "$python" ]; then
    debian python3 python3-venv
    python=python3
    "$python" -c 'import sys; sys.exit(sys.version_info < (3, 11))' ||
        { say "Python 3.11 or newer is needed"; exit 1; }
fi

if ! cmp -s requirements.lock .venv/requirements.lock; then
    "$python" -c 'import ensurepip, venv' 2>/dev/null || debian python3-venv
    say "making .venv with $("$python" --version), which takes a minute or two"
    [ -x .venv/bin/python ] || "$python" -m venv .venv
    .venv/bin/python -m pip install --quiet --disable-pip-version-check --no-input \
        --require-hashes -r requirements.lock
    cp requirements.lock .venv/requirements.lock
fi

# What WeasyPrint loads to set type, and the faces that our papers and pages name.
missing=$(
    .venv/bin/python - <<'PYTHON'
import ctypes
from pathlib import Path

libraries = {
    "libpango-1.0.so.0": "libpango-1.0-0",
    "libpangoft2-1.0.so.0": "libpangoft2-1.0-0",
    "libharfbuzz-subset.so.0": "libharfbuzz-subset0",
}
for library, package in libraries.items():
    try:
        ctypes.CDLL(library)
    except OSError:
        print(package)
if not any(Path("/usr/share/fonts").rglob("LiberationSans-Regular.*")):
    print("fonts-liberation")
PYTHON
)
if [ -n "$missing" ]; then
    # shellcheck disable=SC2086 # one word per package
    debian $missing
fi

if [ "${1:-}" = chromium ]; then
    command -v chromium >/dev/null || debian chromium
    # Its test is skipped, with the reason, where it can't be had.
    command -v firefox-esr >/dev/null || command -v firefox >/dev/null ||
        (debian firefox-esr) || say "going on without Firefox"
    command -v pdftoppm >/dev/null && command -v pdfsig >/dev/null || debian poppler-utils
    command -v openssl >/dev/null || debian openssl
fi

# The solvers' inner loops compile once for a machine, so that no first plan has to wait for it.
if [ "${1:-}" = solvers ] && { [ ! -e .venv/compiled ] ||
    [ -n "$(find jobs/laying scheduling/planner -name '*.py' -newer .venv/compiled)" ]; }; then
    say "compiling the solvers' inner loops, which takes half a minute"
    .venv/bin/python -c 'from scheduling.planner.solve import load; load()'
    touch .venv/compiled
fi
