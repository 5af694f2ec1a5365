"""The unit file for systemd, as it is copied."""

import configparser
from importlib.resources import files

import pytest


class Repeated(dict):
    """Keys that stand several times keep all their values."""

    def __setitem__(self, key, value):
        if isinstance(value, list) and key in self:
            value = [*self[key], *value]
        super().__setitem__(key, value)


@pytest.fixture
def service():
    unit = configparser.RawConfigParser(dict_type=Repeated, strict=False)
    unit.optionxform = str
    unit.read_string(files("config").joinpath("wickbench.service").read_text())
    return unit["Service"]


def test_it_keeps_data_private_and_has_descriptors_to_spare(service):
    assert service["UMask"] == "0077"
    assert service["StateDirectoryMode"] == "0700"
    assert int(service["LimitNOFILE"]) >= 8192


def test_it_reaches_the_serial_ports_of_boards_too(service):
    allowed = service["DeviceAllow"].split("\n")
    assert {"char-ttyUSB rw", "char-ttyACM rw", "char-ttyS rw", "char-ttyAMA rw"} <= set(allowed)
