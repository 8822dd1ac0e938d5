"""The feed address over HTTP: validators, codings, refusals. RFC 9110 and RFC 9111 sections are named at each check."""

from __future__ import annotations

import gzip
import re
from datetime import UTC, date, datetime, time, timedelta
from email.utils import format_datetime, parsedate_to_datetime
from time import sleep
from typing import Any

import httpx
import pytest

from fleetcare.actions.links import choose_feed, feed_addresses, make_key, revoke_feed_key, rotate_feed_key
from fleetcare.chance import RandomKeys, key_hash
from fleetcare.errors import StoreBusy, StoreTrouble
from fleetcare.fleet.access import FAREWELL_TIME, Purpose
from fleetcare.fleet.feed_choice import FeedChoice, Topic, WindowDate
from fleetcare.timetable import Round
from fleetcare.web.feed_copies import FOLDER
from fleetcare.web.feed_readers import reader_kind
from fleetcare.wording import day_words
from tests.calendar_feed.checklist import CHECKS
from tests.calendar_feed.raw_feed import (
    Block,
    RawFeed,
    day_of,
    duration_of,
    is_timed,
    moment_of,
    parsed,
    start_of,
    unfolded,
)
from tests.web.conftest import Served
from tests.web.pages import page_of


def test_h01_h02_a_feed_answers_with_a_calendar_and_no_redirect(served: Served, client: httpx.Client) -> None:
    answer = client.get(served.feed("ines"))
    assert answer.status_code == 200
    assert answer.content.startswith(b"BEGIN:VCALENDAR\r\n")
    assert answer.content.endswith(b"END:VCALENDAR\r\n")
    assert answer.headers["content-type"] == "text/calendar; charset=utf-8"
    assert answer.elapsed < timedelta(seconds=3)


def test_h03_h04_the_same_state_gives_the_same_bytes_and_tag(served: Served, client: httpx.Client) -> None:
    first = client.get(served.feed("ines"))
    served.clock.move(timedelta(hours=6))
    second = client.get(served.feed("ines"))
    assert first.content == second.content
    assert first.headers["etag"] == second.headers["etag"]
    assert first.headers["etag"].startswith('W/"')


@pytest.mark.parametrize("form", ["{tag}", '"other", {tag}', "*", "{strong}", '{tag} , "x"'])
def test_h05_h06_a_reader_who_has_the_bytes_gets_an_empty_304(served: Served, client: httpx.Client, form: str) -> None:
    """RFC 9110 13.1.2: weak comparison, lists and the star."""
    tag = client.get(served.feed("ines")).headers["etag"]
    asked = form.format(tag=tag, strong=tag.removeprefix("W/"))
    answer = client.get(served.feed("ines"), headers={"If-None-Match": asked})
    assert (answer.status_code, answer.content) == (304, b"")
    # RFC 9110 15.4.5: a 304 repeats what a 200 would have said for the cache.
    assert answer.headers["etag"] == tag
    assert answer.headers["cache-control"] == "private, no-cache"
    assert "accept-encoding" in answer.headers["vary"].lower()


def test_h05_a_foreign_tag_gets_the_whole_feed_even_with_a_late_date(served: Served, client: httpx.Client) -> None:
    """RFC 9110 13.2.2: If-None-Match wins over If-Modified-Since."""
    late = format_datetime(datetime(2030, 1, 1, tzinfo=UTC), usegmt=True)
    answer = client.get(served.feed("ines"), headers={"If-None-Match": '"foreign"', "If-Modified-Since": late})
    assert answer.status_code == 200


def test_h07_the_date_of_the_last_change_works_as_validator(served: Served, client: httpx.Client) -> None:
    """RFC 9110 13.1.3: its own date gives 304, an older or a malformed one 200."""
    changed = client.get(served.feed("ines")).headers["last-modified"]
    older = format_datetime(parsedate_to_datetime(changed) - timedelta(seconds=1), usegmt=True)
    for since, status in ((changed, 304), (older, 200), ("yesterday", 200), ("", 200), ("Tue, 99 Foo 2026", 200)):
        answer = client.get(served.feed("ines"), headers={"If-Modified-Since": since})
        assert answer.status_code == status, since


