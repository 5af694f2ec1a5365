"""Short evenings of the alarm load: the same figures, in some seconds.

The figures themselves are for the long run: `python tests/benchmarks/bench_alarms.py`.
"""

from dataclasses import replace

import pytest

from logger.alarms.lifecycle import Priority
from tests.benchmarks.bench_alarms import (
    EVENINGS,
    MOST_ON_PHONE,
    Load,
    evening,
    jar,
    most_within,
    two,
)

BY_NAME = {one.name: replace(one, every_s=5, cooling_s=60.0) for one in EVENINGS}


@pytest.fixture(scope="module")
def unplugged() -> Load:
    return evening(
        replace(BY_NAME["unplugged for 10 min"], pulled=lambda t: 900.0 <= t < 1080.0), 0.4
    )


def test_a_plug_of_two_jars_is_one_call_and_one_that_it_is_over(unplugged):
    silent = [one for one in unplugged.raised if one.alarm.finding.rule == "silent"]
    assert len(silent) == 2 * 8 + 1  # eight contact places and spots a jar, and the room
    raised_s = {one.time_s for one in silent}
    assert len(raised_s) == 1
    (at_s,) = raised_s
    assert unplugged.calls.count(at_s) == 1
    assert unplugged.missed() == []
    assert unplugged.worst_on_phone <= MOST_ON_PHONE


def test_a_healthy_burn_has_nothing_but_notices():
    load = evening(replace(BY_NAME["healthy"], jars=lambda: (jar("jar-a", 21),)), 0.3)
    assert set(load.by_priority) == {Priority.NOTICE}
    assert load.missed() == []


def test_what_nobody_answers_is_told_less_often():
    found = replace(BY_NAME["at the noise limit"], answers=False)
    load = evening(found, 1.1)
    assert load.missed() == []
    assert load.stale == 0
    assert {Priority.CAUTION, Priority.WARNING} <= set(load.by_priority)
    assert load.calls_in_ten_min < 0.75  # it was 0.89 with each repeat on the phone


def test_more_than_a_few_lines_in_ten_minutes_are_counted():
    assert most_within([0.0, 10.0, 300.0, 599.0, 700.0, 1000.0], 600.0) == 4
    assert most_within([], 600.0) == 0
    busy = Load("busy", healthy=True, burn_s=600.0, phone=[1.0] * (MOST_ON_PHONE + 1))
    assert busy.missed()


def test_both_jars_of_a_plug_have_places():
    assert {place.station for scenario in two() for place in scenario.channels} == {
        "jar-a",
        "jar-b",
        None,
    }
