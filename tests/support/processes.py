"""What a process that a test starts inherits, and that none outlives the run."""

import ctypes
import signal


def pytest_configure() -> None:
    """Undo what a shell does to a run behind itself: all of it would ignore SIGINT (POSIX, 2.11).

    What is caught here is at its default again in every process that is started from here.
    """
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        signal.signal(signal.SIGINT, signal.default_int_handler)


def die_with_parent() -> None:
    """For `preexec_fn`: an orphan would hang the run (Linux)."""
    pr_set_pdeathsig = 1  # linux/prctl.h
    ctypes.CDLL(None).prctl(pr_set_pdeathsig, signal.SIGKILL)
