"""Serial text lines: nothing wrong becomes a number, nothing refused is lost."""

import itertools
import json
import math
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.errors import DataError
from logger.instruments.decoders.lines import (
    Format,
    Line,
    LineDecoder,
    LineSplitter,
    LineValue,
    Rejected,
)
from tests.support.fuzzing import EXAMPLES


def csv(*fields: int, **options) -> LineDecoder:
    return LineDecoder(Format.CSV, fields or (0, 1), **options)


def after_open(decoder: LineDecoder, data: bytes) -> list[Line | Rejected]:
    return decoder.feed(b"\n" + data)


def numbers(items: list[Line | Rejected]) -> list[list[float]]:
    return [[value.value for value in item.values] for item in items if isinstance(item, Line)]


def reasons(items: list[Line | Rejected]) -> list[str]:
    return [item.reason for item in items if isinstance(item, Rejected)]


# --- splitting -------------------------------------------------------------------------------


@pytest.mark.parametrize("end", [b"\n", b"\r", b"\r\n", b"\n\r"])
def test_every_line_end_ends_a_line(end):
    splitter = LineSplitter()
    assert splitter.feed(end.join([b"head", b"a", b"b", b"tail"])) == [b"a", b"b"]


def test_tail_of_a_number_at_opening_is_not_a_line():
    assert numbers(csv(0).feed(b"1.25\n41.25\n")) == [[41.25]]


def test_answer_link_keeps_its_first_line():
    assert LineSplitter(drop_head=False).feed(b"41.25\n") == [b"41.25"]


@pytest.mark.parametrize("length", [1024, 1025, 5000, 70_000])
@pytest.mark.parametrize("step", [1, 7, 100_000])
def test_overlong_line_is_rejected_once_and_its_tail_is_no_line(length, step):
    splitter = LineSplitter()
    data = b"\n" + b"x" * length + b"\n41.2\n"
    items = [x for i in range(0, len(data), step) for x in splitter.feed(data[i : i + step])]
    if length <= 1024:
        assert items == [b"x" * length, b"41.2"]
    else:
        (rejected, line) = items
        assert isinstance(rejected, Rejected)
        assert "1024 bytes" in rejected.reason
        assert rejected.excerpt == "x" * 60
        assert line == b"41.2"


def test_stream_without_a_line_end_is_reported_without_waiting_for_one():
    assert len(LineSplitter().feed(b"\xff" * 2000)) == 1


@given(
    data=st.lists(
        st.sampled_from([b"41.2", b",", b"\r", b"\n", b"\xc2\xb0", b"C", b"#", b"x" * 600, b"\0"])
    ).map(b"".join),
    cuts=st.lists(st.integers(0, 5000), max_size=20),
)
@settings(max_examples=EXAMPLES, derandomize=True, deadline=None)
def test_bytes_cut_anywhere_decode_the_same(data, cuts):
    edges = sorted({0, len(data), *(cut for cut in cuts if cut < len(data))})
    pieces = [data[a:b] for a, b in itertools.pairwise(edges)]
    whole, parts = csv(0, 1), csv(0, 1)
    assert whole.feed(data) == [item for piece in pieces for item in parts.feed(piece)]
    assert whole.skipped == parts.skipped


# --- columns ---------------------------------------------------------------------------------


def test_columns_in_the_order_of_the_configuration():
    assert after_open(csv(1, 0), b"41.2, 42.5\n") == [
        Line(values=(LineValue(0, 42.5, None), LineValue(1, 41.2, None)))
    ]


@pytest.mark.parametrize(
    "text",
    [
        pytest.param("41,2,42.1", id="decimal comma makes an extra column"),
        pytest.param("41.2", id="missing column"),
        pytest.param("41.2,42.1,", id="trailing separator"),
        pytest.param("41.2;42.1", id="another separator"),
    ],
)
def test_a_line_with_other_columns_is_refused_whole(text):
    (rejected,) = after_open(csv(0, 1), text.encode() + b"\n")
    assert isinstance(rejected, Rejected)
    assert rejected.field is None
    assert "columns" in rejected.reason
    assert rejected.excerpt == text


def test_columns_beyond_the_wanted_ones_are_stated():
    assert numbers(after_open(csv(0, columns=3), b"41.2,7,8\n41.2,7\n")) == [[41.2]]


