"""A bench folder with its instrument for each test."""

import pytest

from tests.support.process_bench import BenchProcess


@pytest.fixture
def bench(tmp_path):
    with BenchProcess(tmp_path) as bench:
        yield bench
