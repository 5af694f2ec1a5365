"""Records by commands, with the service running and without."""

import json

import pytest

from logger.shelf.catalogue import RECORDS
from tests.support.command_line import typed

BOTH = pytest.mark.parametrize("running", [True, False], ids=["service", "no service"])


def told(bench, *words):
    done = bench.typed(*words, "--json")
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


@BOTH
def test_a_vessel_is_added_changed_shown_and_withdrawn(bench, running):
    if running:
        bench.start()
    assert "no vessel is on the shelf" in bench.typed("vessel", "list").stdout
    words = ("--inner-diameter", "7,5 cm", "--material", "metal", "--leak-24-h", "passed")
    added = bench.typed("vessel", "add", "amber 75", *words, "--by", "Ines")
    assert (added.returncode, added.stdout) == (0, "vessel amber 75: added\n"), added.stderr
    again = bench.typed("vessel", "add", "Amber 75")
    assert again.returncode == 1
    assert "there is a vessel amber 75 already" in again.stderr
    changed = told(
        bench, "vessel", "change", "amber 75", "--wall", "3 mm", "--clear", "material",
        "--by", "Tom", "--why", "measured",
    )  # fmt: skip
    assert changed["fields"] == {
        "inner_diameter": "7,5 cm", "leak_24_h": "passed", "wall": "3 mm",
    }  # fmt: skip
    shown = bench.typed("vessel", "show", "amber 75").stdout
    assert "inner diameter: 7,5 cm" in shown
    assert "leak 24 h: passed, Ines" in shown
    assert "not cleared; not yet checked: tip 10 degrees" in shown
    assert "by Tom: measured" in shown
    gone = bench.typed("vessel", "withdraw", "amber 75", "--why", "broken")
    assert gone.returncode == 0, gone.stderr
    assert "[withdrawn: broken]" in bench.typed("vessel", "list").stdout
    assert [one["version"] for one in told(bench, "vessel", "show", "amber 75")["versions"]] == [
        1, 2, 3,
    ]  # fmt: skip


@BOTH
def test_what_does_not_fit_is_refused_with_its_exit_code(bench, running):
    if running:
        bench.start()
    for words, code, says in (
        (("vessel", "add", "amber-75", "--wall", "3"), 1, "has no unit"),
        (("vessel", "add", "amber-75", "--colour", "blue"), 2, "--colour"),
        (("vessel", "show", "amber-75"), 1, "there is no vessel amber-75"),
        (("wick", "change", "none", "--order", "3"), 1, "there is no wick none"),
        (("formula", "add", "f", "--wax-share", "92 %"), 1, "sum to 92 %, not 100 %"),
        (("formula", "add", "f", "--wax-price", "1,000"), 1, "can be read in two ways"),
        (("trial", "withdraw", "cedar-6"), 2, "--why"),
    ):
        done = bench.typed(*words)
        assert done.returncode == code, (words, done.stderr)
        assert says in done.stderr
        assert "Traceback" not in done.stderr
    assert told(bench, "vessel", "list") == {"kind": "vessel", "records": []}


def test_a_trial_lit_by_name_is_listed(bench):
    lit = bench.typed(
        "burn", "lit", "jar-a", "--trial", "cedar-6", "--watched-by", "Ines", "--checked"
    )
    assert lit.returncode == 0, lit.stderr
    assert bench.typed("trial", "list").stdout == "cedar-6\n"


@pytest.mark.parametrize("kind", RECORDS)
def test_every_kind_has_its_commands(kind):
    text = typed(kind, "--help").stdout
    assert all(f"  {way} " in text for way in ("list", "show", "add", "change", "withdraw"))
