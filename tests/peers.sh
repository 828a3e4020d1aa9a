# Finds or installs what tests need beside Python. Sourced by tests/run.sh after set_up. Out:
# DUNNOCK_TEST_CHROMIUM, the path of a Chromium that starts, or a loud line that its tests are skipped.
# What counts as a Chromium is decided in tests/support/browser.py.

on_debian_as_root() {
    [ -f /etc/debian_version ] && command -v apt-get >/dev/null && [ "$(id -u)" = 0 ]
}

debian_install() {
    echo "Installing $* ..."
    { apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "$@"; } \
        >/dev/null || echo "Could not install $*; going on without."
}

find_browser() {
    missing=''
    if on_debian_as_root; then
        .venv/bin/python -m tests.support.browser >/dev/null || missing=chromium
        # Without these fonts many scripts of our languages show as boxes.
        dpkg -s fonts-noto-core >/dev/null 2>&1 || missing="$missing fonts-noto-core"
        # shellcheck disable=SC2086 # a list of package names
        [ -z "$missing" ] || debian_install $missing
    fi
    DUNNOCK_TEST_CHROMIUM=$(.venv/bin/python -m tests.support.browser --download) || DUNNOCK_TEST_CHROMIUM=''
    export DUNNOCK_TEST_CHROMIUM
    if [ -n "$DUNNOCK_TEST_CHROMIUM" ]; then
        echo "Browser tests use $DUNNOCK_TEST_CHROMIUM"
    else
        echo '!!!! NO CHROMIUM FOUND OR INSTALLED: THE BROWSER TESTS WILL BE SKIPPED. !!!!'
    fi
}

# The open-source gateway that the profile `kannel` is tested against; without it those tests are skipped.
find_gateway() {
    command -v bearerbox >/dev/null || [ -x /usr/sbin/bearerbox ] || ! on_debian_as_root || debian_install kannel
    [ -x /usr/sbin/bearerbox ] || echo '!!!! NO KANNEL FOUND OR INSTALLED: ITS PROFILE WILL NOT BE TESTED AGAINST IT. !!!!'
}
