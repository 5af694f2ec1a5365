"""Every text of pages and scripts stands in the catalogue that translators get, and only there."""

import ast
import re
import shlex
from pathlib import Path

import pytest
from babel.messages.frontend import CommandLineInterface
from jinja2 import nodes

from logger.web import pages

ROOT = Path(__file__).parents[2]
BENCH = ROOT / "dashboards" / "bench"
CATALOGUE = ROOT / "dashboards" / "texts" / "wickbench.pot"

MARKED = ("_", "gettext", "ngettext")
WORDS = re.compile(r"[^\W\d_]{2,} [^\W\d_]{2,}")
SIGNS = ("dBm",)  # a unit
TEMPLATES = pages.templates()
NAMES = sorted(TEMPLATES.list_templates(extensions=["html"]))


def dateless(catalogue: str) -> str:
    return re.sub(
        r"^.*(?:POT-Creation-Date|Copyright|AUTHOR|Generated-By).*\n", "", catalogue, flags=re.M
    )


def test_the_catalogue_is_the_one_that_make_texts_writes(tmp_path, monkeypatch):
    monkeypatch.chdir(ROOT)
    recipe = re.search(r"^texts:.*\n((?:\t.*\n)+)", (ROOT / "Makefile").read_text(), re.M)[1]
    command = shlex.split(recipe.replace("\\\n", " "))[1:]
    written = tmp_path / "wickbench.pot"
    command[command.index("--output") + 1] = str(written)
    CommandLineInterface().run(["pybabel", *command])
    assert dateless(written.read_text()) == dateless(CATALOGUE.read_text()), "run `make texts`"


@pytest.mark.parametrize("name", NAMES)
def test_a_template_has_no_words_of_its_own(name):
    """All its branches: words between its marks, in what is read out, and in expressions."""
    source = (BENCH / name).read_text()
    literal = re.sub(r"\{#.*?#\}|\{%.*?%\}|\{\{.*?\}\}", "\0", source, flags=re.S)
    said = re.findall(r'\b(?:aria-label|alt|placeholder|title)="([^"]*)"', literal)
    text = re.sub(r"&#?\w+;", " ", re.sub(r"<[^>]*>", "\n", literal))
    found = [one.strip() for part in (text, *said) for one in re.split(r"[\0\n]", part)]
    assert [one for one in found if re.search(r"[^\W\d_]{2,}", one) and one not in SIGNS] == []
    tree = TEMPLATES.parse(source)
    marked = {
        id(argument)
        for call in tree.find_all(nodes.Call)
        if isinstance(call.node, nodes.Name) and call.node.name in MARKED
        for argument in call.args
    }
    compared = {id(one.expr) for one in tree.find_all(nodes.Operand)}
    constants = [one for one in tree.find_all(nodes.Const) if id(one) not in marked | compared]
    assert [one.value for one in constants if WORDS.search(str(one.value))] == []


COMMENT = re.compile(r"^\s*//.*|\s// .*", re.M)
LOOKS = re.compile(r"\b(?:className: |class: |font: |ctx\.font = )(?:\"[^\"]*\"|`[^`]*`)")
LITERAL = re.compile(r'"[^"\n]*"|\'[^\'\n]*\'|`[^`\n]*`')


def test_a_script_has_no_words_of_its_own():
    texts = (BENCH / "texts.js").read_text()
    known = set(re.findall(r"^  (\w+):", texts, re.M))
    used = set()
    for path in sorted((BENCH / "static").glob("*.js")):
        source = LOOKS.sub("", COMMENT.sub("", path.read_text()))
        used |= set(re.findall(r"\btexts\.(\w+)", source))
        literals = (re.sub(r"\$\{[^}]*\}", "", one) for one in LITERAL.findall(source))
        assert [one for one in literals if WORDS.search(one)] == [], path
    assert used - {"js"} == known


def test_a_module_that_words_the_page_marks_each_text():
    for path in sorted((ROOT / "logger" / "web").glob("*.py")):
        source = path.read_text()
        if "import gettext as _" not in source or path.name == "access.py":  # to programs as well
            continue
        tree = ast.parse(source)
        marked = {
            id(argument)
            for call in ast.walk(tree)
            if isinstance(call, ast.Call) and getattr(call.func, "id", "") in MARKED
            for argument in call.args
        }
        told = {id(one.value) for one in ast.walk(tree) if isinstance(one, ast.Expr)}
        constants = [
            one.value
            for one in ast.walk(tree)
            if isinstance(one, ast.Constant) and id(one) not in marked | told
        ]
        assert [one for one in constants if isinstance(one, str) and WORDS.search(one)] == [], path
