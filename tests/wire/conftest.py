import pytest
from bluetooth_fixtures import (  # noqa: F401 - fixtures are found by their names here
    bluez,
    dbus,
)
from pty_fixtures import (  # noqa: F401 - fixtures are found by their names here
    answering,
    bench_time,
    eventually,
    line_port,
    open_files,
    supervised,
)
from store_fixtures import (  # noqa: F401 - fixtures are found by their names here
    evening,
    opened,
    recording,
)


@pytest.fixture
def quick(monkeypatch):
    """The clock's sleepers look every 5 ms, so that a test's seconds pass quickly."""
    monkeypatch.setattr("logger.clock._LONGEST_SLEEP_S", 0.005)
