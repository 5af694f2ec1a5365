"""What every test may use: a real broker, and a watch over tasks that a test leaves behind."""

import asyncio
import inspect

import pytest

pytest_plugins = ("broker_fixtures",)


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
