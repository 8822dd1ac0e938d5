"""Every kind of letter: its subject, both its twins, and what a hostile name can do to it, which is nothing."""

from __future__ import annotations

import email
import email.policy
import re
from collections import Counter
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from html.parser import HTMLParser
from zoneinfo import ZoneInfo

import pytest

from fleetcare.digest.bay_day import BayDayNotice, bay_day_moved_letter
from fleetcare.digest.schedule import bay_day_is_told, bay_day_period, expires_at
from fleetcare.digest.values import Letter, LetterKind
from fleetcare.mailer.message import Envelopes, header_names
from tests.digest.every_letter import ANVIL_DAY, BERLIN, every_letter
from tests.digest.karst_ridge import BASE, BELLOWS, GARAGE, RAFT, STOP, TEO, TODAY, called_otherwise

LETTERS = every_letter()
SUBJECTS = {
    "answer-held": "Bellows: your reading is kept aside",
    "answer-refused": "Bellows: your reading could not be taken",
    "answer-too-late": "Bellows: your answer came after its time",
    "answer-unclear": "Bellows: no reading was found in your answer",
    "reading-by-mail": "Bellows: what does the odometer show?",
    "garage": "Garage letter, 14 April: one reading wanted, one second look wanted",
    "garage-ines": "Garage letter, 14 April: one service past late, one window open",
    "garage-bay": "Garage letter, 14 April: one reading wanted, two bay days for you",
    "reading": "Bellows: what does the odometer show?",
    "reading-again": "Bellows: its odometer, when you pass by",
    "reading-missing": "Bellows: its odometer is still to be read",
    "past-late": "Raft is past late: coupling inspection",
    "past-late-two": "Two services past late: Raft",
    "finding": "Finding on Bellows: rear cover damp at the lower left bolt",
    "bay-day": "You in the bay on Thursday: Anvil",
    "bay-day-moved": "Anvil’s bay day moved: 16 April, was 25 April",
    "not-delivered": "Two letters did not arrive: Piet Maartens and Wanda Okafor",
    "come-in": "Your way in to Karst Ridge Motor Club garage",
}
ENVELOPES = Envelopes(from_name="Karst Ridge garage", from_address="garage@karstridge.example")
NOW = datetime(2026, 4, 14, 5, tzinfo=UTC)


def raw(letter: Letter) -> bytes:
    """The message as it goes out."""
    return ENVELOPES.raw(letter, message_id=ENVELOPES.message_id("teo", letter.kind, "p", "g"), date=NOW)


