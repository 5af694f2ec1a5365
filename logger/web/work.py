"""Work for requests that reads the disk or draws: on threads of its own, few of them.

The watch must never wait behind it, nor share its one processor with many.
"""

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from typing import ParamSpec, TypeVar

P = ParamSpec("P")
T = TypeVar("T")

AT_ONCE = 2  # threads; what waits for them is a page or a record, never an alarm (our choice)

_THREADS = ThreadPoolExecutor(max_workers=AT_ONCE, thread_name_prefix="web")
_REPORTS = ThreadPoolExecutor(max_workers=1, thread_name_prefix="report")


async def aside(work: Callable[P, T], *args: P.args, **named: P.kwargs) -> T:
    """What `work` returns, done on one of the threads."""
    loop = asyncio.get_running_loop()
    return await loop.run_in_executor(_THREADS, partial(work, *args, **named))


async def far_aside(work: Callable[P, T], *args: P.args, **named: P.kwargs) -> T:
    """The same for what takes many seconds, one at a time: no page waits behind it."""
    loop = asyncio.get_running_loop()
    return await loop.run_in_executor(_REPORTS, partial(work, *args, **named))
