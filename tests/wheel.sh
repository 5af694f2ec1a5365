#!/bin/sh
# What people get: the wheel, built from this tree, installed alone, run outside the checkout.
# Its demonstration is left in the empty folder $1, for tests that look at it closely.
set -eu
here=$(pwd)
demo=$1
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
"$here/.venv/bin/python" -m build --wheel --no-isolation --skip-dependency-check --outdir "$work" "$here" >"$work/build.log" 2>&1 ||
    { cat "$work/build.log" >&2; exit 1; }
# A checkout that has the chart library gives it to the wheel, with its licence.
if [ -e dashboards/chart/uPlot.js ]; then
    "$here/.venv/bin/python" -m zipfile -l "$work"/*.whl >"$work/files"
    for file in uPlot.js uPlot.css LICENSE.txt; do
        grep -q "dashboards/chart/$file" "$work/files"
    done
fi
"$here/.venv/bin/python" -m venv --without-pip "$work/venv"
# The versions of the lock, with the Python each is for, without the hashes.
sed -n 's/^\([A-Za-z0-9._-]*==[^\\]*\).*/\1/p' "$here/requirements.lock" >"$work/constraints.txt"
"$here/.venv/bin/pip" --python "$work/venv" install --quiet --disable-pip-version-check --no-compile \
    --constraint "$work/constraints.txt" "$work"/*.whl
cd "$work"
"$work/venv/bin/wickbench" demo --data "$demo" </dev/null >"$demo/told.txt" 2>"$work/errors" ||
    { cat "$demo/told.txt" "$work/errors" >&2; exit 1; }
test ! -s "$work/errors"
test -s "$demo/record.html"
test -s "$demo/record.pdf"
test -s "$demo/readings.csv"
"$work/venv/bin/wickbench" replay "$demo/readings.csv" --config "$demo/bench.toml" |
    head -n 1 >"$work/first.json"
grep -q '"kind"' "$work/first.json"
echo "wheel: installed alone, demo and replay ran outside the checkout"