@pytest.mark.parametrize("separator", [";", "\t", "|", " "])
def test_decimal_comma_with_a_separator_of_its_own(separator):
    decoder = csv(0, 1, separator=separator, decimal=",")
    assert numbers(after_open(decoder, f"41,2{separator}-0,5\n".encode())) == [[41.2, -0.5]]


def test_decimal_comma_refuses_a_point():
    items = after_open(csv(0, 1, separator=";", decimal=","), b"1.234,5;41.2\n")
    assert numbers(items) == []
    assert len(reasons(items)) == 2


@pytest.mark.parametrize("separator", [",", "\t"])
@pytest.mark.parametrize("at", [0, 1, 2])
def test_an_empty_column_is_refused_by_name_and_the_others_kept(separator, at):
    cells = ["41.0", "42.0", "43.0"]
    kept = [float(cell) for cell in cells if cell != cells[at]]
    cells[at] = ""
    line = separator.join(cells).encode() + b"\n"
    items = after_open(csv(0, 1, 2, separator=separator), line)
    assert numbers(items) == [kept]
    (rejected,) = [item for item in items if isinstance(item, Rejected)]
    assert rejected.field == at
    assert rejected.reason.startswith(f"column {at}: no value")


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("41.2", 41.2),
        ("+41.", 41.0),
        ("-.5", -0.5),
        ("4.12e1", 41.2),
        ("2.5E+01", 25.0),
        ("007", 7.0),
        (" 41.2 ", 41.2),
        ('"41.2"', 41.2),
    ],
)
def test_numbers(text, value):
    assert numbers(after_open(csv(0), text.encode() + b"\n")) == [[value]]


@pytest.mark.parametrize(
    "text",
    [
        *("nan", "NaN", "inf", "-Infinity", "1e400", "-1e999", "1_000", "41.2.3", "0x1F", "--5"),
        *("4 1", "41.2e", "+", ".", "1 e5", "True", "41.2C5", "41.2X"),
        "\u0664\u0661",  # 41 in the digits of another script
        "\u22125",  # a minus sign that is no hyphen
    ],
)
def test_what_float_or_a_loose_pattern_might_take_is_refused(text):
    decoder = csv(0, header_lines=0)
    items = after_open(decoder, text.encode() + b"\n")
    assert numbers(items) == []
    assert len(reasons(items)) == 1
    assert decoder.skipped == 0


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("41.2C", 41.2, "degC"),
        ("106.1 F", 106.1, "degF"),
        ("41.2 °C", 41.2, "degC"),
        ("314.35K", 314.35, "kelvin"),
        ("250.1 g", 250.1, "g"),
        ("45%", 45.0, "percent"),
        ("1.558 mV", 1.558, "mV"),
        ("1e2C", 100.0, "degC"),
    ],
)
def test_unit_in_the_value(text, value, unit):
    assert after_open(csv(0), text.encode() + b"\n") == [Line(values=(LineValue(0, value, unit),))]


def test_degree_sign_of_plain_firmware():
    assert after_open(csv(0), b"41.2\xb0C\n") == [Line(values=(LineValue(0, 41.2, "degC"),))]


@pytest.mark.parametrize("noise", [b"\x00", b"\xff", b"\x80\xb0", b"\x1b[2J", b"\x0c"])
def test_noise_in_a_line_refuses_the_line_and_only_that(noise):
    items = after_open(csv(0), b"41.1\n4" + noise + b"1.2\n41.3\n")
    assert numbers(items) == [[41.1], [41.3]]
    assert "not text" in reasons(items)[0]


def test_excerpt_is_printable_and_short():
    (rejected,) = after_open(csv(0), b"\x00\xff" * 200 + b"\n")
    assert isinstance(rejected, Rejected)
    assert rejected.excerpt.isprintable()
    assert len(rejected.excerpt) <= 240


# --- headings --------------------------------------------------------------------------------


def test_heading_is_skipped_once_and_later_words_are_refused():
    decoder = csv(0, 1)
    items = after_open(decoder, b"# two probes\nwall,room\n41.2,22.0\nwall,room\n# note\n")
    assert numbers(items) == [[41.2, 22.0]]
    assert decoder.skipped == 3
    assert len(reasons(items)) == 2  # one a field


def test_configured_heading_lines():
    decoder = csv(0, header_lines=2)
    assert numbers(after_open(decoder, b"Station ready\ndegrees\n41.2\n")) == [[41.2]]
    assert decoder.skipped == 2


