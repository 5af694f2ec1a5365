"""Bluetooth bytes: layouts, what is not a reading, and that no bytes break anything."""

import contextlib
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger import bluetooth
from logger.errors import DataError
from logger.instruments.decoders import ble_values
from logger.instruments.decoders.ble_numbers import ByteOrder, Number, NumberType
from logger.instruments.decoders.bthome import ADVERTISED, bthome, environmental_sensing

ANY_BYTES = st.binary(max_size=40)
LIKE_BTHOME = ANY_BYTES.map(b"\x40".__add__)
NUMBERS = st.builds(
    Number,
    type=st.sampled_from(NumberType),
    order=st.sampled_from(ByteOrder),
    offset=st.integers(-2, 40),
    scale=st.floats(allow_nan=False, allow_infinity=False),
)


@pytest.mark.parametrize(
    ("layout", "data", "value"),
    [
        ({"type": NumberType.INT16, "scale": 0.1, "offset": 2}, "AA BB 9C 01", 41.2),
        ({"type": NumberType.INT16, "scale": 0.1, "order": ByteOrder.BIG}, "01 9C", 41.2),
        ({"type": NumberType.INT16}, "FF FF", -1.0),
        ({"type": NumberType.UINT16, "scale": 0.01}, "18 10", 41.2),
        ({"type": NumberType.INT24, "scale": 0.001}, "F0 A0 00", 41.2),
        ({"type": NumberType.INT24}, "FE FF FF", -2.0),
        ({"type": NumberType.INT32, "scale": 0.001, "order": ByteOrder.BIG}, "00 00 A0 F0", 41.2),
        ({"type": NumberType.FLOAT32}, "00 00 25 42", 41.25),
        ({"type": NumberType.FLOAT32, "order": ByteOrder.BIG}, "42 25 00 00", 41.25),
        ({"type": NumberType.SFLOAT, "order": ByteOrder.BIG}, "F1 9C", 41.2),
        ({"type": NumberType.FLOAT, "order": ByteOrder.BIG}, "FF 00 01 9C", 41.2),
        ({"type": NumberType.INT8, "scale": 0.5}, "FD", -1.5),
    ],
)
def test_layouts(layout, data, value):
    assert Number(**layout).value(bytes.fromhex(data)) == value


@pytest.mark.parametrize(
    ("type", "data"),
    [
        (NumberType.INT16, "00 80"),
        (NumberType.UINT16, "FF FF"),
        (NumberType.INT24, "00 00 80"),
        (NumberType.INT32, "00 00 00 80"),
        (NumberType.FLOAT32, "00 00 C0 7F"),
        (NumberType.FLOAT32, "00 00 80 7F"),
    ],
)
def test_no_value(type, data):
    with pytest.raises(DataError, match="no value"):
        Number(type=type).value(bytes.fromhex(data))


@pytest.mark.parametrize(("offset", "data"), [(1, "5D 16"), (0, "5D"), (-1, "5D 16"), (9, "")])
def test_too_few_bytes(offset, data):
    with pytest.raises(DataError, match="check offset and type"):
        Number(type=NumberType.INT16, offset=offset).value(bytes.fromhex(data))


@given(NUMBERS, ANY_BYTES)
def test_any_bytes_are_a_number_or_refused(number, data):
    with contextlib.suppress(DataError):
        assert math.isfinite(number.value(data))


@given(st.sampled_from([*ble_values.DECODERS.values()]), ANY_BYTES)
def test_any_bytes_are_a_value_or_refused(decode, data):
    try:
        value, unit = decode(data)
    except DataError:
        return
    assert math.isfinite(value)
    assert unit in {"degC", "degF", "percent"}


@given(ANY_BYTES)
def test_any_bytes_are_a_battery_level_or_refused(data):
    with contextlib.suppress(DataError):
        assert 0 <= ble_values.battery_level(data) <= 100


