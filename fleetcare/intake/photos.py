"""Pictures from phones: read strictly, turned upright, made smaller, written anew without anything but the picture.

What a phone writes beside the picture (place, time, device, a small copy of it) is not carried over: only the points of
the picture itself go into the new file.
"""

from __future__ import annotations

import warnings
from io import BytesIO

from PIL import Image, ImageOps, UnidentifiedImageError

from fleetcare.errors import BadPhoto, shown

MOST_BYTES = 20_000_000
"""Of a picture as it comes; phones make some 3 to 12 MB."""
MOST_POINTS = 120_000_000
"""Of a picture as it comes; more is no phone's."""
LONGEST_SIDE = 2048
"""In points, of a picture as it is kept: a crack is still seen, and a hundred of them fit into some 60 MB."""
QUALITY = 82
_KINDS = ("JPEG", "PNG", "WEBP")


def clean_photo(raw: bytes, name: str) -> bytes:
    """The picture as a JPEG of at most LONGEST_SIDE points a side, upright, without place, time or device.

    name: of the file, for messages alone. Raises BadPhoto, by name, for what is no picture, is broken or too large. The
    same bytes in give the same bytes out.
    """
    if len(raw) > MOST_BYTES:
        raise BadPhoto(
            f"{shown(name, 60)} is larger than {MOST_BYTES // 1_000_000} MB.",
            remedy="Send a smaller one.",
            field="photo",
        )
    try:
        with warnings.catch_warnings():
            # A picture that says it is huge is refused, not warned of.
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(BytesIO(raw), formats=_KINDS) as given:
                if given.width * given.height > MOST_POINTS or not given.width or not given.height:
                    raise BadPhoto(
                        f"{shown(name, 60)} has {given.width} by {given.height} points.",
                        remedy="Send a smaller one.",
                        field="photo",
                    )
                given.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))
                upright = ImageOps.exif_transpose(given)
                bare = _on_white(upright)
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, EOFError, OverflowError) as trouble:
        raise BadPhoto(
            f"{shown(name, 60)} is no photo that can be read.",
            remedy="Send a JPEG, PNG or WebP picture.",
            field="photo",
        ) from trouble
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as trouble:
        raise BadPhoto(
            f"{shown(name, 60)} says it is larger than any photo.", remedy="Send a smaller one.", field="photo"
        ) from trouble
    bare.thumbnail((LONGEST_SIDE, LONGEST_SIDE), Image.Resampling.LANCZOS)
    out = BytesIO()
    bare.save(out, "JPEG", quality=QUALITY)
    return out.getvalue()


def checked_photo(raw: bytes, name: str) -> bytes:
    """A picture that was kept in another home, as it is. Raises BadPhoto if it is none, or carries more than points."""
    try:
        with Image.open(BytesIO(raw), formats=("JPEG",)) as given:
            given.load()
            is_bare = not given.getexif() and not {"exif", "comment", "xmp", "icc_profile"} & set(given.info)
            fits = max(given.size) <= LONGEST_SIDE and len(raw) <= MOST_BYTES
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError) as trouble:
        raise BadPhoto(f"{shown(name, 60)} is no photo that can be read.", remedy="Take it away.") from trouble
    if not is_bare or not fits:
        raise BadPhoto(
            f"{shown(name, 60)} carries more than a picture, or is too large.",
            remedy="Bring it in with a sheet instead, which makes it clean.",
        )
    return raw


def _on_white(picture: Image.Image) -> Image.Image:
    """The points alone, as RGB on white; whatever else the picture carried stays behind."""
    if picture.mode in ("RGBA", "LA", "PA") or "transparency" in picture.info:
        clear = picture.convert("RGBA")
        ground = Image.new("RGB", clear.size, "white")
        ground.paste(clear, mask=clear.getchannel("A"))
        return ground
    plain = Image.new("RGB", picture.size)
    plain.paste(picture.convert("RGB"))
    return plain
