"""The shipped interval book: whole, sourced, free of clashes, and true to the pages it names."""

from __future__ import annotations

import re
from decimal import Decimal
from itertools import product

import pytest

from fleetcare.book.picking import choices_for, fits, proposal_clashes
from fleetcare.book.rows import BookRow, Limits, Status
from fleetcare.fleet.duty import DAILY, TOWING, TRACK
from fleetcare.fleet.vehicle import VehicleKind
from fleetcare.quantities import PrintedDistance
from fleetcare.settings.book_files import load_book
from fleetcare.settings.duty_files import load_duties
from tests.book.shipped import (
    BOOK_FILE,
    DUTIES_FILE,
    events_of,
    limits_of,
    pair_gap,
    printed_distances,
    shipped_book,
    shipped_duties,
)

BOOK = shipped_book()
ROWS = list(BOOK.rows.values())


def by_key(row: BookRow) -> str:
    return row.key


def listed(heading: str) -> set[str]:
    """What the comment at the top of the book lists under a heading, divided by bars."""
    text = BOOK_FILE.read_text(encoding="utf-8")
    found = re.search(rf"^# {heading}\n((?:#   .*\n)+)", text, re.MULTILINE)
    assert found, heading
    return {word.strip() for line in found.group(1).splitlines() for word in line.lstrip("# ").split("|")}


@pytest.mark.parametrize("row", ROWS, ids=by_key)
def test_every_row_can_be_due_and_can_be_called_by_its_short_name(row: BookRow) -> None:
    limited = [limits for limits in limits_of(row) if not limits.is_empty]
    assert limited or row.rule.after
    assert 0 < len(row.short) <= 24
    assert row.short == row.short.lower()
    assert row.components


def test_the_program_reads_the_same_book_and_duties() -> None:
    """Two readers that share no code agree on every row."""
    duties = load_duties(DUTIES_FILE)
    assert load_book(BOOK_FILE, duties=duties).rows == BOOK.rows
    assert {key: (duty.title, duty.severe, duty.pattern, duty.source) for key, duty in duties.items()} == {
        key: (duty["title"], duty["severe"], duty["pattern"], duty["source"]) for key, duty in shipped_duties().items()
    }


@pytest.mark.parametrize("row", ROWS, ids=by_key)
def test_every_row_says_where_it_is_from_and_what_is_done(row: BookRow) -> None:
    assert row.source
    assert row.action
    assert row.status is not Status.GARAGE


def test_the_book_is_wide() -> None:
    assert len(ROWS) >= 75
    assert {kind for row in ROWS for kind in row.components} == listed("Kinds of component")


def test_every_event_is_listed_at_the_top_and_every_listed_event_is_used() -> None:
    assert events_of(BOOK) == listed("Events")


def test_every_duty_in_a_row_is_a_duty_cycle() -> None:
    duties = set(shipped_duties())
    used = {figure.duty for row in ROWS for limits in limits_of(row) for figure in limits.by_duty}
    assert used <= duties
    assert used  # otherwise the line above says nothing


def test_no_two_proposed_rows_are_for_the_same_job() -> None:
    assert proposal_clashes(BOOK) == ()


def test_what_is_proposed_for_any_component_has_no_name_twice() -> None:
    """The same claim by counting what would be proposed, kind by kind."""
    seen = 0
    for vehicle, component in product(VehicleKind, listed("Kinds of component")):
        shorts = [row.short for row in BOOK.proposed_for(vehicle, component)]
        assert len(shorts) == len(set(shorts)), (vehicle, component)
        seen += len(shorts)
    assert seen > 150


def test_every_job_of_a_light_vehicle_that_has_a_choice_proposes_one_of_them_or_says_why_not() -> None:
    """A job of which nothing is proposed has a note on each of its rows, or is one that only some people do."""
    optional = {"tyre pressures", "extinguisher look"}
    for vehicle, component in product((VehicleKind.CAR, VehicleKind.VAN, VehicleKind.LIGHT_TRUCK), components()):
        for name, rows in choices_for(BOOK, vehicle, component).items():
            if not rows[0].proposed and name not in optional:
                assert all(row.note for row in rows), (vehicle, component, name)


@pytest.mark.parametrize("row", ROWS, ids=by_key)
def test_a_printed_pair_that_is_no_conversion_is_explained(row: BookRow) -> None:
    """Up to 4 % is the rounding of makers (7 500 mi beside 12 500 km is 3.6 %); more needs a word in the note."""
    gaps = [gap for printed in printed_distances(row) if (gap := pair_gap(printed)) is not None]
    if any(abs(gap) > 0.04 for gap in gaps):
        assert "not" in row.note
        assert "kilometres" in row.note.lower()


