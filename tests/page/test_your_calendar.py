"""The page about one person's calendar: what it says of addresses, boxes and entries, and its square code."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest

from fleetcare.calendar_feed.reading_back import Seen, entries_ahead
from fleetcare.fleet.access import Fetch
from fleetcare.fleet.feed_choice import FeedAlarm, FeedChoice, WindowDate
from fleetcare.page.cards.calendar_choice import (
    CHOICE_ANCHOR,
    Tried,
)
from fleetcare.page.cards.your_calendar import (
    Address,
    YourCalendarCard,
    add_card,
    new_address,
    webcal_of,
    your_calendar_card,
)
from fleetcare.page.drawings.code import square_code
from fleetcare.page.render import Pages
from tests.page.karst_ridge import ANVIL, BELLOWS, GARAGE, INES, TODAY, garage_of
from tests.page.test_markup import LARGEST_PAGE, Reader

MADE = datetime(2026, 3, 2, 12, tzinfo=UTC)
PHONE = Address("aaaa1111", "phone", MADE, None, None, Fetch(datetime(2026, 4, 14, 10, tzinfo=UTC), "Thunderbird"))
OLD = Address(
    "bbbb2222", "<laptop>", MADE, datetime(2026, 5, 10, 12, tzinfo=UTC), datetime(2026, 4, 10, 12, tzinfo=UTC), None
)
WEEK = FeedAlarm("week", 7, timedelta(hours=9))
ADDRESS, ADD = "https://garage.example/feeds/k3y.ics", "https://garage.example/calendar/add/k3y"
AHEAD = (
    Seen(date(2026, 4, 16), date(2026, 4, 16), "Raft: coupling"),
    Seen(date(2026, 4, 25), date(2026, 4, 25), "Anvil in the bay", time(9), time(11, 20)),
    Seen(date(2026, 4, 25), date(2026, 4, 26), "Anvil stands", time(11, 20), time(12, 20)),
    Seen(date(2026, 4, 25), date(2026, 4, 26), "Anvil"),
)


def card(choice: FeedChoice | None = None, tried: Tried | None = None, *, is_new: bool = False) -> YourCalendarCard:
    return your_calendar_card(
        garage=GARAGE,
        reader=INES,
        today=TODAY,
        form_key="f0rm",
        addresses=(PHONE, OLD),
        choice=choice or FeedChoice(),
        vehicles=(ANVIL, BELLOWS),
        alarms=(WEEK,),
        ahead=AHEAD,
        ahead_in_all=38,
        can_enter=True,
        new=new_address("phone", ADDRESS, ADD) if is_new else None,
        tried=tried,
    )


def pages() -> dict[str, str]:
    made = Pages()
    return {
        "plain": made.your_calendar(card()),
        "new": made.your_calendar(card(is_new=True)),
        "tried": made.your_calendar(card(tried=Tried("aaaa1111", "name", "There is one already.", '"><b>'))),
        "tried choice": made.your_calendar(card(tried=Tried(CHOICE_ANCHOR, "date", "Choose one."))),
        "add": made.add_calendar(add_card(garage=GARAGE, today=TODAY, name="phone", address=ADDRESS)),
    }


@pytest.mark.parametrize("name", pages())
def test_markup_is_whole_with_labelled_fields_and_targets_that_are_there(name: str) -> None:
    text = pages()[name]
    page = Reader(text)
    ids = [given["id"] for _, given in page.elements if "id" in given]
    assert len(ids) == len(set(ids))
    assert len(page.all("h1")) == 1
    labelled = {given["for"] for given in page.all("label") if "for" in given}
    for (tag, given), inside in zip(page.elements, page.inside, strict=True):
        assert "style" not in given
        if tag == "input" and given.get("type") != "hidden":
            assert given.get("id") in labelled or "label" in inside
        for reference in ("for", "aria-describedby"):
            assert set(given.get(reference, "").split()) <= set(ids)
    assert len(page.all("legend")) == len(page.all("fieldset"))
    assert [given["method"] for given in page.all("form")] == ["post"] * len(page.all("form"))
    hidden = [given["value"] for given in page.all("input") if given.get("type") == "hidden"]
    assert hidden == ["f0rm"] * len(page.all("form"))
    levels = [int(tag[1]) for tag, _ in page.elements if re.fullmatch(r"h[1-6]", tag)]
    assert all(after - before <= 1 for before, after in pairwise(levels))
    assert len(text.encode()) < LARGEST_PAGE


def test_an_address_says_when_it_was_made_fetched_and_replaced() -> None:
    page = Reader(pages()["plain"])
    words = " ".join(page.text.split())
    # 10:00 UTC is 6:00 in New York in April (UTC - 4).
    assert "made on 2 March last fetched today, in the hour from 06:00, by Thunderbird" in words
    assert "<laptop> made on 2 March replaced on 10 April; says so until 10 May" in words
    actions = [given["action"].partition("#")[0] for given in page.all("form")]
    assert "/calendar/addresses/bbbb2222/end" in actions
    assert "/calendar/addresses/bbbb2222/replace" not in actions


def test_a_key_stands_on_the_page_only_when_it_is_new() -> None:
    made = pages()
    assert "k3y" not in made["plain"]
    assert made["new"].count(ADDRESS) == 1
    assert 'href="webcal://garage.example/feeds/k3y.ics"' in made["new"]
    assert webcal_of("http://localhost:8000/feeds/k.ics") == "webcal://localhost:8000/feeds/k.ics"


def test_boxes_are_ticked_as_chosen_and_after_a_refusal_as_they_were_sent() -> None:
    chosen = FeedChoice(dates=(WindowDate.LATE,), marks=("BE",), alarms=(replace(WEEK, name="odd", days_before=6),))
    on = {(tick.field, tick.value) for group in card(chosen).groups for tick in group.ticks if tick.is_on}
    assert {each for each in on if each[0] != "kind"} == {("date", "late"), ("vehicle", "BE"), ("alarm", "odd")}
    tried = Tried(CHOICE_ANCHOR, "kind", "Choose one.", ticked=(("vehicle", "AN"),))
    groups = card(chosen, tried).groups
    assert [(t.field, t.value) for group in groups for t in group.ticks if t.is_on] == [("vehicle", "AN")]
    assert [group.problem for group in groups] == ["Choose one.", "", "", ""]
    assert [tick.text for tick in groups[2].ticks] == ["6 days before, at 09:00", "7 days before, at 09:00"]


def test_entries_are_told_by_day_and_title_and_how_many_there_are() -> None:
    words = " ".join(Reader(pages()["plain"]).text.split())
    assert "25 Apr to 26 Apr Anvil The next 4 of 38 entries." in words


def test_a_garage_of_many_vehicles_keeps_the_page_small_and_the_chosen_ones_on_it() -> None:
    vehicles = [outlook.vehicle for outlook in garage_of(400)]
    made = your_calendar_card(
        garage=GARAGE, reader=INES, today=TODAY, form_key="f", addresses=(),
        choice=FeedChoice(marks=(vehicles[-1].mark,)), vehicles=vehicles, alarms=(), ahead=(), ahead_in_all=0,
        can_enter=False,
    )  # fmt: skip
    text = Pages().your_calendar(made)
    assert len(text.encode()) < LARGEST_PAGE
    assert f'value="{vehicles[-1].mark}" checked' in text
    assert text.count('name="vehicle"') == 1
    assert 'name="others" value=""' in text


def test_the_code_has_its_three_finders_and_an_empty_border() -> None:
    code = square_code(ADD)
    dark = {
        (int(x) + step, int(y))
        for x, y, width in re.findall(r"M(\d+) (\d+)h(\d+)", code.path)
        for step in range(int(width))
    }
    near, far = 4, code.size - 5
    assert {near, far} == {min(x for x, _ in dark), max(x for x, _ in dark)}
    assert {near, far} == {min(y for _, y in dark), max(y for _, y in dark)}
    # ISO/IEC 18004: a finder is a dark ring of 7 by 7 with a dark core of 3 by 3.
    for left, top in ((near, near), (far - 6, near), (near, far - 6)):
        for x in range(7):
            for y in range(7):
                ring = max(abs(x - 3), abs(y - 3))
                assert ((left + x, top + y) in dark) == (ring != 2)


def test_what_is_over_or_cancelled_is_not_ahead_and_days_are_counted_whole() -> None:
    def event(first: str, end: str, title: str, more: str = "") -> str:
        return (
            f"BEGIN:VEVENT\r\nUID:{title}\r\nDTSTART;VALUE=DATE:{first}\r\n{end}SUMMARY:{title}\r\n{more}END:VEVENT\r\n"
        )

    body = "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:x\r\n" + "".join(
        (
            event("20260501", "DTEND;VALUE=DATE:20260503\r\n", "two days"),
            event("20260413", "DTEND;VALUE=DATE:20260414\r\n", "yesterday"),
            event("20260410", "DTEND;VALUE=DATE:20260415\r\n", "to today"),
            event("20260420", "", "one day"),
            event("20260421", "", "gone", "STATUS:CANCELLED\r\n"),
        )
    )
    timed = "DTSTART:20260421T013000Z\r\nDTEND:20260421T030000Z\r\nSUMMARY:evening"
    body += f"BEGIN:VEVENT\r\nUID:bay\r\n{timed}\r\nEND:VEVENT\r\n"
    ahead, in_all = entries_ahead((body + "END:VCALENDAR\r\n").encode(), TODAY, 3, ZoneInfo("America/Denver"))
    assert in_all == 4
    assert ahead == (
        Seen(date(2026, 4, 10), date(2026, 4, 14), "to today"),
        Seen(date(2026, 4, 20), date(2026, 4, 20), "one day"),
        Seen(date(2026, 4, 20), date(2026, 4, 20), "evening", time(19, 30), time(21)),
    )


def test_time_in_the_bay_is_shown_with_its_hours() -> None:
    shown = [(entry.days, entry.title) for entry in card().entries]
    assert shown[1:] == [
        ("Sat 25 Apr, 09:00 to 11:20", "Anvil in the bay"),
        ("Sat 25 Apr, 11:20 to Sun 26 Apr, 12:20", "Anvil stands"),
        ("25 Apr to 26 Apr", "Anvil"),
    ]
