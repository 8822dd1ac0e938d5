"""How a date came about: sentences and figures that add up, from the readings to the likely day."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given

from fleetcare.book.rows import BookRow, DutyFigure, IntervalBook, IntervalRule, Limits, Mixing
from fleetcare.due.facts import VehicleFacts
from fleetcare.due.outlook import Figure, LineOutlook, NoDate, StoodStill, VehicleOutlook
from fleetcare.due.reckon import reckon_vehicle
from fleetcare.due.telling import clock_question, spell_words, whole_parts
from fleetcare.due.vehicle_state import UNTIL_FURTHER_NOTICE, has_open_end
from fleetcare.fleet.booking import CHANGED_HANDS
from fleetcare.fleet.component import TagFact
from fleetcare.fleet.vehicle import HOUR_METER, ODOMETER, Meter
from fleetcare.meter.reading import Reading, ReadingState
from fleetcare.quantities import DateSpan, DistanceUnit, MeterUnit, PrintedDistance
from fleetcare.settings.forecast_file import load_priors
from fleetcare.wording import MONTHS
from tests.book.shipped import CONFIG
from tests.demo.test_demo_windows import outlooks as demo_outlooks
from tests.due.chain_figures import Links, reckon_again, steps_of
from tests.due.facts import DUTIES, FLAT, PRIORS, TODAY, booking, done, event, miles, monthly, outlook_of, reading
from tests.due.facts import row as a_row
from tests.due.facts import vehicle as a_vehicle
from tests.due.test_laws import SLOW, garages, line_of

LAST_ON = date(2026, 3, 31)
MONTHLY = monthly(LAST_ON, 112640, 880, 24)
OIL = a_row(mi=7500)
WORK = [done(date(2026, 1, 30), 110880)]
NUMBER = r"(\d[\d ]*(?:\.\d+)?)"
DAY = rf"(\d{{1,2}} (?:{'|'.join(MONTHS)})(?: \d{{4}})?)"


def told(line: LineOutlook) -> str:
    """The sentences, with plain blanks."""
    return "\n".join(step.text for step in line.steps).replace("\u2009", " ")


def figure(line: LineOutlook, part: str, name: str) -> Figure:
    """The first figure of that name in such a step."""
    return next(each for step in line.steps if step.part == part for each in step.figures if each.name == name)


def seen(facts: VehicleFacts, row: BookRow = OIL, today: date = TODAY) -> VehicleOutlook:
    """The vehicle as it stands."""
    return reckon_vehicle(facts, book=IntervalBook({row.key: row}), duties=DUTIES, priors=PRIORS, today=today)


# The chain


def test_every_line_of_the_demo_can_be_reckoned_again_from_its_figures() -> None:
    season = load_priors(CONFIG / "forecast.toml").season
    links = Links()
    for outlook in demo_outlooks().values():
        for line in outlook.lines:
            reckon_again(steps_of(line), season, outlook.vehicle.laid_up, links)
    assert min(links.seen[link] for link in ("used", "mix", "left", "days", "calendar", "likely")) >= 15
    assert links.seen["window"] == sum(
        line.window is not None for outlook in demo_outlooks().values() for line in outlook.lines
    )


@SLOW
@given(garages())
def test_any_line_can_be_reckoned_again_from_its_figures(garage: tuple[BookRow, VehicleFacts]) -> None:
    reckon_again(steps_of(line_of(*garage)), PRIORS.season, garage[1].vehicle.laid_up, Links())


def test_a_chain_that_does_not_add_up_is_found() -> None:
    steps = steps_of(outlook_of(OIL, a_vehicle(), readings=MONTHLY, work=WORK))
    for part, name in (
        ("used", "used in all"),
        ("used", "used"),
        ("left", "left"),
        ("ahead", "running days"),
        ("ahead", "likely"),
        ("window", "likely"),
    ):
        wrong = [dict(step, figures=[dict(each) for each in step["figures"]]) for step in steps]
        for each in (
            each for step in wrong if step["part"] == part for each in step["figures"] if each["name"] == name
        ):
            value = each["value"]
            is_day = isinstance(value, str)
            each["value"] = (date.fromisoformat(value) + timedelta(days=9)).isoformat() if is_day else value * 1.05
        with pytest.raises(AssertionError):
            reckon_again(wrong, PRIORS.season, (), Links())


def shares_add_up(text: str) -> bool:
    """Used and left make 100.0 %, wherever both are told."""
    pairs = re.findall(rf"{NUMBER} % used up by reading\.(?:\nA severe use [^\n]*)?\nLeft: {NUMBER} %", text)
    for used, left in pairs:
        assert Decimal(used.replace(" ", "")) + Decimal(left.replace(" ", "")) == 100, text
    return bool(pairs)


def terms_add_up(text: str) -> bool:
    """The distances under each duty are the whole distance, to the last digit that is shown."""
    found = re.findall(rf"since then up to {DAY}: {NUMBER} mi; ([^\n]*): {NUMBER} % used", text)
    for _, whole, terms, _ in found:
        parts = [part.replace(" ", "") for part in re.findall(rf"{NUMBER} mi [a-z]+ (?:over|without)", terms)]
        assert sum(map(int, parts)) == int(whole.replace(" ", "")), text
    for mix in re.findall(r"at the mix ahead \(([^)]*)\)", text):
        assert sum(map(int, re.findall(r"(\d+) %", mix))) == 100, text
    return bool(found)


def days_add_up(text: str, today: date) -> bool:
    """What is left, at the pace, is the running days; and those end on the likely day, as the calendar counts."""
    found = re.findall(
        rf"{NUMBER} mi at {NUMBER} mi a running day(?: over so long)? is about {NUMBER} running days; "
        rf"from {DAY} on they end on {DAY}, {NUMBER} days on the calendar(?:, {NUMBER} of them laid up)?"
        rf"(?:; the season counts (?:these|the other) {NUMBER} as {NUMBER})?\.\n"
        rf"By distance it is reached early [^,]*, likely ([^,]*),",
        text,
    )
    for left, pace, running, last, likely, whole, still, others, counts, reached in found:
        a, p, d = (float(each.replace(" ", "")) for each in (left, pace, running))
        # Whole miles; a pace to .1, or to .01 below 10; whole days, or to .1 below 20.
        slack = 0.5 + (0.05 if p >= 10 else 0.005) * d + (0.5 if d >= 20 else 0.05) * p + 0.03 * p
        assert abs(a - p * d) <= slack, text
        days = int(whole.replace(" ", ""))
        assert (day_of(likely, today) - day_of(last, today)).days == days, text
        assert likely == reached, text
        stood = int(still.replace(" ", "") or 0) if still else 0
        if others:
            assert int(others.replace(" ", "")) == days - stood, text
            assert abs(int(counts.replace(" ", "")) - d) <= 0.5, text
        else:
            assert abs(days - stood - d) <= 1.0, text
    return bool(found)


def day_of(words: str, today: date) -> date:
    """A day as it is told, of this year if none is named."""
    number, month, *year = words.split()
    return date(int(year[0]) if year else today.year, MONTHS.index(month) + 1, int(number))


def test_the_sentences_of_every_line_of_the_demo_add_up_as_they_are_shown() -> None:
    counts = [0, 0, 0]
    for outlook in demo_outlooks().values():
        for line in outlook.lines:
            text = told(line)
            counts[0] += shares_add_up(text)
            counts[1] += terms_add_up(text)
            counts[2] += days_add_up(text, outlook.today)
    assert min(counts) >= 10, counts


@pytest.mark.parametrize("parts", [[1.6, 1.6, 1.6], [0.5, 0.5], [10.4, 20.4, 30.4, 38.8], [0.0, 7.0], [2.5], []])
def test_parts_are_rounded_so_that_they_make_the_whole(parts: Sequence[float]) -> None:
    told_parts = whole_parts(parts)
    # Halves up, as whole numbers are told everywhere.
    assert sum(told_parts) == int(sum(parts) + 0.5)
    assert all(abs(shown - part) < 1 for shown, part in zip(told_parts, parts, strict=True))


def test_the_chain_names_readings_pace_used_left_days_and_dates_in_this_order() -> None:
    held = reading(date(2026, 4, 2), 212640, state=ReadingState.HELD)
    line = outlook_of(OIL, a_vehicle(), readings=[*MONTHLY, held], work=WORK, priors=FLAT)
    text = told(line)
    parts = [step.part for step in line.steps]
    assert parts == ["rule", "readings", "pace", "since", "used", "left", "ahead", "limit", "window"]
    # 24 readings 30 days apart, 880 mi each time: 23 * 880 = 20 240 mi in 690 days, 29.3 mi a day.
    first = "24 readings of the odometer are used, from 92 400 mi on 10 May 2024 to 112 640 mi on 31 March"
    assert f"{first}; 1 reading more is kept aside. That is 20 240 mi in 690 days." in text
    assert re.search(r"Pace: 29\.\d mi a running day over the next quarter, from 24 readings since 10 May 2024", text)
    assert figure(line, "pace", "pace").value == pytest.approx(880 / 30 * 1.609344, rel=0.01)
    assert "It runs more evenly than most, so its windows are narrower." in text
    # 1 760 of 7 500 mi are 23.47 %; 5 740 mi are left.
    assert "Distance since then up to 31 March: 1 760 mi, over 7 500 mi: 23.5 % used up by reading." in text
    assert "Left: 76.5 %, which is 5 740 mi." in text
    assert figure(line, "readings", "gained").value == pytest.approx(20240 * 1.609344)
    assert figure(line, "readings", "readings kept aside").value == 1
    assert figure(line, "ahead", "running days").value == pytest.approx(5740 / (880 / 30), rel=0.03)


def test_a_vehicle_like_most_is_not_called_even_or_fitful_and_a_fitful_one_is() -> None:
    # Every second month hardly anything, every other one three times as much: a surprise each time.
    gains = [100, 1660] * 12
    value, fitful = 90_000, []
    for back, gain in zip(reversed(range(24)), gains, strict=True):
        value += gain
        fitful.append(reading(LAST_ON - timedelta(days=30 * back), value))
    assert "more fitfully than most, so its windows are wider" in told(
        outlook_of(OIL, a_vehicle(), readings=fitful, work=[done(LAST_ON)])
    )
    short = told(outlook_of(OIL, a_vehicle(), readings=MONTHLY[-3:], work=[done(LAST_ON)]))
    assert "than most" not in short


def test_days_laid_up_are_told_and_bend_the_calendar() -> None:
    spell = DateSpan.of_days(date(2026, 5, 1), date(2026, 5, 20))
    free = outlook_of(OIL, a_vehicle(), readings=MONTHLY, work=WORK, priors=FLAT)
    line = outlook_of(OIL, a_vehicle(laid_up=(spell,)), readings=MONTHLY, work=WORK, priors=FLAT)
    assert "It is laid up from 1 May to 20 May; use does not go on in that time." in told(line)
    assert "20 of them laid up" in told(line)
    assert free.window is not None
    assert line.window is not None
    assert line.window.likely - free.window.likely == timedelta(days=20)
    assert days_add_up(told(line), TODAY)


def test_a_lay_up_of_the_past_stands_beside_the_readings() -> None:
    spell = DateSpan(date(2025, 12, 1), date(2026, 3, 1))
    text = told(outlook_of(OIL, a_vehicle(laid_up=(spell,)), readings=MONTHLY, work=WORK))
    assert "in 690 days, 90 of them laid up." in text


def test_booked_trips_are_taken_off_what_is_left() -> None:
    line = outlook_of(
        OIL, a_vehicle(), readings=MONTHLY, work=WORK, bookings=[booking(date(2026, 5, 1), date(2026, 5, 3), 750)]
    )
    text = told(line)
    # 750 of 7 500 mi are 10 %; 5 740 less 750 mi are left.
    assert "Booked before that: Hollow Lake, 750 mi by 3 May; it uses 10 %, which leaves 4 990 mi for everyday" in text
    assert days_add_up(text, TODAY)


def test_a_trip_that_reaches_the_limit_is_named() -> None:
    work = [done(date(2026, 1, 30), 110880)]
    trip = booking(date(2026, 4, 20), date(2026, 4, 22), 6000)
    line = outlook_of(OIL, a_vehicle(), readings=MONTHLY, work=work, bookings=[trip])
    assert "It is reached with Hollow Lake, by 22 April." in told(line)
    assert line.window is not None
    assert line.window.likely == date(2026, 4, 22)


def test_a_severe_trip_to_come_puts_the_rest_on_the_severe_figure_and_the_chain_says_so() -> None:
    strict = a_row(mi=10000, by_duty=[DutyFigure("towing", miles(5500))], mixing=Mixing.STRICT)
    trip = booking(date(2026, 4, 20), date(2026, 4, 22), 100, duty="towing")
    line = outlook_of(strict, a_vehicle(), readings=MONTHLY, work=WORK, bookings=[trip], priors=FLAT)
    # 1 760 mi over 5 500 mi are 32 %, so 68 % is left; of that the trip takes 100/5 500, 1.8 %.
    text = told(line)
    assert "A booked trip is a severe use; then all of it counts by the severe figure, which leaves 68 %." in text
    assert "it uses 1.8 %, which leaves 3 640 mi for everyday use." in text
    reckon_again(steps_of(line), FLAT.season, (), links := Links())
    assert links.seen["days"] == 1


def test_hours_are_told_in_hours_with_a_pace_that_can_be_reckoned_with() -> None:
    meters = [Meter(HOUR_METER, MeterUnit.HOURS)]
    readings = monthly(LAST_ON, 960, 40, 13, unit=MeterUnit.HOURS)
    work = [done(LAST_ON - timedelta(days=60), 880, unit=MeterUnit.HOURS)]
    line = outlook_of(a_row(hours=250), a_vehicle(meters=meters), readings=readings, work=work, priors=FLAT)
    text = told(line)
    assert "13 readings of the hour meter are used, from 480 h on" in text
    assert "Hours since then up to 31 March: 80 h, over 250 h: 32 % used up by reading." in text
    assert "Left: 68 %, which is 170 h." in text
    # 40 hours in 30 days are 1.33 a day.
    assert re.search(r"170 h at 1\.3\d h a running day over so long is about 12\d running days", text)
    reckon_again(steps_of(line), FLAT.season, (), links := Links())
    assert links.seen["days"] == 1


def test_a_trailer_without_a_meter_is_told_by_its_bookings() -> None:
    trips = [booking(date(2025, month, 1), date(2025, month, 2), 200) for month in range(3, 12)]
    line = outlook_of(a_row(mi=6000), a_vehicle(meters=[]), work=[done(date(2025, 1, 5))], bookings=trips)
    assert "It has no meter; 9 bookings that named a distance stand for one." in told(line)
    assert figure(line, "readings", "bookings").value == 9


def test_one_reading_alone_says_so() -> None:
    line = outlook_of(OIL, a_vehicle(), readings=MONTHLY[-1:], work=[done(LAST_ON)])
    assert "One reading of the odometer is used: 112 640 mi on 31 March." in told(line)


def test_a_vehicle_that_changed_hands_is_told_with_its_day() -> None:
    hands = event(CHANGED_HANDS, date(2026, 2, 3))
    line = outlook_of(OIL, a_vehicle(), readings=MONTHLY, work=WORK, events=[hands])
    assert "It changed hands on 3 February: less is taken from before." in told(line)
    assert figure(line, "pace", "changed hands on").value == date(2026, 2, 3)
    assert "changed hands" not in told(outlook_of(OIL, a_vehicle(), readings=MONTHLY, work=WORK))


# Standing still


def alike(*days: date, value: int = 112640) -> tuple[Reading, ...]:
    """Readings that show the same."""
    return tuple(reading(day, value) for day in days)


FEB, MAR, APR = date(2026, 2, 3), date(2026, 3, 3), date(2026, 4, 1)
BEFORE = monthly(FEB, 112640, 880, 12)
STANDS = (*BEFORE, *alike(MAR, APR))


def test_three_readings_alike_over_forty_days_are_asked_about() -> None:
    outlook = seen(VehicleFacts(a_vehicle(), STANDS, (done(date(2025, 10, 2)),)))
    assert outlook.standing == StoodStill(ODOMETER, FEB, APR, 3, Decimal(112640), MeterUnit.MI)
    question = clock_question(outlook.vehicle, outlook.standing, outlook.moved, TODAY).replace("\u2009", " ")
    assert question == (
        "stands since 3 February? Three readings show 112 640 mi. If it is laid up, say from when to when; "
        "then its dates wait."
    )
    assert f"Anvil {question}" in told(outlook.lines[0])


NOT_ASKED: list[tuple[str, VehicleFacts]] = [
    ("two readings alike", VehicleFacts(a_vehicle(), (*BEFORE, *alike(APR)))),
    ("less than forty days", VehicleFacts(a_vehicle(), (*BEFORE, *alike(date(2026, 2, 20), date(2026, 3, 14))))),
    ("it moved again", VehicleFacts(a_vehicle(), (*STANDS, reading(date(2026, 4, 10), 112700)))),
    ("it was laid up then", VehicleFacts(a_vehicle(laid_up=(DateSpan(FEB, date(2026, 4, 2)),)), STANDS)),
    ("it is laid up now", VehicleFacts(a_vehicle(laid_up=(DateSpan(FEB, UNTIL_FURTHER_NOTICE),)), STANDS)),
    ("it is out of the fleet", VehicleFacts(a_vehicle(out_of_fleet_on=APR), STANDS)),
    ("there is no reading", VehicleFacts(a_vehicle())),
    (
        "it runs where it stands",
        VehicleFacts(
            a_vehicle(meters=[Meter(ODOMETER, MeterUnit.MI), Meter(HOUR_METER, MeterUnit.HOURS)]),
            (*STANDS, *monthly(APR, 960, 40, 6, unit=MeterUnit.HOURS)),
        ),
    ),
    (
        "it has no meter",
        VehicleFacts(a_vehicle(meters=[]), bookings=(booking(date(2025, 3, 1), date(2025, 3, 2), 200),)),
    ),
]


@pytest.mark.parametrize(("why", "facts"), NOT_ASKED, ids=[why for why, _ in NOT_ASKED])
def test_what_is_no_standing_still_is_not_asked_about(why: str, facts: VehicleFacts) -> None:
    assert seen(facts).standing is None, why


def test_after_a_spell_that_was_told_it_is_asked_only_about_what_came_later() -> None:
    told_of = DateSpan(FEB, date(2026, 2, 20))
    longer = (*STANDS, *alike(date(2026, 4, 13)))
    facts = VehicleFacts(a_vehicle(laid_up=(told_of,)), longer)
    assert seen(facts).standing == StoodStill(ODOMETER, MAR, date(2026, 4, 13), 3, Decimal(112640), MeterUnit.MI)


def test_a_vehicle_that_runs_while_it_is_laid_up_is_asked_about_too() -> None:
    spell = DateSpan(FEB, UNTIL_FURTHER_NOTICE)
    facts = VehicleFacts(a_vehicle(laid_up=(spell,)), (*BEFORE, reading(APR, 113300)), (done(date(2025, 10, 2)),))
    outlook = seen(facts)
    assert outlook.standing is None
    assert outlook.moved is not None
    assert outlook.moved.on == APR
    assert "is laid up from 3 February until further notice, yet it moved by 1 April?" in told(outlook.lines[0])
    still = VehicleFacts(a_vehicle(laid_up=(spell,)), (*BEFORE, *alike(APR)))
    assert seen(still).moved is None


def test_while_nobody_knows_when_it_runs_again_there_is_no_date_by_use() -> None:
    spell = DateSpan(FEB, UNTIL_FURTHER_NOTICE)
    line = outlook_of(OIL, a_vehicle(laid_up=(spell,)), readings=STANDS, work=[done(date(2025, 10, 2))])
    assert line.no_date is NoDate.NO_USE
    assert "It is laid up from 3 February until further notice; use does not go on in that time." in told(line)
    assert "By distance it is not reached before the year 2200;" in told(line)
    dated = outlook_of(a_row(mi=7500, months=12), a_vehicle(laid_up=(spell,)), readings=STANDS, work=WORK)
    assert dated.window is not None
    assert dated.window.likely == date(2027, 1, 30)


def test_spells_are_told_with_their_last_day_or_until_further_notice() -> None:
    assert spell_words(DateSpan.of_days(FEB, date(2026, 3, 28)), TODAY) == "from 3 February to 28 March"
    spell = DateSpan(FEB, UNTIL_FURTHER_NOTICE)
    assert spell_words(spell, TODAY) == "from 3 February until further notice"
    # A copy that was moved by some weeks is as open as it was.
    assert has_open_end(DateSpan(FEB, UNTIL_FURTHER_NOTICE - timedelta(weeks=52)))
    assert not has_open_end(DateSpan(FEB, date(2030, 1, 1)))


OUT = date(2026, 4, 4)
STOOD = DateSpan(FEB, OUT)
"""Two months in which it stood; before and after it runs 880 mi in 30 days."""
AS_BEFORE = OUT + timedelta(days=round(7500 / 880 * 30))
"""7 500 mi from a service on the first of those days, at that pace from the day it was let out: 256 days."""


def days_off(readings: Sequence[Reading], laid_up: tuple[DateSpan, ...], today: date) -> int:
    """By how many days the likely date is later than it was before the vehicle stood, the two months aside."""
    found = outlook_of(
        OIL, a_vehicle(laid_up=laid_up), readings=readings, work=[done(FEB, 112640)], today=today, priors=FLAT
    ).window
    assert found is not None
    return (found.likely - AS_BEFORE).days


TOLD_OR_NOT: list[tuple[str, tuple[Reading, ...], date]] = [
    ("it still stands", (*BEFORE, *alike(MAR, OUT)), OUT),
    # 16 days of running and two months of rest in one span.
    ("it stood in part of a span", (*BEFORE, reading(date(2026, 4, 20), 112640 + 470)), date(2026, 4, 21)),
]


@pytest.mark.parametrize(("why", "readings", "today"), TOLD_OR_NOT, ids=[why for why, *_ in TOLD_OR_NOT])
def test_a_spell_that_is_told_brings_the_likely_date_back_to_where_it_was(
    why: str, readings: tuple[Reading, ...], today: date
) -> None:
    """Told, the forecast stands as if the two months had not been; not told, they weigh as slow use."""
    assert abs(days_off(readings, (STOOD,), today)) <= 5, why
    assert days_off(readings, (), today) >= 60, f"not told, it is months too late: {why}"


def test_a_spell_that_readings_show_from_end_to_end_is_passed_over_once_it_runs_and_the_chain_says_so() -> None:
    ran = (*BEFORE, *alike(MAR, OUT), reading(date(2026, 5, 4), 112640 + 880))
    today = date(2026, 5, 5)
    assert abs(days_off(ran, (), today)) <= 5
    assert abs(days_off(ran, (STOOD,), today)) <= 5
    line = outlook_of(OIL, a_vehicle(), readings=ran, work=WORK, today=today)
    assert "It stood from 3 February to 4 April, which is passed over." in told(line)


def test_the_chain_names_its_row_an_odd_pair_and_what_the_tag_changes() -> None:
    pair = PrintedDistance(DistanceUnit.KM, km=Decimal(120000), mi=Decimal(80000))  # Hyundai LX2 p. 7-31
    towing = DutyFigure("towing", miles(30_000), waived_by=("75W-140",))
    limits = Limits(pair, (towing,), with_modifier=Limits(miles(40_000)))
    row = replace(a_row(key="long-oil"), rule=IntervalRule(limits))
    machine = a_vehicle(services=("long-oil",), fluid_grade="75W-140 GL-5")
    (axle,) = machine.components
    modified = replace(axle, facts=(TagFact("friction modifier", "118 mL, required"),))
    given = [done(date(2025, 1, 1), 100000, service="long-oil")]
    readings = monthly(date(2026, 4, 1), 112000, 800, 12)
    line = outlook_of(row, replace(machine, components=(modified,)), readings=readings, work=given)
    text = told(line)
    assert "Row long-oil." in text
    assert "A printed pair in it is no pair" in text
    assert "With 75W-140 GL-5 in it, towing counts by the plain interval." in text
    assert "friction modifier, which wears out sooner" in text
    plain = outlook_of(row, machine, readings=readings, work=given)
    assert "wears out sooner" not in told(plain)
    assert line.window is not None
    assert plain.window is not None
    assert line.window.likely < plain.window.likely
