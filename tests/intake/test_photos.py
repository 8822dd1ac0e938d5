"""Photos are read strictly, made smaller, and written anew without place, time or device."""

from __future__ import annotations

from io import BytesIO

import pytest
from PIL import Image

from fleetcare.errors import BadPhoto
from fleetcare.intake import photos
from fleetcare.intake.photos import LONGEST_SIDE, clean_photo

GPS, MAKE, ORIENTATION, TIME = 0x8825, 0x010F, 0x0112, 0x0132


def taken(size: tuple[int, int] = (60, 40), kind: str = "JPEG", orientation: int = 1, colour: str = "grey") -> bytes:
    """A picture with place, device, time and a comment beside it."""
    exif = Image.Exif()
    exif[MAKE] = "A phone of somebody"
    exif[TIME] = "2026:04:14 09:00:00"
    exif[ORIENTATION] = orientation
    exif.get_ifd(GPS)[2] = (39.0, 44.0, 21.0)
    out = BytesIO()
    picture = Image.new("RGB", size, colour)
    picture.putpixel((0, 0), (255, 0, 0))
    picture.save(out, kind, exif=exif, **({"comment": b"at home"} if kind == "JPEG" else {}))
    return out.getvalue()


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_nothing_but_the_picture_is_carried_over(kind: str) -> None:
    raw = taken(kind=kind)
    assert b"A phone of somebody" in raw
    clean = clean_photo(raw, "magnet.jpg")
    with Image.open(BytesIO(clean)) as picture:
        assert picture.format == "JPEG"
        assert picture.size == (60, 40)
        assert len(picture.getexif()) == 0
        assert not {"exif", "comment", "icc_profile", "xmp"} & set(picture.info)
    for trace in (b"A phone of somebody", b"2026:04:14", b"at home", b"Exif"):
        assert trace not in clean
    assert clean_photo(raw, "magnet.jpg") == clean, "the same picture in gives the same bytes out"


def test_a_picture_taken_sideways_stands_upright() -> None:
    with Image.open(BytesIO(clean_photo(taken((60, 40), orientation=6), "x"))) as picture:
        assert picture.size == (40, 60)


def test_a_large_picture_is_made_smaller_and_keeps_its_shape() -> None:
    with Image.open(BytesIO(clean_photo(taken((4000, 3000)), "x"))) as picture:
        assert picture.size == (LONGEST_SIDE, LONGEST_SIDE * 3 // 4)


def test_what_is_see_through_lies_on_white() -> None:
    out = BytesIO()
    Image.new("RGBA", (8, 8), (0, 0, 0, 0)).save(out, "PNG")
    with Image.open(BytesIO(clean_photo(out.getvalue(), "x"))) as picture:
        assert picture.getpixel((4, 4)) == (255, 255, 255)


def _gif() -> bytes:
    out = BytesIO()
    Image.new("P", (8, 8)).save(out, "GIF")
    return out.getvalue()


@pytest.mark.parametrize(
    "raw",
    [b"", b"hello", b"\xff\xd8\xff\xe0", taken()[:200], b"%PDF-1.4", b"<svg xmlns='x'/>", _gif(), b"\x89PNG\r\n\x1a\n"],
    ids=["empty", "text", "head alone", "cut off", "pdf", "svg", "gif", "png head"],
)
def test_what_is_no_photo_is_refused_by_name(raw: bytes) -> None:
    with pytest.raises(BadPhoto, match=r"“holiday\.jpg” is no photo that can be read"):
        clean_photo(raw, "holiday.jpg")


def test_what_is_too_large_is_refused_before_it_is_unpacked(monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(BadPhoto, match="larger than 20 MB"):
        clean_photo(b"x" * (photos.MOST_BYTES + 1), "x")
    out = BytesIO()
    Image.new("1", (30_000, 30_000)).save(out, "PNG")
    assert len(out.getvalue()) < 1_000_000, "a small file that unpacks to a huge picture"
    with pytest.raises(BadPhoto, match="Send a smaller one"):
        clean_photo(out.getvalue(), "bomb.png")
