"""What people are told near a flame: every way to a person takes it from one table."""

import re
from pathlib import Path

import pytest

from logger.burn import safety
from logger.burn.entries import Danger
from logger.burn.safety import CHECKS, FIRST_WORDS, GET_OUT, PUT_OUT, confirmed, unconfirmed

ROOT = Path(__file__).parents[2]


def test_the_tray_is_asked_first():
    assert "heat-proof tray" in next(iter(CHECKS.values()))


def test_names_of_checks_are_written_out_and_own_words_kept():
    assert confirmed(["tray", "fan off"]) == (CHECKS["tray"], "fan off")


def test_what_is_not_confirmed_is_named_whichever_way_it_was_sent():
    sent = [*list(CHECKS)[:-1]]
    assert unconfirmed(sent) == (CHECKS["watcher"],)
    assert unconfirmed(CHECKS.values()) == ()
    assert unconfirmed(()) == tuple(CHECKS.values())


@pytest.mark.parametrize("what", Danger)
def test_every_emergency_ends_with_getting_out(what):
    lines = safety.emergency_advice(what)
    assert lines[-1] == GET_OUT
    assert len(lines) > 2


def test_a_burning_pool_is_covered_and_never_lifted():
    text = " ".join(safety.emergency_advice(Danger.FLASH_OVER))
    for words in ("wider than the mouth", "from the side", "never lift", "No water"):
        assert words in text
    assert set(FIRST_WORDS["The pool burns"]) < set(safety.emergency_advice(Danger.FLASH_OVER))


def test_nobody_is_told_to_use_just_any_lid():
    assert "flat metal lid" in PUT_OUT
    texts = [
        *(ROOT / "logger").rglob("*.py"),
        *(ROOT / "dashboards").rglob("*.html"),
        *(ROOT / "dashboards").rglob("*.md"),
        ROOT / "README.md",
    ]
    for path in texts:
        for found in re.findall(r"[^\n]{0,30}\blid\b", path.read_text("utf-8")):
            assert "metal" in found, f"{path.name}: {found}"
