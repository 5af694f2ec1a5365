"""The texts of the pages, as the catalogue of the bench's language has them; else in English.

What the bench says of a burn (alarms, findings, verdicts) is none of them: phone, record and page
have the same words.
"""

import gettext as catalogues
from functools import cache
from importlib.resources import files

from markupsafe import Markup

FOLDER = str(files("dashboards") / "texts")


@cache
def catalogue() -> catalogues.NullTranslations:
    """Of the language that the environment names (LANGUAGE, LC_ALL, LC_MESSAGES, LANG)."""
    return catalogues.translation("wickbench", FOLDER, fallback=True)


def gettext(text: str, /, **values: object) -> str:
    """A text with its values, which it names as `%(name)s`."""
    return catalogue().gettext(text) % values


def marked_up(text: str, /, **values: object) -> Markup:
    """The same for a template: the text is markup, values are escaped."""
    said = Markup(catalogue().gettext(text))  # noqa: S704 - our own, or a translator's
    return said % values if values else said


def ngettext(one: str, many: str, number: int, /, **values: object) -> Markup:
    """The same by a number, which it may name as `%(num)s`."""
    said = Markup(catalogue().ngettext(one, many, number))  # noqa: S704 - as above
    return said % {"num": number, **values}
