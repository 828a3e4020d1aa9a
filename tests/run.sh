#!/bin/sh
# Every check of the project, as CI runs them: style, types, import rules, and all tests on SQLite and on a
# PostgreSQL that the tests start themselves. Needs nothing but python3 (3.11 or newer, with its venv module).
#
#     sh tests/run.sh           everything; as root on Debian it may install Chromium, fonts and Kannel for them
#     sh tests/run.sh --quick   without the browser tests
#     sh tests/run.sh --cover   everything, with the lines of the core that no test ran; takes half as long again
#
# Every stage runs even if an earlier one failed; the exit code is 0 only if all passed. For one test:
#     .venv/bin/python -m pytest tests/core/test_plan.py -k "some words of its name"
set -eu
cd "$(dirname "$0")/.."
. deploy/setup.sh
. tests/peers.sh

failed='' times=''

stage() {
    name=$1 begun=$(date +%s)
    shift
    printf '\n== %s\n' "$name"
    "$@" || failed="$failed $name"
    times="$times $name $(($(date +%s) - begun)) s;"
}

tests='' cover=''
case "${1-}" in
    '') ;;
    --quick) tests='not browser' ;;
    --cover) cover='--cov --cov-report=term' ;;
    *) stop "Unknown option: $1" "Use: sh tests/run.sh [--quick | --cover]" ;;
esac

set_up deploy/requirements.txt tests/requirements.txt
[ -n "$tests" ] || stage browser find_browser
stage gateway find_gateway
stage ruff .venv/bin/ruff check .
stage format .venv/bin/ruff format --check .
stage mypy .venv/bin/mypy
stage imports .venv/bin/lint-imports --no-logo
stage pytest .venv/bin/python -m pytest -n 2 -q -m "$tests" $cover  # unquoted: two words or none

printf '\nTimes:%s\n' "$times"
[ -z "$failed" ] || stop "FAILED:$failed"
echo "All checks passed."
