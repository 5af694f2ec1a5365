"""axe-core, which looks for what keeps people out of a page: fetched by npm, its checksum pinned.

It is never part of the project (MPL 2.0). Without npm, or where npm cannot fetch it, the test that
needs it is skipped and says so; in CI (CI=true) that is a failure.
"""

import base64
import hashlib
import os
import shutil
import subprocess
import tarfile
from pathlib import Path

import pytest

VERSION = "4.14.1"
SHA512 = "FHfa+lmNjQZfJz1q8wKqIDwC6DExcHt/pkjNQb09a3NPjCKg2rhu5qb2S4r76ASyFNNtuFooJpZe37OgudVGtQ=="


def axe_script(folder: Path) -> str:
    """The script, fetched into `folder` once; skips the test where it cannot be had."""
    archive = folder / f"axe-core-{VERSION}.tgz"
    if not archive.exists():
        _fetch(folder)
    found = base64.b64encode(hashlib.sha512(archive.read_bytes()).digest()).decode()
    assert found == SHA512, f"{archive} is not what was pinned: delete it"
    with tarfile.open(archive) as packed:
        member = packed.extractfile("package/axe.min.js")
        assert member is not None
        return member.read().decode()


def _fetch(folder: Path) -> None:
    npm = shutil.which("npm")
    if npm is None:
        _lacking("npm is not installed, so axe-core cannot be fetched: no page was checked")
    done = subprocess.run(
        [npm, "pack", "--silent", f"axe-core@{VERSION}"],
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    if done.returncode:
        _lacking(f"npm could not fetch axe-core, so no page was checked: {done.stderr[-300:]}")


def _lacking(why: str) -> None:
    if os.environ.get("CI") == "true":
        pytest.fail(why)
    pytest.skip(why)
