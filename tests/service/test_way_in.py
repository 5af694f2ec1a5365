"""A bench served beyond its machine, as its owner sees it: link, code, commands, and no leak."""

import os
import pty
import re
import select
import subprocess
import sys
import time
import urllib.error
import urllib.request

import pytest

from logger.web import tokens
from tests.support.process_bench import TWO_PROBES, BenchProcess
from tests.support.waiting import patient, until

LINK = re.compile(r"http://[\w.-]+:\d+/enter\?token=([\w-]{43})")


@pytest.fixture
def bench(tmp_path):
    with BenchProcess(tmp_path, TWO_PROBES.replace("127.0.0.1:0", "0.0.0.0:0")) as bench:
        yield bench


def token_of(bench):
    return (bench.data / tokens.NAME).read_text().strip()


def holding(folder, text):
    """Names of the files that hold `text`."""
    found = [path for path in folder.rglob("*") if path.is_file()]
    return {path.name for path in found if text.encode() in path.read_bytes()}


def test_commands_of_the_owner_work_and_the_token_stays_where_it_is(bench):
    bench.start()
    bench.opened()
    bench.write(lambda: [45.0, 22.0])
    lit = bench.typed(
        "burn", "lit", "jar-a", "--trial", "marigold-6", "--watched-by", "Ines", "--checked"
    )
    assert lit.returncode == 0, lit.stderr
    until(lambda: bench.typed("check").returncode == 0, "the running bench is checked")
    read = bench.typed("burn", "read", "jar-a", "41", "--unit", "degC", "--height", "40 mm")
    assert read.returncode == 0, read.stderr
    with pytest.raises(urllib.error.HTTPError, match="401"):
        urllib.request.urlopen(bench.address + "/api/now", timeout=patient(10))
    said = lit.stdout + lit.stderr + read.stdout + read.stderr
    token = token_of(bench)
    assert bench.terminate() == 0
    assert holding(bench.folder, token) == {tokens.NAME}
    assert token not in said
    log = bench.log.read_text()
    assert str(bench.data / tokens.NAME) in log  # where it is, for the owner
    assert "█" not in log


def test_a_command_without_the_token_says_why_in_one_line(bench):
    bench.start()
    (bench.data / tokens.NAME).unlink()
    done = bench.typed("burn", "out", "jar-a")
    assert done.returncode == 3
    assert done.stderr.count("\n") == 1
    assert "wickbench run" in done.stderr


def test_an_environment_with_a_proxy_sends_the_token_nowhere(bench):
    bench.start()
    elsewhere = {"http_proxy": "http://192.0.2.1:9", "HTTP_PROXY": "http://192.0.2.1:9"}
    done = bench.wickbench(
        "burn", "lit", "jar-a", "--trial", "t", "--watched-by", "Ines", "--checked",
        env={**os.environ, **elsewhere},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr


def test_a_new_token_locks_out_the_old_one(bench):
    bench.start()
    old = token_of(bench)
    assert bench.terminate() == 0
    (bench.data / tokens.NAME).unlink()
    bench.start()
    assert token_of(bench) != old
    stale = urllib.request.Request(
        bench.address + "/api/now", headers={"authorization": f"Bearer {old}"}
    )
    with pytest.raises(urllib.error.HTTPError, match="401"):
        urllib.request.urlopen(stale, timeout=patient(10))


def test_a_token_that_others_may_read_stops_the_start(bench):
    bench.data.mkdir()
    (bench.data / tokens.NAME).write_text("x" * 43)
    (bench.data / tokens.NAME).chmod(0o644)
    done = bench.wickbench("run")
    assert done.returncode == 1
    assert done.stderr.count("\n") == 1
    assert "read by others" in done.stderr


def on_terminal(bench, *, encoding="utf-8", seconds=20.0):
    """What `run` shows on a terminal until it says its caution."""
    master, slave = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-m", "logger", "run", "--config", str(bench.config)],
        stdin=subprocess.DEVNULL,
        stdout=slave,
        stderr=subprocess.PIPE,
        env={**os.environ, "PYTHONIOENCODING": encoding},
    )
    os.close(slave)
    shown, end_s = b"", time.monotonic() + seconds
    try:
        while b"stays in sight" not in shown:
            left_s = end_s - time.monotonic()
            assert left_s > 0.0, shown
            if select.select([master], [], [], left_s)[0]:
                shown += os.read(master, 65_536)
    finally:
        process.terminate()
        _, log = process.communicate(timeout=patient(15))
        os.close(master)
    return shown.decode(encoding), log.decode()


def test_the_owners_terminal_shows_link_and_code(bench):
    shown, log = on_terminal(bench)
    token = token_of(bench)
    assert LINK.search(shown)[1] == token
    assert "not encrypted" in shown
    assert token not in log
    code = [line for line in shown.splitlines() if "▀" in line or "▄" in line]
    signs = [re.sub(r"\x1b\[[0-9;]*m", "", line) for line in code]
    assert len({len(line) for line in signs}) == 1
    assert len(code) * 2 >= len(signs[0]) - 8  # two modules a line; plain lines are the margin
    assert all(line.startswith("\x1b[97;40m") and line.endswith("\x1b[0m") for line in code)


def test_a_terminal_without_block_signs_gets_the_link_alone(bench):
    shown, _ = on_terminal(bench, encoding="ascii")
    assert LINK.search(shown)
    assert "\x1b" not in shown
