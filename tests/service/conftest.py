"""A bench folder with its instrument for each test."""

import pytest
from bench_process import BenchProcess


@pytest.fixture
def bench(tmp_path):
    with BenchProcess(tmp_path) as bench:
        yield bench
