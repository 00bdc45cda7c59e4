"""Read a picture of a stranger, and return it without what its camera wrote.

Read in a process of its own (school.file_reader); knows neither Django nor the database. The picture is drawn again, so
that nothing of the file but its dots is left: no place, no time, no make of the camera, no hidden bytes.
"""

import base64
from io import BytesIO
from typing import Any

from PIL import Image, ImageOps

# A phone's picture has 12 to 50 million dots. A PNG is unpacked whole, a JPEG at a part of its size.
MAX_DOTS = {"JPEG": 60_000_000, "PNG": 25_000_000}
LONGEST_EDGE = 2400  # dots: a page of A4 at some 200 to the inch
JPEG_QUALITY = 85
# Above this a picture is a photograph, whatever form it came in.
MAX_PNG_BYTES = 2 * 2**20

CUT = "The file ends before its end, or is damaged: take the picture again, or send the file again."
TOO_MANY_DOTS = "The picture has {dots:.0f} million dots, and {most} million are the most: take it with a smaller size."


class PictureRefused(ValueError):
    """The file cannot be kept; the message is a sentence for the person."""


def read_jpeg(content: bytes) -> dict[str, str]:
    return _read_picture(content, "JPEG")


def read_png(content: bytes) -> dict[str, str]:
    return _read_picture(content, "PNG")


def _read_picture(content: bytes, form: str) -> dict[str, str]:
    """Return `media_type` and `content` in base64, or `refused` with a sentence."""
    try:
        media_type, cleaned = _draw_again(content, form)
    except PictureRefused as refused:
        return {"refused": str(refused)}
    return {"media_type": media_type, "content": base64.b64encode(cleaned).decode()}


def _draw_again(content: bytes, form: str) -> tuple[str, bytes]:
    """Return a picture of the same dots, upright and no larger than needed."""
    # Asked below, with a sentence.
    Image.MAX_IMAGE_PIXELS = None
    try:
        # By this one reader: others of the library are not for strangers.
        picture = Image.open(BytesIO(content), formats=(form,))
        if (dots := picture.width * picture.height) > MAX_DOTS[form]:
            raise PictureRefused(TOO_MANY_DOTS.format(dots=dots / 1e6, most=MAX_DOTS[form] // 10**6))
        # A large JPEG is read at a half, a quarter or an eighth of its size: the memory of this process is bounded.
        picture.draft(None, (LONGEST_EDGE, LONGEST_EDGE))
        picture.load()
        upright = ImageOps.exif_transpose(picture)
    except PictureRefused:
        raise
    except (OSError, SyntaxError, ValueError) as damaged:  # what the library raises over bytes that are no picture
        raise PictureRefused(CUT) from damaged
    upright.thumbnail((LONGEST_EDGE, LONGEST_EDGE))
    flat = _flatten(upright)
    # What the library would carry over: profile, comment, what the camera wrote.
    flat.info = {}
    if form == "PNG" and len(png := _save(flat, "PNG")) <= MAX_PNG_BYTES:
        return "image/png", png
    return "image/jpeg", _save(flat, "JPEG", quality=JPEG_QUALITY)


def _flatten(picture: Image.Image) -> Image.Image:
    """Return grey or coloured dots on white: a document has no holes."""
    if picture.mode == "L":
        return picture.copy()
    if not picture.has_transparency_data:
        return picture.convert("RGB")
    white = Image.new("RGBA", picture.size, "white")
    return Image.alpha_composite(white, picture.convert("RGBA")).convert("RGB")


def _save(picture: Image.Image, form: str, **how: Any) -> bytes:
    out = BytesIO()
    picture.save(out, form, **how)
    return out.getvalue()