def test_h08_h18_head_answers_like_get_without_a_body(served: Served, client: httpx.Client) -> None:
    """RFC 9110 9.3.2."""
    plain = {"Accept-Encoding": "identity"}
    got = client.get(served.feed("ines"), headers=plain)
    head = client.head(served.feed("ines"), headers=plain)
    assert (head.status_code, head.content) == (200, b"")
    for field in ("etag", "last-modified", "content-type", "content-length", "cache-control", "vary"):
        assert head.headers[field] == got.headers[field]
    assert int(got.headers["content-length"]) == len(got.content)


@pytest.mark.parametrize(
    ("accepted", "is_coded"),
    [("gzip", True), ("gzip;q=0", False), ("br, gzip;q=0.5", True), ("identity", False), ("*", True), ("*;q=0", False)],
)
def test_h09_compressed_only_if_asked(served: Served, client: httpx.Client, accepted: str, is_coded: bool) -> None:
    """RFC 9110 12.5.3."""
    plain = client.get(served.feed("ines"), headers={"Accept-Encoding": "identity"})
    with client.stream("GET", served.feed("ines"), headers={"Accept-Encoding": accepted}) as answer:
        raw = b"".join(answer.iter_raw())
        assert answer.headers.get("content-encoding") == ("gzip" if is_coded else None)
        assert (gzip.decompress(raw) if is_coded else raw) == plain.content
        assert answer.headers["etag"] == plain.headers["etag"]
        assert answer.headers["vary"] == "Accept-Encoding"
        assert int(answer.headers["content-length"]) == len(raw)


def test_h16_every_reader_gets_the_same_bytes(served: Served, client: httpx.Client) -> None:
    """Whatever it accepts and whatever it calls itself."""
    bodies = {
        client.get(served.feed("ines"), headers=headers).content
        for headers in ({"Accept": "text/html"}, {"Accept": "*/*"}, {"User-Agent": ""}, {"User-Agent": "x" * 900}, {})
    }
    assert len(bodies) == 1


def test_h13_any_wrong_key_gets_one_and_the_same_short_404(served: Served, client: httpx.Client) -> None:
    """No echo, no tag, no calendar, and no 304 that would tell a right guess."""
    right = served.feed("ines")
    base = served.url
    wrong = [
        f"{base}/feeds/{'x' * 43}.ics",
        f"{base}/feeds/x.ics",
        f"{base}/feeds/.ics",
        f"{base}/feeds/{'x' * 5000}.ics",
        f"{base}/feeds/a%00b.ics",
        f"{base}/feeds/%F0%9F%9A%97.ics",
        right.removesuffix(".ics"),
        right + "/",
        served.odometer("AN").replace("/o/", "/feeds/") + ".ics",
    ]
    answers = [client.get(address, headers={"If-None-Match": "*"}) for address in wrong]
    kept = [
        (answer.status_code, answer.content, sorted(f for f in answer.headers.items() if f[0] != "date"))
        for answer in answers
    ]
    assert all(each == kept[0] for each in kept)
    assert answers[0].status_code == 404
    assert "etag" not in answers[0].headers
    assert "calendar" not in answers[0].headers["content-type"]


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PATCH", "OPTIONS"])
def test_h14_a_feed_can_only_be_read(served: Served, client: httpx.Client, method: str) -> None:
    answer = client.request(method, served.feed("ines"))
    assert answer.status_code == 405
    assert answer.headers["allow"] == "GET, HEAD"


def test_h10_h11_a_feed_says_nothing_of_itself_to_third_parties(served: Served, client: httpx.Client) -> None:
    """RFC 9111 5.2.2: private; no cookie, no referrer, no index, no open CORS, no attachment."""
    answer = client.get(served.feed("ines"), headers={"Origin": "https://elsewhere.example"})
    assert "set-cookie" not in answer.headers
    assert answer.headers["referrer-policy"] == "no-referrer"
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert "noindex" in answer.headers["x-robots-tag"]
    assert "access-control-allow-origin" not in answer.headers
    assert "attachment" not in answer.headers.get("content-disposition", "")
    assert answer.headers["cache-control"] == "private, no-cache"


