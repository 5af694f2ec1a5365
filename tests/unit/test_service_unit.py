"""The unit file for systemd, as it is copied."""

import configparser
import shutil
import subprocess
import sys
from importlib.resources import files
from pathlib import Path

import pytest


class Repeated(dict):
    """Keys that stand several times keep all their values."""

    def __setitem__(self, key, value):
        if isinstance(value, list) and key in self:
            value = [*self[key], *value]
        super().__setitem__(key, value)


UNIT = files("config").joinpath("wickbench.service").read_text(encoding="utf-8")


@pytest.fixture
def unit():
    unit = configparser.RawConfigParser(dict_type=Repeated, strict=False)
    unit.optionxform = str
    unit.read_string(UNIT)
    return unit


@pytest.fixture
def service(unit):
    return unit["Service"]


def test_it_keeps_data_private_and_has_descriptors_to_spare(service):
    assert service["UMask"] == "0077"
    assert service["StateDirectoryMode"] == "0700"
    assert int(service["LimitNOFILE"]) >= 8192


def test_it_reaches_the_serial_ports_of_boards_too(service):
    allowed = service["DeviceAllow"].split("\n")
    assert {"char-ttyUSB rw", "char-ttyACM rw", "char-ttyS rw", "char-ttyAMA rw"} <= set(allowed)


def test_bluetooth_is_reached_over_d_bus(unit, service):
    """A local socket (D-Bus specification, "unix" transport), and no device of its own."""
    assert "AF_UNIX" in service["RestrictAddressFamilies"].split()
    assert {"dbus.service", "bluetooth.service"} <= set(unit["Unit"]["After"].split())
    assert "PrivateNetwork" not in service
    assert "InaccessiblePaths" not in service


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="systemd is not installed")
@pytest.mark.parametrize("slip", ["", "ProtectSytem=strict\n"], ids=["as it is", "with a slip"])
def test_systemd_takes_it(tmp_path, slip):
    command = Path(sys.executable).with_name("wickbench")
    text = UNIT.replace("/opt/wickbench/bin/wickbench", str(command))
    file = tmp_path / "wickbench.service"
    file.write_text(text.replace("[Service]\n", f"[Service]\n{slip}"), encoding="utf-8")
    done = subprocess.run(
        ["systemd-analyze", "verify", "--man=no", file],
        capture_output=True,
        text=True,
        check=False,
        timeout=30,
    )
    said = [line for line in done.stderr.splitlines() if "wickbench" in line]
    assert bool(said) is bool(slip), said
    assert done.returncode == 0
