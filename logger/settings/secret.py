"""Where a password or token is kept: never in the configuration."""

import contextlib
import os
import shlex
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from logger.errors import SettingsError
from logger.settings.keys import WrongValue


@dataclass(frozen=True, slots=True, kw_only=True)
class Secret:
    """Where a password or token is kept: a file that holds nothing else, or the environment."""

    key: str  # of the configuration, for messages
    file: Path | None = None
    variable: str | None = None

    def read(self) -> str:
        """The secret itself; raises SettingsError that says where it was looked for."""
        if self.variable is not None:
            secret = os.environ.get(self.variable, "")
            where = f"the environment variable {self.variable}"
        else:
            assert self.file is not None
            where = str(self.file)
            self._refuse_open_file(self.file)
            try:
                secret = self.file.read_text(encoding="utf-8").rstrip("\r\n")
            except (OSError, UnicodeDecodeError) as exc:
                reason = exc.strerror if isinstance(exc, OSError) else "it is not text"
                raise SettingsError(
                    [f"{self.key}: {where} cannot be read: {reason}; put the secret there, alone"]
                ) from exc
        if not secret:
            raise SettingsError([f"{self.key}: {where} is empty; put the secret there, alone"])
        return secret

    def _refuse_open_file(self, file: Path) -> None:
        """Raise SettingsError where every user of this machine may read the file."""
        with contextlib.suppress(OSError):  # what is not there is told by who reads it
            found = file.stat()
            if found.st_mode & 0o007:
                name, me = shlex.quote(str(file)), os.geteuid()
                line = f"chmod 600 {name}"
                if found.st_uid != me:
                    line = f"sudo chown {me} {name} && sudo {line}"
                raise SettingsError(
                    [f"{self.key}: {file} may be read by others; type this: {line}"]
                )


def secret(key: str, file: Path | None, variable: str | None) -> Secret | None:
    """Where the one called `key` is kept, if anywhere."""
    if file is None and variable is None:
        return None
    return Secret(key=key, file=file, variable=variable)


def misplaced(key: str) -> Mapping[str, str]:
    """What is said to somebody who writes the secret `key` itself."""
    return {
        key: "a secret has no place in this file, which is kept with each burn; write it alone "
        f'into a file and name that: {key}_file = "{key}.txt", '
        f'or an environment variable: {key}_env = "WICKBENCH_{key.upper()}"'
    }


def one_of_two(key: str, file: Path | None, variable: str | None) -> str | None:
    """`variable`; raises Fault where the secret `key` is said to be in both places."""
    if file is not None and variable is not None:
        raise WrongValue(f"stands beside {key}_file; write one of the two")
    return variable
