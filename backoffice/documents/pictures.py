"""A photo from outside, made anew: upright, not larger than paper needs, and with nothing in it but what is seen."""

import struct
import warnings
from io import BytesIO

from PIL import Image, ImageOps

FORMATS = ("JPEG", "PNG", "WEBP")
LONGEST_SIDE = 3600  # a letter page at 300 points an inch is 3300 long
QUALITY = 85
BROKEN = "This photo is broken and cannot be opened. Take it again."
# What Pillow raises for a file that is not what it says
UNREADABLE = (OSError, SyntaxError, ValueError, TypeError, KeyError, IndexError, EOFError, OverflowError, struct.error)


def made_anew(content: bytes, *, pixels: int) -> bytes:
    """The photo as a JPEG without any metadata. ValueError, with a sentence, when it is broken or too large."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a fault in the metadata, which is dropped anyway
        try:
            with Image.open(BytesIO(content), formats=FORMATS) as picture:
                is_too_large = picture.width * picture.height > pixels
                redrawn = b"" if is_too_large else _redrawn(picture)
        except (*UNREADABLE, Image.DecompressionBombError):
            raise ValueError(BROKEN) from None
    if is_too_large:
        raise ValueError(f"This photo has more than {pixels // 1_000_000} million points. Take a smaller one.")
    return redrawn


def _redrawn(picture: Image.Image) -> bytes:
    upright = ImageOps.exif_transpose(picture)
    upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    if upright.has_transparency_data:
        ground = Image.new("RGBA", upright.size, "white")
        upright = Image.alpha_composite(ground, upright.convert("RGBA"))
    bare = Image.new("RGB", upright.size)
    bare.paste(upright.convert("RGB"))
    written = BytesIO()
    bare.save(written, "JPEG", quality=QUALITY)
    return written.getvalue()
