"""The workshop over real HTTP: what stands there, and hours, days off, skills, prices and orders changed by page."""

from __future__ import annotations

import tomllib
from typing import Any

import httpx
import pytest

from fleetcare.actions.plan_bays import propose
from fleetcare.bayplan.port import Answer, Limits
from fleetcare.bayplan.problem import BayProblem
from fleetcare.bayplan.standing import Standing
from tests.web.conftest import Served
from tests.web.pages import PageForm, page_of
from tests.web.stored import everything

PAGE = "/workshop"


def own(served: Served) -> str:
    """The garage's own file, empty if there is none."""
    path = served.parts.home / "config" / "workshop.toml"
    return path.read_text(encoding="utf-8") if path.is_file() else ""


def form_of(served: Served, client: httpx.Client, headers: dict[str, str], what: str) -> PageForm:
    """One form as it is shown to them."""
    (form,) = page_of(client.get(f"{served.url}{PAGE}/{what}", headers=headers)).forms
    return form


def sent(
    served: Served, client: httpx.Client, what: str, *, headers: dict[str, str] | None = None, **typed: Any
) -> httpx.Response:
    """The answer to one form with these fields filled otherwise. headers: of who sends it, else of Ines anew."""
    headers = headers or served.session("ines")
    form = form_of(served, client, headers, what)
    return client.post(served.url + form.action, data=form.as_sent(**typed), headers=headers)


def told_after(served: Served, client: httpx.Client, answer: httpx.Response) -> str:
    """The words of the page one is led back to."""
    assert answer.status_code == 303, page_of(answer).words
    return page_of(client.get(served.url + answer.headers["location"], headers=served.session("ines"))).words


def test_everything_a_plan_is_weighed_by_stands_there(shared: Served, client: httpx.Client) -> None:
    page = page_of(client.get(shared.url + PAGE, headers=shared.session("ines")))
    assert "One bay is open on Tuesday, Thursday, Saturday and Sunday for 18 h a week." in page.words
    assert "Saturday09:00 to 17:00every mechanic" in page.words
    assert "Opening for a day15.00Opening the bay" in page.words
    assert "Nobody has said what each person can do, so everybody may do everything." in page.words
    assert "Wheels off35 min, 9.00" in page.words
    assert "/workshop/prices" in page.addresses
    looker = page_of(client.get(shared.url + PAGE, headers=shared.session("noor")))
    assert "/workshop/prices" not in looker.addresses
    assert "/workshop" in page_of(client.get(f"{shared.url}/plan", headers=shared.session("noor"))).addresses


def test_a_figure_is_changed_and_every_door_goes_by_it(served: Served, client: httpx.Client) -> None:
    answer = sent(served, client, "prices", opening_day="25,50", shift_share="70 %", bays="2")
    words = told_after(served, client, answer)
    assert "Opening for a day: 25.50, it was 15.00." in words
    assert "Part of a shift that is planned, %: 70 %, it was 85 %." in words
    assert "Bays: 2, it was 1." in words
    assert "Pencilled days are looked at anew by it; inked ones stay." in words
    assert "Opening for a day25.50 changed here, usual 15.00" in words
    prices = served.parts.workplace.prices
    assert (prices.opening_day, prices.shift_share, prices.bays) == (2550, 0.7, 2)
    assert set(tomllib.loads(own(served))) == {"opening_day", "shift_share", "bays"}, "nothing else is the garage's own"
    with served.parts.store.read() as view:
        lines = view.log("workshop")
    assert {(each.what, each.before, each.after) for each in lines} >= {("opening_day", "15.00", "25.50")}
    assert {each.change.who for each in lines} == {"ines"}
    # an empty field, or the usual figure, is no figure of the garage's own
    told_after(served, client, sent(served, client, "prices", opening_day="", shift_share="85"))
    assert set(tomllib.loads(own(served))) == {"bays"}


def test_hours_that_are_changed_move_the_plan(served: Served, client: httpx.Client) -> None:
    taken_away = dict[str, Any](zip(("days.1", "days.2"), ([], []), strict=True))
    typed: dict[str, Any] = {"days.0": ["0", "2"], "who.0": "Teo, ines", **taken_away}
    answer = sent(served, client, "hours", **typed)
    words = told_after(served, client, answer)
    assert "Changed: opening hours." in words
    assert "Monday and Wednesday09:00 to 17:00Teo Lindqvist and Ines Calloway" in words
    (hours,) = served.parts.workplace.hours
    assert (hours.weekdays, hours.people) == ((0, 2), ("teo", "ines"))
    days = set[int]()

    def looked(problem: BayProblem, standing: Standing) -> Answer:
        from fleetcare.solvers.exact import ExactSolver

        days.update(shift.day % 7 for shift in problem.shifts)
        return ExactSolver().solve(problem, Limits(0.1), standing=standing)

    propose(served.parts.store, served.parts.rules, served.parts.workplace, looked, now=served.clock.now())
    assert days == {0, 2}, "the plan knows no other day"


def skills_of_teo(served: Served, client: httpx.Client, given: str) -> httpx.Response:
    """The answer to who says what Teo can do."""
    field: dict[str, Any] = {"skills.teo": given}
    return sent(served, client, "skills", **field)


