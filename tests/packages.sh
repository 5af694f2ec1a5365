#!/bin/sh
# The Debian packages that the tests need: installed where that is allowed, named where it is not.
# Installing mosquitto also enables a system service, so nobody's own machine is changed unasked.
set -eu
missing=""
for package in "$@"; do
    dpkg-query -W -f '${Status}' "$package" 2>/dev/null | grep -q 'ok installed' ||
        missing="$missing $package"
done
[ -n "$missing" ] || exit 0
line="apt-get install --yes --no-install-recommends$missing"
if [ "$(id -u)" = 0 ] || [ "${CI:-}" = true ]; then
    root=""
    [ "$(id -u)" = 0 ] || root="sudo"
    $root apt-get update --quiet=2
    # No service is started by the installation.
    $root env DEBIAN_FRONTEND=noninteractive RUNLEVEL=1 $line --quiet=2 >/dev/null
    exit 0
fi
echo "The tests need Debian packages that are missing. Type: sudo $line" >&2
exit 1
