"""What `make lint` promises beyond its tools: names that say which, short modules, no copies."""

import ast
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PACKAGES = ("logger", "simulators", "config", "dashboards")
LONGEST = 400  # lines
BLOCK = 10  # lines


def modules() -> list[Path]:
    return sorted(path for package in PACKAGES for path in (ROOT / package).rglob("*.py"))


def where(path: Path) -> str:
    return str(path.relative_to(ROOT))


def name_of(module: Path) -> str:
    """A folder's own name for its `__init__`."""
    return module.parent.name if module.stem == "__init__" else module.stem


def twice(named: Iterator[tuple[str, Path]]) -> dict[str, list[str]]:
    found = defaultdict(list)
    for name, path in named:
        found[name].append(where(path))
    return {name: paths for name, paths in found.items() if len(paths) > 1}


def public_classes() -> Iterator[tuple[str, Path]]:
    for path in modules():
        for node in ast.parse(path.read_text()).body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                yield node.name, path


def code_lines(path: Path) -> list[tuple[int, str]]:
    """Number and text of the lines that count as code: not blank, no part of an import."""
    text = path.read_text()
    imported = {
        number
        for node in ast.walk(ast.parse(text))
        if isinstance(node, ast.Import | ast.ImportFrom)
        for number in range(node.lineno, (node.end_lineno or node.lineno) + 1)
    }
    lines = ((number, line.strip()) for number, line in enumerate(text.splitlines(), start=1))
    return [(number, line) for number, line in lines if line and number not in imported]


def test_no_two_public_classes_share_a_name():
    assert twice(public_classes()) == {}


def test_no_two_modules_share_a_name():
    named = (
        (name_of(path), path)
        for path in modules()
        if path.stem not in ("__main__", path.parent.name)  # a folder's main part: `store.store`
    )
    assert twice(named) == {}


def test_no_module_is_long():
    lengths = {where(path): len(path.read_text().splitlines()) for path in modules()}
    assert {path: lines for path, lines in lengths.items() if lines > LONGEST} == {}


def test_no_block_of_code_is_there_twice():
    blocks = defaultdict(list)
    for path in modules():
        lines = code_lines(path)
        for first in range(len(lines) - BLOCK + 1):
            block = tuple(line for _, line in lines[first : first + BLOCK])
            blocks[block].append(f"{where(path)}:{lines[first][0]}")
    assert [places for places in blocks.values() if len(places) > 1] == []


@pytest.mark.parametrize("package", PACKAGES)
def test_every_package_is_looked_at(package):
    assert any(where(path).startswith(f"{package}/") for path in modules())
