"""Templates of whole files, records and sheets, which ask for nothing outside of themselves."""

from base64 import b64encode
from functools import cache
from importlib.resources import files

import jinja2
from markupsafe import Markup

from logger.messages import one_line, plain_lines


def page(template: str, **shown: object) -> str:
    """The file that `template` of `dashboards/record` makes; what people wrote is escaped."""
    return plain_lines(_environment().get_template(template).render(**shown))


@cache
def _environment() -> jinja2.Environment:
    """The templates, each compiled once."""
    environment = jinja2.Environment(
        loader=jinja2.PackageLoader("dashboards", "record"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters.update(
        line=one_line,
        svg=lambda svg: Markup(one_line(svg)),  # noqa: S704 - our own drawing: it escapes
        picture=lambda jpeg: f"data:image/jpeg;base64,{b64encode(jpeg).decode()}",  # RFC 2397
        kind=lambda block: type(block).__name__,
    )
    return environment


def style(*more: str) -> Markup:
    """The record's style sheet, with that of the curve and `more` of the same folder."""
    folder = files("dashboards") / "record"
    names = ("record.css", "curve.css", *more)
    sheets = [(folder / name).read_text("utf-8") for name in names]
    return Markup("".join(sheets))  # noqa: S704 - our own files
