"""Letters as files: whole or not there, never one over another."""

from __future__ import annotations

import email
import os
import re
import stat
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetcare.errors import DeliveryFailed
from fleetcare.mailer.folder import FolderMailer, file_name_for
from tests.mailer.letters import LETTER, TO, message

RAW = message()


def _names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_a_letter_is_a_file_named_after_its_day_and_its_reader(tmp_path: Path) -> None:
    folder = tmp_path / "home" / "letters"
    answer = FolderMailer(folder).send(RAW, TO)
    (name,) = _names(folder)
    assert re.fullmatch(r"2026-04-14T050000-teo-[0-9a-f]{12}\.eml", name)
    assert answer == f"written as {name}"
    assert (folder / name).read_bytes() == RAW
    assert email.message_from_bytes((folder / name).read_bytes())["Subject"] == LETTER.subject


def test_the_same_letter_again_stays_one_file(tmp_path: Path) -> None:
    mailer = FolderMailer(tmp_path)
    first = mailer.send(RAW, TO)
    assert mailer.send(RAW, TO) == first.replace("written", "there already")
    assert len(_names(tmp_path)) == 1
    mailer.finish()


def test_another_letter_never_writes_over_one(tmp_path: Path) -> None:
    mailer = FolderMailer(tmp_path)
    mailer.send(RAW, TO)
    mailer.send(message(replace(LETTER, plain="Another.\n")), TO)
    mailer.send(message(message_id="<other@karstridge.example>"), TO)
    names = _names(tmp_path)
    assert len(names) == 3
    assert sum(name.endswith("-2.eml") for name in names) == 1
    assert {(tmp_path / name).read_bytes() for name in names} >= {RAW}


@pytest.mark.skipif(os.name != "posix", reason="file modes are a matter of POSIX")
def test_only_the_owner_may_read_it(tmp_path: Path) -> None:
    FolderMailer(tmp_path).send(RAW, TO)
    (name,) = _names(tmp_path)
    assert stat.S_IMODE((tmp_path / name).stat().st_mode) == 0o600


def test_a_folder_that_cannot_be_written_is_tried_again_later(tmp_path: Path) -> None:
    in_the_way = tmp_path / "letters"
    in_the_way.write_text("a file, not a folder")
    with pytest.raises(DeliveryFailed, match="letters") as caught:
        FolderMailer(in_the_way).send(RAW, TO)
    assert not caught.value.permanent


@settings(deadline=None)
@given(mail=st.text(max_size=80), raw=st.binary(max_size=300))
def test_a_file_name_never_holds_a_path(mail: str, raw: bytes) -> None:
    for octets in (raw, RAW, b"Date: " + raw + b"\r\nMessage-ID: " + raw + b"\r\n\r\n"):
        assert re.fullmatch(r"[a-zA-Z0-9][a-zA-Z0-9.-]{10,100}", file_name_for(octets, mail))
        assert file_name_for(octets, mail) == file_name_for(octets, mail)
