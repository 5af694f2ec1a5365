"""A file is written whole or not at all."""

import os
import stat

import pytest

from logger.errors import WickbenchError
from logger.reports.write import write


def test_what_was_written_is_there_and_nothing_beside_it(tmp_path):
    path = tmp_path / "record.html"
    write(path, "58 °C\n")
    assert path.read_bytes() == "58 °C\n".encode()
    assert list(tmp_path.iterdir()) == [path]


def test_a_newer_one_takes_its_place(tmp_path):
    path = tmp_path / "record.html"
    write(path, "old")
    write(path, "new")
    assert path.read_text() == "new"


def test_it_may_be_read_as_any_file_that_one_makes(tmp_path):
    before = os.umask(0o027)
    try:
        write(tmp_path / "a", "x")
        assert os.umask(0o027) == 0o027  # as it was
    finally:
        os.umask(before)
    assert stat.S_IMODE((tmp_path / "a").stat().st_mode) == 0o640


def test_a_disk_that_fails_leaves_the_old_one_and_no_remains(tmp_path, monkeypatch):
    path = tmp_path / "record.html"
    write(path, "old")

    def full(descriptor):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(WickbenchError, match=r"record.html cannot be written: No space left"):
        write(path, "new")
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]


def test_a_folder_that_is_not_there_is_said(tmp_path):
    with pytest.raises(WickbenchError, match="No such file or directory"):
        write(tmp_path / "nowhere" / "a", "x")
