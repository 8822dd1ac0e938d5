"""The commands `feed`, `digest` and `link`."""

from __future__ import annotations

import email
import email.policy
from datetime import timedelta
from pathlib import Path

import icalendar
import pytest

from fleetcare.chance import key_hash
from fleetcare.clock import MachineClock
from fleetcare.fleet.access import Purpose
from tests.cli.conftest import Run, parts_of_home, version_of


def opens(home: Path, address: str, purpose: Purpose, days: float = 0) -> bool:
    """Whether the key in an address opens that, so many days from now."""
    secret = address.removesuffix(".ics").rpartition("/")[2]
    parts = parts_of_home(home)
    try:
        with parts.store.read() as view:
            key = view.key(key_hash(secret))
        return key is not None and key.opens(purpose, MachineClock().now() + timedelta(days=days))
    finally:
        parts.close()


def test_a_feed_is_a_calendar_that_can_be_read_and_stays_the_same(run: Run) -> None:
    answer = run("feed", "Ines Calloway")
    assert (answer.status, answer.err) == (0, "")
    calendar = icalendar.Calendar.from_ical(answer.raw)
    assert len(calendar.walk("VEVENT")) > 5
    assert run("feed", "ines").raw == answer.raw
    assert b"Thistle" not in run("feed", "noor").raw, "Noor keeps Pocket and nothing else"


def test_the_letter_of_one_person_is_shown_and_nothing_is_stored(run: Run, home: Path) -> None:
    version = version_of(home)
    answer = run("digest", "Teo")
    assert answer.out.startswith("Subject: Garage letter, ")
    assert "To: Teo Lindqvist <teo@karstridge.example>" in answer.out
    assert "<html" in run("digest", "Teo", "--html").out
    (letter,) = run("digest", "Teo", "--json").data
    assert letter["to"] == "teo@karstridge.example"
    assert letter["plain"].replace("\u2009", " ") in answer.out
    assert version_of(home) == version
    assert not list((home / "letters").glob("*"))


def test_all_letters_are_shown_one_for_each_person(run: Run) -> None:
    letters = run("digest", "--json").data
    assert [letter["person"] for letter in letters] == ["ines", "marit", "noor", "piet", "rufus", "teo", "wanda"]
    shown = run("digest").out
    assert shown.count("Subject: Garage letter") == sum(letter["to"] is not None for letter in letters)
    assert shown.count("no letter would go out") == sum(letter["to"] is None for letter in letters)


def test_sending_puts_one_whole_letter_for_each_into_the_folder(run: Run, home: Path) -> None:
    said = run("digest", "--send", "--json").data
    files = sorted((home / "letters").rglob("*.eml"))
    assert said["sent"] == said["written"] == len(files) > 3
    assert (said["refused"], said["put_off"]) == (0, 0)
    tos = {email.message_from_bytes(f.read_bytes(), policy=email.policy.default)["To"] for f in files}
    assert len(tos) == len(files)


def test_sending_to_one_person_says_what_became_of_it(run: Run) -> None:
    words = run("digest", "ines", "--send").out
    assert "1 written, 1 sent, 0 refused, 0 put off." in words
    assert "no mail server is set" in words


@pytest.mark.parametrize(
    "words", [("feed", "Inez"), ("digest", "Inez"), ("digest", "Inez", "--send"), ("link", "Inez")]
)
def test_a_person_who_is_not_here_is_met_with_the_nearest_name(run: Run, home: Path, words: tuple[str, ...]) -> None:
    version = version_of(home)
    assert "Did you mean ines?" in run(*words).sentence
    assert version_of(home) == version


def test_a_link_for_a_person_opens_and_ends(run: Run, home: Path) -> None:
    made = run("link", "Teo", "--json").data
    assert set(made) == {"sign-in", "feed"}
    assert opens(home, made["sign-in"], Purpose.SIGN_IN)
    assert not opens(home, made["sign-in"], Purpose.SIGN_IN, days=1.1), "a printed sign-in link ends after a day"
    assert opens(home, made["feed"], Purpose.FEED, days=10_000)
    assert run("link", "Teo", "--for", "feed", "--revoke", "--json").data["ended"] >= 1
    assert not opens(home, made["feed"], Purpose.FEED)
    assert opens(home, made["sign-in"], Purpose.SIGN_IN), "only what was named has ended"
    assert run("link", "Teo", "--for", "feed", "--revoke").out == "0 links ended.\n"


def test_a_link_for_a_vehicle_opens_its_odometer_page_for_so_many_days(run: Run, home: Path) -> None:
    made = run("link", "Anvil", "--days", "3", "--json").data
    assert set(made) == {"odometer"}
    assert opens(home, made["odometer"], Purpose.ODOMETER, days=2.9)
    assert not opens(home, made["odometer"], Purpose.ODOMETER, days=3.1)
    words = run("link", "AN")
    assert words.out.startswith("odometer: http://")
    assert run("link", "AN", "--revoke", "--json").data["ended"] >= 2


