"""Ids in code, settings, tests and papers are invented: none is of a device that exists."""

import subprocess
from pathlib import Path

ROOT = Path(__file__).parents[2]
REAL = (
    "poll = [" + '"SI"]',  # one maker's command for a balance
    "0403" + ":6001",  # a serial converter's USB number
    "28-0316" + "a2795cff",  # a 1-Wire sensor that somebody once showed
)


def test_no_real_id_is_in_the_project():
    listed = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.split()
    found = [
        (name, real)
        for name in listed
        if name.endswith((".py", ".toml", ".md", ".html", ".js")) and (ROOT / name).exists()
        for real in REAL
        if real in (ROOT / name).read_text(encoding="utf-8")
    ]
    assert found == []
