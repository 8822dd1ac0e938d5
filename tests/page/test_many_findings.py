"""Hundreds of findings come a page at a time, each vehicle in one piece; an answer stands where its finding is."""

from __future__ import annotations

from dataclasses import replace

from fleetcare.page.cards.findings import FINDINGS_A_PAGE, FindingsCard, TriedAnswer, findings_card
from fleetcare.page.render import Pages
from fleetcare.work.open_findings import in_waiting_order, open_findings
from tests.page.finding_pages import CUTS, FLAKES
from tests.page.karst_ridge import ANVIL_OUTLOOK, GARAGE, INES, TODAY

MANY = 90
FLEET = {
    f"V{number}": replace(ANVIL_OUTLOOK, today=TODAY, vehicle=replace(ANVIL_OUTLOOK.vehicle, mark=f"V{number}"))
    for number in range(MANY // 2)
}
WAITING = in_waiting_order(
    open_findings([replace(FLAKES, mark=f"V{number // 2}", order=100 + number) for number in range(MANY)], ())
)
MOST_BYTES = 100_000


def page(start: int = 0, tried: TriedAnswer | None = None) -> FindingsCard:
    return findings_card(
        garage=GARAGE,
        reader=INES,
        today=TODAY,
        findings=WAITING,
        outlooks=FLEET,
        names={},
        may_answer=set(FLEET),
        can_enter=True,
        tried=tried,
        start=start,
    )


def keys(card: FindingsCard) -> list[str]:
    return [row.key for vehicle in card.vehicles for row in vehicle.rows]


def test_every_finding_stands_on_one_page_and_each_leads_to_the_next() -> None:
    pages = [page(start) for start in range(0, MANY, FINDINGS_A_PAGE)]
    assert sorted(key for card in pages for key in keys(card)) == sorted(each.key for each in WAITING)
    assert [card.range_words for card in pages] == ["1 to 40 of 90.", "41 to 80 of 90.", "81 to 90 of 90."]
    assert [card.later.url if card.later else "" for card in pages] == ["?start=40", "?start=80", ""]
    assert [card.earlier.url if card.earlier else "" for card in pages] == ["", "/findings", "?start=40"]
    assert page(MANY).range_words == page(0).range_words


def test_cuts_come_behind_what_waits_and_are_counted_with_it() -> None:
    cut = replace(CUTS[0], finding=replace(CUTS[0].finding, line=WAITING[0].line))
    given = findings_card(
        garage=GARAGE, reader=INES, today=TODAY, findings=WAITING, outlooks=FLEET, names={}, may_answer=set(FLEET),
        can_enter=True, cuts=(cut,), start=80,
    )  # fmt: skip
    assert given.range_words == "81 to 91 of 91."
    assert [row.key for vehicle in given.shortened for row in vehicle.rows] == [cut.finding.key]
    assert page(80).shortened == ()


def test_an_answer_that_was_not_taken_stands_on_the_page_of_its_finding() -> None:
    last = keys(page(80))[-1]
    card = page(0, TriedAnswer(last, "That day is over."))
    assert last in keys(card)
    assert card.problem == ""
    assert page(0, TriedAnswer("gone", "It is gone.")).problem == "It is gone."


def test_a_full_page_stays_below_what_a_phone_should_be_sent() -> None:
    assert len(Pages().findings(page(), "seal" * 10).encode()) < MOST_BYTES
