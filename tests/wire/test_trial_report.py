"""The record of a trial and of a series, as HTML and PDF, out of a real database.

The PDF is read back by pdftotext and pdfinfo (poppler-utils), a program of other people.
"""

import asyncio
import html
import json
import re
import shutil
import subprocess

import pytest

from logger.clock import SteppedClock
from logger.messages import one_line
from logger.quantities import Quantity
from logger.reports.si_beside import SiBeside
from logger.service.trial_verdict import Judging
from logger.units import unit_of
from logger.words import Words
from tests.support.command_line import typed
from tests.support.record_page import Page
from tests.support.reported_series import (
    DAY_S,
    GOOD,
    HOSTILE,
    LIT_S,
    ReportedBench,
    reported_series,
)
from tests.support.web_bench import serving

FAHRENHEIT = SiBeside.of(Words(temperature_in=unit_of("degF", Quantity.TEMPERATURE)))


@pytest.fixture(scope="module")
def series(tmp_path_factory):
    """Two trials in a database; nothing changes them."""
    return asyncio.run(reported_series(tmp_path_factory.mktemp("series")))


def report(bench: ReportedBench, name: str, *words: str) -> bytes:
    """What `wickbench report` writes."""
    path = bench.folder / name
    done = typed("report", *words, "-o", str(path), "--config", str(bench.folder / "bench.toml"))
    assert (done.returncode, done.stderr, done.stdout) == (0, "", f"{path}\n")
    return path.read_bytes()


def read_pdf(pdf: bytes) -> str:
    """Its text on one line, hyphens at line ends left as they are."""
    command = ["pdftotext", "-raw", "-", "-"]
    done = subprocess.run(command, input=pdf, capture_output=True, check=True)
    return " ".join(done.stdout.decode().split())


def squeezed(text: str) -> str:
    """Without spaces: a PDF breaks lines where it likes."""
    return "".join(one_line(text).split())


@pytest.fixture(scope="module")
def texts(series):
    """The text of the series' record, by form."""
    html = report(series, "series.html", GOOD, HOSTILE).decode()
    return {"html": Page(html).text, "pdf": read_pdf(report(series, "series.pdf", GOOD, HOSTILE))}


def test_the_same_data_give_the_same_bytes_and_other_data_another_checksum(series, tmp_path):
    for name in ("again.html", "again.pdf"):
        assert report(series, name, GOOD) == report(series, f"once-more-{name}", GOOD)
    config = ["--config", str(series.folder / "bench.toml")]
    told = typed("report", GOOD, "-o", str(tmp_path / "r.html"), "--json", *config)
    message = json.loads(told.stdout)
    assert message["bytes"] == (tmp_path / "r.html").stat().st_size
    assert message["checksum"] in (tmp_path / "r.html").read_text()

    other = ReportedBench(tmp_path, 960.0)
    other.burn(0, GOOD, 52.0)
    asyncio.run(other.stored())
    assert message["checksum"] not in report(other, "other.html", GOOD).decode()


@pytest.mark.parametrize("form", ["html", "pdf"])
def test_the_figures_are_those_of_the_verdict(series, texts, form):
    text = squeezed(texts[form])
    for trial in (GOOD, HOSTILE):
        message = Judging(series.data).message(trial)
        told = [one for one in message["judgements"] if one["unit"] == "degC"]
        worst = max(told, key=lambda one: one["value"])
        assert squeezed(f"{worst['reason'][1:]}.") in text  # it begins a sentence
        for figure in (worst["value"], worst["limit"]):
            # Both units: NIST SP 811, B.8, t/degF = 1.8 t/degC + 32.
            both = f"{1.8 * figure + 32.0:.1f} °F ({figure:.1f} °C)"
            assert both == FAHRENHEIT.temperature(figure)
            assert squeezed(both) in text
        for gap in message["missing"]:
            assert squeezed(gap["text"]) in text


@pytest.mark.parametrize("form", ["html", "pdf"])
def test_a_record_tells_all_that_was_kept(series, texts, form):
    text = squeezed(texts[form])
    for said in (
        "Made by Aldermoor Candles, for Rookhope House; bench back-room",
        "amber, material glass, inner diameter 2.91 in (74 mm), lot L-204",
        "batch 7, poured on 2031-04-20, fill 7.97 oz (226.0 g)",
        "pool at mid-burn, Ines",
        "Seen at the wall all round after",
        "planned, snuffer",
        "4 8 May 2031, 09:05 Ines lit the wrong jar",  # withdrawn
        "not stated: the usual limit of error of its kind is counted (assumed)",
        "contact, ± 0.9 °F (0.5 °C) as stated",
        "Standard uncertainties: repeatability",
        "Never measured in any burn:",
        "who has it in sight: asked",  # a routine in one line
        "It is no certificate",
        "ASTM F2417 (fire safety for candles)",
        "They are named, not claimed.",
        "A burning candle stays in sight of a person",
        "Made by wickbench",
    ):
        assert squeezed(said) in text, said
    assert "97.31" not in texts[form]  # prices stay with the maker


