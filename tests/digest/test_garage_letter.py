"""The weekly letter: what is in it, for whom, and that both twins say the same."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from html.parser import HTMLParser
from urllib.parse import urlsplit

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetcare.digest.concerns import MOST_ELSEWHERE, MOST_LINES
from fleetcare.digest.values import Letter, LetterKind
from fleetcare.due.outlook import Cause, ReadingWanted, StoodStill
from fleetcare.due.vehicle_state import UNTIL_FURTHER_NOTICE
from fleetcare.fleet.booking import Booking
from fleetcare.fleet.people import Person, Role
from fleetcare.quantities import DateSpan, MeterUnit
from fleetcare.work.record import Finding
from tests.digest.karst_ridge import (
    ALL,
    ANVIL,
    BASE,
    BELLOWS,
    BELLOWS_OIL,
    GARAGE,
    INES,
    LINKS,
    POCKET,
    RAFT,
    STOP,
    TEO,
    TODAY,
    WORK,
    called_otherwise,
    held_reading,
    letter_to,
    line,
    outlook,
    the_letter_to,
)

MONTHS = "Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec"
DAY = re.compile(rf"\b\d{{1,2}} (?:{MONTHS})[a-z]*(?: \d{{4}})?")
FIGURE = re.compile(r"\d[\d ]*(?: %| mi| km| h\b)|\d+ days?")


class _Seen(HTMLParser):
    """What a reader sees of an HTML letter, and every address in it."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.text, self.links, self.attributes, self.tags = "", [], [], []
        self._unseen = 0
        self.feed(html)
        self.close()

    text: str
    links: list[str]
    attributes: list[tuple[str, str | None]]
    tags: list[str]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += attrs
        if tag in ("style", "title"):
            self._unseen += 1
        if tag in ("p", "h1", "h2", "td", "br", "div"):
            self.text += "\n"
        self.links += [value for name, value in attrs if name == "href" and value]

    def handle_endtag(self, tag: str) -> None:
        if tag in ("style", "title"):
            self._unseen -= 1

    def handle_data(self, data: str) -> None:
        if not self._unseen:
            self.text += data


def _joined(text: str) -> str:
    return " ".join(text.replace("\u2009", " ").replace("’", "'").split())


def _test_letters() -> list[Letter]:
    return [
        the_letter_to(TEO),
        the_letter_to(INES),
        the_letter_to(INES, outlooks=(replace(ANVIL, held=(held_reading("AN", 48210),)), RAFT)),
    ]


def test_the_first_sentence_says_what_is_wanted_of_this_person() -> None:
    assert "\n\nTeo, Bellows wants its odometer read: the last one is from 12 March." in the_letter_to(TEO).plain
    assert "\n\nInes, Raft's coupling inspection is 6 days past late. The window" in the_letter_to(INES).plain
    assert "Teo, <b>Bellows wants its odometer read</b>: the last one" in the_letter_to(TEO).html


def test_the_whole_letter_reads_as_it_should() -> None:
    letter = the_letter_to(TEO)
    assert letter.kind is LetterKind.GARAGE
    assert (letter.to_name, letter.to_mail, letter.stop_url) == (TEO.name, TEO.mail, STOP)
    assert letter.subject == "Garage letter, 14 April: one reading wanted, one second look wanted"
    # The three gauges are worked examples of the rod as text.
    assert letter.plain == (
        "KARST RIDGE MOTOR CLUB, GARAGE\n"
        "Tuesday 14 April 2026, for Teo Lindqvist\n"
        "\n"
        "Teo, Bellows wants its odometer read: the last one is from 12 March.\n"
        "Look again at Bellows by 30 April. Elsewhere in the garage one service\n"
        "is past late: Raft's coupling inspection.\n"
        "\n"
        "Enter Bellows' reading:\n"
        "  https://garage.karstridge.example/o/be-4t9w\n"
        "  Last time 83 365 mi, on 12 March. The link is yours, for Bellows\n"
        "  alone, until 21 April.\n"
        "\n\n"
        "BELLOWS, WHICH YOU KEEP\n"
        "\n"
        "  Bellows, engine oil and filter\n"
        "  (============~~~....///..)  76 % worn by reckoning\n"
        "  Early 24 May, likely 5 Jun, late 23 Jun.\n"
        "\n"
        "  Finding of 2 March: rear cover damp at the lower left bolt. Look again\n"
        "  by 30 April.\n"
        "\n"
        "  Spoken for: Track day tow, 15 and 16 May.\n"
        "\n"
        "  All of Bellows:\n"
        "  https://garage.karstridge.example/vehicles/BE\n"
        "\n\n"
        "ELSEWHERE IN THE GARAGE\n"
        "\n"
        "  Raft, coupling, inspection\n"
        "  (===================##!..)  105 % worn\n"
        "  Early 11 Mar, likely 25 Mar, late 8 Apr.\n"
        "  6 DAYS PAST LATE.\n"
        "\n"
        "  Windows open: Anvil's axle vents until 25 May.\n"
        "\n"
        "  See the road ahead:\n"
        "  https://garage.karstridge.example/\n"
        "\n"
        "-- \n"
        "How to read the rod: = worn by the last reading, ~ reckoned since, / due\n"
        "window, # worn into the window, ! past late. Each sign is 5 % of the\n"
        "service interval.\n"
        "Go by the vehicle's own manual in all work; if you are unsure, leave it\n"
        "to a qualified technician. A date here is reckoned, and no word that a\n"
        "vehicle is safe to drive.\n"
        "This letter comes on Tuesdays, if there is something to say.\n"
        "No more letters:\n"
        "  https://garage.karstridge.example/letters/stop/k3y\n"
    )