def test_h12_the_key_is_long_and_names_nobody(served: Served) -> None:
    path = served.feed("ines").removeprefix(served.url)
    assert path.startswith("/feeds/")
    assert path.endswith(".ics")
    assert "ines" not in path.lower()
    # 256 bits in base64 without padding: 43 characters, of 64 kinds each.
    assert len(RandomKeys().new_key()) == 43


def test_h17_robots_let_fetchers_in(served: Served, client: httpx.Client) -> None:
    answer = client.get(f"{served.url}/robots.txt")
    assert "Allow: /feeds/" in answer.text


def test_h15_many_quick_polls_are_all_answered(served: Served, client: httpx.Client) -> None:
    """A reader that gets an error switches the calendar off, so there is no limit on polling."""
    tag = client.get(served.feed("ines")).headers["etag"]
    codes = [client.get(served.feed("ines"), headers={"If-None-Match": tag}).status_code for _ in range(15)]
    assert codes == [304] * 15


def test_a_feed_shows_only_its_readers_vehicles(served: Served, client: httpx.Client) -> None:
    with served.parts.store.read() as view:
        vehicles = view.vehicles()
    own = {v.name for v in vehicles if v.keeper == "noor" or "noor" in v.drivers}
    body = client.get(served.feed("noor")).text
    assert "Pocket" in own
    assert "SUMMARY:Pocket" in body
    others = {v.name for v in vehicles} - own
    assert len(others) >= 5
    for other in others:
        assert other not in body


def test_a_revoked_address_stops_at_once_and_others_go_on(served: Served, client: httpx.Client) -> None:
    from fleetcare.actions.links import revoke
    from fleetcare.fleet.access import Purpose

    tag = client.get(served.feed("teo")).headers["etag"]
    revoke(served.parts.store, now=served.clock.now(), who="test", purposes=(Purpose.FEED,), person="ines")
    assert client.get(served.feed("ines")).status_code == 404
    assert client.get(served.feed("teo"), headers={"If-None-Match": tag}).status_code == 304


# What is served keeps every point


def events_of(body: bytes) -> list[Block]:
    """The events of a body."""
    return parsed(unfolded(body)).blocks


def titles(body: bytes) -> set[str]:
    """The titles of a body."""
    return {event.one("SUMMARY").text for event in events_of(body)}


def own_feed(served: Served, *, person: str = "", mark: str = "", name: str = "") -> str:
    """A new address of one calendar, brought up to date."""
    from fleetcare.actions.links import publish_feed

    parts, now = served.parts, served.clock.now()
    key = make_key(
        parts.store, parts.keys, now=now, who="test", purpose=Purpose.FEED, person=person, mark=mark, name=name
    )
    publish_feed(parts.store, parts.rules, person, mark=mark, now=now, base_url=served.url)
    return f"{served.url}/feeds/{key}.ics"


def choose(served: Served, person: str, choice: FeedChoice) -> None:
    """Chooses what somebody's calendar holds."""
    parts = served.parts
    choose_feed(parts.store, parts.rules, person, choice, now=served.clock.now(), who="test", base_url=served.url)


@pytest.mark.parametrize("point", sorted(CHECKS))
def test_every_feed_of_the_demo_keeps(shared: Served, client: httpx.Client, point: str) -> None:
    with shared.parts.store.read() as view:
        garage, people = view.garage(), view.people()
    assert garage is not None
    for person in people:
        body = client.get(shared.feed(person.key)).content
        CHECKS[point](RawFeed(body, shared.clock.now(), shared.clock.now().date(), garage.name))


def test_the_page_an_entry_names_carries_no_key(served: Served, client: httpx.Client) -> None:
    key = served.feed("ines").rpartition("/")[2].removesuffix(".ics")
    body = client.get(served.feed("ines")).content
    assert key.encode() not in body
    assert key_hash(key).encode() not in body
    addresses = [event.one("URL").value for event in events_of(body) if event.all("URL")]
    assert addresses
    assert all(address.startswith(f"{served.url}/") for address in addresses)