def test_pages_are_numbered_and_of_the_size_that_was_asked_for(series):
    for name, words, size in (
        ("usual.pdf", (), "612 x 792 pts (letter)"),  # the bench reads inches
        ("a4.pdf", ("--paper", "a4"), "595.276 x 841.89 pts (A4)"),
    ):
        pdf = report(series, name, GOOD, *words)
        done = subprocess.run(["pdfinfo", "-"], input=pdf, capture_output=True, check=True)
        told = dict(line.split(":", 1) for line in done.stdout.decode().splitlines())
        assert told["Page size"].strip() == size
        pages = int(told["Pages"])
        assert pages > 5
        for page in (1, pages):
            assert f"page {page} of {pages}" in read_pdf(pdf)


@pytest.mark.parametrize("form", ["html", "pdf"])
def test_hostile_text_stays_text(texts, form):
    # trial, fragrance, note, look, photo
    assert squeezed(texts[form]).count(squeezed(HOSTILE)) >= 5
    assert "\u202e" not in texts[form]


def test_a_page_is_one_file_that_asks_for_nothing(series):
    page = Page(report(series, "alone.html", GOOD, HOSTILE).decode())
    assert "script" not in page.tags
    asked = [value for _, name, value in page.attributes if name in ("src", "href", "srcset")]
    assert asked
    assert {value.partition(",")[0] for value in asked} == {"data:image/jpeg;base64"}
    assert not any(name.startswith("on") for _, name, _ in page.attributes)


def test_what_cannot_be_written_is_said_in_one_line(series, tmp_path):
    config = ("--config", str(series.folder / "bench.toml"))
    done = typed("report", GOOD, "-o", str(tmp_path / "r.txt"), *config)
    assert (done.returncode, done.stdout) == (2, "")
    assert "must end with .html or .pdf" in done.stderr
    done = typed("report", "no such", "-o", str(tmp_path / "r.pdf"), *config)
    assert done.returncode == 1
    assert "there is no trial no such" in done.stderr
    done = typed("care-card", GOOD, *config)
    assert (done.returncode, done.stdout) == (1, "")
    assert done.stderr.startswith(f"no care card for {GOOD}: the verdict is fail: wall")
    assert list(tmp_path.iterdir()) == []


async def test_the_page_hands_out_what_the_command_writes(series, tmp_path):
    written = {form: report(series, f"written.{form}", GOOD) for form in ("html", "pdf")}
    text = series.text.replace(str(series.data), str(tmp_path / "data"))
    shutil.copytree(series.data, tmp_path / "data")
    clock = SteppedClock(LIT_S + 20 * DAY_S)
    asked = {"trial": GOOD}
    async with serving(tmp_path, text + '\n[web]\nlisten = "127.0.0.1:0"\n', clock) as bench:
        get = bench.client.get
        page = await get("/report.html", params=asked)
        assert page.content == written["html"]
        assert "default-src 'none'" in page.headers["content-security-policy"]
        pdf = await get("/report.pdf", params=asked)
        assert pdf.content == written["pdf"]
        assert pdf.headers["content-type"] == "application/pdf"
        assert 'attachment; filename="report cedar 6.pdf"' in pdf.headers["content-disposition"]
        hostile = await get("/report.html", params={"trial": [GOOD, HOSTILE]})
        assert hostile.status_code == 200
        assert "The candidates side by side" in hostile.text
        for path, status in (
            ("/report.html", 422),
            ("/report.html?trial=no%20such", 404),
            ("/report.pdf?trial=cedar%206&paper=a3", 422),
            ("/care-card.html", 422),
            ("/care-card.html?trial=cedar%206", 409),  # it failed
            ("/report.html?" + "&".join(f"trial=t{number}" for number in range(13)), 422),
        ):
            assert (await get(path)).status_code == status, path
        refused = await get("/care-card.html", params=asked, headers={"accept": "text/html"})
        assert "No care card for cedar 6: the verdict is fail" in refused.text
        assert "Nothing was recorded" not in refused.text  # nobody had asked for it
        assert refused.headers["content-type"].startswith("text/html")
        sheet = (await get("/shelf/trials/cedar 6")).text
        assert 'href="/report.html?trial=cedar%206"' in sheet
        assert 'download href="/report.pdf?trial=cedar%206&amp;paper=letter"' in sheet
        compared = (await get("/compare", params={"trial": [GOOD, HOSTILE]})).text
        assert 'href="/report.html?trial=cedar+6&amp;trial=%3Cscript' in compared


def test_a_trial_before_its_first_burn_has_a_report(tmp_path):
    bench = ReportedBench(tmp_path, 960.0)
    asyncio.run(bench.stored((("trial", "oak 4", {"question": "is 4 enough"}),)))
    text = read_pdf(report(bench, "planned.pdf", "oak 4"))
    assert "Undecided" in text
    assert "is 4 enough" in text
    assert "before any burn" in text


def test_the_record_of_one_burn_says_the_same_in_either_form(series):
    config = ("--config", str(series.folder / "bench.toml"))
    found = {}
    for ending in ("html", "pdf"):
        path = series.folder / f"one.{ending}"
        done = typed("burn", "record", "1", str(path), *config)
        assert (done.returncode, done.stderr, done.stdout) == (0, "", f"{path}\n")
        found[ending] = path.read_bytes()
    pdf = squeezed(read_pdf(found["pdf"]))
    lines = re.findall(r"<(?:td|dd|li)[^>]*>([^<]{1,80})</", found["html"].decode())
    assert len(lines) > 60  # cells, facts and items, all but the longest, which a page may part
    assert [one for one in lines if squeezed(html.unescape(one)) not in pdf] == []