def test_days_off_and_skills_are_said_and_taken_back(served: Served, client: httpx.Client) -> None:
    words = told_after(
        served, client, sent(served, client, "closed", country="us", region="NY", also="2026-05-02 inventory")
    )
    assert "Public holidays of US, NY are closed." in words
    assert "Saturday 2 May: inventory" in words
    assert "Monday 25 May: Memorial Day" in words
    assert "Changed: days off." in words
    words = told_after(served, client, skills_of_teo(served, client, "brakes, whistling"))
    assert "Teo Lindqvist: brakes and whistling" in words
    assert "No job asks for: whistling." in words
    assert served.parts.workplace.skills == {"teo": ("brakes", "whistling")}
    assert "inventory" in own(served), "the other tables stay"
    told_after(served, client, skills_of_teo(served, client, ""))
    told_after(served, client, sent(served, client, "closed", country="", region="", also=""))
    assert tomllib.loads(own(served)) == {}


def test_an_order_is_set_and_names_what_there_is(served: Served, client: httpx.Client) -> None:
    words = told_after(served, client, sent(served, client, "orders", orders="Engine oil, brake pads, 7"))
    assert "engine oil, then brake pads 7 days later at the soonest" in words
    assert [(each.first, each.gap_days) for each in served.parts.workplace.prices.orders] == [("engine oil", 7)]
    answer = sent(served, client, "orders", orders="engin oil, brake pads")
    assert answer.status_code == 422
    assert "Did you mean engine oil?" in page_of(answer).words


@pytest.mark.parametrize(
    ("what", "typed", "field", "told"),
    [
        ("prices", {"bays": "0"}, "bays", "Write a number from 1 to 1000."),
        ("prices", {"bays": "two"}, "bays", "whole number"),
        ("prices", {"opening_day": "15.005"}, "opening_day", ""),
        ("prices", {"shift_share": "120"}, "shift_share", "Give it in per cent, from 10 to 100."),
        ("prices", {"profile": "palace"}, "profile", "Choose one."),
        ("hours", {"until.0": "08:00"}, "until.0", "The workshop would close before it opens."),
        ("hours", {"from.0": "early"}, "from.0", "is no time of day."),
        ("hours", {"who.0": "Nobody"}, "who.0", "There is no person called"),
        ("hours", {"from.3": "09:00", "until.3": "10:00"}, "days.3", "On which days?"),
        ("closed", {"country": "ZZ"}, "country", "is no country whose holidays are known"),
        ("closed", {"region": "NY"}, "country", "A region without its country."),
        ("closed", {"also": "soon inventory"}, "also", "soon"),
        ("closed", {"also": "2026-12-24"}, "also", ""),
        ("orders", {"orders": "engine oil"}, "orders", "Write what is done first"),
        ("skills", {"skills.teo": "x" * 200}, "skills.teo", ""),
    ],
)
def test_what_cannot_be_is_said_at_its_field_and_changes_nothing(
    shared: Served, client: httpx.Client, what: str, typed: dict[str, str], field: str, told: str
) -> None:
    headers = shared.session("ines")
    before, file = everything(shared.parts.store), own(shared)
    form = form_of(shared, client, headers, what)
    answer = client.post(shared.url + form.action, data=form.as_sent(**typed), headers=headers)
    assert answer.status_code == 422
    assert told in page_of(answer).words
    name = field.replace(".", "-")
    assert f'id="{name}-problem"' in answer.text
    assert everything(shared.parts.store) == before
    assert own(shared) == file


def test_an_older_form_undoes_nothing(served: Served, client: httpx.Client) -> None:
    headers = served.session("ines")
    older = form_of(served, client, headers, "prices")
    told_after(served, client, sent(served, client, "prices", bays="3"))
    answer = client.post(served.url + older.action, data=older.as_sent(opening_day="1"), headers=headers)
    assert answer.status_code == 409
    assert "Somebody changed the workshop meanwhile. Here it is as it is now." in page_of(answer).words
    assert served.parts.workplace.prices.bays == 3
    (form,) = page_of(answer).forms
    assert form.fields["bays"] == "3"


def test_nothing_changed_writes_nothing(served: Served, client: httpx.Client) -> None:
    headers = served.session("ines")
    before = everything(served.parts.store)
    for what in ("prices", "hours", "closed", "skills", "orders"):
        assert sent(served, client, what, headers=headers).status_code == 303, what
    assert everything(served.parts.store) == before
    assert own(served) == ""


def test_what_the_garage_wrote_by_hand_stays_with_its_remarks(served: Served, client: httpx.Client) -> None:
    path = served.parts.home / "config" / "workshop.toml"
    path.parent.mkdir(exist_ok=True)
    path.write_text('# ours since May\n[arrive]\nvalue = 9.00\nmeans = "The yard is steep."\n', encoding="utf-8")
    words = told_after(served, client, sent(served, client, "prices", bays="2"))
    assert "The yard is steep." in words
    assert own(served).startswith('# ours since May\n[arrive]\nvalue = 9.00\nmeans = "The yard is steep."\n')
