"""The feed address over HTTP: validators, codings, refusals. RFC 9110 and RFC 9111 sections are named at each check."""

from __future__ import annotations

import gzip
from datetime import UTC, datetime, timedelta
from email.utils import format_datetime, parsedate_to_datetime

import httpx
import pytest

from tests.web.conftest import Served


def test_a_feed_answers_with_a_calendar_and_no_redirect(served: Served, client: httpx.Client) -> None:
    answer = client.get(served.feed("ines"))
    assert answer.status_code == 200
    assert answer.content.startswith(b"BEGIN:VCALENDAR\r\n")
    assert answer.content.endswith(b"END:VCALENDAR\r\n")
    assert answer.headers["content-type"] == "text/calendar; charset=utf-8"


def test_the_same_state_gives_the_same_bytes_and_tag(served: Served, client: httpx.Client) -> None:
    first = client.get(served.feed("ines"))
    served.clock.move(timedelta(hours=6))
    second = client.get(served.feed("ines"))
    assert first.content == second.content
    assert first.headers["etag"] == second.headers["etag"]
    assert first.headers["etag"].startswith('W/"')


@pytest.mark.parametrize("form", ["{tag}", '"other", {tag}', "*", "{strong}", '{tag} , "x"'])
def test_a_reader_who_has_the_bytes_gets_an_empty_304(served: Served, client: httpx.Client, form: str) -> None:
    """RFC 9110 13.1.2: weak comparison, lists and the star."""
    tag = client.get(served.feed("ines")).headers["etag"]
    asked = form.format(tag=tag, strong=tag.removeprefix("W/"))
    answer = client.get(served.feed("ines"), headers={"If-None-Match": asked})
    assert (answer.status_code, answer.content) == (304, b"")
    # RFC 9110 15.4.5: a 304 repeats what a 200 would have said for the cache.
    assert answer.headers["etag"] == tag
    assert answer.headers["cache-control"] == "private, no-cache"
    assert "accept-encoding" in answer.headers["vary"].lower()


def test_a_foreign_tag_gets_the_whole_feed_even_with_a_late_date(served: Served, client: httpx.Client) -> None:
    """RFC 9110 13.2.2: If-None-Match wins over If-Modified-Since."""
    late = format_datetime(datetime(2030, 1, 1, tzinfo=UTC), usegmt=True)
    answer = client.get(served.feed("ines"), headers={"If-None-Match": '"foreign"', "If-Modified-Since": late})
    assert answer.status_code == 200


def test_the_date_of_the_last_change_works_as_validator(served: Served, client: httpx.Client) -> None:
    """RFC 9110 13.1.3: its own date gives 304, an older or a malformed one 200."""
    changed = client.get(served.feed("ines")).headers["last-modified"]
    older = format_datetime(parsedate_to_datetime(changed) - timedelta(seconds=1), usegmt=True)
    for since, status in ((changed, 304), (older, 200), ("yesterday", 200), ("", 200), ("Tue, 99 Foo 2026", 200)):
        answer = client.get(served.feed("ines"), headers={"If-Modified-Since": since})
        assert answer.status_code == status, since


def test_head_answers_like_get_without_a_body(served: Served, client: httpx.Client) -> None:
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
def test_it_is_compressed_only_if_asked(served: Served, client: httpx.Client, accepted: str, is_coded: bool) -> None:
    """RFC 9110 12.5.3."""
    plain = client.get(served.feed("ines"), headers={"Accept-Encoding": "identity"})
    with client.stream("GET", served.feed("ines"), headers={"Accept-Encoding": accepted}) as answer:
        raw = b"".join(answer.iter_raw())
        assert answer.headers.get("content-encoding") == ("gzip" if is_coded else None)
        assert (gzip.decompress(raw) if is_coded else raw) == plain.content
        assert answer.headers["etag"] == plain.headers["etag"]
        assert answer.headers["vary"] == "Accept-Encoding"
        assert int(answer.headers["content-length"]) == len(raw)


def test_every_reader_gets_the_same_bytes(served: Served, client: httpx.Client) -> None:
    """Whatever it accepts and whatever it calls itself."""
    bodies = {
        client.get(served.feed("ines"), headers=headers).content
        for headers in ({"Accept": "text/html"}, {"Accept": "*/*"}, {"User-Agent": ""}, {"User-Agent": "x" * 900}, {})
    }
    assert len(bodies) == 1


def test_any_wrong_key_gets_one_and_the_same_short_404(served: Served, client: httpx.Client) -> None:
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
def test_a_feed_can_only_be_read(served: Served, client: httpx.Client, method: str) -> None:
    answer = client.request(method, served.feed("ines"))
    assert answer.status_code == 405
    assert answer.headers["allow"] == "GET, HEAD"


def test_a_feed_says_nothing_of_itself_to_third_parties(served: Served, client: httpx.Client) -> None:
    """RFC 9111 5.2.2: private; no cookie, no referrer, no index, no open CORS, no attachment."""
    answer = client.get(served.feed("ines"), headers={"Origin": "https://elsewhere.example"})
    assert "set-cookie" not in answer.headers
    assert answer.headers["referrer-policy"] == "no-referrer"
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert "noindex" in answer.headers["x-robots-tag"]
    assert "access-control-allow-origin" not in answer.headers
    assert "attachment" not in answer.headers.get("content-disposition", "")


def test_the_key_is_long_and_names_nobody(served: Served) -> None:
    path = served.feed("ines").removeprefix(served.url)
    assert path.startswith("/feeds/")
    assert path.endswith(".ics")
    assert "ines" not in path.lower()


def test_robots_let_fetchers_in(served: Served, client: httpx.Client) -> None:
    answer = client.get(f"{served.url}/robots.txt")
    assert "Allow: /feeds/" in answer.text


def test_many_quick_polls_are_all_answered(served: Served, client: httpx.Client) -> None:
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
