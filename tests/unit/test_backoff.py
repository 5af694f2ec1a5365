import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.instruments.backoff import Backoff


def test_waits_double_up_to_the_cap():
    backoff = Backoff(first_s=0.5, longest_s=5.0)
    waits = [backoff.delay_s(failures, chance=0.0) for failures in range(1, 7)]
    assert waits == [0.5, 1.0, 2.0, 4.0, 5.0, 5.0]


def test_chance_shortens_a_wait_by_its_share():
    assert Backoff(first_s=1.0, jitter=0.2).delay_s(1, chance=0.5) == pytest.approx(0.9)


@given(failures=st.integers(1, 10**9), chance=st.floats(0.0, 1.0, exclude_max=True))
def test_any_number_of_failures_gives_a_wait_that_is_bounded(failures, chance):
    backoff = Backoff()
    least_s = backoff.first_s * (1.0 - backoff.jitter)
    assert least_s <= backoff.delay_s(failures, chance) <= backoff.longest_s
