"""The pages of the manual, Markdown under `dashboards/manual`: for the page and the terminal."""

from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from logger.errors import NotKnown

_ORDER = (
    "measuring",
    "verdict",
    "comparing",
    "planning",
    "alarms",
    "pages",
    "curves",
    "phone",
    "network",
    "records",
    "reports",
    "instruments",
    "bluetooth",
    "keeping",
    "engine",
    "configuration",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ManualPage:
    """One page: the word that names it, its heading and its text."""

    name: str
    title: str
    text: str


@cache
def manual() -> tuple[ManualPage, ...]:
    """Every page, in the order in which a maker needs them."""
    folder = files("dashboards") / "manual"
    texts = {name: (folder / f"{name}.md").read_text(encoding="utf-8") for name in _ORDER}
    return tuple(
        ManualPage(name=name, title=text.partition("\n")[0].removeprefix("# "), text=text)
        for name, text in texts.items()
    )


def manual_page(name: str) -> ManualPage:
    """The page of that name; raises NotKnown, which lists the names."""
    for one in manual():
        if one.name == name:
            return one
    raise NotKnown(f'the manual has no page "{name}"; it has {", ".join(_ORDER)}')