def test_an_api_key_is_shown_as_itself(run: Run, home: Path) -> None:
    made = run("link", "Teo", "--for", "api", "--json").data
    assert "/" not in made["api"]
    assert opens(home, made["api"], Purpose.API)


@pytest.mark.parametrize(
    ("words", "part"),
    [
        (("Teo", "--for", "odometer"), "sign-in, feed or api"),
        (("Anvil", "--for", "feed"), "It is odometer or busy."),
        (("garage", "--for", "odometer"), "It is feed."),
        (("Teo", "--rotate", "--list"), "one of them at a time"),
        (("Teo", "--revoke", "--name", "watch"), "no calendar address called “watch”"),
        (("Anvil", "--days", "0"), "--days"),
        (("Teo", "--for", "fed"), "There is no link for “fed”."),
    ],
)
def test_a_link_that_cannot_be_is_refused(run: Run, home: Path, words: tuple[str, ...], part: str) -> None:
    version = version_of(home)
    assert part in run("link", *words).sentence
    assert version_of(home) == version


def test_addresses_of_a_feed_are_named_listed_replaced_and_ended_one_by_one(run: Run, home: Path) -> None:
    phone = run("link", "Teo", "--for", "feed", "--name", "phone", "--json").data["feed"]
    laptop = run("link", "Teo", "--for", "feed", "--name", "laptop", "--json").data["feed"]
    listed = run("link", "Teo", "--list", "--json").data
    assert {"phone", "laptop"} <= {each["name"] for each in listed}
    assert all(each["fetched"] is None and each["by"] is None for each in listed)
    secret = phone.removesuffix(".ics").rpartition("/")[2]
    assert secret not in run("link", "Teo", "--list").out
    assert (
        "There is an address called “Phone” already." in run("link", "Teo", "--for", "feed", "--name", "Phone").sentence
    )
    assert "tablet: made" in run("link", "Teo", "--name", "phone", "--rename", "tablet").out
    new = run("link", "Teo", "--name", "tablet", "--rotate", "--json").data["feed"]
    assert opens(home, new, Purpose.FEED, days=31)
    assert opens(home, phone, Purpose.FEED, days=29), "it still says that it was replaced"
    assert not opens(home, phone, Purpose.FEED, days=31)
    assert "laptop" not in run("link", "Teo", "--name", "laptop", "--revoke").out
    assert not opens(home, laptop, Purpose.FEED)
    assert opens(home, new, Purpose.FEED)


def test_a_person_chooses_what_the_calendar_holds(run: Run) -> None:
    before = run("feed", "ines").raw
    held = run("feed", "ines", "--choices", "--json").data
    assert held["dates"] == ["likely"]
    assert (held["vehicles"], held["alarms"]) == ("all", "off")
    said = run("feed", "ines", "--kinds", "due", "--dates", "early,late", "--vehicles", "Anvil", "--alarms", "week,day")
    assert said.out.split("\n")[:4] == ["kinds: due", "dates: early, late", "vehicles: AN", "alarms: day, week"]
    after = run("feed", "ines").raw
    titles = [line for line in after.split(b"\r\n") if line.startswith(b"SUMMARY:")]
    assert titles
    assert all(line.startswith(b"SUMMARY:Anvil: ") for line in titles)
    assert after.count(b"BEGIN:VALARM") >= 2
    run("feed", "ines", "--kinds", "all", "--dates", "likely", "--vehicles", "all", "--alarms", "off")
    assert run("feed", "ines").raw.count(b"BEGIN:VEVENT") == before.count(b"BEGIN:VEVENT")


@pytest.mark.parametrize(
    ("words", "part"),
    [
        (("ines", "--kinds", "fluids"), "There is no kind of entry called “fluids”. It is due, bay-days"),
        (("ines", "--dates", "soon"), "There is no date called “soon”. It is early, likely or late."),
        (("ines", "--alarms", "noon"), "There is no alarm called “noon”. It is day, week or fortnight."),
        (("ines", "--vehicles", "Anvill"), "Did you mean Anvil?"),
        (("garage", "--alarms", "day"), "Only a person can choose."),
    ],
)
def test_what_cannot_be_chosen_is_refused(run: Run, home: Path, words: tuple[str, ...], part: str) -> None:
    version = version_of(home)
    assert part in run("feed", *words).sentence
    assert version_of(home) == version


def test_a_vehicle_and_the_garage_have_calendars_of_their_own(run: Run, home: Path) -> None:
    made = run("link", "Anvil", "--for", "busy", "--json").data
    assert opens(home, made["feed"], Purpose.FEED)
    taken = icalendar.Calendar.from_ical(run("feed", "Anvil").raw)
    assert {str(event["TRANSP"]) for event in taken.walk("VEVENT")} == {"OPAQUE"}
    everybody = run("link", "garage", "--json").data
    assert opens(home, everybody["feed"], Purpose.FEED)
    assert len(icalendar.Calendar.from_ical(run("feed", "garage").raw).walk("VEVENT")) > 20
