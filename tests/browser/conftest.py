"""A bench that runs as a process, and a browser of any size and theme that looks at its page."""

import re
from dataclasses import dataclass

import pytest
from playwright.sync_api import Browser, Page, expect, sync_playwright

from tests.support.broker import free_port
from tests.support.browser_bench import (
    ARGUMENTS,
    CHROMIUM,
    HEAD,
    SIZES,
    Bench,
    configuration,
)
from tests.support.waiting import patient

expect.set_options(timeout=patient(20_000))  # ms: the curve is drawn anew every 15 s


@pytest.fixture
def bench(tmp_path):
    """A bench under way."""
    with Bench(tmp_path, configuration()) as running:
        running.begin()
        yield running


@pytest.fixture
def hot_bench(tmp_path):
    """A bench whose first place has passed the alert."""
    with Bench(tmp_path, configuration(), first=58.0) as running:
        running.begin()
        yield running


@pytest.fixture
def bench_by_hand(tmp_path):
    """A bench of two stations and no instrument."""
    text = HEAD.replace("{port}", str(free_port())).partition("[[instrument]]")[0]
    with Bench(tmp_path, text + '\n[[station]]\nname = "tin-b"\nmaterial = "metal"\n') as running:
        running.begin()
        yield running


@pytest.fixture(scope="module")
def browser():
    """Chromium without a window; for the module only, since its loop stands in asyncio's way."""
    with sync_playwright() as playwright:
        yield playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)


@dataclass
class Visitor:
    """A page and everything that its console complained of."""

    page: Page
    complaints: list[str]

    def text(self, selector: str) -> str:
        """What stands there, in one line."""
        return re.sub(r"\s+", " ", self.page.locator(selector).first.inner_text()).strip()

    def tell(self, summary: str, **fields: str) -> None:
        """Open a form, tick its boxes, fill its fields and press its main button."""
        self.page.get_by_text(summary, exact=True).click()
        form = self.page.locator("details[open] form").last
        for box in form.locator('[name="checks"]').all():
            box.check()
        for name, value in fields.items():
            field = form.locator(f'[name="{name}"]').first
            if field.evaluate("node => node.tagName") == "SELECT":
                field.select_option(value)
            else:
                field.fill(value)
        form.locator("button.main").click()


@pytest.fixture
def visit(browser: Browser):
    """`visit(url, size="phone", theme="light", scripts=True)`: a fresh window on `url`."""
    contexts = []

    def open_page(
        url: str,
        *,
        size: str = "phone",
        theme: str = "light",
        scripts: bool = True,
        locale: str = "en-GB",
    ) -> Visitor:
        width, height = SIZES[size]
        context = browser.new_context(
            viewport={"width": width, "height": height},
            color_scheme=theme,
            java_script_enabled=scripts,
            timezone_id="UTC",
            locale=locale,
        )
        contexts.append(context)
        context.set_default_timeout(patient(20_000))
        page = context.new_page()
        visitor = Visitor(page, [])
        page.on("pageerror", lambda error: visitor.complaints.append(str(error)))
        page.on(
            "console",
            lambda said: (
                visitor.complaints.append(said.text)
                if "Content Security Policy" in said.text
                else None
            ),
        )
        page.goto(url)
        return visitor

    yield open_page
    for context in contexts:
        context.close()
