"""What tests lean on: that a run behind a shell starts as any other, and the factor of waiting."""

import signal
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
CHILD = "import signal; print(signal.getsignal(signal.SIGINT) is signal.default_int_handler)"


def output_of(code, **more):
    """What Python prints to `code`; it begins as a shell begins what it starts behind itself."""
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_IGN),
        **more,
    )
    return done.stdout.strip()


@pytest.mark.parametrize(("before", "answers"), [("", "False"), ("pytest_configure()", "True")])
def test_what_a_run_behind_a_shell_starts_answers_sigint(before, answers):
    code = (
        "import subprocess, sys\n"
        "from tests.support.processes import pytest_configure\n"
        f"{before}\n"
        f"subprocess.run([sys.executable, '-c', {CHILD!r}], check=True)\n"
    )
    assert output_of(code) == answers


def test_one_factor_scales_every_waiting_time():
    code = "from tests.support.waiting import patient; print(patient(2.5))"
    assert output_of(code, env={"WICKBENCH_PATIENCE": "3"}) == "7.5"
