"""Photos: what is taken over of a picture, what is refused, and the files they are kept in."""

import io
import os
import random
import stat
from contextlib import suppress

import pytest
from PIL import Image

from logger.errors import DataError, NotKnown
from logger.intake.photo_bodies import LONGEST_PX, MOST_BYTES, PhotoBody, re_encoded, taken_s
from logger.store import photos
from logger.store.opening import FILE_NAME
from logger.timestamps import parse_rfc3339

PLACE = "Bench of Ines"
GPS = 0x8825  # GPSInfo, EXIF 2.32, 4.6.3
ORIENTATION = 0x0112


def picture(size=(400, 300), kind="JPEG", colour=(180, 90, 30), *, orientation=1, **more):
    image = Image.new("RGB", size, colour)
    image.putpixel((0, 0), (0, 0, 255))
    exif = Image.Exif()
    exif[ORIENTATION] = orientation
    exif[0x010E] = PLACE  # ImageDescription
    exif.get_ifd(GPS).update({1: "N", 2: (51.0, 3.0, 2.0), 3: "E", 4: (12.0, 20.0, 9.0)})
    out = io.BytesIO()
    image.save(out, kind, exif=exif, **more)
    return out.getvalue()


def taken(at, zone):
    exif = Image.Exif()
    exif.get_ifd(0x8769).update({0x9003: at, 0x9011: zone})  # CIPA DC-008: Exif IFD and its tags
    out = io.BytesIO()
    Image.new("RGB", (40, 30)).save(out, "JPEG", exif=exif)
    return out.getvalue()


@pytest.mark.parametrize(
    ("raw", "at_candle"),
    [
        pytest.param(taken("2031:05:04 11:00:00", "+02:00"), True, id="just now"),
        pytest.param(taken("2031:05:04 10:00:00", "+02:00"), False, id="an hour ago"),
        pytest.param(taken("2031:05:04 11:00:00", ""), False, id="no zone"),
        pytest.param(taken("2031:05:04 25:00:00", "+02:00"), False, id="no time"),
        pytest.param(picture(), False, id="nothing"),
        pytest.param(picture(kind="PNG"), False, id="no camera"),
    ],
)
def test_whoever_sends_what_was_taken_just_now_is_at_the_candle(raw, at_candle):
    sent_s = parse_rfc3339("2031-05-04T09:01:30Z")
    entry = PhotoBody(id="photo-0001").of("0" * 64, sent_s, "jar-a", taken_s(raw))
    assert entry.at_candle is at_candle


def segments(jpeg):
    """The markers before the picture's data, after ITU-T T.81, annex B."""
    assert jpeg[:2] == b"\xff\xd8"
    at, found = 2, []
    while jpeg[at + 1] != 0xDA:  # start of scan
        assert jpeg[at] == 0xFF
        found.append(jpeg[at + 1])
        at += 2 + int.from_bytes(jpeg[at + 2 : at + 4])
    return found


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_only_the_pixels_are_taken_over(kind):
    raw = picture(kind=kind)
    assert PLACE.encode() in raw
    made = re_encoded(raw)
    assert PLACE.encode() not in made
    assert b"Exif" not in made
    applications = {marker for marker in segments(made) if 0xE0 <= marker <= 0xEF}
    assert applications == {0xE0}  # JFIF alone: EXIF would be APP1, colour profiles APP2
    assert 0xFE not in segments(made)  # no comment
    assert Image.open(io.BytesIO(made)).size == (400, 300)


def test_it_stands_upright_and_is_no_larger_than_needed():
    upright = Image.open(io.BytesIO(re_encoded(picture((4000, 3000), orientation=6))))
    assert upright.size == (1200, LONGEST_PX)
    small = Image.open(io.BytesIO(re_encoded(picture((30, 20)))))
    assert small.size == (30, 20)


def bomb(width, height):
    """A PNG of a few hundred bytes that says it has so many pixels."""
    raw = bytearray(picture((8, 8), "PNG"))
    raw[16:24] = width.to_bytes(4) + height.to_bytes(4)
    import zlib

    raw[29:33] = zlib.crc32(bytes(raw[12:29])).to_bytes(4)
    return bytes(raw)


@pytest.mark.parametrize(
    ("raw", "says"),
    [
        pytest.param(b"", "no picture", id="nothing"),
        pytest.param(b"GIF89a" + bytes(40), "no picture", id="another format"),
        pytest.param(b"<svg xmlns='http://www.w3.org/2000/svg'/>", "no picture", id="drawing"),
        pytest.param(picture()[:500], "no picture", id="cut off"),
        pytest.param(bomb(9000, 8000), "more than 64 million", id="72 million pixels"),
        pytest.param(bomb(60_000, 60_000), "far too many pixels", id="a bomb"),
        pytest.param(bytes(MOST_BYTES + 1), "larger than 24 MB", id="too long"),
    ],
)
def test_what_is_no_picture_is_refused_in_words(raw, says):
    with pytest.raises(DataError, match=says):
        re_encoded(raw)


@pytest.mark.filterwarnings("ignore::UserWarning")  # the library's, of what it skips
def test_damaged_pictures_are_refused_or_read_and_nothing_else():
    rng = random.Random(5)
    whole = {kind: picture(kind=kind) for kind in ("JPEG", "PNG", "WEBP")}
    for _ in range(300):
        raw = bytearray(whole[rng.choice([*whole])])
        for _ in range(rng.randint(1, 20)):
            raw[rng.randrange(len(raw))] = rng.randrange(256)
        with suppress(DataError):
            assert re_encoded(bytes(raw))[:2] == b"\xff\xd8"


def test_it_is_kept_for_its_owner_alone_under_the_name_of_its_content(tmp_path):
    jpeg = re_encoded(picture())
    name = photos.keep(tmp_path, jpeg)
    assert photos.keep(tmp_path, jpeg) == name
    (file,) = (tmp_path / "photos").iterdir()
    assert file.name == f"{name}.jpg"
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert stat.S_IMODE(file.parent.stat().st_mode) == 0o700
    assert photos.load(tmp_path / FILE_NAME, name) == jpeg
    for other in ("0" * 64, "../bench.sqlite3", ""):
        with pytest.raises(NotKnown):
            photos.load(tmp_path / FILE_NAME, other)
    file.write_bytes(jpeg[:-9])
    with pytest.raises(DataError, match="damaged"):
        photos.load(tmp_path / FILE_NAME, name)


def test_sent_twice_at_once_it_is_kept_once(tmp_path, monkeypatch):
    jpeg, fsync = re_encoded(picture()), os.fsync

    def meanwhile(file):  # an answer was lost, and the page sends it again before it is written
        monkeypatch.setattr(os, "fsync", fsync)
        photos.keep(tmp_path, jpeg)
        fsync(file)

    monkeypatch.setattr(os, "fsync", meanwhile)
    name = photos.keep(tmp_path, jpeg)
    assert [one.name for one in (tmp_path / "photos").iterdir()] == [f"{name}.jpg"]
    assert photos.load(tmp_path / FILE_NAME, name) == jpeg
