"""The ledger revises honestly: one UID for ever, later stamps and higher counts only for what somebody can see."""

from __future__ import annotations

import uuid
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.calendar_feed.place import place_days, place_key
from fleetcare.calendar_feed.publishing import _NAMESPACE, Published, draft_of, entry_uid, next_era, press_at, publish
from fleetcare.calendar_feed.values import EntryKind, FeedEntry, PublishedEntry
from fleetcare.errors import BadSettings, Clash
from fleetcare.quantities import DateSpan
from tests.calendar_feed.garage import BASE, GARAGE_ID, NOW, TODAY, published, rich_entries

DAY = timedelta(days=1)
SEED = "due/AN/engine/oil"


def entry(offset: int = 30, *, title: str = "Anvil: oil likely due", seed: str = SEED, text: str = "why") -> FeedEntry:
    day = TODAY + timedelta(days=offset)
    return FeedEntry(seed, EntryKind.DUE, title, DateSpan.of_days(day, day), text=text, path="/vehicles/AN")


def only(ledger: Published[PublishedEntry]) -> PublishedEntry:
    (one,) = ledger.entries
    return one


@given(st.text(max_size=20), st.text(max_size=40))
def test_a_uid_is_the_uuid_5_of_garage_and_seed(garage: str, seed: str) -> None:
    """RFC 9562 5.5, by the standard library's uuid5."""
    import json

    expected = uuid.uuid5(uuid.UUID(bytes=_NAMESPACE), json.dumps([garage, seed]))
    assert entry_uid(garage, seed) == f"{expected}@fleetcare"
    assert uuid.UUID(entry_uid(garage, seed).removesuffix("@fleetcare")).version == 5


def test_a_uid_stays_what_it_is() -> None:
    """Published UIDs are promises: whoever changes the recipe makes every entry of every reader appear twice."""
    assert entry_uid("karst-ridge-1", SEED) == "247693e1-2039-58be-abef-f5de7070f0dd@fleetcare"


def test_garages_do_not_share_uids() -> None:
    assert entry_uid("a", SEED) != entry_uid("b", SEED)
    assert entry_uid("a", 'b", "c') != entry_uid('a", "b', "c")


def test_a_new_entry_starts_at_nought() -> None:
    one = only(published((entry(),)))
    assert one.sequence == 0
    assert one.created_at == one.modified_at == NOW.replace(microsecond=0)
    assert published((entry(),)).changed == (one,)


def test_what_did_not_change_is_the_same_object() -> None:
    before = published(rich_entries())
    after = published(rich_entries(), before.entries, NOW + timedelta(hours=6))
    assert after.changed == ()
    assert all(old is new for old, new in zip(before.entries, after.entries, strict=True))


def test_another_text_moves_the_stamp_and_not_the_count() -> None:
    before = only(published((entry(),)))
    after = only(published((entry(text="another why"),), (before,), NOW + DAY))
    assert (after.sequence, after.created_at) == (0, before.created_at)
    assert after.modified_at == (NOW + DAY).replace(microsecond=0)


@pytest.mark.parametrize("changed", [entry(40), replace(entry(), tentative=True)])
def test_other_days_or_another_status_raise_the_count(changed: FeedEntry) -> None:
    before = only(published((entry(),)))
    after = only(published((changed,), (before,), NOW + DAY))
    assert after.sequence == 1
    assert after.uid == before.uid
    assert after.modified_at > before.modified_at


def test_a_stamp_moves_on_by_a_second_if_the_clock_stood_or_went_back() -> None:
    before = only(published((entry(),)))
    for now in (NOW, NOW - 400 * DAY):
        after = only(published((entry(40),), (before,), now))
        assert after.modified_at == before.modified_at + timedelta(seconds=1)


def test_a_withdrawn_entry_is_kept_and_returns_under_its_uid_with_a_higher_count() -> None:
    first = published((entry(),))
    gone = published((), first.entries, NOW + DAY)
    still_gone = published((), gone.entries, NOW + 2 * DAY)
    back = published((entry(),), still_gone.entries, NOW + 3 * DAY)
    assert only(gone).withdrawn_at == (NOW + DAY).replace(microsecond=0)
    assert gone.changed == gone.entries
    assert gone.current == ()
    assert still_gone.changed == ()
    assert only(back).withdrawn_at is None
    assert (only(back).uid, only(back).sequence) == (only(first).uid, 1)
    assert only(back).modified_at > only(first).modified_at
    assert only(back).created_at == only(first).created_at


def test_one_seed_twice_is_refused() -> None:
    with pytest.raises(Clash, match="same thing"):
        published((entry(), entry(50)))


def test_a_garage_without_an_id_is_refused() -> None:
    with pytest.raises(ValueError, match="id"):
        draft_of(entry(), garage_id="", base=BASE)


def test_a_moment_without_a_zone_is_refused() -> None:
    with pytest.raises(ValueError, match="zone"):
        published((entry(),), now=datetime(2026, 4, 14))  # noqa: DTZ001


def test_the_zone_of_the_moment_does_not_matter() -> None:
    elsewhere = NOW.astimezone(timezone(timedelta(hours=-7)))
    assert published((entry(),), now=elsewhere) == published((entry(),))
    assert only(published((entry(),), now=elsewhere)).modified_at.tzinfo is UTC


