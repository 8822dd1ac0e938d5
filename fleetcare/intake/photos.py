"""Pictures from phones: read strictly, turned upright, made smaller, written anew without anything but the picture.

What a phone writes beside the picture (place, time, device, a small copy of it) is not carried over: only the points of
the picture itself go into the new file.
"""

from __future__ import annotations

import warnings
from io import BytesIO

from PIL import Image, ImageOps, UnidentifiedImageError

from fleetcare.errors import BadPhoto, shown
from fleetcare.language import saying

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
            saying("{name} is larger than {megabytes} MB.", name=shown(name, 60), megabytes=MOST_BYTES // 1_000_000),
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
                        saying(
                            "{name} has {width} by {height} points.",
                            name=shown(name, 60),
                            width=given.width,
                            height=given.height,
                        ),
                        remedy="Send a smaller one.",
                        field="photo",
                    )
                given.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))
                upright = ImageOps.exif_transpose(given)
                bare = _on_white(upright)
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, EOFError, OverflowError) as trouble:
        raise BadPhoto(
            saying("{name} is no photo that can be read.", name=shown(name, 60)),
            remedy="Send a JPEG, PNG or WebP picture.",
            field="photo",
        ) from trouble
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as trouble:
        raise BadPhoto(
            saying("{name} says it is larger than any photo.", name=shown(name, 60)),
            remedy="Send a smaller one.",
            field="photo",
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
        raise BadPhoto(
            saying("{name} is no photo that can be read.", name=shown(name, 60)), remedy="Take it away."
        ) from trouble
    if not is_bare or not fits:
        raise BadPhoto(
            saying("{name} carries more than a picture, or is too large.", name=shown(name, 60)),
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
