"""What a command brings in before it does anything: each library costs every start."""

import gc
import subprocess
import sys
from types import SimpleNamespace

import pytest

from logger.cli import bench_commands
from logger.errors import SettingsError
from logger.service import foreground, warm_up
from tests.support.command_line import typed

HEAVY = {"numpy", "pint", "pydantic", "starlette", "uvicorn", "jinja2", "sqlite3", "asyncio"}


def test_help_waits_for_no_library_but_the_command_line_s():
    code = (
        "import sys, logger.cli\n"
        f"print(*({HEAVY!r} & set(sys.modules)), *(n for n in sys.modules if n.startswith("
        "('logger.messages', 'logger.pipeline', 'logger.settings', 'logger.service', "
        "'logger.shelf', 'logger.burn'))))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == []


def test_the_service_waits_for_no_library_that_only_some_pages_need():
    code = "import sys, logger.service.run; print(*({'PIL', 'markdown_it'} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == []


class Ready(Exception):
    """The bench has got so far."""


def test_garbage_is_looked_for_again_as_soon_as_the_bench_runs(tmp_path, monkeypatch):
    """Left out for the start alone: a service that never did so would grow."""
    seen = []

    def follow():
        seen.append(gc.isenabled())
        raise Ready

    async def run(settings, clock, body):
        seen.append(gc.isenabled())
        access = SimpleNamespace(lines=lambda **_: [])
        await body(SimpleNamespace(page_access=access, hub=SimpleNamespace(follow=follow)))

    monkeypatch.setattr(foreground, "run", run)
    file = tmp_path / "bench.toml"
    file.write_text('[bench]\nname = "shed"\n', encoding="utf-8")
    with pytest.raises(Ready):
        typed("run", "--config", str(file))
    gc.unfreeze()
    assert seen == [False, True]
    with pytest.raises(SettingsError):
        bench_commands.run(tmp_path / "none.toml")
    assert gc.isenabled()


async def test_a_bench_whose_files_cannot_be_read_yet_runs_on_and_tries_again(monkeypatch, caplog):
    answers = [OSError(24, "Too many open files"), None]

    def read_all():
        if answer := answers.pop(0):
            raise answer

    monkeypatch.setattr(warm_up, "_read_all", read_all)
    monkeypatch.setattr(warm_up, "AGAIN_S", 0.0)
    await warm_up.warm_up()
    assert not answers
    assert "Too many open files" in caplog.text
