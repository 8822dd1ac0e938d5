"""The right entries stand on the right days, say it in 28 characters, and name nobody else's vehicle."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.calendar_feed.entries import feed_entries, shown_frame, stretched_days
from fleetcare.calendar_feed.rules import FeedRules
from fleetcare.calendar_feed.values import EntryKind, FeedEntry
from fleetcare.calendar_feed.words import full_text
from fleetcare.due.outlook import Cause, ReadingWanted, VehicleOutlook
from fleetcare.errors import BadInput
from fleetcare.fleet.booking import Booking
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.feed_choice import FeedAlarm, FeedChoice, Topic, WindowDate
from fleetcare.fleet.vehicle import Meter
from fleetcare.quantities import DateSpan, DistanceUnit, MeterUnit
from fleetcare.work.record import Finding, WorkDone
from tests.calendar_feed.garage import (
    INES,
    TODAY,
    around,
    karst_ridge,
    karst_ridge_bookings,
    karst_ridge_work,
    line,
    outlook,
    vehicle,
)


def shown(
    *outlooks: VehicleOutlook,
    bookings: tuple[Booking, ...] = (),
    work: tuple[WorkDone, ...] = (),
    today: date = TODAY,
) -> tuple[FeedEntry, ...]:
    return feed_entries(INES, outlooks=outlooks, bookings=bookings, work=work, today=today)


def by_title(entries: tuple[FeedEntry, ...]) -> dict[str, FeedEntry]:
    return {entry.title: entry for entry in entries}


def one_day(day: date) -> DateSpan:
    return DateSpan.of_days(day, day)


ORDINARY = shown(*karst_ridge(), bookings=karst_ridge_bookings(), work=karst_ridge_work())


def test_the_garage_of_14_april_reads_as_it_should() -> None:
    assert [entry.title for entry in ORDINARY] == [
        "Raft: coupling past late",
        "Bellows: odometer, please",
        "AN, RA spoken for: Hollow Lake hill climb",
        "Anvil: front axle, axle fluid likely due",
        "Anvil: rear axle, axle fluid likely due",
        "Bellows spoken for: Track day tow",
        "Bellows: look again, rear cover damp",
        "Anvil: engine oil likely due",
        "Bellows: hubs, first look due",
    ]


def test_a_service_stands_on_its_likely_date_with_the_three_dates_and_the_why() -> None:
    entry = by_title(ORDINARY)["Anvil: engine oil likely due"]
    assert (entry.kind, entry.days, entry.path) == (EntryKind.DUE, one_day(date(2026, 6, 7)), "/vehicles/AN")
    assert full_text(entry).split("\n") == [
        "Early 27 May, likely 7 June, late 26 June.",
        "Anvil: Engine oil.",
        "Distance comes first. Worn about 65 % at the last reading.",
        "Last done 1 September 2025.",
        "It runs about 900 mi a month, by its readings.",
    ]


def test_past_late_reaches_from_the_late_date_to_beyond_today_and_says_since_when() -> None:
    entry = by_title(ORDINARY)["Raft: coupling past late"]
    assert entry.days == DateSpan(date(2026, 4, 8), date(2026, 4, 17))
    assert full_text(entry).startswith("Past late since 8 April. Early was 11 March, likely 25 March.")
    assert "Worn about 105 %." in entry.text


def test_a_likely_date_gives_way_to_past_late_on_the_day_after_the_late_date() -> None:
    of = outlook(vehicle("AN", "Anvil"), line("AN", "oil", around(date(2026, 4, 20), 5, 5)))
    on_the_last_day = shown(of, today=date(2026, 4, 25))
    after = shown(of, today=date(2026, 4, 26))
    assert [entry.kind for entry in on_the_last_day] == [EntryKind.DUE]
    assert [entry.kind for entry in after] == [EntryKind.PAST_LATE]
    assert {entry.seed for entry in on_the_last_day} & {entry.seed for entry in after} == set()


def test_a_reading_stands_from_the_day_it_was_wanted_and_gives_no_figure_away() -> None:
    entry = by_title(ORDINARY)["Bellows: odometer, please"]
    assert entry.days == DateSpan(date(2026, 4, 9), date(2026, 4, 18))
    assert entry.text == "The link is in that day's mail, or scan the sticker.\nLast read 12 March."


@pytest.mark.parametrize(
    ("meter", "title"),
    [
        (Meter("hours", MeterUnit.HOURS), "Anvil: hour meter, please"),
        (Meter("o", MeterUnit.KM), "Anvil: odometer, please"),
    ],
)
def test_the_meter_that_wants_a_reading_is_named(meter: Meter, title: str) -> None:
    of = outlook(vehicle("AN", "Anvil", meters=(meter,)), wanted=ReadingWanted(meter.key, TODAY, None, None))
    (entry,) = shown(of)
    assert (entry.title, entry.days) == (title, one_day(TODAY))


def test_a_booking_is_shown_with_the_readers_vehicles_only() -> None:
    assert not any("NE" in entry.title or "Nettle" in entry.text for entry in ORDINARY)
    assert by_title(ORDINARY)["Bellows spoken for: Track day tow"].text.split("\n") == [
        "Track day tow.",
        "Spoken for: Bellows (BE).",
        "15 to 16 May.",
        "Expected: about 180 mi, towing.",
    ]


def test_bookings_and_findings_of_other_vehicles_are_not_shown() -> None:
    booking = Booking("b", "elsewhere", one_day(TODAY), ("ZZ",))
    work = WorkDone(LineKey("ZZ", "c", "s"), TODAY, findings=(Finding("elsewhere", look_again_on=TODAY),))
    (entry,) = shown(outlook(vehicle("AN", "Anvil")), bookings=(booking,), work=(work,))
    assert entry.kind is EntryKind.NOTHING_DUE


def test_many_vehicles_of_a_booking_are_counted() -> None:
    outlooks = [outlook(vehicle(mark, f"Name {mark}")) for mark in ("AA", "BB", "CC", "DD", "EE")]
    booking = Booking("b", "Rally", one_day(TODAY), ("EE", "AA", "BB", "CC", "DD"), distance=Decimal(100))
    (entry,) = shown(*outlooks, bookings=(booking,))
    assert entry.title == "EE, AA, BB and 2 more spoken for: Rally"
    assert "Expected: about 62 mi each." in entry.text


def test_a_finding_that_waits_stays_in_sight_until_it_is_settled() -> None:
    def looks(finding: Finding, today: date) -> tuple[FeedEntry, ...]:
        of = outlook(vehicle("BE", "Bellows"), line("BE", "s", None, component="c"))
        work = WorkDone(LineKey("BE", "c", "s"), date(2026, 2, 1), findings=(finding,))
        return shown(of, work=(work,), today=today)

    finding = Finding("rear cover damp.", look_again_on=date(2026, 5, 20))
    (before,) = looks(finding, TODAY)
    (after,) = looks(finding, date(2026, 6, 10))
    (settled,) = looks(replace(finding, settled_on=date(2026, 6, 10)), date(2026, 6, 10))
    assert (before.title, before.days) == ("Bellows: look again, rear cover damp", one_day(date(2026, 5, 20)))
    assert before.text == "Bellows: rear cover damp.\nFound 1 February 2026."
    assert after.seed == before.seed
    assert date(2026, 6, 10) in after.days
    assert settled.kind is EntryKind.NOTHING_DUE


def test_two_findings_of_one_day_are_two_entries() -> None:
    finding = Finding("damp", look_again_on=TODAY)
    work = WorkDone(LineKey("BE", "c", "s"), TODAY, at=Decimal(1), findings=(finding, finding))
    entries = shown(outlook(vehicle("BE", "Bellows")), work=(work, replace(work, at=Decimal(2))))
    assert len({entry.seed for entry in entries}) == len({entry.title for entry in entries}) == 4


def test_with_nothing_else_one_marker_says_so() -> None:
    far = outlook(vehicle("AN", "Anvil"), line("AN", "oil", around(date(2029, 1, 1))))
    (entry,) = shown(far)
    assert (entry.title, entry.kind) == ("Nothing due before 1 May 2028", EntryKind.NOTHING_DUE)
    (undated,) = shown(outlook(vehicle("AN", "Anvil"), line("AN", "oil", None)))
    assert undated.title == "No date in sight"
    assert undated.text == "1 service has no date; the page of the vehicle says why."
    (nobody,) = shown()
    assert nobody.title == "No vehicle of yours yet"
    assert {entry.seed, undated.seed, nobody.seed} == {entry.seed}


def test_a_vehicle_that_left_is_not_shown() -> None:
    of = outlook(vehicle("AN", "Anvil", out_of_fleet_on=TODAY), line("AN", "oil", around(TODAY)))
    assert [entry.kind for entry in shown(of)] == [EntryKind.NOTHING_DUE]


def test_the_first_28_characters_say_it() -> None:
    """The mark stands for a name that would fill them."""
    long = outlook(vehicle("LN", "The very long name of a coach"), line("LN", "oil", around(TODAY), short="engine oil"))
    assert [entry.title for entry in shown(long)] == ["LN: engine oil likely due"]
    for entry in ORDINARY:
        start = entry.title[:28]
        assert any(word in start for word in ("past", "odometer", "spoken for", "axle", "look", "oil")), start


def test_two_vehicles_of_one_name_are_told_apart() -> None:
    twins = [outlook(vehicle(mark, "Anvil"), line(mark, "oil", around(TODAY))) for mark in ("AN", "AV")]
    assert [entry.title for entry in shown(*twins)] == ["Anvil AN: oil likely due", "Anvil AV: oil likely due"]


def test_distance_is_told_in_the_readers_unit() -> None:
    of = outlook(vehicle("AN", "Anvil"), line("AN", "oil", around(TODAY)))
    (entry,) = feed_entries(replace(INES, unit=DistanceUnit.KM), outlooks=(of,), bookings=(), work=(), today=TODAY)
    assert "It runs about 1\N{THIN SPACE}400 km a month" in entry.text


@given(st.floats(-0.02, 0.02), st.integers(6, 400))
def test_noise_in_pace_and_wear_changes_no_text(noise: float, readings: int) -> None:
    def text(pace: float, worn: float, readings: int) -> str:
        of = outlook(
            vehicle("AN", "Anvil"),
            line("AN", "oil", around(TODAY), q_read=worn),
            pace_km_per_day=pace,
            readings_used=readings,
            basis=f"{readings} readings",
        )
        return full_text(shown(of)[0])

    assert text(47.6 * (1 + noise), 0.65 + noise, readings) == text(47.6, 0.65, 24)


def test_a_text_says_nothing_that_is_not_a_number() -> None:
    of = outlook(
        vehicle("AN", "Anvil"),
        line("AN", "oil", around(TODAY), q_read=float("nan"), last_done_on=None),
        pace_km_per_day=float("inf"),
    )
    assert shown(of)[0].text.split("\n") == ["Anvil: Oil.", "Distance comes first.", "There is no record of it here."]


@pytest.mark.parametrize(
    ("pace", "words"),
    [(0.0, "less than 1 mi"), (0.01, "less than 1 mi"), (2.0, "about 38 mi"), (400.0, "about 7\u2009500 mi")],
)
def test_a_pace_is_told_in_coarse_steps(pace: float, words: str) -> None:
    of = outlook(vehicle("AN", "Anvil"), line("AN", "oil", around(TODAY)), pace_km_per_day=pace, readings_used=3)
    assert f"It runs {words} a month, by a few readings." in shown(of)[0].text


@pytest.mark.parametrize("cause", Cause)
def test_every_cause_has_its_words(cause: Cause) -> None:
    of = outlook(vehicle("AN", "Anvil"), line("AN", "oil", around(TODAY), cause=cause))
    assert len(shown(of)[0].text.split("\n")[1]) > 10


@given(st.dates(date(2000, 1, 1), date(2100, 1, 1)))
def test_e18_the_frame_holds_at_most_400_days_back_and_800_ahead(today: date) -> None:
    frame = shown_frame(today, FeedRules())
    assert today - timedelta(days=400) <= frame.first <= today - timedelta(days=365)
    assert today + timedelta(days=730) <= frame.end <= today + timedelta(days=800)


def test_what_began_before_the_frame_is_shown_from_its_edge() -> None:
    of = outlook(vehicle("AN", "Anvil"), line("AN", "oil", around(date(2023, 1, 1))))
    (entry,) = shown(of)
    assert entry.days.first == date(2025, 4, 1)
    assert TODAY in entry.days
    assert "Past late since 21 January 2023." in full_text(entry)


@given(st.integers(-40, 800))
def test_a_bar_holds_today_and_reaches_two_days_further(since: int) -> None:
    first = TODAY - timedelta(days=since)
    bar = stretched_days(first, TODAY, FeedRules())
    assert bar.first == first
    if since > 0:
        assert TODAY + timedelta(days=2) in bar
        assert TODAY + timedelta(days=9) not in bar
    else:
        assert bar.days == 1


def test_the_same_day_gives_the_same_entries_whatever_the_order() -> None:
    backwards = shown(*reversed(karst_ridge()), bookings=karst_ridge_bookings()[::-1], work=karst_ridge_work()[::-1])
    assert backwards == ORDINARY


def test_a_day_without_transition_changes_no_entry() -> None:
    assert shown(
        *karst_ridge(), bookings=karst_ridge_bookings(), work=karst_ridge_work(), today=TODAY - timedelta(days=1)
    ) == shown(
        *karst_ridge(), bookings=karst_ridge_bookings(), work=karst_ridge_work(), today=TODAY - timedelta(days=2)
    )


def test_no_seed_holds_a_title_or_a_name() -> None:
    for entry in ORDINARY:
        for word in ("Anvil", "Raft", "Bellows", "Ines", "ines", "hill climb", "damp"):
            assert word not in entry.seed


# What a text says beyond the dates


def test_a_text_says_what_to_have_ready_and_only_for_work_that_takes_it() -> None:
    of = outlook(
        vehicle("AN", "Anvil"),
        line(
            "AN", "fluid", around(TODAY), title="Rear axle fluid, cover reseal", action="drain, refill", tag="75W-140"
        ),
        line("AN", "look", around(TODAY), title="Axle, look over", action="look for leaks", tag="75W-140"),
    )
    texts = {entry.title: entry.text for entry in shown(of)}
    ready = "Have ready: 2.6 L of 75W-140; friction modifier: 75W-140; 75W-140."
    assert texts["Anvil: fluid likely due"].split("\n")[-1] == ready
    assert "Have ready" not in texts["Anvil: look likely due"]


# Choices


def chosen(choice: FeedChoice, *outlooks: VehicleOutlook, bookings: tuple[Booking, ...] = ()) -> tuple[FeedEntry, ...]:
    """What Ines is shown if she chose that."""
    return feed_entries(INES, outlooks=outlooks, bookings=bookings, work=karst_ridge_work(), today=TODAY, choice=choice)


def test_early_and_late_dates_stand_beside_or_instead_of_the_likely_one() -> None:
    of = outlook(vehicle("AN", "Anvil"), line("AN", "oil", around(date(2026, 5, 20), 5, 9)))
    every = chosen(FeedChoice(dates=tuple(WindowDate)), of)
    assert [(entry.title, entry.kind, entry.days.first) for entry in every] == [
        ("Anvil: oil window opens", EntryKind.OPENS, date(2026, 5, 15)),
        ("Anvil: oil likely due", EntryKind.DUE, date(2026, 5, 20)),
        ("Anvil: oil, late date", EntryKind.LATE_DATE, date(2026, 5, 29)),
    ]
    assert chosen(FeedChoice(dates=(WindowDate.LATE,)), of) == every[2:]


def test_a_laid_up_spell_stands_from_its_first_day_to_its_last() -> None:
    spell = DateSpan.of_days(date(2026, 11, 1), date(2027, 2, 28))
    (entry,) = shown(outlook(vehicle("AN", "Anvil", laid_up=(spell,))))
    assert (entry.title, entry.kind, entry.days) == ("Anvil laid up", EntryKind.LAID_UP, spell)
    assert entry.text.split("\n")[1] == "1 November to 28 February 2027."


@pytest.mark.parametrize("topic", [t for t in Topic if t not in (Topic.BAY_DAYS, Topic.STANDING)])
def test_a_topic_that_is_not_chosen_is_not_shown(topic: Topic) -> None:
    kinds = {
        Topic.DUE: {EntryKind.DUE, EntryKind.PAST_LATE},
        Topic.SPOKEN_FOR: {EntryKind.BOOKING},
        Topic.READINGS: {EntryKind.READING},
        Topic.LOOK_AGAIN: {EntryKind.LOOK_AGAIN},
        Topic.LAID_UP: {EntryKind.LAID_UP},
    }
    spell = DateSpan.of_days(TODAY, TODAY)
    outlooks = (*karst_ridge(), outlook(vehicle("NE", "Nettle", laid_up=(spell,))))
    every = chosen(FeedChoice(), *outlooks, bookings=karst_ridge_bookings())
    others = tuple(each for each in Topic if each is not topic)
    rest = chosen(FeedChoice(topics=others), *outlooks, bookings=karst_ridge_bookings())
    assert set(every) - set(rest) == {entry for entry in every if entry.kind in kinds[topic]}
    assert len(rest) < len(every)


@pytest.mark.parametrize(
    "wrong",
    [
        {"topics": ()},
        {"dates": ()},
        {"alarms": tuple(FeedAlarm(f"a{n}", n, timedelta(hours=9)) for n in range(1, 5))},
        {"alarms": (FeedAlarm("a", 1, timedelta(hours=9)), FeedAlarm("b", 1, timedelta(hours=9)))},
    ],
)
def test_a_choice_that_cannot_be_is_refused(wrong: dict[str, object]) -> None:
    with pytest.raises(BadInput):
        FeedChoice(**wrong)  # type: ignore[arg-type]


@pytest.mark.parametrize(("days", "hour"), [(0, 9), (61, 9), (1, 5), (1, 22)])
def test_an_alarm_on_the_day_or_at_night_is_refused(days: int, hour: int) -> None:
    with pytest.raises(BadInput):
        FeedAlarm("a", days, timedelta(hours=hour))


def test_nothing_that_is_past_late_or_wanted_rings() -> None:
    """It would ring again whenever the bar is stretched."""
    loud = chosen(FeedChoice(alarms=(FeedAlarm("week", 7, timedelta(hours=9)),)), *karst_ridge())
    assert {entry.kind for entry in loud if entry.alarms} == {EntryKind.DUE, EntryKind.LOOK_AGAIN}