class _Text(HTMLParser):
    """What a reader sees of a page, and everything it would fetch or run."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.words: list[str] = []
        self.fetched: list[str] = []
        self.links: list[str] = []
        self._is_hidden = False
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if tag in ("script", "img", "link", "iframe", "object", "form") or "src" in given or "background" in given:
            self.fetched.append(tag)
        if tag == "a":
            self.links.append(given["href"] or "")
        self._is_hidden = tag in ("style", "title")

    def handle_data(self, data: str) -> None:
        if not self._is_hidden:
            self.words += data.split()


def test_the_subjects() -> None:
    assert {name: letter.subject for name, letter in LETTERS.items()} == SUBJECTS
    assert {letter.kind for letter in LETTERS.values()} == set(LetterKind)


@pytest.mark.parametrize("name", LETTERS)
def test_both_twins_say_the_same_and_nothing_is_fetched(name: str) -> None:
    letter = LETTERS[name]
    seen = _Text(letter.html)
    assert seen.fetched == []
    plain_links = re.findall(r"^\s+(https://\S+)$", letter.plain, re.MULTILINE)
    assert sorted(set(plain_links)) == sorted(set(seen.links))
    body = re.sub(r"https://\S+|\([=~./#!]+\)", "", letter.plain)
    assert not Counter(_plain_words(body)) - Counter(_plain_words(" ".join(seen.words)))


def _plain_words(text: str) -> list[str]:
    """Words and figures, without signs; how to read the rod, which differs between the twins, left out."""
    text = re.sub(r"How to read the rod:.*?(?=Go by)", "", " ".join(text.split()))
    return re.findall(r"[^\W_]+", text.casefold())


@pytest.mark.parametrize("name", LETTERS)
def test_the_plain_twin_is_narrow_and_ends_with_how_to_stop_it(name: str) -> None:
    letter = LETTERS[name]
    assert max(len(line) for line in letter.plain.split("\n") if "://" not in line) <= 72
    asked_for = letter.kind in (LetterKind.COME_IN, LetterKind.NOT_DELIVERED, LetterKind.ABOUT_AN_ANSWER)
    assert (letter.stop_url == STOP) is not asked_for
    assert letter.plain.rstrip().endswith(STOP) is not asked_for


@pytest.mark.parametrize("name", LETTERS)
def test_the_head_of_each_letter_is_the_one_that_was_planned(name: str) -> None:
    """RFC 3834 (Auto-Submitted), RFC 2369 and 8058 (List-Unsubscribe), RFC 5322 (Date, Message-ID)."""
    letter = LETTERS[name]
    stops = ["List-Unsubscribe", "List-Unsubscribe-Post"] if letter.stop_url else []
    answers = ["Reply-To"] if letter.reply_to else []
    message = raw(letter)
    assert header_names(message) == (
        ["From", "To", *answers, "Subject", "Date", "Message-ID", "X-Idempotency-Key", "Auto-Submitted"]
        + stops
        + ["MIME-Version", "Content-Type"]
    )
    parsed = email.message_from_bytes(message, policy=email.policy.default)
    assert parsed["Auto-Submitted"] == "auto-generated"
    assert parsed["Subject"] == letter.subject
    assert parsed["Message-ID"].strip("<>").partition("@")[0] == parsed["X-Idempotency-Key"]
    assert [part.get_content_type() for part in parsed.iter_parts()] == ["text/plain", "text/html"]
    if stops:
        assert parsed["List-Unsubscribe"] == f"<{STOP}>"
        assert parsed["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"


HOSTILE = [
    "=?utf-8?q?a=0D=0ABcc=3A_all=40evil=2Eexample?=",
    "Teo\r\nBcc: all@evil.example\r\n\r\nBuy",
    "Teo\nBcc: all@evil.example",
    "Teo\u2028Bcc: all@evil.example\u2029\x85x\x0bx\x0cx",
    '"; DROP" <all@evil.example>, Teo',
    "<script>alert(1)</script><img src=x onerror=alert(1)>",
    "{{ 7 * 7 }}{% for x in y %}",
    "\u202eoeT\u2066 \u200b\ufeff",
    "ǅ" * 400,
    "a" * 3000,
    "😀" * 120,
    ".\r\n.\r\nQUIT",
    "\udcff\ud800",
    "=?utf-8?b?=?=",
    "%s %n {0} \\r\\n",
]


@pytest.mark.parametrize("hostile", HOSTILE, ids=[ascii(each[:20]) for each in HOSTILE])
def test_a_hostile_name_writes_no_header_no_markup_and_no_line_of_its_own(hostile: str) -> None:
    person = replace(TEO, name=hostile)
    notice = replace(ANVIL_DAY, name=hostile, services=(hostile,), then=hostile, why=hostile, with_names=(hostile,))
    letters = every_letter(
        person,
        replace(GARAGE, name=hostile),
        called_otherwise(BELLOWS, hostile),
        called_otherwise(RAFT, hostile),
        text=hostile,
        day=notice,
    )
    for name, letter in letters.items():
        message = raw(letter)
        assert header_names(message) == header_names(raw(LETTERS[name])), name
        lines = message.split(b"\r\n")
        assert max(map(len, lines)) <= 998, name
        assert not re.search(rb"[\r\n\0]", b"".join(lines)), name
        parsed = email.message_from_bytes(message, policy=email.policy.compat32)
        assert parsed["To"].count("@garage.karstridge.example") == 1
        assert parsed.get_all("Bcc") is None
        seen = _Text(letter.html)
        assert seen.fetched == [], name
        assert all(link.startswith(BASE) for link in seen.links), name


# Bay days: when they are told


def on_berlin(*parts: int) -> datetime:
    return datetime(*parts, tzinfo=BERLIN)  # type: ignore[misc,arg-type]


@pytest.mark.parametrize(
    ("now", "is_told"),
    [
        (on_berlin(2026, 4, 14, 6, 59), False),
        (on_berlin(2026, 4, 14, 7, 0), True),
        (on_berlin(2026, 4, 16, 8, 59), True),  # planned at short notice
        (on_berlin(2026, 4, 15, 22, 0), False),  # but not at night
        (on_berlin(2026, 4, 16, 9, 0), False),  # the work begins
        (on_berlin(2026, 4, 13, 12, 0), False),
    ],
)
def test_a_bay_day_is_told_from_two_days_ahead_until_it_begins(now: datetime, is_told: bool) -> None:
    assert bay_day_is_told(ANVIL_DAY, TEO, now) is is_told


def test_the_two_days_are_the_readers_own() -> None:
    """Nine in Berlin on the 16th is seven in the evening in Auckland (UTC+12 by then)."""
    far = replace(TEO, zone="Pacific/Auckland")
    first = datetime(2026, 4, 14, 7, tzinfo=ZoneInfo("Pacific/Auckland"))
    assert bay_day_is_told(ANVIL_DAY, far, first)
    assert not bay_day_is_told(ANVIL_DAY, far, first - timedelta(minutes=1))


def test_a_bay_day_that_moved_is_another_letter_and_each_is_worth_sending_until_it_begins() -> None:
    moved = replace(ANVIL_DAY, starts_at=on_berlin(2026, 5, 9, 9), moved_from=date(2026, 4, 25))
    assert bay_day_period(moved) != bay_day_period(ANVIL_DAY)
    assert bay_day_period(replace(moved, hands_on_minutes=10, is_inked=False)) == bay_day_period(moved)
    assert expires_at(LetterKind.BAY_DAY, TEO, NOW, ANVIL_DAY) == ANVIL_DAY.starts_at


def test_a_notice_that_cannot_be_is_refused() -> None:
    with pytest.raises(ValueError, match="zone"):
        replace(ANVIL_DAY, starts_at=datetime(2026, 4, 16, 9))  # noqa: DTZ001 - that is what is refused
    with pytest.raises(ValueError, match="something to be done"):
        replace(ANVIL_DAY, services=())
    plain: BayDayNotice = ANVIL_DAY
    with pytest.raises(ValueError, match="another day before"):
        bay_day_moved_letter(garage=GARAGE, person=TEO, notice=plain, today=TODAY, base_url=BASE, stop_url=STOP)


def test_a_letter_without_a_sheet_or_cautions_is_whole() -> None:
    bare = replace(ANVIL_DAY, sheet=0, cautions=(), then="", why="", with_names=())
    letter = every_letter(day=bare)["bay-day"]
    assert "Hands-on 2 h 20." in letter.plain
    assert "BEFORE YOU BEGIN" not in letter.plain
    assert "manual" in letter.plain
