"""A person at a page: taps, counted, and typing; nothing that a person could not do."""

from playwright.sync_api import Locator, Page

FIELDS = """one => [one.closest("details:not([open])") !== null,
  [...one.form.elements].filter((other) => other.name === one.name).map((other) => other.type)]"""


class Thumb:
    """Taps on a page, counted; a field that is typed into is one."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.taps = 0

    def tap(self, target: Locator) -> None:
        """Once, where it can be seen."""
        target.click()
        self.taps += 1

    def fill(self, form: Locator, /, **fields: str) -> None:
        """Fill fields of any kind, opening what hides them."""
        for name, value in fields.items():
            found = form.locator(f'[name="{name}"]')
            hidden, kinds = found.first.evaluate(FIELDS)
            if hidden:
                around = form.locator("details:not([open])").filter(
                    has=self.page.locator(f'[name="{name}"]')
                )
                self.tap(around.first.locator("> summary"))
            if kinds[0] == "radio":
                form.locator(f'[name="{name}"][value="{value}"]').check()
                self.taps += 1
                continue
            for at, (kind, part) in enumerate(zip(kinds, value.split("|"), strict=False)):
                if kind == "select-one":
                    found.nth(at).select_option(part)
                else:
                    found.nth(at).fill(part)
                self.taps += 1

    def tell(self, act: str, **fields: str) -> None:
        """Open a form of the station's page, fill it and press its button."""
        about = self.page.locator(f'details[data-key="{act}"]')
        if about.get_attribute("open") is None:
            self.tap(about.locator("> summary"))
        form = about.locator("form")
        for box in form.locator('[name="checks"]').all():
            self.tap(box)
        self.fill(form, **fields)
        self.tap(form.locator("button.main"))
