"""Processes that begin where a start of Python and of the program's imports has got to.

Most of what a start of the service costs is imports: seconds of processor on a small machine, and
tests start it hundreds of times. So one process of each test run has imported everything, and a
start is a fork of it: a process of its own, with its own memory, signals, and end. The long form of
the faults starts everything from nothing, and so do tests that say `cold`.
"""

import asyncio
import contextlib
import gc
import json
import os
import pkgutil
import runpy
import select
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Mapping, Sequence
from importlib import import_module

from tests.support.processes import die_with_parent
from tests.support.waiting import patient

LONGEST = 1 << 20  # bytes of a request: words and environment


class Warm:
    """A process begun here, with the part of `subprocess.Popen` that tests use."""

    def __init__(self, words: Sequence[str], streams: list[int], env: Mapping[str, str]) -> None:
        self.args = words
        self.returncode: int | None = None
        self._told, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        self._told.settimeout(patient(60))
        with theirs:
            request = json.dumps({"words": words, "env": dict(env), "cwd": os.getcwd()})
            _Parent.ask(request.encode(), [*streams, theirs.fileno()])
        if not (told := self._told.recv(64)):
            self._told.close()
            raise RuntimeError("the process that starts others is gone")
        self.pid = int(told)

    def poll(self) -> int | None:
        """How it ended, None while it runs."""
        with contextlib.suppress(subprocess.TimeoutExpired):
            self.wait(0.0)
        return self.returncode

    def wait(self, timeout: float | None = None) -> int:
        """Wait for its end. Raises TimeoutExpired."""
        if self.returncode is None:
            ending = select.poll()
            ending.register(self._told, select.POLLIN)
            if not ending.poll(None if timeout is None else 1000.0 * timeout):
                raise subprocess.TimeoutExpired(self.args, timeout or 0.0)
            said = self._told.recv(64)  # nothing where who would tell is gone, and with it this one
            self._told.close()
            self.returncode = int(said or -signal.SIGKILL)
        return self.returncode

    def send_signal(self, number: int) -> None:
        """Send a signal, unless it has ended."""
        if self.poll() is None:
            os.kill(self.pid, number)

    def kill(self) -> None:
        """End it at once."""
        self.send_signal(signal.SIGKILL)

    def terminate(self) -> None:
        """Ask it to end."""
        self.send_signal(signal.SIGTERM)


Started = Warm | subprocess.Popen[bytes]


def started(*words: str, output: int, cold: bool = False, **environment: str) -> Started:
    """`python` with these words, its lines and errors to the descriptor `output`."""
    env = {**os.environ, **environment}
    if cold or os.environ.get("WICKBENCH_LONG") == "1":
        return subprocess.Popen(
            [sys.executable, *words],
            stdin=subprocess.DEVNULL,
            stdout=output,
            stderr=output,
            env=env,
            preexec_fn=die_with_parent,  # noqa: PLW1509 - one prctl call, no lock taken
        )
    with open(os.devnull) as nothing:
        return Warm(words, [nothing.fileno(), output, output], env)


def done(
    *words: str, env: Mapping[str, str] | None = None, within_s: float = 60.0
) -> subprocess.CompletedProcess[str]:
    """The same to its end, with what it wrote."""
    with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as wrong:
        with open(os.devnull) as nothing:
            streams = [nothing.fileno(), out.fileno(), wrong.fileno()]
            process = Warm(words, streams, os.environ if env is None else env)
        try:
            code = process.wait(patient(within_s))
        finally:
            process.kill()
            process.wait()
        texts = [(file.seek(0), file.read().decode())[1] for file in (out, wrong)]
    return subprocess.CompletedProcess(words, code, *texts)


class _Parent:
    """The process that starts others, from the first request to the end of the test run."""

    process: subprocess.Popen[bytes] | None = None
    control: socket.socket

    @classmethod
    def ask(cls, request: bytes, fds: list[int]) -> None:
        if cls.process is None:
            cls.control, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
            with theirs:
                cls.process = subprocess.Popen(
                    [sys.executable, "-m", __name__], stdin=theirs, stdout=subprocess.DEVNULL
                )
        socket.send_fds(cls.control, [request], fds)


def pytest_unconfigure() -> None:
    """End it. Where the test run is killed it finds its socket closed, and ends too."""
    if _Parent.process is not None:
        _Parent.control.close()
        _Parent.process.wait(patient(10))


def _import_everything() -> None:
    import logger
    from logger.service.warm_up import warm_up

    for module in pkgutil.walk_packages(logger.__path__, "logger."):
        if not module.name.endswith("__main__"):
            import_module(module.name)
    asyncio.run(warm_up())


def _serve() -> list[str]:
    """Fork for every request. Returns the words to run, in the child alone."""
    control = socket.socket(fileno=os.dup(0))
    running: dict[int, tuple[int, socket.socket]] = {}  # pid and who is told, by pidfd
    while True:
        for ready in select.select([control, *running], [], [])[0]:
            if ready is control:
                said, fds, _, _ = socket.recv_fds(control, LONGEST, 4)
                if not said:  # the test run is over
                    sys.exit(0)
                if (pid := os.fork()) == 0:
                    for one in (control, *(told for _, told in running.values())):
                        one.close()
                    for pidfd in running:
                        os.close(pidfd)
                    return _become(json.loads(said), fds)
                for fd in fds[:3]:
                    os.close(fd)
                told = socket.socket(fileno=fds[3])
                told.send(str(pid).encode())
                running[os.pidfd_open(pid)] = (pid, told)
            else:
                pid, told = running.pop(ready)
                os.close(ready)
                _, status = os.waitpid(pid, 0)
                with told:
                    told.send(str(os.waitstatus_to_exitcode(status)).encode())


def _become(request, fds: list[int]) -> list[str]:
    """In the child: its own streams, environment and folder, and nothing of its parent's."""
    for stream in range(3):
        os.dup2(fds[stream], stream)
    for fd in fds:
        os.close(fd)
    die_with_parent()
    os.environ.clear()
    os.environ.update(request["env"])
    time.tzset()
    os.chdir(request["cwd"])
    return request["words"]


def _run(words: list[str]) -> None:
    """What `python` does with these words: `-m module ...` or `-c code ...`."""
    how, what, *rest = words
    sys.argv = [how, *rest]
    if how == "-c":
        exec(what, {"__name__": "__main__"})
    else:
        runpy.run_module(what, run_name="__main__", alter_sys=True)


if __name__ == "__main__":
    _import_everything()
    gc.freeze()  # its pages stay shared
    _run(_serve())