@pytest.mark.parametrize(
    "base", ["garage.example", "ftp://x", "https://", "https://gärage.example", "https://a b", "https://a\r\nX:1"]
)
def test_an_address_that_cannot_stand_in_a_calendar_is_refused(base: str) -> None:
    with pytest.raises(BadSettings, match="in full"):
        published((entry(),), base_url=base)


def test_without_a_base_there_is_no_address() -> None:
    assert b"\r\nURL" not in only(published((entry(),), base_url="")).body
    assert b"\r\nURL:https://garage.example/vehicles/AN\r\n" in only(published((entry(),), base_url=BASE + "/")).body


@given(st.permutations([entry(n, seed=f"s{n}") for n in range(5)]))
def test_the_order_of_entries_does_not_matter(entries: list[FeedEntry]) -> None:
    assert published(entries) == published([entry(n, seed=f"s{n}") for n in range(5)])


def test_the_ledger_is_by_uid_and_the_feed_by_first_day_and_uid() -> None:
    ledger = published([entry(n % 3, seed=f"s{n}", title=f"t{n}") for n in range(9)])
    assert [one.uid for one in ledger.entries] == sorted(one.uid for one in ledger.entries)
    places = [(place_days(one.sort_key).first, one.uid) for one in ledger.current]
    assert places == sorted(places)


# Several feeds


def test_what_looks_the_same_in_two_feeds_is_written_once() -> None:
    press = press_at(NOW)
    drafts = [draft_of(entry(n, seed=f"s{n}", title=f"t{n}"), garage_id=GARAGE_ID, base=BASE) for n in range(20)]
    feeds = [publish((), drafts[start:], press) for start in range(10)]
    assert len(press.made) == 20
    assert all(one is two for one, two in zip(feeds[1].current[1:], feeds[2].current, strict=True))


def test_a_later_subscriber_is_given_what_the_others_have() -> None:
    """Also the count and the moments; a feed of its own is no new event."""
    first = published((entry(),))
    moved = published((entry(40),), first.entries, NOW + DAY)
    press = press_at(NOW + 30 * DAY)
    press.knows(moved.entries)
    late = publish((), [draft_of(entry(40), garage_id=GARAGE_ID, base=BASE)], press)
    assert late.entries == moved.entries
    assert press.made == []


def test_a_feed_never_takes_over_what_is_older_than_its_own() -> None:
    """A reader that shows another look now must see a later stamp, or some programs keep what they had."""
    mine = published((entry(text="with alarm"),), now=NOW + DAY)
    theirs = published((entry(text="without"),))
    press = press_at(NOW + 2 * DAY)
    press.knows(theirs.entries)
    changed = publish(mine.entries, [draft_of(entry(text="without"), garage_id=GARAGE_ID, base=BASE)], press)
    (one,) = changed.entries
    assert one.modified_at == (NOW + 2 * DAY).replace(microsecond=0)
    assert one.content_hash == only(theirs).content_hash


# Restored from a backup


def test_after_a_restore_everything_looks_newer_than_what_was_published_since() -> None:
    backup = published((entry(), entry(20, seed="other")))
    lost = backup
    for step in range(1, 20):
        later = (
            entry(30 + 5 * step),
            entry(20, seed="other", text=f"{step}"),
            entry(9 + step, seed="unknown to the backup"),
        )
        lost = published(later, lost.entries, NOW + step * DAY)
    restored = published(
        (entry(), entry(20, seed="other"), entry(8, seed="unknown to the backup")),
        backup.entries,
        NOW + 30 * DAY,
        era=next_era(0, backup.entries),
    )
    seen = {one.uid: one for one in lost.entries}
    assert set(seen) == {one.uid for one in restored.entries}
    for one in restored.entries:
        assert one.sequence > seen[one.uid].sequence
        assert one.modified_at > seen[one.uid].modified_at


def test_a_second_restore_is_higher_still() -> None:
    backup = published((entry(),)).entries
    era = next_era(0, backup)
    once = published((entry(),), backup, NOW + DAY, era=era)
    later_era = next_era(era, once.entries)
    twice = published((entry(),), once.entries, NOW + 2 * DAY, era=later_era)
    assert (only(once).sequence, only(twice).sequence) == (1000, 2000)
    assert only(published((entry(),), twice.entries, NOW + 3 * DAY, era=later_era)) is only(twice)


def test_days_that_people_set_are_taken_as_they_are() -> None:
    before = only(published((entry(30),)))
    assert place_days(only(published((entry(31),), (before,), NOW + DAY)).sort_key).first == TODAY + 31 * DAY


dates = st.dates(date(1990, 1, 1), date(2100, 1, 1))


@given(dates, st.integers(1, 900))
def test_a_place_is_remembered(first: date, length: int) -> None:
    days = DateSpan(first, first + timedelta(days=length))
    assert place_days(place_key("u-1@fleetcare", days)) == days


def test_what_is_no_place_is_refused() -> None:
    with pytest.raises(ValueError, match="place"):
        place_days("2026-04-14")


def test_the_garage_id_is_not_in_what_is_published() -> None:
    assert not any(GARAGE_ID.encode() in one.body for one in published(rich_entries()).entries)