@pytest.mark.parametrize("row", ROWS, ids=by_key)
def test_the_reckoned_figure_of_an_odd_pair_is_the_careful_one(row: BookRow) -> None:
    for printed in printed_distances(row):
        gap = pair_gap(printed)
        assert gap is None or gap > -0.04, "the other figure would be due sooner by more than rounding"


def test_a_severe_duty_never_lasts_longer_than_the_plain_figure() -> None:
    severe = {key for key, duty in shipped_duties().items() if duty["severe"]}
    checked = 0
    for row in ROWS:
        for limits in limits_of(row):
            for figure in limits.by_duty:
                if figure.duty in severe and limits.distance is not None and figure.distance is not None:
                    assert figure.distance.in_km <= limits.distance.in_km, row.key
                    checked += 1
    assert checked >= 8


def test_the_three_duties_are_there_with_their_patterns_and_sources() -> None:
    duties = shipped_duties()
    assert {key: (duty["severe"], duty["pattern"]) for key, duty in duties.items()} == {
        DAILY: (False, "dots"),
        TOWING: (True, "chevrons"),
        TRACK: (True, "chequer"),
    }
    assert all(len(duty["source"]) > 40 for duty in duties.values())


def test_second_hand_and_remembered_figures_are_marked_as_such() -> None:
    status = {key: row.status for key, row in BOOK.rows.items()}
    # NHTSA advice was read in a dealer's text, USRider's as a reported range, the DVSA table in two summaries.
    second_hand = {key for key, known in status.items() if known is Status.SECOND_HAND}
    assert {"tyres-rotate", "tyres-pressure", "trailer-tyres-age", "uk-safety-inspection-old"} <= second_hand
    assert status["tyres-age"] is Status.MEMORY
    assert status["extinguisher"] is Status.MEMORY
    assert status["hitch-bolts"] is Status.PRACTICE


def whole(figure: Decimal | None) -> int | None:
    return None if figure is None else int(figure)


def printed(distance: PrintedDistance | None) -> tuple[int | None, int | None]:
    return (None, None) if distance is None else (whole(distance.km), whole(distance.mi))


def components() -> list[str]:
    return sorted({kind for row in ROWS for kind in row.components})


@pytest.mark.parametrize(
    ("key", "km", "mi", "primary", "months"),
    [
        # Each typed a second time from the page that the row names.
        ("coolant", 240000, 150000, "mi", 60),  # GMC 2000 Yukon p. 6-22
        ("spark-plugs", 166000, 100000, "mi", None),  # Chevrolet 2003 Express p. 6-10
        ("drive-belt", 240000, 150000, "mi", None),  # Chevrolet 2003 Express p. 6-10
        ("air-filter-dust", 24000, 15000, "km", None),  # Acura 2022 MDX p. 594
        ("brake-fluid", None, None, None, 36),  # Acura 2022 MDX p. 594
        ("gearbox-oil-heavy", 38000, 24000, "mi", 24),  # US Army TM 9-2320-272-23-2 item 31
        ("gearbox-auxiliary", 16000, 10000, "mi", 6),  # US Army TM 5-3805-254-14-P-1
        ("heavy-axle-mineral", None, 100000, "mi", 12),  # Spicer single axles p. 36
        ("heavy-axle-synthetic", None, 250000, "mi", 36),  # Spicer single axles p. 36
        ("heavy-axle-synthetic-severe", None, 100000, "mi", 12),  # Spicer single axles p. 36
        ("heavy-axle-tandem", None, 50000, "mi", 12),  # Spicer S400 p. 3
        ("heavy-axle-gear-case", None, 75000, "mi", 12),  # LO 9-2320-363-12 note a
        ("heavy-axle-vents", None, None, None, 12),  # Spicer single axles p. 36
        ("propeller-shaft-grease", None, 2000, "mi", 6),  # LO 9-2320-273-12 notes 1 and 2
        ("hub-bearings-heavy", None, 24000, "mi", 12),  # LO 9-2320-273-12 notes 1 and 2
        ("trailer-bearings", 19308, 12000, "mi", 12),  # Wood-Mizer 1.2
        ("trailer-bearings-fitting", None, 6000, "mi", 6),  # Carry-On 9.2.9-9.2.11
        ("trailer-brakes-adjust", None, 3000, "mi", None),  # Wood-Mizer 1.2
        ("trailer-brake-linings", None, 20000, "mi", None),  # Miller 3-7
        ("legal-inspection-us-commercial", None, None, None, 12),  # 49 CFR 396.17(c)
        ("bus-exits", None, None, None, 3),  # 49 CFR 396.3(a)(2), every 90 days
        ("jacks", None, None, None, 6),  # WAC 296-307-22509(6)
    ],
)
def test_repeat_figures_are_those_of_the_page(
    key: str, km: int | None, mi: int | None, primary: str | None, months: int | None
) -> None:
    limits = BOOK.rows[key].rule.repeat
    printed = limits.distance
    assert limits.months == months
    assert (printed.km if printed else None) == km
    assert (printed.mi if printed else None) == mi
    assert (str(printed.primary) if printed else None) == primary