def test_first_line_of_data_is_data_even_where_a_heading_may_stand():
    decoder = csv(0, 1, header_lines=3)
    items = after_open(decoder, b"41.2,nan\nnan,nan\n,\n")
    assert numbers(items) == [[41.2]]
    assert len(reasons(items)) == 5
    assert decoder.skipped == 0


# --- pairs -----------------------------------------------------------------------------------


def pairs(*fields: str, **options) -> LineDecoder:
    return LineDecoder(Format.PAIRS, fields, **options)


@pytest.mark.parametrize(
    "text",
    [
        "t1=41.2 t2=42.5",
        "t1=41.2,t2=42.5",
        "t2:42.5; t1:41.2",
        "t1 = 41.2, t2 = 42.5",
        "seq=9 t1: 41.2 t2: 42.5 note=ok",
        "12:30:05 t1=41.2 t2=42.5",
    ],
)
def test_pairs_by_name(text):
    assert numbers(after_open(pairs("t1", "t2"), text.encode() + b"\n")) == [[41.2, 42.5]]


@pytest.mark.parametrize(
    "text", ["t1=41.2C t2=106.1F", "t1=41.2 C t2=106.1 F", "t1:41.2C,t2:106.1 F"]
)
def test_pairs_with_units(text):
    assert after_open(pairs("t1", "t2"), text.encode() + b"\n") == [
        Line(values=(LineValue(0, 41.2, "degC"), LineValue(1, 106.1, "degF")))
    ]


def test_names_with_blanks_need_a_stated_separator():
    decoder = pairs("Wall temp", separator=",")
    assert numbers(after_open(decoder, b"Wall temp: 41.2, Room: 22\n")) == [[41.2]]


def test_stated_blank_stands_for_any_run_of_blanks():
    decoder = pairs("t1", "t2", separator=" ")
    assert numbers(after_open(decoder, b"t1=41.2  t2=42.5\tt3=1\n")) == [[41.2, 42.5]]


def test_pairs_decimal_comma():
    decoder = pairs("t1", "t2", decimal=",")
    assert numbers(after_open(decoder, b"t1=41,2 t2=42,5\n")) == [[41.2, 42.5]]


def test_unstated_decimal_comma_never_loses_its_tenths():
    items = after_open(pairs("t1", "t2"), b"t1=41,2 t2=42,5\n")
    assert numbers(items) == []
    assert "has no name" in reasons(items)[0]


@pytest.mark.parametrize(
    "text", ["t1= t2=42.5", "t1=,t2=42.5", "t1: t2: 42.5", "t2=42.5 t1=", "t1=nan t2=42.5"]
)
def test_empty_pair_is_refused_by_name_and_the_other_kept(text):
    items = after_open(pairs("t1", "t2"), text.encode() + b"\n")
    assert numbers(items) == [[42.5]]
    assert reasons(items)[0].startswith("field 't1': no value")


def test_missing_pair_is_refused_by_name():
    items = after_open(pairs("t1", "t2"), b"t2=42.5\n")
    assert reasons(items) == ["field 't1': missing from the line"]


def test_two_lines_run_together_are_refused():
    items = after_open(pairs("t1"), b"t1=41.2 t1=42.5\n")
    assert numbers(items) == []
    assert "twice" in reasons(items)[0]


# --- JSON ------------------------------------------------------------------------------------


def test_json_keys_paths_and_units():
    decoder = LineDecoder(Format.JSON, ["t1", "probes.1", "deep.t", "a.b"])
    line = '{"t1": 41.2, "probes": [1, "42.5 C"], "deep": {"t": -3e0}, "a.b": 7, "more": true}'
    (item,) = after_open(decoder, line.encode() + b"\n")
    assert item == Line(
        values=(
            LineValue(0, 41.2, None),
            LineValue(1, 42.5, "degC"),
            LineValue(2, -3.0, None),
            LineValue(3, 7.0, None),
        )
    )


def test_json_list_by_index():
    decoder = LineDecoder(Format.JSON, [1, 0])
    items = after_open(decoder, b'[41.2, " 42.5 "]\n[41.3]\n')
    assert numbers(items) == [[42.5, 41.2], [41.3]]
    assert reasons(items) == ["field 1: missing from the line"]


