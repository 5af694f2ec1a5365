"""The record of a burn from a formula as a page, read as a browser reads it."""

from html.parser import HTMLParser

from logger.reports.document_html import record_html
from tests.support.burn_from_formula import FormulaBurn

VOID = {"meta", "br", "link", "img", "hr", "input"}


class Page(HTMLParser):
    """Tags, attributes and words of a page; fails on one that is not nested."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.attributes, self.words, self.open = [], [], [], []
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += [(tag, *pair) for pair in attrs]
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += [(tag, *pair) for pair in attrs]

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if not self.open or self.open[-1] != "style":
            self.words.append(data)

    @property
    def text(self):
        return " ".join(" ".join(self.words).split())


def page(**burn):
    return Page(record_html(FormulaBurn(**burn).record()))
