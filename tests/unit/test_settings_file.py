"""The file of a configuration, and those beside it: where it is looked for, how it is read."""

from pathlib import Path

import pytest

from logger.errors import SettingsError
from logger.settings import (
    Secret,
    find,
    load,
)
from tests.support.whole_settings import WHOLE, changed


def test_relative_paths_begin_at_the_configuration(settings_of, monkeypatch, tmp_path):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "share"))
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    assert settings_of(changed("bench-data", "b")).bench.data == tmp_path / "b"
    assert settings_of(changed("bench-data", "~/b")).bench.data == tmp_path / "home" / "b"
    assert settings_of(changed("bench-data", "/srv/b")).bench.data == Path("/srv/b")
    by_default = settings_of(changed('data = "bench-data"\n', "")).bench.data
    assert by_default.name == "back-room"
    assert "wickbench" in str(by_default)


def test_no_utf_8_is_reported_with_its_line(tmp_path):
    path = tmp_path / "bench.toml"
    path.write_bytes(b'[bench]\nname = "caf\xe9"\n')
    with pytest.raises(SettingsError, match=r"bench\.toml:2: not UTF-8 text; save"):
        load(path)
    path.write_bytes(b"\xef\xbb\xbf" + WHOLE.encode())  # some editors mark UTF-8 so
    assert load(path).bench.name == "back-room"


def test_a_file_that_cannot_be_read_is_a_settings_error(tmp_path):
    with pytest.raises(SettingsError, match="cannot be read: Is a directory"):
        load(tmp_path)


def test_find_looks_where_it_was_told_then_here_then_at_home(tmp_path, monkeypatch):
    told, named, here, home = (tmp_path / name for name in ("told", "named", "here", "home"))
    for folder in (here, home / "wickbench"):
        folder.mkdir(parents=True)
    monkeypatch.chdir(here)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(home))
    monkeypatch.delenv("WICKBENCH_CONFIG", raising=False)
    with pytest.raises(SettingsError) as caught:
        find(None)
    (problem,) = caught.value.problems
    assert "`wickbench init`" in problem

    (home / "wickbench" / "bench.toml").touch()
    assert find(None) == home / "wickbench" / "bench.toml"
    (here / "bench.toml").touch()
    assert find(None) == Path("bench.toml")
    monkeypatch.setenv("WICKBENCH_CONFIG", str(named))
    with pytest.raises(SettingsError, match=r"named: no such file \(WICKBENCH_CONFIG\); `wi"):
        find(None)
    named.touch()
    assert find(None) == named
    with pytest.raises(SettingsError, match=r"told: no such file \(--config\); `wi"):
        find(told)
    told.touch()
    assert find(told) == told


def test_secrets_are_read_where_they_are_kept(tmp_path, monkeypatch):
    file = tmp_path / "password.txt"
    in_file = Secret(key="password", file=file)
    with pytest.raises(SettingsError, match=r"password\.txt cannot be read: No such file"):
        in_file.read()
    file.write_text("tallow 7\n")
    for mode in (0o644, 0o602):
        file.chmod(mode)
        with pytest.raises(SettingsError, match=r"may be read by others; type this: chmod 600 .*"):
            in_file.read()
    file.chmod(0o600)
    file.write_text("\n")
    with pytest.raises(SettingsError, match=r"password\.txt is empty; put the secret there"):
        in_file.read()
    file.write_text("tallow 7 \n")
    assert in_file.read() == "tallow 7 "

    in_environment = Secret(key="token", variable="WICKBENCH_TOKEN")
    monkeypatch.delenv("WICKBENCH_TOKEN", raising=False)
    with pytest.raises(SettingsError, match="variable WICKBENCH_TOKEN is empty"):
        in_environment.read()
    monkeypatch.setenv("WICKBENCH_TOKEN", "beeswax")
    assert in_environment.read() == "beeswax"
