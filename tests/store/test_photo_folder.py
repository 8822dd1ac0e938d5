"""Photos lie in the home under names that follow from what is in them, whole or not at all."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest

from fleetcare.errors import NotFound, StoreTrouble
from fleetcare.store.photo_folder import PhotoFolder


def test_a_picture_is_kept_once_under_the_hash_of_its_bytes(tmp_path: Path) -> None:
    shelf = PhotoFolder(tmp_path / "photos")
    assert shelf.names() == ()
    name = shelf.keep(b"\xff\xd8one")
    assert name == hashlib.sha256(b"\xff\xd8one").hexdigest()
    assert shelf.keep(b"\xff\xd8one") == name
    other = shelf.keep(b"\xff\xd8two")
    assert shelf.names() == tuple(sorted((name, other)))
    assert shelf.picture(name) == b"\xff\xd8one"
    assert sorted(path.suffix for path in (tmp_path / "photos").iterdir()) == [".jpg", ".jpg"]


@pytest.mark.parametrize("name", ["", "..", "../settings.toml", "a" * 63, "A" * 64, "a" * 64, "a" * 64 + "\n"])
def test_only_a_picture_that_is_there_is_given_out(tmp_path: Path, name: str) -> None:
    (tmp_path / "settings.toml").write_text("secret", encoding="utf-8")
    shelf = PhotoFolder(tmp_path / "photos")
    shelf.keep(b"x")
    with pytest.raises(NotFound):
        shelf.picture(name)


def test_a_folder_that_cannot_be_made_is_said(tmp_path: Path) -> None:
    (tmp_path / "photos").write_text("a file stands in its place", encoding="utf-8")
    with pytest.raises(StoreTrouble, match="could not be kept"):
        PhotoFolder(tmp_path / "photos").keep(b"x")
