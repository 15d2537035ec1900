"""A photograph as it is kept: a plain JPEG without place, camera or anything else beside it."""

from dataclasses import dataclass
from hashlib import sha256
from io import BytesIO

from PIL import Image, ImageOps, UnidentifiedImageError

from config.errors import DomainError
from config.sentence import Sentence

FORMATS = ("JPEG", "PNG", "WEBP")
MOST_BYTES = 20_000_000
MOST_PIXELS = 80_000_000
"""A picture that unpacks to more is refused before it is unpacked."""

SIDE_PX = 1600
"""Of what is kept: a floor of 4 m shows 2.5 mm to a pixel, finer than any tape."""

QUALITY = 80


class UnusablePhoto(DomainError):
    """A file that is no photograph which could be kept."""

    slug = "photo-not-usable"


@dataclass(frozen=True, slots=True, kw_only=True)
class Photo:
    """A JPEG of at most SIDE_PX a side, upright, and the SHA-256 of its bytes."""

    jpeg: bytes
    digest: str
    width_px: int
    height_px: int


def cleaned(data: bytes) -> Photo:
    """Return what is kept of an uploaded picture: its pixels, written anew.

    Raises UnusablePhoto for a file that is too large, unpacks to too much, or is no picture.
    """
    if len(data) > MOST_BYTES:
        raise UnusablePhoto(
            Sentence("This file has more than {most} MB.", most=MOST_BYTES // 1_000_000),
            pointer="#/image",
        )
    too_large = UnusablePhoto(Sentence("This picture has too many pixels."), pointer="#/image")
    try:
        with Image.open(BytesIO(data), formats=FORMATS) as opened:
            if opened.width * opened.height > MOST_PIXELS:
                raise too_large
            upright = ImageOps.exif_transpose(opened).convert("RGB")
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as bomb:
        raise too_large from bomb
    except (UnidentifiedImageError, OSError, SyntaxError) as broken:
        raise UnusablePhoto(
            Sentence("This is no photo that can be read. Send a JPEG, PNG or WebP."),
            pointer="#/image",
        ) from broken
    upright.thumbnail((SIDE_PX, SIDE_PX))
    # Pixels only: what a picture carries beside them would be written again by its own save.
    plain = Image.new("RGB", upright.size)
    plain.paste(upright)
    file = BytesIO()
    plain.save(file, "JPEG", quality=QUALITY, optimize=True)
    jpeg = file.getvalue()
    return Photo(
        jpeg=jpeg,
        digest=sha256(jpeg).hexdigest(),
        width_px=plain.width,
        height_px=plain.height,
    )
