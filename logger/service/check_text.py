"""[pure] What `wickbench check` tried, for a terminal of 100 columns or more."""

import textwrap
from collections.abc import Iterator

from logger.messages import one_line
from logger.service.check_items import Item, Report

WIDTH = 100
_LONGEST_SUBJECT = 32  # longer names push their own text to the right, not that of all


def lines(report: Report) -> Iterator[str]:
    """One thing a line, what its uncertainty is made of below it; faults are counted at the end."""
    width = min(max((len(item.what) for item in report.items), default=0), _LONGEST_SUBJECT)
    for item in report.items:
        yield from _item(item, width)
    faults = sum(not item.ok for item in report.items)
    yield ""
    need = "needs" if faults == 1 else "need"
    yield f"{faults} of {len(report.items)} {need} fixing" if faults else "all is well"


def _item(item: Item, width: int) -> Iterator[str]:
    head = f"{'ok   ' if item.ok else 'FAULT'}  {item.what:<{width}}  "
    yield from textwrap.wrap(
        one_line(item.text),
        WIDTH,
        initial_indent=head,
        subsequent_indent=" " * (9 + width),
        break_long_words=False,
        break_on_hyphens=False,
    )
    for name, figure, basis in item.details:
        yield from textwrap.wrap(
            one_line(basis),
            WIDTH,
            initial_indent=f"{'':<9}{name:<14} {figure:>8}  ",
            subsequent_indent=" " * 34,
        )
