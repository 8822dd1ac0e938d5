"""Every figure that is read is in the reader's unit; what is typed, and what a book prints, stays in its own."""

from __future__ import annotations

import re
from dataclasses import replace

import httpx
import pytest

from fleetcare.actions.ports import Change
from fleetcare.actions.write_letters import write_garage_letter
from fleetcare.quantities import KM_PER_MILE, DistanceUnit
from tests.web.conftest import Served
from tests.web.pages import page_of

MILES = re.compile(r"[0-9][0-9.]* mi\b(?! \([0-9]+ km\))")
"""A figure in miles that has no figure in kilometres behind it."""
QUOTED = re.compile(
    r"[0-9]+ mi \(printed beside it: [0-9]+ km\)|\(printed beside it: [^)]*\)|[0-9],[0-9]{3} mi"
    r"|[0-9]+ mi here\.|This garage changed [^.]*\."
)
"""What a book prints, what its sources and notes say, and what was changed in it from what, as it stands there."""
READ_PAGES = (
    *("/", "/vehicles", "/vehicles/AN", "/vehicles/TH", "/vehicles/BE", "/vehicles/AN/history", "/findings"),
    *("/handbook", "/handbook/rear-axle-fluid", "/plan", "/vehicles/AN/away", "/vehicles/RA", "/trust"),
)


def words_of(answer: httpx.Response) -> str:
    """What is read on a page, numbers without their groups."""
    return QUOTED.sub("", re.sub(r"(?<=[0-9]) (?=[0-9]{3}(?![0-9]))", "", page_of(answer).words))


def reads(served: Served, unit: DistanceUnit) -> None:
    """Ines reads this unit from now on."""
    with served.parts.store.write(Change("test", "another unit", served.clock.now())) as unit_of_work:
        (ines,) = [person for person in unit_of_work.people() if person.key == "ines"]
        unit_of_work.put_person(replace(ines, unit=unit))


@pytest.mark.parametrize("path", READ_PAGES)
def test_who_reads_kilometres_finds_no_bare_miles(served: Served, client: httpx.Client, path: str) -> None:
    reads(served, DistanceUnit.KM)
    words = words_of(client.get(served.url + path, headers=served.session("ines")))
    # Why a reading does not fit is told with the figures of that dial, and what somebody noted stands as they wrote it.
    words = words.partition("Readings kept aside")[0]
    assert [words[max(0, found.start() - 90) : found.end() + 30] for found in MILES.finditer(words)] == []


def test_the_guard_finds_miles_where_they_are_read(served: Served, client: httpx.Client) -> None:
    reads(served, DistanceUnit.MI)
    words = words_of(client.get(f"{served.url}/vehicles/AN", headers=served.session("ines")))
    assert len(MILES.findall(words)) > 10


def test_a_reading_is_converted_by_the_exact_factor(served: Served, client: httpx.Client) -> None:
    headers = served.session("ines")
    with served.parts.store.read() as view:
        last = max((each for each in view.readings(("AN",)) if each.unit.value == "mi"), key=lambda each: each.on)
    for unit, value in ((DistanceUnit.MI, float(last.value)), (DistanceUnit.KM, float(last.value) * KM_PER_MILE)):
        reads(served, unit)
        words = words_of(client.get(f"{served.url}/vehicles/AN", headers=headers))
        assert f"{value:.0f} {unit.value}" in words


def test_the_dial_is_read_off_in_its_own_unit(served: Served, client: httpx.Client) -> None:
    reads(served, DistanceUnit.KM)
    page = page_of(client.get(f"{served.url}/vehicles/AN/reading", headers=served.session("ines")))
    (form,) = [each for each in page.forms if each.action.startswith("/vehicles/AN/reading")]
    assert form.fields["unit"] == "mi"
    assert MILES.findall(page.words)


def test_two_readers_of_different_units_are_each_told_theirs(served: Served, client: httpx.Client) -> None:
    """What is kept for one reader is never shown to another."""
    reads(served, DistanceUnit.KM)
    for _ in range(2):
        for person, is_miles in (("ines", False), ("teo", True)):
            words = words_of(client.get(f"{served.url}/vehicles", headers=served.session(person)))
            assert bool(MILES.search(words)) is is_miles, person


def test_the_letter_tells_figures_in_the_readers_unit_and_asks_in_the_dials(served: Served) -> None:
    reads(served, DistanceUnit.KM)
    parts = served.parts
    letter = write_garage_letter(parts.store, parts.rules, parts.desk, "ines", now=served.clock.now())
    assert letter is not None
    asked = [line for line in letter.plain.splitlines() if MILES.search(line)]
    assert all("Last time" in line or "does not fit" in line or "shows" in line for line in asked), asked
