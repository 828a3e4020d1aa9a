#!/bin/sh
# Starts the demo: an invented district with made-up mothers, on this machine only. From a fresh clone this is
# the one command; it needs nothing but python3 (3.11 or newer, with its venv module).
#
#     sh deploy/demo.sh [options of the demo; --help lists them]
set -eu
cd "$(dirname "$0")/.."
. deploy/setup.sh
set_up deploy/requirements.txt
exec .venv/bin/python -m bot.demo "$@"