@given(st.sampled_from([*ADVERTISED.values()]), ANY_BYTES | LIKE_BTHOME)
def test_any_advertisement_is_taken_or_refused(decode, data):
    with contextlib.suppress(DataError):
        for sent in decode(data).sent:
            assert math.isfinite(sent.value().value)


@given(ANY_BYTES)
def test_any_descriptor_is_a_number_or_none(data):
    number = ble_values.presented_number(data)
    assert number is None or 1 <= number <= 255


@given(st.integers(-32767, 32767))
def test_every_count_of_a_temperature_comes_back(hundredths):
    data = hundredths.to_bytes(2, "little", signed=True)
    if hundredths < -27315:
        with pytest.raises(DataError):
            ble_values.temperature(data)
    else:
        assert ble_values.temperature(data).value == hundredths / 100


def test_a_measurement_cut_short_is_refused():
    with pytest.raises(DataError, match="needs 13"):
        ble_values.temperature_measurement(bytes.fromhex("06 72 01 00 FF E9 07 0B"))


def test_bthome_ends_at_an_object_it_does_not_know():
    advertised = bthome(bytes.fromhex("40 00 09 01 61 02 CA 09 EE 12 34 03 BF 13"))
    assert [sent.kind for sent in advertised.sent] == ["temperature"]
    assert (advertised.packet_id, advertised.battery_percent) == (9, 97)


def test_bthome_keeps_several_values_of_a_kind_in_order():
    advertised = bthome(bytes.fromhex("40 02 CA 09 02 C4 09"))
    assert [sent.value().value for sent in advertised.sent] == [25.06, 25.0]


def test_bthome_says_that_one_of_its_values_is_none():
    first, second = bthome(bytes.fromhex("40 02 00 80 03 BF 13")).sent
    with pytest.raises(DataError, match="no value"):
        first.value()
    assert second.value().value == 50.55


@pytest.mark.parametrize(
    ("data", "match"),
    [
        ("41 A4 72 66 C9 5F 73 00 11 22 33 78 23 72 14", "key is missing"),
        ("20 02 CA 09", "version 1"),
        ("", "empty"),
        ("40 02 CA", "cut short"),
        ("40 53 0C 48 65", "cut short"),
        ("40 53", "cut short"),
    ],
)
def test_bthome_refuses(data, match):
    with pytest.raises(DataError, match=match):
        bthome(bytes.fromhex(data))


def test_environmental_sensing_service_data():
    one = environmental_sensing(bytes.fromhex("5D 16"))
    two = environmental_sensing(bytes.fromhex("5D 16 A4 11"))
    assert [(sent.kind, sent.value().value) for sent in one.sent] == [("temperature", 57.25)]
    assert [(sent.kind, sent.value().value) for sent in two.sent] == [
        ("temperature", 57.25),
        ("humidity", 45.16),
    ]
    with pytest.raises(DataError, match="describe them"):
        environmental_sensing(bytes(13))


@pytest.mark.parametrize(
    "text", ["2a6e", "0x2A6E", "00002A6E-0000-1000-8000-00805F9B34FB"], ids=str
)
def test_a_uuid_in_any_form_is_one(text):
    assert bluetooth.full_uuid(text) == bluetooth.NAMES["temperature"]


@pytest.mark.parametrize("text", ["", "2a6", "temperature", "2a6e-", "²²²²"])
def test_other_text_is_no_uuid(text):
    with pytest.raises(DataError, match="UUID"):
        bluetooth.full_uuid(text)


@pytest.mark.parametrize(
    ("data", "number"),
    [
        ("0E FE 2F 27 01 02 00", 2),
        ("0E FE 2F 27 01 00 00", None),
        ("0E FE 2F 27 00 02 00", None),
        ("0E FE 2F 27 01 0B 01", None),
        ("", None),
    ],
)
def test_presentation_format_numbers_sensors(data, number):
    assert ble_values.presented_number(bytes.fromhex(data)) == number
