"""A file that is there whole or not at all."""

import os
import tempfile
from pathlib import Path

from logger.errors import WickbenchError


def write(path: Path, content: str | bytes) -> None:
    """Write bytes, or text as UTF-8, to `path`; the file before stays until the new one is there.

    Raises WickbenchError where the disk refuses; nothing half-written is left behind.
    """
    try:
        descriptor, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    except OSError as exc:
        raise _refused(path, exc) from exc
    beside = Path(name)
    try:
        with os.fdopen(descriptor, "wb") as file:
            file.write(content.encode() if isinstance(content, str) else content)
            file.flush()
            os.fsync(file.fileno())
        beside.chmod(0o666 & ~_umask())  # mkstemp's file is for its owner alone
        beside.replace(path)
        _settle(path.parent)
    except OSError as exc:
        raise _refused(path, exc) from exc
    finally:
        beside.unlink(missing_ok=True)


def _settle(folder: Path) -> None:
    """Make the renaming itself lasting."""
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def _umask() -> int:
    """Read it the only way there is: by setting it."""
    mask = os.umask(0o077)
    os.umask(mask)
    return mask


def _refused(path: Path, exc: OSError) -> WickbenchError:
    reason = exc.strerror or str(exc)
    return WickbenchError(f"{path} cannot be written: {reason}; choose a folder that you may write")
