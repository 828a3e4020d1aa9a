# Makes the checkout ready to run. Sourced, from the top folder of the checkout, by deploy/demo.sh and
# tests/run.sh; plain POSIX sh. In: the locked requirement files. Out: .venv with exactly those packages and
# the command .venv/bin/dunnock, or one clear message and exit 1. Nothing outside the checkout is touched.
#
#     . deploy/setup.sh
#     set_up deploy/requirements.txt [more requirement files]

# Holds where, and for which Python, .venv was made: one that was moved, half made, or left behind by an upgrade
# of Python is made again.
MADE=.venv/dunnock-made

stop() {
    printf '\n' >&2
    printf '%s\n' "$@" >&2
    exit 1
}

# Sets PYTHON to the first Python that is new enough and can make virtual environments.
find_python() {
    PYTHON='' lacks_venv=''
    for candidate in python3 python3.14 python3.13 python3.12 python3.11; do
        "$candidate" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null || continue
        if "$candidate" -c 'import ensurepip, venv' 2>/dev/null; then
            PYTHON=$candidate
            return
        fi
        lacks_venv=${lacks_venv:-$candidate}
    done
    [ -z "$lacks_venv" ] || stop \
        "Python is here, but its module for virtual environments (venv with ensurepip) is missing." \
        "On Debian and Ubuntu install it with:  apt-get install $(venv_package "$lacks_venv")"
    stop \
        "Dunnock needs Python 3.11 or newer; found: $(python3 --version 2>/dev/null || echo 'no python3 at all')." \
        "On Debian 12 or newer, or Ubuntu 24.04 or newer:  apt-get install python3 python3-venv"
}

venv_package() {
    "$1" -c 'import sys; print("python%d.%d-venv" % sys.version_info[:2])'
}

venv_identity() {
    .venv/bin/python -c 'import sys; print(sys.prefix, sys.version)' 2>/dev/null || echo 'no working .venv'
}

make_venv() {
    [ "$(cat "$MADE" 2>/dev/null)" = "$(venv_identity)" ] && return
    find_python
    echo "Making .venv with $("$PYTHON" --version) ..."
    "$PYTHON" -m venv --clear .venv || stop \
        "Could not make .venv; the lines above say why." \
        "On Debian and Ubuntu this may help:  apt-get install $(venv_package "$PYTHON")"
    venv_identity >"$MADE"
}

# A list of constraints or a wish for --user in somebody's pip settings must not change the locked set.
# Settings of index, mirror, proxy and certificate stay in force.
venv_pip() {
    PIP_CONSTRAINT=/dev/null PIP_USER=0 PIP_DISABLE_PIP_VERSION_CHECK=1 \
        .venv/bin/python -m pip install --quiet --quiet --no-deps "$@"
}

# A stamp in .venv remembers what each file held when it was installed.
stamp_of() {
    echo ".venv/installed-$(echo "$1" | tr / -)"
}

changed() {
    [ "$(cat "$(stamp_of "$1")" 2>/dev/null)" != "$(cksum <"$1")" ]
}

set_up() {
    make_venv
    for file in "$@"; do
        changed "$file" || continue
        echo "Installing the packages of $file (once; half a minute or so) ..."
        venv_pip --require-hashes -r "$file" || stop \
            "Could not install the packages of $file; the lines above say why." \
            "Is the package index (or your mirror of it) reachable? Then run the same command again."
        cksum <"$file" >"$(stamp_of "$file")"
    done
    changed pyproject.toml || return 0
    venv_pip --no-build-isolation --editable . || stop "Could not install Dunnock itself; the lines above say why."
    cksum <pyproject.toml >"$(stamp_of pyproject.toml)"
}
