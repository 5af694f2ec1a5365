import pytest

from tests.support.bluetooth import (  # noqa: F401 - fixtures are found by their names here
    bluez,
    dbus,
)
from tests.support.ports import (  # noqa: F401 - fixtures are found by their names here
    answering,
    bench_time,
    eventually,
    line_port,
    open_files,
    supervised,
)
from tests.support.store import (  # noqa: F401 - fixtures are found by their names here
    evening,
    opened,
    recording,
)


@pytest.fixture
def quick(monkeypatch):
    """The clock's sleepers look every 5 ms, so that a test's seconds pass quickly."""
    monkeypatch.setattr("logger.clock._LONGEST_SLEEP_S", 0.005)
