"""What a command brings in before it does anything: each library costs every start."""

import subprocess
import sys

HEAVY = {"numpy", "pint", "pydantic", "starlette", "uvicorn", "jinja2", "sqlite3", "asyncio"}


def test_help_waits_for_no_library_but_the_command_line_s():
    code = (
        "import sys, logger.cli\n"
        f"print(*({HEAVY!r} & set(sys.modules)), *(n for n in sys.modules if n.startswith("
        "('logger.messages', 'logger.pipeline', 'logger.settings', 'logger.service'))))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == []
