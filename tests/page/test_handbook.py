"""The Handbook: every service once, with its source, what this garage changed, and how it is done."""

from __future__ import annotations

import re
from dataclasses import replace

from fleetcare.page.cards.book_row import BookRowCard
from fleetcare.page.cards.handbook import NAMED_IN_LIST, users_named
from tests.page.karst_ridge import ANVIL, book_row_card, handbook_card, shipped_book, vehicle_card


def told(card: BookRowCard) -> str:
    """Every word of the jobs."""
    jobs = [
        " ".join([job.told, job.note, job.tools, job.source, *job.cautions, *job.needs])
        + " ".join(f"{stage.what} {stage.time} {' '.join(stage.told)}" for stage in job.stages)
        for job in card.jobs
    ]
    return " ".join(jobs).replace("\u2009", " ")


def test_every_service_of_the_book_stands_in_one_part() -> None:
    card = handbook_card(reader=None)
    urls = [row.url for part in card.parts for row in part.rows]
    assert sorted(urls) == sorted(f"/handbook/{key}" for key in shipped_book().rows)
    assert all(row.rule and row.known for part in card.parts for row in part.rows)
    assert card.lead.startswith(f"{len(urls)} services, ")
    assert "One changed by this garage." in card.lead


def test_what_the_vehicles_carry_comes_first_with_their_names() -> None:
    card = handbook_card(reader=None)
    fluid = next(row for row in card.ours if row.url == "/handbook/rear-axle-fluid")
    assert "Anvil" in [link.text for link in fluid.used_by]
    assert fluid.changed == "changed here: repeat distance under towing"


def test_a_row_says_its_rule_source_status_and_every_change_with_its_reason() -> None:
    card = book_row_card("rear-axle-fluid")
    assert "under towing 25 000 mi" in card.rule.replace("\u2009", " ")
    assert "set by this garage" in card.source
    (change,) = (text.replace("\u2009", " ") for text in card.changes)
    assert change.startswith("Repeat distance under towing: 30 000 mi")
    assert change.endswith("25 000 mi here. Long grades.")
    assert [link.text for link in card.used_by] == ["Anvil"]


def test_an_odd_printed_pair_is_said_on_its_row_and_in_the_list() -> None:
    card = book_row_card("transfer-case-oil")
    assert card.doubts
    listed = [row for part in handbook_card(reader=None).parts for row in part.rows]
    odd = next(row for row in listed if row.url == "/handbook/transfer-case-oil")
    assert "no pair" in odd.known


def test_a_job_is_told_with_waits_cautions_amounts_and_values() -> None:
    card = book_row_card("rear-axle-fluid")
    assert [job.title for job in card.jobs] == [
        "Axle fluid, cover with a new gasket or O-ring",
        "Axle fluid, cover resealed",
    ]
    gasket, sealed = card.jobs
    assert gasket.told.startswith("Where it is closed with gasket or O-ring. ")
    times = {stage.number: stage.time for stage in sealed.stages if stage.is_standing}
    assert list(times.values()) == ["next hand within 5 min", "stands 1 h", "stands 24 h, never under 12 h"]
    text = told(card)
    assert "Axle fluid: as much as the tag says for a refill" in text
    assert "cover bolts as on the tag" in text
    assert "0.7 kg (ArvinMeritor MM-0361" in text
    assert re.search(r"Nobody goes under a vehicle that only a jack holds\. \(Washington State", text)


def test_a_service_with_one_job_says_how_it_is_done() -> None:
    (job,) = book_row_card("wiper-blades").jobs
    assert job.title == "How it is done"
    assert job.told == "Hands are on it 10 min."


def test_a_service_on_a_vehicles_page_leads_to_how_it_is_done() -> None:
    urls = {row.title: row.book_url for row in vehicle_card().services}
    assert urls
    assert all(re.fullmatch(r"/handbook/[a-z0-9-]+", url) for url in urls.values())


def test_of_a_service_that_thousands_carry_a_few_are_named_and_the_others_counted() -> None:
    many = [replace(ANVIL, mark=f"V{number}", name=f"Anvil {number}") for number in range(1, 2_001)]
    named, more = users_named(many, NAMED_IN_LIST)
    assert [link.text for link in named] == [f"Anvil {number}" for number in range(1, NAMED_IN_LIST + 1)]
    assert more.replace("\u2009", " ") == "and 1 992 more"
    assert users_named(many[:NAMED_IN_LIST], NAMED_IN_LIST)[1] == ""
