"""A D-Bus of our own: the real `dbus-daemon`, on a socket that nobody else knows."""

import shutil
import socket
import subprocess
import time
from pathlib import Path
from types import TracebackType
from typing import Self

ADDRESS_VARIABLE = "DBUS_SYSTEM_BUS_ADDRESS"  # D-Bus specification, "well-known message buses"
_PATIENCE_S = 10.0
# util-linux: the daemon ends with whoever started it, killed or not.
_WITH_PARENT = ["setpriv", "--pdeathsig", "KILL"]

_CONFIGURATION = """<!DOCTYPE busconfig PUBLIC "-//freedesktop//DTD D-Bus Bus Configuration 1.0//EN"
 "http://www.freedesktop.org/standards/dbus/1.0/busconfig.dtd">
<busconfig>
  <type>system</type>
  <listen>unix:path={socket}</listen>
  <auth>EXTERNAL</auth>
  <policy context="default">
    <allow send_destination="*"/>
    <allow receive_sender="*"/>
    <allow own="*"/>
  </policy>
</busconfig>
"""


def available() -> bool:
    """Whether a D-Bus daemon is installed."""
    return shutil.which("dbus-daemon") is not None


class PrivateBus:
    """A context manager; `stop` and `start` restart the daemon at the same address."""

    def __init__(self, folder: Path) -> None:
        """`folder` must exist; a socket's path holds at most 107 characters (unix(7))."""
        self._socket = folder / "bus"
        self._configuration = folder / "bus.conf"
        self._log = folder / "bus.log"
        self._daemon: subprocess.Popen[bytes] | None = None
        self.address = f"unix:path={self._socket}"

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.stop()

    def start(self) -> None:
        """Return when it can be connected to. Raises TimeoutError with what the daemon said."""
        self._configuration.write_text(_CONFIGURATION.format(socket=self._socket), encoding="utf-8")
        program = shutil.which("dbus-daemon")
        if program is None:
            raise FileNotFoundError("dbus-daemon is not installed (Debian: dbus)")
        arguments = [program, f"--config-file={self._configuration}", "--nofork", "--nopidfile"]
        if shutil.which(_WITH_PARENT[0]):
            arguments = [*_WITH_PARENT, *arguments]
        with self._log.open("wb") as log:
            self._daemon = subprocess.Popen(arguments, stdout=log, stderr=log)
        deadline_s = time.monotonic() + _PATIENCE_S
        while not self._answers():
            if time.monotonic() > deadline_s or self._daemon.poll() is not None:
                raise TimeoutError(f"dbus-daemon: {self._log.read_text(encoding='utf-8')}")
            time.sleep(0.01)

    def stop(self) -> None:
        """Everybody's connection breaks."""
        if self._daemon is not None:
            self._daemon.kill()
            self._daemon.wait()
            self._daemon = None
        self._socket.unlink(missing_ok=True)

    def _answers(self) -> bool:
        with socket.socket(socket.AF_UNIX) as trial:
            try:
                trial.connect(str(self._socket))
            except OSError:
                return False
        return True