@pytest.mark.parametrize("letter", _test_letters(), ids=("teo", "ines", "held"))
def test_both_twins_carry_the_same_facts(letter: Letter) -> None:
    """Every day, figure, name of a service and address of one stands in the other."""
    seen = _Seen(letter.html)
    plain, html = _joined(letter.plain), _joined(seen.text)
    days, figures = set(DAY.findall(html)), set(FIGURE.findall(html))
    assert len(days) > 4
    assert days == set(DAY.findall(plain))
    assert figures - {"5 %"} == set(FIGURE.findall(plain.lower())) - {
        "5 %"
    }  # one sign is 5 %: only plain rods have signs
    assert set(seen.links) == set(re.findall(r"https://\S+", letter.plain))
    for bold in re.findall(r"<b[^>]*>(.*?)</b>", letter.html):
        assert _joined(_Seen(bold).text).rstrip(".").casefold() in plain.casefold()


@pytest.mark.parametrize("letter", _test_letters(), ids=("teo", "ines", "held"))
def test_the_plain_twin_is_72_columns_wide(letter: Letter) -> None:
    assert max(len(line) for line in letter.plain.splitlines() if "://" not in line) <= 72
    assert all(len(line.split()) == 1 for line in letter.plain.splitlines() if "://" in line)
    assert "\n\n\n\n" not in letter.plain


@pytest.mark.parametrize("letter", _test_letters(), ids=("teo", "ines", "held"))
def test_nothing_in_the_html_is_fetched_from_anywhere(letter: Letter) -> None:
    seen = _Seen(letter.html)
    assert not {"img", "script", "link", "iframe", "object", "video", "form"} & set(seen.tags)
    assert not {"src", "srcset", "background", "onload"} & {name for name, _ in seen.attributes}
    assert "url(" not in letter.html
    assert "@import" not in letter.html
    assert {urlsplit(address).netloc for address in seen.links} == {urlsplit(BASE).netloc}
    assert re.search(r"max-width:560px", letter.html)
    assert len(letter.html) < 102_000  # common practice, no source: some mail programs cut longer letters off


def test_a_letter_without_anything_in_it_is_not_written() -> None:
    noor = Person("noor", "Noor Haddad", "noor@garage.karstridge.example")
    assert letter_to(noor, kept=("PO",), outlooks=(POCKET,)) is None
    assert letter_to(noor, kept=("PO",)) is None, "what is past late elsewhere is no business of one who only drives"
    assert letter_to(replace(noor, roles=(Role.MECHANIC,)), kept=("PO",)) is not None
    assert letter_to(replace(noor, key="ines"), kept=("PO",)) is not None, "who keeps the list minds the whole garage"


def test_a_spell_it_is_spoken_for_makes_no_letter_by_itself() -> None:
    trip = Booking("trip", "Saltflat weekend", DateSpan(date(2026, 4, 20), date(2026, 4, 22)), ("PO",))
    assert letter_to(INES, kept=("PO",), outlooks=(POCKET,), bookings=(trip,)) is None


@pytest.mark.parametrize(("days_ahead", "is_told"), [(56, True), (57, False), (0, True), (-400, True)])
def test_a_service_is_told_of_from_eight_weeks_before_its_window(days_ahead: int, *, is_told: bool) -> None:
    opens = TODAY + timedelta(days=days_ahead)
    days = (opens, opens + timedelta(days=10), opens + timedelta(days=20))
    one = outlook(
        "NE", "Nettle", "ines", line("NE", "Wheel bearings, check", "wheel bearings", (0.8, 0.8, 0.002), days)
    )
    assert (letter_to(INES, outlooks=(one,), kept=("NE",)) is not None) is is_told


