"""What every test may use: a real broker, the table of faults, and a watch over stray tasks."""

import asyncio
import gc
import inspect
import os
import random
from itertools import chain, groupby, zip_longest

import pytest

gc.disable()  # what is imported to collect the tests stays: see `pytest_collection_finish`
pytest.register_assert_rewrite("tests.support")  # before anything of it is imported
pytest_plugins = (
    "tests.support.broker",
    "tests.support.engine",
    "tests.support.processes",
    "tests.support.warm_starts",
)


def pytest_collection_modifyitems(items):
    """Files of tests that wait, for services, and of those that compute, by turns."""
    files = {path: list(tests) for path, tests in groupby(items, key=lambda test: test.path)}
    waiting = [path for path in files if path.parent.name == "service"]
    computing = [path for path in files if path.parent.name != "service"]
    turns = chain.from_iterable(zip_longest(waiting, computing))
    items[:] = chain.from_iterable(files.get(path, ()) for path in turns)


def pytest_collection_finish():
    """Garbage is looked for from now on, in what tests make; to go through the rest is dear."""
    gc.freeze()
    gc.enable()


@pytest.fixture(autouse=True)
def no_stray_tasks(request):
    """Fails a test after which a task still runs: it would go on in the service too."""
    if inspect.iscoroutinefunction(request.function):
        request.getfixturevalue("_tasks_end")


@pytest.fixture
async def _tasks_end():
    yield
    for _ in range(10):  # turns of the loop for what was cancelled to end
        await asyncio.sleep(0)
    strays = asyncio.all_tasks() - {asyncio.current_task()}
    assert not strays, f"left behind: {[task.get_coro() for task in strays]}"


LONG = os.environ.get("WICKBENCH_LONG") == "1"  # `make faults`: the long form of each fault


@pytest.fixture
def long():
    """Whether the long form of a fault test is asked for."""
    return LONG


@pytest.fixture
def seed(record_property):
    """The seed of the random part, printed at the end; WICKBENCH_SEED gives one."""
    seed = int(os.environ.get("WICKBENCH_SEED", random.randrange(10**9)))
    record_property("seed", seed)
    return seed


COLUMNS = {
    "what": "fault",
    "tried": "tried",
    "lost": "readings lost",
    "missed": "alarms missed",
    "doubled": "events doubled",
    "recovery_s": "recovery",
    "reached": "reached",
    "bar": "to reach",
}


@pytest.fixture
def fault_row(record_property):
    """Notes one row of the table that the run prints at its end: what, tried, and its figures.

    `lost`, `missed` and `doubled` are counts, `recovery_s` the longest from the fault's end; what
    else a test measures stands in `reached`, with its `bar`.
    """

    def note(what, *, tried, recovery_s=None, **figures):
        recovery = "-" if recovery_s is None else f"{recovery_s:.1f} s"
        cells = {"what": what, "tried": tried, "recovery_s": recovery, **figures}
        assert cells.keys() <= COLUMNS.keys()
        record_property("fault", tuple(str(cells.get(column, "-")) for column in COLUMNS))

    return note


def pytest_terminal_summary(terminalreporter):
    """The table of faults and the seeds, also when the tests ran in several processes."""
    reports = [
        report
        for outcome in ("passed", "failed")
        for report in terminalreporter.stats.get(outcome, ())
        if report.when == "call"
    ]

    def noted(name):
        for report in reports:
            for key, value in report.user_properties:
                if key == name:
                    yield report.nodeid, value

    rows = sorted(tuple(value) for _, value in noted("fault"))
    if not rows:
        return
    rows = [tuple(COLUMNS.values()), *rows]
    widths = [max(map(len, cells)) for cells in zip(*rows, strict=True)]
    terminalreporter.section("faults")
    for row in rows:
        cells = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        terminalreporter.write_line("  ".join(cells).rstrip())
    for test, seed in noted("seed"):
        terminalreporter.write_line(f"WICKBENCH_SEED={seed}  {test}")
