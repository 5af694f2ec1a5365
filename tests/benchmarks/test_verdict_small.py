"""Burns over the limit where the evidence is bad, in CI a dozen: none may pass.

The whole list, over four hours each, is for `make faults` and `bench_verdict.py`.
"""

import pytest

from tests.benchmarks.bench_verdict import CASES, GOOD, UNKNOWABLE, verdict

FEW = (
    "never speaks",
    "stands still at its value of 30 min",
    "comes off within three hours",
    "half-lifted, the only place",
    "its kind is not stated",
    "a metal film said to be bare glass, a probe on the cool side",
    "both 3 K low, accuracy not stated, truly 62",
    "a gap in which it peaked",
    "both on a cold jar",
    "both fastened after 1 h",
    "both corrected by -9 K",
    "out at 50 min, recorded lit",
)


@pytest.mark.faults
def test_no_burn_over_the_limit_passes(long, fault_row, tmp_path):
    tried = [case for case in CASES if long or case.name in FEW]
    passed = [case.name for case in tried if verdict(case, tmp_path)["outcome"] == "pass"]
    fault_row(
        "burns over the limit, the evidence bad", tried=len(tried), reached=len(passed), bar=0
    )
    assert len(tried) >= (40 if long else len(FEW))
    assert passed == []


@pytest.mark.parametrize("case", GOOD[:2], ids=lambda case: case.name)
def test_a_cool_candle_that_is_well_measured_passes(case, tmp_path):
    found = verdict(case, tmp_path)
    assert (found["outcome"], found["missing"]) == ("pass", [])


def test_what_no_reading_can_tell_is_said(tmp_path):
    found = verdict(UNKNOWABLE[0], tmp_path)
    assert found["outcome"] == "pass"  # nobody can know: which is why it is written beside it
    assert any("probes that all hang half off the wall" in note for note in found["notes"])