def test_with_nothing_wanted_the_letter_says_so_and_what_comes_next() -> None:
    letter = the_letter_to(TEO, outlooks=(replace(BELLOWS, wanted=None),), work=(), reading_links={})
    lead = _joined(letter.plain)
    assert "Teo, nothing is wanted of you this week: the next window to open is Bellows' engine oil, on 24 May." in lead
    assert letter.subject.endswith(": one window ahead")


def test_a_reading_asked_of_somebody_else_is_mentioned_but_has_no_button() -> None:
    letter = the_letter_to(TEO, reading_links={})
    assert "Its odometer was last read on 12 March; a reading is wanted." in letter.plain
    assert "Enter Bellows" not in letter.plain + letter.html


def test_several_readings_make_one_button_and_links() -> None:
    wanted = ReadingWanted("odometer", TODAY, None, None)
    both = (replace(ANVIL, wanted=wanted), BELLOWS)
    letter = the_letter_to(TEO, outlooks=both, kept=("AN", "BE"), reading_links={"AN": f"{BASE}/o/an", **LINKS})
    assert "Anvil and Bellows want their meters read." in _joined(letter.plain)
    assert letter.html.count('class="goa"') == 1
    assert {f"{BASE}/o/an", f"{BASE}/o/be-4t9w"} <= set(_Seen(letter.html).links)
    assert letter.subject.startswith("Garage letter, 14 April: two readings wanted")


def test_a_finding_past_its_day_says_since_when() -> None:
    done = replace(WORK[0], findings=(Finding("rear cover damp.", date(2026, 4, 10)),))
    letter = the_letter_to(TEO, work=(done,))
    assert "rear cover damp. The second look was to be by 10 April, 4 days ago." in _joined(letter.plain)


@pytest.mark.parametrize(
    "finding",
    [
        Finding("dry", date(2026, 4, 30), settled_on=date(2026, 4, 1)),
        Finding("dry"),
        Finding("dry", TODAY + timedelta(days=57)),
    ],
    ids=("settled", "no second look wanted", "far ahead"),
)
def test_findings_that_ask_nothing_now_are_left_out(finding: Finding) -> None:
    assert "dry" not in the_letter_to(TEO, work=(replace(WORK[0], findings=(finding,)),)).plain


def test_a_reading_kept_aside_is_said() -> None:
    letter = the_letter_to(INES, outlooks=(replace(POCKET, held=(held_reading("PO", 48210),)),), kept=("PO",))
    assert "Ines, a reading of Pocket waits for somebody to settle it." in letter.plain
    assert "The reading of 48 210 mi on 11 April does not fit" in _joined(letter.plain)


def test_a_vehicle_that_stands_or_runs_while_it_is_laid_up_is_asked_about() -> None:
    stood = StoodStill("odometer", date(2026, 2, 3), date(2026, 4, 1), 3, Decimal(61204), MeterUnit.MI)
    letter = the_letter_to(INES, outlooks=(replace(POCKET, standing=stood),), kept=("PO",))
    assert "Ines, say whether Pocket is laid up." in letter.plain
    told = "Pocket stands since 3 February? Three readings show 61 204 mi. If it is laid up, say from when to when"
    assert told in _joined(letter.plain)
    assert "one vehicle laid up or not" in letter.subject
    spell = DateSpan(date(2026, 2, 3), UNTIL_FURTHER_NOTICE)
    laid_up = replace(POCKET.vehicle, laid_up=(spell,))
    ran = replace(POCKET, vehicle=laid_up, moved=held_reading("PO", 61300))
    letter = the_letter_to(INES, outlooks=(ran,), kept=("PO",))
    told = "Pocket is laid up from 3 February until further notice, yet it moved by 11 April? If it runs again, let"
    assert told in _joined(letter.plain)
    assert "laid up" not in the_letter_to(INES).plain


def test_two_services_of_one_title_are_told_apart_by_their_component() -> None:
    days = (date(2026, 4, 13), date(2026, 5, 4), date(2026, 5, 25))
    two = [
        line("AN", "Axle vents", "axle vents", (0.9, 0.9, 0.005), days, component=part, cause=Cause.DATE)
        for part in ("front-axle", "rear-axle")
    ]
    plain = the_letter_to(INES, outlooks=(outlook("AN", "Anvil", "ines", *two),), kept=("AN",), work=()).plain
    assert "Anvil, axle vents (front axle)\n" in plain
    assert "Anvil, axle vents (rear axle)\n" in plain
    assert "Anvil's axle vents (front axle) and Anvil's axle vents (rear axle)" in _joined(plain)


