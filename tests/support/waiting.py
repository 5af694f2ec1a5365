"""How long tests wait for what tasks, threads and processes do, and one factor for all of it.

What the program promises (noticed within 5 s) is no waiting time of ours and is never scaled.
"""

import asyncio
import os
import time
from collections.abc import Callable

PATIENCE = float(os.environ.get("WICKBENCH_PATIENCE", "1"))  # more where the machine is slow


def patient(seconds: float) -> float:
    """A waiting time on this machine."""
    return seconds * PATIENCE


def within(seconds: float) -> asyncio.Timeout:
    """`async with within(5.0)`: what stands there may take so long, on this machine."""
    return asyncio.timeout(patient(seconds))


def until(condition: Callable[[], object], what: str, deadline_s: float = 20.0):
    """Wait until `condition()` is true and return it; says `what` did not come.

    Asked less often the longer it takes: to ask a service costs both of us processor time.
    """
    began_s = time.monotonic()
    while not (found := condition()):
        waited_s = time.monotonic() - began_s
        assert waited_s < patient(deadline_s), f"not within {patient(deadline_s)} s: {what}"
        time.sleep(min(0.02 + waited_s / 10.0, 0.2))
    return found


async def eventually(condition: Callable[[], object], within_s: float = 5.0) -> None:
    """Wait until `condition()` is true; the loop runs meanwhile."""
    async with within(within_s):
        while not condition():
            await asyncio.sleep(0.002)
