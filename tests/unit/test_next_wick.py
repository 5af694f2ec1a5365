"""Whose turn it is on a shared pour: one burn a wick, in the order that was written down."""

import pytest

from logger.burn.model import Burn
from logger.burn.shared_pour import next_wick, wicks_in_order

ORDER = wicks_in_order("M4, M6; M8")


def burn(number: int, trial: str, wick: str = "") -> Burn:
    return Burn(
        id=f"jar-a-{number}",
        station="jar-a",
        trial=trial,
        lit_s=86_400.0 * number,
        tester="S1",
        wick=wick,
        shared_pour=True,
    )


@pytest.mark.parametrize(
    ("burns", "trials", "turn"),
    [
        pytest.param([], {}, ("M4", "M4"), id="nothing burned yet"),
        pytest.param([], {"M4": "amber M4"}, ("M4", "amber M4"), id="a record names its trial"),
        pytest.param([burn(1, "wick M4")], {}, ("M6", "wick M6"), id="called as the one before"),
        pytest.param([burn(1, "slate", "M4")], {}, ("M6", "M6"), id="its name tells no wick"),
        pytest.param(
            [burn(1, "wick M6"), burn(2, "wick M4")], {}, ("M8", "wick M8"), id="out of turn"
        ),
        pytest.param([burn(1, "wick M40")], {}, ("M4", "M4"), id="M40 is not M4"),
    ],
)
def test_the_next_in_order(burns, trials, turn):
    found = next_wick(ORDER, burns, trials)
    assert found is not None
    assert (found.wick, found.trial) == turn


def test_none_is_left_or_none_was_written_down():
    burned = [burn(number, f"wick {wick}") for number, wick in enumerate(ORDER)]
    assert ORDER == ("M4", "M6", "M8")
    assert next_wick(ORDER, burned, {}) is None
    assert next_wick(wicks_in_order(""), burned, {}) is None
