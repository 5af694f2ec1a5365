"""Bluetooth LE: the SIG's encodings and names, IEEE 11073 floats, BTHome's published examples.

Encodings: Bluetooth SIG, GATT specification supplement (2A6E, 2A6F, 2A1C, 2A19); special values:
ISO/IEEE 11073-20601; names: the assigned numbers as the package bluetooth-numbers carries them.
"""

import pytest
from bluetooth_numbers import characteristic, descriptor, service

from logger import bluetooth
from logger.errors import DataError
from logger.instruments.decoders import ble_values
from logger.instruments.decoders.ble_numbers import Number, NumberType
from logger.instruments.decoders.bthome import bthome


def sixteen_bits(uuid: str) -> int:
    assert uuid.endswith("-0000-1000-8000-00805f9b34fb")
    return int(uuid[:8], 16)


@pytest.mark.parametrize(("name", "uuid"), bluetooth.NAMES.items())
def test_names_are_those_of_the_assigned_numbers(name, uuid):
    assert characteristic[sixteen_bits(uuid)].lower().replace(" ", "-") == name


def test_other_assigned_numbers():
    assert characteristic[sixteen_bits(bluetooth.BATTERY_LEVEL)] == "Battery Level"
    assert service[sixteen_bits(bluetooth.ENVIRONMENTAL_SENSING)] == "Environmental Sensing"
    assert service[sixteen_bits(bluetooth.HEALTH_THERMOMETER)] == "Health Thermometer"
    assert service[sixteen_bits(bluetooth.BATTERY_SERVICE)] == "Battery Service"
    description, presentation = bluetooth.USER_DESCRIPTION, bluetooth.PRESENTATION_FORMAT
    assert descriptor[sixteen_bits(description)] == "Characteristic User Descriptor"
    assert descriptor[sixteen_bits(presentation)] == "Characteristic Presentation Format"


@pytest.mark.parametrize(
    ("data", "celsius"),
    [("5D 16", 57.25), ("70 17", 60.0), ("0C FE", -5.0), ("FF 7F", 327.67), ("00 00", 0.0)],
)
def test_temperature(data, celsius):
    assert ble_values.temperature(bytes.fromhex(data)) == (celsius, "degC")


def test_lowest_temperature_is_absolute_zero():
    """The supplement's range: -273.15 to 327.67 degC."""
    lowest = round(-273.15 * 100)
    assert ble_values.temperature(lowest.to_bytes(2, "little", signed=True))[0] == -273.15
    with pytest.raises(DataError, match="absolute zero"):
        ble_values.temperature((lowest - 1).to_bytes(2, "little", signed=True))


def test_humidity():
    assert ble_values.humidity(bytes.fromhex("A4 11")) == (45.16, "percent")
    assert ble_values.humidity(bytes.fromhex("10 27")) == (100.0, "percent")


@pytest.mark.parametrize(
    ("decode", "data"), [(ble_values.temperature, "00 80"), (ble_values.humidity, "FF FF")]
)
def test_value_is_not_known(decode, data):
    with pytest.raises(DataError, match="no value"):
        decode(bytes.fromhex(data))


@pytest.mark.parametrize(
    ("data", "value"),
    [("72 01 00 FF", 37.0), ("6C 01 00 FF", 36.4), ("5D 16 00 FE", 57.25), ("3C 00 00 00", 60.0)],
)
def test_float(data, value):
    assert Number(type=NumberType.FLOAT).value(bytes.fromhex(data)) == value


@pytest.mark.parametrize(
    ("data", "found"),
    [
        ("00 72 01 00 FF", (37.0, "degC")),
        ("06 72 01 00 FF E9 07 0B 19 07 1E 00 02", (37.0, "degC")),
        ("01 DA 03 00 FF", (98.6, "degF")),
    ],
)
def test_temperature_measurement(data, found):
    assert ble_values.temperature_measurement(bytes.fromhex(data)) == found


@pytest.mark.parametrize("word", [0x007FFFFF, 0x007FFFFE, 0x00800000, 0x00800001, 0x00800002])
def test_special_values_of_float(word):
    with pytest.raises(DataError, match="no value"):
        ble_values.temperature_measurement(b"\x00" + word.to_bytes(4, "little"))


@pytest.mark.parametrize("word", [0x07FF, 0x07FE, 0x0800, 0x0801, 0x0802])
def test_special_values_of_sfloat(word):
    with pytest.raises(DataError, match="no value"):
        Number(type=NumberType.SFLOAT).value(word.to_bytes(2, "little"))


@pytest.mark.parametrize(("word", "value"), [(0xF16C, 36.4), (0x0072, 114.0), (0x1FFB, -50.0)])
def test_sfloat(word, value):
    """Exponent in the upper four bits, mantissa in the lower twelve, both signed."""
    assert Number(type=NumberType.SFLOAT).value(word.to_bytes(2, "little")) == value


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        ("40 02 CA 09 03 BF 13", [("temperature", 25.06, "degC"), ("humidity", 50.55, "percent")]),
        ("40 06 5E 1F", [("mass", 80.3, "kg")]),
        ("40 07 3E 1D", [("mass", 74.86, "lb")]),
        ("40 2E 23", [("humidity", 35.0, "percent")]),
        ("40 45 11 01", [("temperature", 27.3, "degC")]),
        ("40 57 EA", [("temperature", -22.0, "degC")]),
        ("40 58 EA", [("temperature", -7.7, "degC")]),
        ("40 04 13 8A 01", []),  # a pressure: nothing for a bench
        ("40 53 0C 48 65 6C 6C 6F 20 57 6F 72 6C 64 21 45 11 01", [("temperature", 27.3, "degC")]),
    ],
)
def test_bthome_examples(data, expected):
    """bthome.io/format, column "example", as test suites of open implementations repeat it."""
    advertised = bthome(bytes.fromhex(data))
    assert [(sent.kind, *sent.value()) for sent in advertised.sent] == expected


def test_bthome_battery():
    """bthome.io/format: object 0x01, `61` is 97 %."""
    assert bthome(bytes.fromhex("40 01 61")).battery_percent == 97
