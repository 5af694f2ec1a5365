"""The way to the page: its address here and for others, and what opens it."""

import asyncio
import io
import logging
import socket
from dataclasses import dataclass
from pathlib import Path

from logger.web import server, tokens
from logger.web.locked_page import ENTRANCE

log = logging.getLogger(__name__)

DISK_S = 1.0  # a start waits no longer for the token's file (our choice)

_BLACK_ON_WHITE = "\x1b[97;40m", "\x1b[0m"
"""Set as bright white signs on black: phones fail to read codes in a theme's own colours."""


@dataclass(frozen=True, kw_only=True)
class PageAccess:
    """Where the page is, and what opens it."""

    url: str  # for this machine
    url_for_others: str
    token: tokens.Token | None  # None: this machine alone is answered, and needs none
    token_file: Path

    @classmethod
    async def at(cls, bound: socket.socket, data: Path) -> "PageAccess":
        """Of a bound socket; raises StoreError where the token's file is no good."""
        token = None
        if not server.is_local(bound):
            try:
                token = await asyncio.wait_for(asyncio.to_thread(tokens.of, data), DISK_S)
            except TimeoutError:
                log.warning("%s does not answer: the link is of this run only", data)
                token = tokens.fresh()
        return cls(
            url=server.url_of(bound),
            url_for_others=server.url_for_others(bound),
            token=token,
            token_file=data / tokens.NAME,
        )

    def lines(self, *, to_owner: bool, signs: bool) -> list[str]:
        """What is said of it at the start: the link that lets in only `to_owner`'s own terminal.

        Elsewhere lines are kept, as in a log, and the token has no place in them. `signs`: whether
        block characters can be written, of which the code is made.
        """
        if self.token is None:
            return [f"page at {self.url}"]
        if not to_owner:
            return [
                f"page at {self.url_for_others}, opened by the token in {self.token_file}: "
                f"{self.url_for_others}{ENTRANCE}?token=..."
            ]
        link = f"{self.url_for_others}{ENTRANCE}?token={self.token.reveal()}"
        return [
            "page, for whoever has this link (not encrypted: on a network you trust only):",
            link,
            *(_code(link) if signs else ()),
        ]


def _code(link: str) -> list[str]:
    """The link as a QR code of half blocks, for a phone's camera."""
    import segno

    drawn = io.StringIO()
    segno.make_qr(link, error="l").terminal(out=drawn, compact=True)
    begin, end = _BLACK_ON_WHITE
    return [f"{begin}{line}{end}" for line in drawn.getvalue().splitlines()]
