"""A photo of a candle, as it is entered: its words, and the picture written anew."""

import io
import struct
from datetime import datetime

from logger.burn import entries
from logger.burn.entries import Entry
from logger.errors import DataError
from logger.intake.bodies import BurnBody, example
from logger.intake.fields import Line

LONGEST_PX = 1600  # of either side, as kept: a wick is seen, a record stays small (ours)
MOST_PIXELS = 64_000_000  # of a picture that is read at all; phones take 12 to 50 million
MOST_BYTES = 24 * 2**20  # of a file; phones send 2 to 12 MB (our choice)
SENT_WITHIN_S = 120.0  # of being taken: whoever sends it is at the candle still (our choice)
QUALITY = 82  # JPEG: no artefact is seen at arm's length (our choice)

_FORMATS = ("JPEG", "PNG", "WEBP")
# Pillow's, for files that are cut or made up
_UNREADABLE = (OSError, ValueError, SyntaxError, EOFError, struct.error, TypeError, IndexError)
_NO_PICTURE = (
    "photo: this is no picture that can be read; send a JPEG, PNG or WebP file, as the camera of "
    "a phone makes"
)


class PhotoBody(BurnBody):
    """A photo of the candle, as a file `photo` beside these fields (multipart/form-data)."""

    model_config = example(text="soot at 9 o'clock", by="Ines")

    text: Line = ""

    def of(self, name: str, now_s: float, station: str, taken_s: float | None = None) -> Entry:
        """As the core takes it; `name` is that of the kept picture, `taken_s` what its camera says.

        One that was chosen among earlier ones shows nobody at the candle, and so does one without.
        """
        stamps = self.stamps(now_s)
        at_candle = taken_s is not None and abs(taken_s - stamps["at_s"]) <= SENT_WITHIN_S
        return entries.Photographed(
            **stamps, station=station, photo=name, text=self.text, at_candle=at_candle
        )

    def entry(self, now_s: float, station: str) -> Entry:
        """Raises DataError: without its picture it is none."""
        raise DataError("photo: send the picture as a file, in multipart/form-data")


def taken_s(raw: bytes) -> float | None:
    """When its camera says that it took the picture in `raw`; None where it tells no zone.

    Source: CIPA DC-008 (Exif 2.31 and later), DateTimeOriginal and OffsetTimeOriginal.
    """
    from PIL import ExifTags, Image

    try:
        with Image.open(io.BytesIO(raw), formats=_FORMATS) as image:
            told = image.getexif().get_ifd(ExifTags.IFD.Exif)
        at = f"{told[ExifTags.Base.DateTimeOriginal]}{told[ExifTags.Base.OffsetTimeOriginal]}"
        return datetime.strptime(at, "%Y:%m:%d %H:%M:%S%z").timestamp()
    except (KeyError, *_UNREADABLE):
        return None


def re_encoded(raw: bytes) -> bytes:
    """The picture in `raw` as a JPEG of at most `LONGEST_PX`, upright.

    Only its pixels are taken over: no place, time, device or other words that a camera adds.
    Raises DataError for what is no picture, or one that is too large to be read.
    """
    from PIL import Image, ImageOps  # few burns have a photo; a start of the bench need not wait

    if len(raw) > MOST_BYTES:
        raise DataError(f"photo: larger than {MOST_BYTES // 2**20} MB; send a smaller one")
    try:
        with Image.open(io.BytesIO(raw), formats=_FORMATS) as image:
            if image.width * image.height > MOST_PIXELS:
                raise DataError(_too_large(image.width, image.height))
            image.draft("RGB", (LONGEST_PX, LONGEST_PX))  # of a JPEG: no more is decoded
            upright = ImageOps.exif_transpose(image).convert("RGB")
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        raise DataError("photo: it has far too many pixels; send a smaller one") from None
    except _UNREADABLE:
        raise DataError(_NO_PICTURE) from None
    upright.thumbnail((LONGEST_PX, LONGEST_PX))
    bare = Image.frombytes("RGB", upright.size, upright.tobytes())
    out = io.BytesIO()
    bare.save(out, "JPEG", quality=QUALITY, optimize=True)
    return out.getvalue()


def _too_large(width: int, height: int) -> str:
    return (
        f"photo: {width} x {height} pixels are more than {MOST_PIXELS // 1_000_000} million; "
        "send a smaller one"
    )
