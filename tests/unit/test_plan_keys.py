"""[plan] as a maker writes it, and what is wrong with it."""

from pathlib import Path

import pytest

from logger.decision.change import LotPart, Retest
from logger.errors import SettingsError
from logger.settings.config_file import parse


def plan(lines):
    return parse(f'[bench]\nname = "back-room"\n{lines}\n', Path("bench.toml")).plan


def test_hours_days_and_a_retest_that_asks_for_more():
    found = plan(
        '[plan]\nhours = ["7:30", "24:00"]\ndays = ["sun", "mon"]\nmark_takes = "90 s"\n'
        '[plan.retest]\nfragrance = "new-trial"'
    )
    assert (found.hours_s, found.days) == ((27_000.0, 86_400.0), ("mon", "sun"))
    assert (found.mark_takes_s, found.in_sight, found.testers) == (90.0, 3, 2)
    assert found.retest.demanded[LotPart.FRAGRANCE] is Retest.NEW_TRIAL
    assert found.retest.demanded[LotPart.WAX] is Retest.TO_THE_END
    assert plan("").hours_s == (28_800.0, 64_800.0)


@pytest.mark.parametrize(
    ("lines", "what"),
    [
        ('hours = ["18:00", "08:00"]', 'plan.hours: "08:00" is not after "18:00"'),
        ('hours = ["8 am", "18:00"]', 'plan.hours: "8 am" is not a time of day'),
        ('hours = ["08:00", "24:30"]', 'plan.hours: "24:30" is not a time of day'),
        ('hours = ["08:00"]', "plan.hours: needs when you come and when you go"),
        ('days = ["monday"]', "plan.days: needs days of the week by three letters"),
        ("days = []", "plan.days: needs days of the week by three letters"),
        ("in_sight = 0", "plan.in_sight: 0 is not a whole number from 1 to 50"),
        ('retest = { wax = "one-burn" }', 'plan.retest.wax: "one-burn" is less than usual'),
    ],
)
def test_what_is_wrong_is_said_with_what_to_write(lines, what):
    with pytest.raises(SettingsError, match="plan") as raised:
        plan(f"[plan]\n{lines}")
    assert what in str(raised.value)
