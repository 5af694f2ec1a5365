"""A template is compiled once: later starts find it compiled, and do without where they cannot."""

import re
import sys

import jinja2
import pytest

from logger.web import pages

NAME = "problem.html"


@pytest.fixture
def fresh(tmp_path, monkeypatch):
    """Templates as a start has them that finds the compiled ones in `folder`."""
    monkeypatch.setattr(sys, "dont_write_bytecode", False)

    def start(folder=tmp_path / "compiled"):
        monkeypatch.setattr(pages._Compiled, "folder", folder)
        return pages.templates.__wrapped__()

    return start


def test_a_second_start_compiles_nothing(fresh, monkeypatch):
    fresh().get_template(NAME)
    with monkeypatch.context() as patch:
        patch.delattr(jinja2.Environment, "compile")
        assert fresh().get_template(NAME).root_render_func is not None


def test_what_was_written_in_part_or_for_another_text_is_compiled_anew(fresh, tmp_path):
    fresh().get_template(NAME)
    (held,) = (tmp_path / "compiled").iterdir()
    whole = held.read_bytes()
    for damaged in (b"", whole[:-20], re.sub(rb"[0-9a-f]{40}", b"0" * 40, whole)):
        held.write_bytes(damaged)
        assert fresh().get_template(NAME).root_render_func is not None


def test_where_nothing_can_be_written_templates_are_there_all_the_same(fresh, tmp_path):
    folder = tmp_path / "none" / "there"
    assert fresh(folder).get_template(NAME).root_render_func is not None
    assert not folder.exists()
