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
