"""What every test may use: a real broker, the table of faults, and a watch over stray tasks."""

import asyncio
import inspect
import os

import pytest

pytest.register_assert_rewrite("tests.support")  # before anything of it is imported
pytest_plugins = ("tests.support.broker", "tests.support.engine", "tests.support.processes")


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
def fault_row(record_property):
    """Notes one row of the table that the run prints at its end: what, tried, reached, bar."""

    def note(what, *, tried, reached, bar):
        record_property("fault", (what, str(tried), str(reached), str(bar)))

    return note


def pytest_terminal_summary(terminalreporter):
    """The table of faults, also when the tests ran in several processes."""
    rows = [
        value
        for outcome in ("passed", "failed")
        for report in terminalreporter.stats.get(outcome, ())
        for name, value in getattr(report, "user_properties", ())
        if name == "fault" and report.when == "call"
    ]
    if not rows:
        return
    rows = [("fault", "tried", "reached", "to reach"), *sorted(rows)]
    widths = [max(len(row[column]) for row in rows) for column in range(4)]
    terminalreporter.section("faults")
    for row in rows:
        cells = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        terminalreporter.write_line("  ".join(cells).rstrip())
