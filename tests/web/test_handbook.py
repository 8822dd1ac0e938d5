"""The Handbook over real HTTP: who may look, and what stands there."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import httpx
import pytest

from fleetcare.book.after_lines import after_event_lines
from fleetcare.due.outlook import DueWindow
from fleetcare.fleet.component import LineKey
from tests.web.conftest import Served, serving
from tests.web.pages import page_of


@pytest.fixture(scope="module")
def closed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """The demo garage where only people who came in may look."""
    with serving(tmp_path_factory.mktemp("closed") / "home", open_house=False) as running:
        yield running


def test_the_book_of_the_garage_is_listed_with_what_it_changed(served: Served, client: httpx.Client) -> None:
    answer = client.get(f"{served.url}/handbook")
    assert answer.status_code == 200
    assert len(answer.content) < 120_000
    assert answer.text.count('href="/handbook/') >= len(served.parts.rules.book.rows)
    assert "changed here: repeat distance under towing" in answer.text
    assert 'href="/vehicles/AN"' in answer.text


def test_a_row_has_its_page_and_another_name_has_none(served: Served, client: httpx.Client) -> None:
    page = client.get(f"{served.url}/handbook/rear-axle-fluid")
    assert page.status_code == 200
    assert "Long grades to Hollow Lake" in page.text
    assert "Fill plug out" in page.text
    missing = client.get(f"{served.url}/handbook/rear-axle-flood")
    assert missing.status_code == 404
    assert client.get(f"{served.url}/handbook/engine-oil-shuttle").status_code == 200  # a row of the garage's own


def test_a_closed_garage_shows_it_only_to_people_who_came_in(closed: Served, client: httpx.Client) -> None:
    for path in ("/handbook", "/handbook/rear-axle-fluid"):
        answer = client.get(f"{closed.url}{path}")
        assert (answer.status_code, answer.headers["location"]) == (303, "/sign-in")
        assert client.get(f"{closed.url}{path}", headers=closed.session("piet")).status_code == 200


def test_the_head_leads_there(served: Served, client: httpx.Client) -> None:
    assert 'href="/handbook"' in client.get(f"{served.url}/").text


FORM = {"unit": "mi", "distance": "50000", "months": "60", "under-towing": "20000", "under-track": "30000"}


@pytest.fixture
def own(tmp_path: Path) -> Iterator[Served]:
    """The demo garage for one test."""
    with serving(tmp_path / "home") as running:
        yield running


def test_a_keeper_changes_a_figure_and_every_date_follows(own: Served, client: httpx.Client) -> None:
    page = f"{own.url}/handbook/rear-axle-fluid"
    keeper = own.session("ines")
    assert "Change a figure" in client.get(page, headers=keeper).text
    before = likely_of(own)
    answer = client.post(
        f"{page}/change", data={**FORM, "reason": "Dark again in May", **own.sealed(keeper)}, headers=keeper
    )
    assert (answer.status_code, answer.headers["location"]) == (303, "/handbook/rear-axle-fluid")
    after = client.get(page, headers=keeper).text
    assert "Dark again in May" in after
    assert "20\u2009000 mi</span> here" in after
    assert likely_of(own) < before
    with own.parts.store.read() as view:
        entry = view.log("book")[0]
        assert (entry.change.who, entry.what) == ("ines", "rear-axle-fluid")
        assert "20\u2009000 mi" in entry.after
    # the file that a garage may edit by hand says the same, and the rest of it is still there
    text = (own.parts.home / "config" / "interval_book.toml").read_text(encoding="utf-8")
    assert "Dark again in May" in text
    assert "engine-oil-shuttle" in text

    assert client.post(f"{page}/as-in-the-book", data=own.sealed(keeper), headers=keeper).status_code == 303
    assert "Changed by this garage" not in client.get(page, headers=keeper).text


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"reason": ""}, "is empty"),
        ({"reason": "x", "under-towing": "soon"}, "not a number"),
        ({"reason": "x", "distance": "0"}, "more than nothing"),
        ({"reason": "x", "months": "2.5"}, ""),
    ],
)
def test_what_cannot_be_is_said_at_its_field_and_changes_nothing(
    served: Served, client: httpx.Client, change: dict[str, str], said: str
) -> None:
    book = (served.parts.home / "config" / "interval_book.toml").read_bytes()
    ines = served.session("ines")
    answer = client.post(
        f"{served.url}/handbook/rear-axle-fluid/change", data={**FORM, **change, **served.sealed(ines)}, headers=ines
    )
    assert answer.status_code == 422
    assert 'role="alert"' in answer.text
    assert said in answer.text
    assert (served.parts.home / "config" / "interval_book.toml").read_bytes() == book


def test_all_of_a_row_stands_in_its_form_and_can_be_changed_there(own: Served, client: httpx.Client) -> None:
    address, ines = f"{own.url}/handbook/rear-axle-fluid", own.session("ines")
    (form, *_) = [f for f in page_of(client.get(address, headers=ines)).forms if f.action.endswith("/change")]
    book = own.parts.rules.book.rows["rear-axle-fluid"].rule
    assert form.fields["after"].splitlines() == after_event_lines(book.after).splitlines()
    same = client.post(own.url + form.action, data=form.filled(reason="as before"), headers=ines)
    assert same.status_code == 303
    assert own.parts.rules.book.rows["rear-axle-fluid"].rule == book, "given back as it is shown, nothing changes"
    given = form.filled(
        reason="Mud in the gorge",
        after="immersion: 2 days\ngears renewed: 500 mi, 30 days",
        **{"first-distance": "600"},
    )
    assert client.post(own.url + form.action, data=given, headers=ines).status_code == 303
    rule = own.parts.rules.book.rows["rear-axle-fluid"].rule
    assert [(each.event, each.days) for each in rule.after] == [("immersion", 2), ("gears renewed", 30)]
    assert rule.first is not None
    bad = client.post(
        own.url + form.action, data=form.filled(reason="x", after="immersion in 2 days: soon"), headers=ines
    )
    assert bad.status_code == 422
    assert "Write an event to a line" in bad.text


def test_a_garage_adds_a_row_of_its_own(own: Served, client: httpx.Client) -> None:
    ines = own.session("ines")
    assert 'href="/handbook/new"' in client.get(f"{own.url}/handbook", headers=ines).text
    (form,) = page_of(client.get(f"{own.url}/handbook/new", headers=ines)).forms
    given = form.filled(
        title="Winch rope, look and respool", short="winch rope", components="body, winch", months="12",
        after="immersion", reason="It lives in the mud", source="our own practice",
    )  # fmt: skip
    bad = client.post(f"{own.url}/handbook/new", data={**given, "short": "Winch rope"}, headers=ines)
    assert bad.status_code == 422
    assert "begins with a capital" in bad.text
    none = client.post(f"{own.url}/handbook/new", data={**given, "components": " , "}, headers=ines)
    assert "for no kind of component" in none.text
    made = client.post(f"{own.url}/handbook/new", data=given, headers=ines)
    assert (made.status_code, made.headers["location"]) == (303, "/handbook/winch-rope-look-and-respool")
    row = own.parts.rules.book.rows["winch-rope-look-and-respool"]
    assert (row.components, row.rule.repeat.months) == (("body", "winch"), 12)
    assert "winch rope" in row.short
    again = client.post(f"{own.url}/handbook/new", data=given, headers=ines)
    assert again.headers["location"].endswith("-2"), "a second row of that name is a row of its own"


def test_only_who_keeps_the_list_changes_the_book(served: Served, client: httpx.Client) -> None:
    page = f"{served.url}/handbook/rear-axle-fluid"
    assert "Change a figure" not in client.get(page).text
    for headers in ({}, served.session("piet")):
        assert "Change a figure" not in client.get(page, headers=headers).text
        seal = served.sealed(headers) if headers else {}
        answer = client.post(f"{page}/change", data={**FORM, "reason": "x", **seal}, headers=headers)
        assert answer.status_code == 403
    ines = served.session("ines")
    from_elsewhere = {**ines, "Origin": "https://elsewhere.example"}
    data = {**FORM, "reason": "x", **served.sealed(ines)}
    assert client.post(f"{page}/change", data=data, headers=from_elsewhere).status_code == 403


def test_a_book_edited_by_hand_is_in_force_at_once_and_one_with_a_fault_is_passed_over(own: Served) -> None:
    file = own.parts.home / "config" / "interval_book.toml"
    text = file.read_text(encoding="utf-8")
    file.write_text(
        f'{text}\n[rows.wiper-blades]\nreason = "dust"\n[rows.wiper-blades.repeat]\nmonths = 5\n', encoding="utf-8"
    )
    assert own.parts.rules.book.rows["wiper-blades"].rule.repeat.months == 5
    file.write_text("rows = 3\n", encoding="utf-8")
    assert own.parts.rules.book.rows["wiper-blades"].rule.repeat.months == 5
    file.write_text(text, encoding="utf-8")
    assert own.parts.rules.book.rows["wiper-blades"].rule.repeat.months == 12


def likely_of(served: Served) -> date:
    """The likely date of Anvil's rear axle fluid as it is stored."""
    with served.parts.store.read() as view:
        state = view.windows(("AN",))[LineKey("AN", "rear-axle", "rear-axle-fluid")]
    assert isinstance(state, DueWindow)
    return state.likely