# Several keys, each by itself


def test_keys_are_revoked_one_by_one(served: Served, client: httpx.Client) -> None:
    phone = own_feed(served, person="ines", name="phone")
    laptop = own_feed(served, person="ines", name="laptop")
    tag = client.get(laptop).headers["etag"]
    assert client.get(phone).headers["etag"] == tag
    revoke_feed_key(served.parts.store, "Phone", now=served.clock.now(), who="test", person="ines")
    assert client.get(phone).status_code == 404
    assert client.get(laptop, headers={"If-None-Match": tag}).status_code == 304
    assert client.get(served.feed("ines")).status_code == 200


def test_a_replaced_address_says_so_for_thirty_days_and_is_then_unknown(served: Served, client: httpx.Client) -> None:
    old = served.feed("ines")
    before = client.get(old)
    parts = served.parts
    key = rotate_feed_key(parts.store, parts.keys, "calendar", now=served.clock.now(), who="test", person="ines")
    new = client.get(f"{served.url}/feeds/{key}.ics")
    assert new.content == before.content
    said = client.get(old)
    assert said.status_code == 200
    assert titles(said.content) == {"This calendar address was replaced"}
    assert said.headers["etag"] != before.headers["etag"]
    assert client.get(old, headers={"If-None-Match": said.headers["etag"]}).status_code == 304
    with parts.store.read() as view:
        assert not any(vehicle.name in said.text for vehicle in view.vehicles())
    day = served.clock.now().date()
    (event,) = events_of(said.content)
    assert day_of(event.one("DTSTART")) == day
    assert day_of(event.one("DTEND")) == day + FAREWELL_TIME
    for point in set(CHECKS) - {"C04"}:
        CHECKS[point](RawFeed(said.content, served.clock.now(), day, "another name"))
    served.clock.move(FAREWELL_TIME - timedelta(seconds=1))
    assert client.get(old).content == said.content
    served.clock.move(timedelta(seconds=1))
    gone, wrong = client.get(old), client.get(f"{served.url}/feeds/{'x' * 43}.ics")
    assert (gone.status_code, gone.content) == (wrong.status_code, wrong.content) == (404, wrong.content)


def test_the_last_fetch_is_noted_once_an_hour_with_the_kind_of_reader(served: Served, client: httpx.Client) -> None:
    def told() -> tuple[str, datetime] | None:
        (one,) = feed_addresses(served.parts.store, now=served.clock.now(), person="ines")
        return None if one.fetch is None else (one.fetch.reader, one.fetch.at)

    def after(seen: object) -> tuple[str, datetime] | None:
        for _ in range(200):
            if (now := told()) != seen:
                return now
            sleep(0.02)
        return told()

    hour = served.clock.now().replace(minute=0, second=0, microsecond=0)
    assert told() is None
    with served.parts.store.read() as view:
        version = view.version()
    client.get(served.feed("ines"), headers={"User-Agent": "Mozilla/5.0 (X11; Linux) Thunderbird/140.0"})
    first = after(None)
    assert first == ("Thunderbird", hour)
    served.clock.move(timedelta(minutes=59))
    client.get(served.feed("ines"), headers={"User-Agent": "iOS/18.0 dataaccessd/1.0"})
    sleep(0.2)
    assert told() == first
    served.clock.move(timedelta(minutes=1))
    client.get(served.feed("ines"), headers={"User-Agent": "iOS/18.0 dataaccessd/1.0"})
    assert after(first) == ("an Apple phone or tablet", hour + timedelta(hours=1))
    with served.parts.store.read() as view:
        assert view.version() == version


@pytest.mark.parametrize(
    ("said", "kind"),
    [(None, "a program"), ("", "a program"), ("Ines' own script/2", "a program"), ("Mozilla/5.0 Firefox", "a browser")],
)
def test_what_is_not_known_is_a_program(said: str | None, kind: str) -> None:
    assert reader_kind(said) == kind


