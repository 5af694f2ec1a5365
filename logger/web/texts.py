"""The texts of the pages, as the catalogue of the bench's language has them; else in English.

What the bench says of a burn (alarms, findings, verdicts) is none of them: phone, record and page
have the same words.
"""

import gettext as catalogues
from functools import cache
from importlib.resources import files

DOMAIN = "wickbench"


@cache
def catalogue() -> catalogues.NullTranslations:
    """Of the language that the environment names (LANGUAGE, LC_ALL, LC_MESSAGES, LANG)."""
    return catalogues.translation(DOMAIN, str(files("dashboards") / "texts"), fallback=True)


def gettext(text: str, /, **values: object) -> str:
    """A text with its values, which it names as `%(name)s`."""
    return catalogue().gettext(text) % values
