"""Of an answer counts what its writer typed: nothing quoted, no signature, and nothing that a program sent."""

from __future__ import annotations

from email.message import EmailMessage
from email.policy import SMTP

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.fleet.reply_address import ReplyAddresses
from fleetcare.mail_in.answer import MailedAnswer, read_answer
from fleetcare.mail_in.said import lines_said, text_of_html

KEY = "abcdefghijklmnopqrstuvwxyz234567"
ADDRESSES = ReplyAddresses("readings+{key}@garage.example")

LETTER = "Teo, Bellows wants its odometer read.\n\nEnter Bellows' reading:\n  https://garage.example/o/k3y\n84 010\n"
QUOTED = "".join(f"> {line}\n" for line in LETTER.splitlines())

TYPED = {
    "alone": "84210\n",
    "with its unit and blanks": "   84 210 km  \r\n\r\n",
    "above a quote": f"84210\n\nOn Tue, 14 Apr 2026 at 07:00, Garage letter <g@garage.example> wrote:\n\n{QUOTED}",
    "above a quote, its heading wrapped": f"84210\n\nOn 14 Apr 2026, Garage\n<g@garage.example> wrote:\n{QUOTED}",
    "above a quote in another language": f"84210\n\nAm 14. Apr. 2026 um 07:00 Uhr schrieb Garage:\n{QUOTED}",
    "below a quote": f"On Tue, 14 Apr 2026, Garage letter wrote:\n{QUOTED}\n84210\n",
    "above a letter that is not marked line by line": f"84210\n\n-----Original Message-----\nFrom: Garage\n\n{LETTER}",
    "above a ruled off letter": f"84210\n\n________________________________\nFrom: Garage letter\n{LETTER}",
    "above the head of a letter": f"84210\n\nFrom: Garage letter <g@garage.example>\nSent: Tuesday\n\n{LETTER}",
    "above a signature": "84210\n-- \nTeo Lindqvist\n555 123\n",
}


@pytest.mark.parametrize("text", TYPED.values(), ids=TYPED)
def test_of_a_plain_mail_only_the_typed_line_is_left(text: str) -> None:
    assert [line.removesuffix(" km").replace(" ", "") for line in lines_said(text)] == ["84210"]


def test_several_typed_lines_are_all_there() -> None:
    assert lines_said(f"Hello,\n\n84210\n\nthanks, Teo\n\n{QUOTED}") == ("Hello,", "84210", "thanks, Teo")


HTML = {
    "alone": "<p>84210</p>",
    "in pieces": "<html><head><title>9</title></head><body><div><b>84</b>210<br></div></body></html>",
    "above a quote": f"<div>84210</div><blockquote type=cite><p>{LETTER}<p>77777</blockquote>",
    "above a quote in a frame of its own": f'<div>84210</div><div class="x_quote">wrote:<div>77777</div>{LETTER}</div>',
    "with tags that nobody closes": '<p>84210<p class="quote"><b>77777<p>1</p>',
}


@pytest.mark.parametrize("html", HTML.values(), ids=HTML)
def test_of_an_html_mail_only_the_typed_line_is_left(html: str) -> None:
    lines = lines_said(text_of_html(html))
    assert lines[0] == "84210"
    assert "77777" not in lines


@given(st.text(max_size=400))
def test_any_html_has_a_text(html: str) -> None:
    lines = lines_said(text_of_html(html))
    assert all(line and line == line.strip() for line in lines)


def mail(text: str = "84210\n", html: str = "", *, to: str = f"readings+{KEY}@garage.example", **headers: str) -> bytes:
    """A mail as a program would write it; underscores in names of headers stand for hyphens."""
    message = EmailMessage(policy=SMTP)
    message["From"] = "Teo Lindqvist <teo@garage.karstridge.example>"
    message["To"] = to
    message["Subject"] = "Re: Bellows: what does the odometer show?"
    message["Message-ID"] = "<one@phone.example>"
    for name, value in headers.items():
        message[name.replace("_", "-")] = value
    if text or not html:
        message.set_content(text)
    if html:
        (message.add_alternative if text else message.set_content)(html, subtype="html")
    return message.as_bytes()


def read(raw: bytes) -> MailedAnswer:
    return read_answer(raw, ADDRESSES)


def test_a_mail_has_its_key_its_name_and_what_was_typed() -> None:
    assert read(mail()) == MailedAnswer(KEY, "<one@phone.example>", (("84210",),), False)
    assert read(mail("", "<p>84 210 km</p>")).said == (("84 210 km",),)
    assert read(mail("84210", "<p>84210</p>")).said == (("84210",), ("84210",))


def test_the_key_is_found_whatever_was_made_of_the_address_on_the_way() -> None:
    assert read(mail(to=f'"Garage letter" <READINGS+{KEY.upper()}@Garage.Example>')).key == KEY
    assert read(mail(to="undisclosed-recipients:;", Delivered_To=f"readings+{KEY}@garage.example")).key == KEY
    for other in ("readings@garage.example", f"readings+{KEY}x@garage.example", f"readings+{KEY}@garage.example.net"):
        assert read(mail(to=other)).key == ""


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("Auto_Submitted", "auto-replied"),
        ("Auto_Submitted", "Auto-Generated; x=y"),
        ("Return_Path", "<>"),
        ("Precedence", "bulk"),
        ("List_Id", "<club.karstridge.example>"),
        ("X_Autoreply", "yes"),
    ],
)
def test_what_a_program_sent_is_no_answer(name: str, value: str) -> None:
    assert read(mail(**{name: value})).is_automatic
    assert not read(mail(Auto_Submitted="no")).is_automatic


def test_a_bounce_is_no_answer() -> None:
    bounce = mail().replace(b'Content-Type: text/plain; charset="utf-8"', b"Content-Type: multipart/report; boundary=x")
    assert read(bounce).is_automatic
    assert read(mail().replace(b"teo@garage", b"MAILER-DAEMON@garage")).is_automatic


@given(st.binary(max_size=600))
def test_any_octets_can_be_read(octets: bytes) -> None:
    answer = read(octets)
    assert answer.key == ""
    whole = mail()
    for cut in (0, 40, len(whole) // 2, len(whole) - 3):
        read(whole[:cut] + octets)


def test_a_character_set_that_nobody_knows_is_no_trouble() -> None:
    assert read(mail().replace(b'"utf-8"', b'"x-nobody"')).said == (("84210",),)


def test_a_mail_without_a_name_is_told_apart_by_its_octets() -> None:
    nameless = mail().replace(b"Message-ID: <one@phone.example>\r\n", b"")
    assert read(nameless).name == read(nameless).name != read(nameless + b" ").name