# A reading that was entered a moment ago


def enter(served: Served, client: httpx.Client, value: str) -> None:
    address = served.odometer("AN")
    (form,) = [form for form in page_of(client.get(address)).forms if form.method == "post"]
    assert client.post(address, data=form.filled(odo=value)).status_code == 200


def test_a_poll_sees_the_reading_of_a_moment_ago_whatever_tag_it_sends(served: Served, client: httpx.Client) -> None:
    first = client.get(served.feed("ines"))
    served.clock.move(timedelta(minutes=1))
    enter(served, client, "113040")
    with served.parts.store.read() as view:
        assert view.feeds_owed() == {"AN"}, "the answer did not wait for calendars"
    second = client.get(served.feed("ines"), headers={"If-None-Match": first.headers["etag"]})
    assert second.status_code == 200
    assert second.headers["etag"] != first.headers["etag"]
    with served.parts.store.read() as view:
        assert view.feeds_owed() == frozenset()
    again = client.get(served.feed("ines"), headers={"If-None-Match": second.headers["etag"]})
    assert again.status_code == 304


def test_a_calendar_that_cannot_be_renewed_is_answered_as_it_was_and_told_the_next_time(
    served: Served, client: httpx.Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = client.get(served.feed("ines"))
    served.clock.move(timedelta(minutes=1))
    enter(served, client, "113040")
    with monkeypatch.context() as patch:
        patch.setattr("fleetcare.actions.bring_feeds_up.renew_feeds", broken)
        while_broken = client.get(served.feed("ines"))
        assert (while_broken.status_code, while_broken.content) == (200, first.content)
    assert client.get(served.feed("ines")).content != first.content


def test_the_timetable_gives_what_no_poll_asked_for(served: Served, client: httpx.Client) -> None:
    enter(served, client, "113040")
    Round(served.parts).bring_feeds_up()
    with served.parts.store.read() as view:
        assert view.feeds_owed() == frozenset()


def broken(*_: object, **__: object) -> None:
    raise StoreBusy("The database is in use.")


# What a person can have in it


def test_choices_add_and_take_away_and_leave_the_rest_to_the_byte(served: Served, client: httpx.Client) -> None:
    def parts_of(body: bytes) -> dict[str, bytes]:
        blocks = [b"BEGIN:VEVENT" + part for part in body.removesuffix(b"END:VCALENDAR\r\n").split(b"BEGIN:VEVENT")[1:]]
        return {parsed(unfolded(block)).one("UID").value: block for block in blocks}

    before = parts_of(client.get(served.feed("ines")).content)
    choose(served, "ines", FeedChoice(dates=tuple(WindowDate)))
    more = parts_of(client.get(served.feed("ines")).content)
    assert before.items() < more.items()
    kinds = {event.one("CATEGORIES").value for event in events_of(client.get(served.feed("ines")).content)}
    assert {"window opens", "service due", "late date"} <= kinds
    choose(served, "ines", FeedChoice(topics=(Topic.SPOKEN_FOR,)))
    spoken_for = client.get(served.feed("ines")).content
    assert {event.one("CATEGORIES").value for event in events_of(spoken_for)} == {"spoken for"}
    assert parts_of(spoken_for).items() < before.items()
    choose(served, "ines", FeedChoice(marks=("AN",)))
    own = titles(client.get(served.feed("ines")).content)
    assert own
    assert all("Anvil" in title for title in own)


def test_with_alarms_off_there_is_none_and_the_rest_is_the_same(served: Served, client: httpx.Client) -> None:
    """For a new subscriber. Who turns them on later gets later stamps, or some programs would not look."""
    alarms = served.parts.rules.feeds.alarms
    assert len(alarms) == 3
    plain = client.get(served.feed("ines")).content
    assert b"VALARM" not in plain
    served.clock.move(timedelta(minutes=5))
    choose(served, "ines", FeedChoice(alarms=alarms))
    loud = client.get(served.feed("ines")).content
    assert loud.count(b"BEGIN:VALARM") >= 3
    stamps = rb"\r\n(DTSTAMP|LAST-MODIFIED):\d{8}T\d{6}Z"
    without = re.sub(rb"BEGIN:VALARM.*?END:VALARM\r\n", b"", loud, flags=re.DOTALL)
    assert re.sub(stamps, b"", without) == re.sub(stamps, b"", plain)
    old = {event.one("UID").value: event for event in events_of(plain)}
    for event in events_of(loud):
        before = old[event.one("UID").value].one("LAST-MODIFIED").value
        assert (event.one("LAST-MODIFIED").value > before) == bool(event.blocks)
        assert event.one("SEQUENCE").value == old[event.one("UID").value].one("SEQUENCE").value


def test_no_alarm_rings_on_the_day_of_the_garage_letter(served: Served, client: httpx.Client) -> None:
    with served.parts.store.read() as view:
        ines = next(person for person in view.people() if person.key == "ines")
    assert ines.letter_weekday is not None
    choose(served, "ines", FeedChoice(dates=tuple(WindowDate), alarms=served.parts.rules.feeds.alarms))
    rings = []
    for event in events_of(client.get(served.feed("ines")).content):
        midnight = datetime.combine(start_of(event.one("DTSTART")), time())
        rings += [midnight + duration_of(alarm.one("TRIGGER").value) for alarm in event.blocks]
    assert len(rings) > 20
    assert {ring.weekday() for ring in rings} == set(range(7)) - {ines.letter_weekday}


def test_the_garages_own_feed_holds_nothing_that_people_typed_freely(served: Served, client: httpx.Client) -> None:
    body = client.get(own_feed(served)).text
    with served.parts.store.read() as view:
        people, bookings, work, vehicles = view.people(), view.bookings(), view.work(), view.vehicles()
    assert all(f"SUMMARY:{vehicle.name}" in body for vehicle in vehicles if vehicle.name == "Anvil")
    assert "spoken for" in body
    findings = [finding.text for done in work for finding in done.findings]
    for typed in [*(p.name for p in people), *(p.first_name for p in people), *(b.title for b in bookings), *findings]:
        assert not typed or typed not in body.replace("\r\n ", ""), typed


def test_a_vehicles_feed_is_the_union_of_the_days_and_times_it_is_taken(served: Served, client: httpx.Client) -> None:
    with served.parts.store.read() as view:
        bookings = [b for b in view.bookings() if "AN" in b.marks]
        visits = {(v.begins_at, v.free_at) for v in view.bay_visits(["AN"]) if v.takes_place}
        anvil = next(v for v in view.vehicles() if v.mark == "AN")
    assert bookings
    assert visits
    spans = [b.days for b in bookings] + list(anvil.laid_up)
    expected = {span.first + timedelta(days=n) for span in spans for n in range(span.days)}
    body = client.get(own_feed(served, mark="AN")).content
    shown, in_the_bay = set(), set()
    for event in events_of(body):
        assert event.one("TRANSP").value == "OPAQUE"
        assert event.one("SUMMARY").text.startswith("Anvil taken")
        if is_timed(event.one("DTSTART")):
            in_the_bay.add((moment_of(event.one("DTSTART")), moment_of(event.one("DTEND"))))
            continue
        first, end = day_of(event.one("DTSTART")), day_of(event.one("DTEND"))
        shown |= {first + timedelta(days=n) for n in range((end - first).days)}
    frame = {day for day in expected if day >= date(2025, 4, 1)}
    assert shown == frame
    assert in_the_bay == visits
    assert not any(booking.title in body.decode() for booking in bookings)


def test_a_feed_lists_the_same_days_as_the_command_due(served: Served, client: httpx.Client) -> None:
    """By a program that asks a calendar which events lie between two days."""
    import recurring_ical_events
    from icalendar import Calendar

    from fleetcare.actions.look_ahead import look_ahead

    ahead = look_ahead(served.parts.store, served.parts.rules, now=served.clock.now())
    today = ahead.today
    windows = [line.window for o in ahead.outlooks for line in o.lines if line.window is not None]
    until = today + timedelta(days=365)
    expected = sorted(w.likely for w in windows if not w.is_past_late(today) and today <= w.likely < until)
    calendar = Calendar.from_ical(client.get(served.feed("ines")).content)
    found = recurring_ical_events.of(calendar).between(today, until)
    listed = sorted(e["DTSTART"].dt for e in found if str(e["CATEGORIES"].cats[0]) == "service due")
    assert len(expected) > 20
    assert listed == expected


def test_the_figures_of_a_text_are_those_of_the_api(served: Served, client: httpx.Client) -> None:
    """The three dates, the limit, when it was last done and the share worn, line by line."""
    causes = {"distance": "Distance", "hours": "Running hours", "date": "The date", "event": "It is counted"}
    rows = client.get(f"{served.url}/api/due", headers=served.bearer("ines")).json()
    by_likely: dict[tuple[str, date], list[dict[str, Any]]] = {}
    for row in rows:
        if row["likely"] and row["limit"] in causes:
            by_likely.setdefault((row["name"], date.fromisoformat(row["likely"])), []).append(row)
    checked = 0
    for event in events_of(client.get(served.feed("ines")).content):
        day, title = start_of(event.one("DTSTART")), event.one("SUMMARY").text
        found = by_likely.get((title.partition(":")[0], day), [])
        if event.one("CATEGORIES").value != "service due" or len(found) != 1:
            continue
        (row,) = found
        first, *lines = event.one("DESCRIPTION").text.split("\n")
        early, likely, late = (date.fromisoformat(row[name]) for name in ("early", "likely", "late"))
        assert first == f"Early {day_words(early, day)}, likely {day_words(likely, day)}, late {day_words(late, day)}."
        assert causes[row["limit"]] in lines[1]
        worn = re.search(r"Worn about (\d+) %", lines[1])
        assert worn is not None
        assert abs(int(worn[1]) - 100 * row["wear_by_reading"]) <= 2.51
        if row["last_done"]:
            assert f"Last done {day_words(date.fromisoformat(row['last_done']), date.min)}." in lines
        checked += 1
    assert checked > 10


# Never an error


def test_while_the_database_cannot_be_read_the_last_good_bytes_are_served(served: Served, client: httpx.Client) -> None:
    """Also by a process that was started since; the operator is told, and it ends by itself."""
    from tests.web.test_health import falling

    with falling(served) as (url, store):
        path = served.feed("ines").removeprefix(served.url)
        good = client.get(url + path)
        store.trouble = RuntimeError("the disk is gone")
        for address in (url + path,):
            kept = client.get(address)
            assert (kept.status_code, kept.content) == (200, good.content)
            assert kept.headers["etag"] == good.headers["etag"]
            assert kept.headers["last-modified"] == good.headers["last-modified"]
            same = client.get(address, headers={"If-None-Match": good.headers["etag"]})
            assert (same.status_code, same.content) == (304, b"")
    with falling(served) as (url, store):
        store.trouble = StoreTrouble("The database cannot be opened.")
        assert client.get(url + path).content == good.content
        told = client.get(f"{url}/readyz")
        assert told.status_code == 503
        assert any("last good copies" in trouble for trouble in told.json()["troubles"])
        store.trouble = None
        assert client.get(url + path).content == good.content
        assert client.get(f"{url}/readyz").status_code == 200


def test_copies_lie_where_their_owner_alone_reads_them_and_go_with_the_key(
    served: Served, client: httpx.Client
) -> None:
    key = served.feed("ines").rpartition("/")[2].removesuffix(".ics")
    client.get(served.feed("ines"))
    copy = served.parts.home / FOLDER / key_hash(key)
    assert copy.stat().st_mode & 0o077 == 0
    assert key.encode() not in copy.read_bytes()
    changed = copy.stat().st_mtime_ns
    client.get(served.feed("ines"))
    assert copy.stat().st_mtime_ns == changed
    revoke_feed_key(served.parts.store, "calendar", now=served.clock.now(), who="test", person="ines")
    assert client.get(served.feed("ines")).status_code == 404
    assert not copy.exists()