@pytest.mark.parametrize(
    "value", ["NaN", "-Infinity", "null", "true", "1e400", '"41,2"', "{}", '""']
)
def test_json_field_that_is_no_number_is_refused_alone(value):
    decoder = LineDecoder(Format.JSON, ["t1", "t2"])
    items = after_open(decoder, f'{{"t1": {value}, "t2": 42.5}}\n'.encode())
    assert numbers(items) == [[42.5]]
    assert reasons(items)[0].startswith("field 't1'")


@pytest.mark.parametrize(
    "line",
    [
        pytest.param('{"t1": 41.2', id="cut short"),
        pytest.param('{"t1": 41.2, "t1": 42.5}', id="key twice"),
        pytest.param("[" * 1000, id="nested past the parser's depth"),
        pytest.param("{'t1': 41.2}", id="single quotes"),
    ],
)
def test_json_line_that_cannot_be_read_is_refused(line):
    decoder = LineDecoder(Format.JSON, ["t1"])
    items = after_open(decoder, line.encode() + b'\n{"t1": 9}\n')
    assert numbers(items) == [[9.0]]
    assert len(reasons(items)) == 1


def test_json_boot_text_is_a_heading_and_a_bare_number_is_not():
    decoder = LineDecoder(Format.JSON, ["t1"])
    assert after_open(decoder, b"ready\n") == []
    assert len(reasons(after_open(decoder, b"41.2\n"))) == 1
    assert decoder.skipped == 1


# --- options ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("format", "fields", "options"),
    [
        (Format.CSV, [], {}),
        (Format.CSV, ["t1"], {}),
        (Format.CSV, [-1], {}),
        (Format.CSV, [3], {"columns": 3}),
        (Format.CSV, [0], {"decimal": ","}),
        (Format.CSV, [0], {"decimal": ",", "separator": ","}),
        (Format.CSV, [0], {"separator": ""}),
        (Format.CSV, [0], {"separator": "e"}),
        (Format.CSV, [0], {"decimal": "'"}),
        (Format.JSON, ["t1"], {"decimal": ","}),
        (Format.PAIRS, [0], {}),
    ],
)
def test_options_that_contradict_each_other_are_refused(format, fields, options):
    with pytest.raises(DataError):
        LineDecoder(format, fields, **options)


# --- properties ------------------------------------------------------------------------------

NOISE = [
    lambda rng: rng.randbytes(rng.randrange(80)),
    lambda rng: bytes(
        rng.choices(b'0123456789.,;:=+-eE# \t"{}[]CFtn\xc2\xb0\r\n', k=rng.randrange(80))
    ),
]


@pytest.mark.parametrize(
    "make",
    [
        lambda: csv(0, 1),
        lambda: csv(0, separator=";", decimal=","),
        lambda: pairs("t", "n"),
        lambda: LineDecoder(Format.JSON, ["t", "n.0"]),
    ],
    ids=["csv", "csv-comma", "pairs", "json"],
)
def test_20000_random_strings_raise_nothing_and_yield_nothing_infinite(make):
    rng = random.Random(2)
    decoder, taken, refused = make(), 0, 0
    for number in range(20_000):
        for item in decoder.feed(NOISE[number % 2](rng) + b"\n"):
            if isinstance(item, Line):
                taken += len(item.values)
                assert all(math.isfinite(value.value) for value in item.values)
            else:
                refused += 1
                assert item.reason.isprintable()
                assert item.excerpt.isascii()
    assert refused > 10_000  # the noise did reach the decoder


finite = st.floats(-1e6, 1e6).map(lambda value: round(value, 3))


@given(
    rows=st.lists(st.lists(finite, min_size=3, max_size=3), max_size=8),
    end=st.sampled_from(["\n", "\r", "\r\n"]),
)
@settings(max_examples=EXAMPLES, derandomize=True, deadline=None)
def test_what_was_written_is_read_in_every_format(rows, end):
    names = ["a", "b", "c"]
    written = {
        Format.CSV: [",".join(map(repr, row)) for row in rows],
        Format.PAIRS: [
            " ".join(f"{n}={v!r}" for n, v in zip(names, row, strict=True)) for row in rows
        ],
        Format.JSON: [json.dumps(dict(zip(names, row, strict=True))) for row in rows],
    }
    for format, lines in written.items():
        decoder = LineDecoder(format, [0, 1, 2] if format is Format.CSV else names)
        items = after_open(decoder, "".join(line + end for line in lines).encode())
        assert numbers(items) == rows
        assert len(items) == len(rows)
