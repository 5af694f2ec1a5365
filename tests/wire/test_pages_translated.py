"""The pages in another language: the catalogue is compiled, found by the environment, and used.

Pseudo-translation (common practice): the catalogue puts every text in brackets, so that what a page
shows without brackets was never asked of it.
"""

import json
import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po

from logger.web import pages, texts
from tests.support.web_bench import ONE_STATION, serving

ROOT = Path(__file__).parents[2]
TWO_STATIONS = ONE_STATION + '\n[[station]]\nname = "tin-b"\nmaterial = "metal"\n'
LOOKED_AT = (
    *("/", "/stations/jar-a", "/stations/tin-b", "/light", "/round", "/nothing", "/plan"),
    *("/burns", "/burns/1", "/burns/1/curve", "/instruments", "/instruments/probes"),
    *("/change", "/bench-check", "/own-trials", "/shelf", "/shelf/vessels", "/shelf/vessels/amber"),
    *("/shelf/trials/cedar-6", "/trials/cedar-6", "/costs?trial=cedar-6"),
)
NAMED = r"\b(?:jar-a|tin-b|test-bench|probes|cedar-6|amber|M6|Ines|cured|test-\d+)\b|\S*/\S+"
UNITS = r"\b(?:min|mm|kB|GB|MB|dBm|degC|UTC)\b"
DAYS = r"\b(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun|Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)\b"
LETTERS = re.compile(r"[^\W\d_]{2,}(?:['-]?[^\W\d_]+| (?=[^\W\d_]{2}))*")


def what_the_core_says() -> str:
    """All modules but the page's own, strings that go on in the next line joined; the manual."""
    modules = (path for path in (ROOT / "logger").rglob("*.py") if path.parent.name != "web")
    said = re.sub(r'"\s*\n\s*f?"', "", "\n".join(path.read_text() for path in modules))
    manual = [path.read_text() for path in (ROOT / "dashboards" / "manual").glob("*.md")]
    return re.sub("[-_]", " ", "\n".join([said, *manual])).lower()


def is_said(words: str, core: str) -> bool:
    """Whether the core has these words, or two parts of them: a value may stand between."""
    one_by_one = re.sub("[-_]", " ", words).lower().split()
    cuts = range(1, len(one_by_one) + 1)
    parts = ((" ".join(one_by_one[:cut]), " ".join(one_by_one[cut:])) for cut in cuts)
    return any(before in core and after in core for before, after in parts)


def forget() -> None:
    for read_once in (texts.catalogue, pages.templates, pages._script_texts):
        read_once.cache_clear()


@pytest.fixture
def in_brackets(tmp_path, monkeypatch):
    """The bench's language has every text of the catalogue, in brackets."""
    with (ROOT / "dashboards" / "texts" / "wickbench.pot").open("rb") as file:
        catalogue = read_po(file)
    for message in catalogue:
        if message.pluralizable:
            message.string = tuple(f"[{one}]" for one in message.id)
        elif message.id:
            message.string = f"[{message.id}]"
    folder = tmp_path / "texts" / "xx" / "LC_MESSAGES"
    folder.mkdir(parents=True)
    with (folder / "wickbench.mo").open("wb") as file:
        write_mo(file, catalogue)
    monkeypatch.setattr(texts, "FOLDER", str(tmp_path / "texts"))
    monkeypatch.setenv("LANGUAGE", "xx")
    forget()
    yield
    forget()


class Shown(HTMLParser):
    """What a page shows in one text, and beside it what it reads out."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.texts = [""]
        self._as_is = False
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        self._as_is = tag in ("script", "style", "time", "code")
        said = dict(attrs)
        self.texts += [said.get(name) or "" for name in ("aria-label", "alt", "placeholder")]

    def handle_endtag(self, tag):
        self._as_is = False

    def handle_data(self, data):
        self.texts[0] += "\n" if self._as_is else f"\n{data}"


def not_bracketed(page: str) -> set[str]:
    """Runs of words outside brackets that are no names, figures, units or days."""
    found = set()
    for text in Shown(page).texts:
        left, removed = text, 1
        while removed:
            left, removed = re.subn(r"\[[^\[\]]*\]", ";", left)
        left = re.sub(f"{NAMED}|{UNITS}|{DAYS}", ";", left)
        found |= {one.strip() for line in left.split("\n") for one in LETTERS.findall(line)}
    return found


async def test_whatever_a_page_shows_is_translated_or_said_by_the_core(tmp_path, in_brackets):
    async with serving(tmp_path, TWO_STATIONS) as bench:
        await bench.post("/api/vessels", name="amber", material="glass", by="Ines")
        await bench.post("/api/trials", name="cedar-6", by="Ines")
        burn = await bench.light(tester="M6", watched_by="Ines", mass="500 g", checks=["tray"])
        at_burn = f"/api/burns/{burn}"
        await bench.post(f"{at_burn}/readings", values=[40.0], unit="degC", height="70 mm", clock=9)
        await bench.post(f"{at_burn}/observations", text="cured", soot=1, wax_level="62 mm")
        await bench.seconds(20, 70.0, 22.0)
        client = bench.client
        client.headers["accept"] = "text/html"
        shown = {path: await client.get(path) for path in LOOKED_AT}
        await bench.post(f"{at_burn}/out")
        await bench.seconds(5, 41.0)
        shown["out"] = await client.get("/stations/jar-a")
        script = (await client.get("/static/texts.js")).text
    assert '<html lang="[en]">' in shown["/"].text
    core = what_the_core_says()
    missed = {
        (path, words)
        for path, page in shown.items()
        for words in not_bracketed(page.text)
        if not is_said(words, core)
    }
    assert missed == set()
    written = re.findall(r"^  \w+: (\".*\"),$", script, re.M)
    assert len(written) > 40
    assert all(re.fullmatch(r"\[.+\]", json.loads(one)) for one in written)
