"""The page of a bench that is not opened: it shows nothing of the bench and fetches nothing."""

import base64
import hashlib
from importlib.resources import files

from markupsafe import Markup
from starlette.responses import HTMLResponse

from logger.web.pages import templates
from logger.words import sentence

ENTRANCE = "/enter"  # with ?token=
_STYLE = (files("dashboards") / "bench" / "locked.css").read_text()
_HASH = base64.b64encode(hashlib.sha256(_STYLE.encode()).digest()).decode()
_POLICY = (
    f"default-src 'none'; style-src 'sha256-{_HASH}'; base-uri 'none'; form-action 'self'; "
    "frame-ancestors 'none'"
)


def locked_page(status: int, detail: str) -> HTMLResponse:
    """Why it is not opened; with 401 a field for the key, for who cannot follow the link."""
    page = templates().get_template("locked.html")
    shown = page.render(
        asks=status == 401,
        detail=sentence(detail),
        entrance=ENTRANCE,
        style=Markup(_STYLE),  # noqa: S704 - our own file
    )
    return HTMLResponse(shown, status_code=status, headers={"content-security-policy": _POLICY})