def test_a_window_without_a_share_has_its_dates_and_no_rod() -> None:
    days = (date(2026, 4, 20), date(2026, 5, 4), date(2026, 5, 25))
    bare = outlook("AN", "Anvil", "ines", line("AN", "Axle, look over", "axle look", None, days))
    letter = the_letter_to(INES, outlooks=(bare,), kept=("AN",), bookings=())
    assert "Early 20 Apr, likely 4 May, late 25 May." in letter.plain
    assert "(=" not in letter.plain
    assert "How to read the rod" not in letter.plain + letter.html


def test_a_keeper_of_very_many_vehicles_gets_the_most_urgent_and_a_count() -> None:
    days = (date(2026, 3, 1), date(2026, 3, 10), date(2026, 4, 1))
    many = tuple(
        outlook(
            f"V{n}",
            f"Van {n}",
            "ines" if n < MOST_LINES + 5 else "piet",
            line(f"V{n}", "Engine oil", "engine oil", (1.1, 1.2, 0.002), days),
        )
        for n in range(100)
    )
    kept = tuple(o.vehicle.mark for o in many if o.vehicle.keeper == "ines")
    letter = the_letter_to(INES, outlooks=many, kept=kept)
    assert letter.plain.count("PAST LATE") == MOST_LINES + MOST_ELSEWHERE
    assert "Five more of your services come up within eight weeks." in letter.plain
    assert f"{100 - len(kept) - MOST_ELSEWHERE} more past late." in letter.plain
    assert "40 services of yours" not in letter.subject


def test_order_of_what_is_given_in_does_not_matter() -> None:
    assert letter_to(INES, work=WORK[::-1], kept={"RA", "AN"}) == letter_to(INES, kept=("AN", "RA"))


def test_the_letter_says_how_to_stop_or_change_it() -> None:
    assert f"Other day or hour: {BASE}/you No more" in _joined(the_letter_to(TEO, change_url=f"{BASE}/you").plain)
    by_hand = the_letter_to(replace(TEO, letter_weekday=None))
    assert "This letter was asked for; none comes by itself." in by_hand.plain


def test_the_safety_line_stands_in_both_twins_once() -> None:
    for text in (_joined(the_letter_to(TEO).plain), _joined(_Seen(the_letter_to(TEO).html).text)):
        assert text.count("Go by the vehicle's own manual") == 1
        assert text.count("qualified technician") == 1


HOSTILE = [
    "<script>alert(1)</script>",
    'x" onclick="y',
    "{{ 7*7 }}{% raw %}",
    "Bcc: evil@example.org\r\nBcc: evil@example.org",
    "&lt;b&gt;",
    "a" * 500,
]


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_name_stays_text(name: str) -> None:
    letter = the_letter_to(
        replace(TEO, name=name), garage=replace(GARAGE, name=name), outlooks=(called_otherwise(BELLOWS, name), RAFT)
    )
    seen = _Seen(letter.html)
    assert "script" not in seen.tags
    assert not any(attribute.startswith("on") for attribute, _ in seen.attributes)
    assert _joined(name) in _joined(seen.text)
    assert "\n" not in letter.subject + letter.to_name
    assert "\r" not in letter.plain + letter.html


@settings(deadline=None)
@given(name=st.text(min_size=1, max_size=60))
def test_no_name_breaks_a_letter(name: str) -> None:
    letter = the_letter_to(replace(TEO, name=name), outlooks=(called_otherwise(BELLOWS, name), RAFT))
    assert "83 365 mi" in _joined(_Seen(letter.html).text)
    assert len(letter.subject.splitlines()) == 1


def test_an_hour_meter_is_asked_for_by_its_name() -> None:
    hours = outlook("BE", "Bellows", "teo", BELLOWS_OIL, wanted=BELLOWS.wanted, meter=MeterUnit.HOURS)
    letter = the_letter_to(TEO, outlooks=(hours,))
    assert "Bellows wants its hour meter read" in letter.plain
    assert "Last time 83 365 h, on" in letter.plain


def test_all_vehicles_of_the_day_are_in_the_order_of_the_garage() -> None:
    plain = the_letter_to(INES, kept=[o.vehicle.mark for o in ALL], reading_links={}).plain
    heads = [line.partition(",")[0] for line in plain.splitlines() if "WHICH YOU" in line]
    assert heads == ["ANVIL", "BELLOWS", "RAFT"]
    assert "BELLOWS, WHICH YOU DRIVE" in plain