@pytest.mark.parametrize(
    ("key", "first_km", "first_mi", "hours"),
    [
        ("heavy-axle-mineral", None, 5000, None),  # Spicer single axles p. 36
        ("heavy-axle-gear-case", None, 5000, None),  # LO 9-2320-363-12 note a
        ("transfer-case-oil-heavy", None, 3000, 40),  # TM 5-3820-256-24-5
        ("trailer-brakes-adjust", None, 200, None),  # Wood-Mizer 1.2
        ("heavy-axle-shift-motor", 1600, 1000, None),  # Chevrolet 2006 Kodiak p. 5-80
        ("trailer-nuts-new", None, 25, None),  # Liberty trailer manual p. 2
    ],
)
def test_first_figures_are_those_of_the_page(
    key: str, first_km: int | None, first_mi: int | None, hours: int | None
) -> None:
    first = BOOK.rows[key].rule.first
    assert first is not None
    assert first.distance is not None
    assert (first.distance.km, first.distance.mi, first.hours) == (first_km, first_mi, hours)


def test_towing_figures_are_those_of_the_page() -> None:
    def towing(limits: Limits | None) -> tuple[int | None, int | None]:
        assert limits is not None
        (figure,) = [figure for figure in limits.by_duty if figure.duty == TOWING]
        return printed(figure.distance)

    rules = {key: row.rule for key, row in BOOK.rows.items()}
    # Acura 2022 MDX p. 594, notes 1-6.
    assert towing(rules["rear-axle-fluid-first-tow"].first) == (12000, 7500)
    assert towing(rules["rear-axle-fluid-first-tow"].repeat) == (24000, 15000)
    assert towing(rules["timing-belt"].repeat) == (100000, 60000)
    # Toyota 2001 Scheduled Maintenance Guide p. 19-20.
    assert towing(rules["rear-axle-fluid-long-tow"].repeat) == (None, 5000)
    # Hyundai LX2 p. 7-31, a pair that does not agree, and Elantra 2017 p. 7-14.
    assert towing(rules["transfer-case-oil"].repeat) == (120000, 80000)
    assert towing(rules["gearbox-fluid-automatic-severe"].repeat) == (100000, 62000)
    assert towing(rules["gearbox-fluid-manual-severe"].repeat) == (120000, None)
    # Spicer single axles p. 36, severe.
    assert towing(rules["heavy-axle-mineral"].repeat) == (None, 40000)


def test_events_lead_to_the_figures_of_the_page() -> None:
    def after(key: str) -> list[tuple[str, int | None, int | None, int | None]]:
        return [(e.event, *printed(e.distance), e.days) for e in BOOK.rows[key].rule.after]

    # Chevrolet 2006 Kodiak p. 5-80: 100 mi (160 km), then 1,000 mi (1,600 km) after that.
    assert after("wheel-nuts-first") == [("wheel fitted", 160, 100, None)]
    assert after("wheel-nuts-second") == [("wheel fitted", 160 + 1600, 100 + 1000, None)]
    # Carry-On 9.2.9-9.2.11: at 10, 25 and 50 miles after fitting, and before each tow.
    for miles in (10, 25, 50):
        assert after(f"trailer-nuts-{miles}") == [("wheel fitted", None, miles, None)]
    assert after("trailer-nuts-tow") == [("tow", None, None, None)]
    # US Army TM 5-3825-229-14&P p. 2-41: within five days after fording.
    assert after("trailer-after-immersion") == [("immersion", None, None, 5)]
    # Spicer drive axles p. 5: at once.
    assert after("axle-after-immersion") == [("immersion", None, None, None)]
    # Common practice, no source: 500 mi (printed beside 800 km).
    assert after("axle-fluid-new-gears") == [("gears renewed", 800, 500, None)]


def test_a_rear_axle_offers_its_published_alternatives() -> None:
    rows = choices_for(BOOK, VehicleKind.LIGHT_TRUCK, "rear axle")["rear axle fluid"]
    assert rows[0].key == "rear-axle-fluid"
    assert [row.proposed for row in rows] == [True, False, False, False]
    assert all(fits(row, VehicleKind.LIGHT_TRUCK, "rear axle") for row in rows)
