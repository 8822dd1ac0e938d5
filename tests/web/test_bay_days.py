"""Bay days over HTTP: what is planned is seen, and inked, pencilled, moved, rubbed out and put down by who may."""

from __future__ import annotations

import httpx
import pytest

from fleetcare.fleet.bay_visit import BayVisit, VisitState
from tests.web.conftest import Served
from tests.web.pages import Page, PageForm, page_of
from tests.web.stored import everything

Headers = dict[str, str]


def plan_of(served: Served, client: httpx.Client, headers: Headers | None = None, vehicle: str = "") -> Page:
    answer = client.get(f"{served.url}/plan", params={"vehicle": vehicle} if vehicle else {}, headers=headers or {})
    assert answer.status_code == 200
    return page_of(answer)


def form_to(page: Page, end: str) -> PageForm:
    (found,) = [form for form in page.forms if form.action.partition("#")[0].endswith(end) and form.method == "post"]
    return found


def visit_in(served: Served, mark: str, number: int = 1) -> BayVisit:
    with served.parts.store.read() as view:
        return next(visit for visit in view.bay_visits((mark,)) if visit.number == number)


def send(
    served: Served, client: httpx.Client, headers: Headers, end: str, vehicle: str = "", **fields: str
) -> httpx.Response:
    form = form_to(plan_of(served, client, headers, vehicle), end)
    return client.post(served.url + form.action, data=form.fields | fields, headers=headers)


def test_everybody_sees_what_is_planned_and_a_stranger_no_forms(served: Served, client: httpx.Client) -> None:
    words = plan_of(served, client).words
    assert "Eleven visits: five inked and six pencilled" in words
    assert "Saturday 25 April 09:00, inked, Ines Calloway" in words
    assert "hands-on 3 h 40, stands 25 h. Out of use until Sun 13:40." in words
    assert not [form for form in plan_of(served, client).forms if form.method == "post"]


def test_a_pencilled_day_is_inked_and_pencilled_again(served: Served, client: httpx.Client) -> None:
    ines = served.session("ines")
    answer = send(served, client, ines, "/plan/AN/2/ink")
    assert (answer.status_code, answer.headers["location"]) == (303, "/plan#AN-2")
    assert visit_in(served, "AN", 2).state is VisitState.INKED
    send(served, client, ines, "/plan/AN/2/pencil")
    assert visit_in(served, "AN", 2).state is VisitState.PENCILLED


def test_a_visit_is_moved_and_rubbed_out(served: Served, client: httpx.Client) -> None:
    ines = served.session("ines")
    before = visit_in(served, "AN")
    answer = send(served, client, ines, "/plan/AN/1/move", day="2026-04-18", time="10:00")
    assert answer.status_code == 303
    after = visit_in(served, "AN")
    assert (before.begins_at - after.begins_at).total_seconds() == 6 * 86400 + 23 * 3600
    assert after.free_at - after.begins_at == before.free_at - before.begins_at
    send(served, client, ines, "/plan/AN/1/rub-out")
    assert not visit_in(served, "AN").takes_place
    assert "25 April" not in plan_of(served, client).words


def test_a_new_visit_is_put_down_for_a_chosen_vehicle(served: Served, client: httpx.Client) -> None:
    ines = served.session("ines")
    page = plan_of(served, client, ines, "PO")
    assert "What is to be done on PO" in page.words
    answer = send(
        served,
        client,
        ines,
        "/plan",
        "PO",
        service="brakes/brake-fluid",
        day="2026-06-20",
        time="9:30",
        takes="1:10",
        hands="teo",
        why="before the holidays",
        state="inked",
    )
    assert answer.status_code == 303
    made = visit_in(served, "PO", 2)
    assert [line.service for line in made.lines] == ["brake-fluid"]
    assert (made.state, made.mechanic, made.reason) == (VisitState.INKED, "teo", "before the holidays")
    assert "before the holidays" in plan_of(served, client).words


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"day": ""}, "There is no day."),
        ({"time": "noon"}, "no time of day"),
        ({"takes": "90"}, "no length of time"),
        ({"service": ""}, "no service"),
        ({"service": "nothing/such"}, "service"),
        ({"day": "2026-04-25", "time": "10:00"}, "in the bay already"),
        ({"hands": "nobody"}, "nobody"),
    ],
)
def test_what_cannot_be_is_told_at_its_field_keeps_what_was_typed_and_changes_nothing(
    served: Served, client: httpx.Client, fields: dict[str, str], said: str
) -> None:
    ines = served.session("ines")
    page = plan_of(served, client, ines, "AN")
    before = everything(served.parts.store)
    good = {"service": "engine/engine-oil", "day": "2026-06-20", "time": "9:30", "takes": "1:10", "why": "my reason"}
    answer = client.post(served.url + "/plan", data=form_to(page, "/plan").fields | good | fields, headers=ines)
    assert answer.status_code in (409, 422)
    assert said in answer.text
    assert 'role="alert"' in answer.text
    assert 'value="my reason"' in answer.text
    assert everything(served.parts.store) == before


def test_a_move_that_cannot_be_is_told_at_that_visit(served: Served, client: httpx.Client) -> None:
    ines = served.session("ines")
    answer = send(served, client, ines, "/plan/AN/1/move", day="2026-05-30", time="09:30")
    assert answer.status_code == 409
    assert 'id="AN-1-problem"' in answer.text
    assert 'value="2026-05-30"' in answer.text


@pytest.mark.parametrize("end", ["AN/1/ink", "AN/1/rub-out", "AN/1/move", "ZZ/1/ink", ""])
def test_who_may_not_plan_is_refused_and_nothing_changes(served: Served, client: httpx.Client, end: str) -> None:
    """Rufus keeps Thistle and is no mechanic."""
    rufus, ines = served.session("rufus"), served.session("ines")
    seal = form_to(plan_of(served, client, rufus), "/plan/TH/1/rub-out").fields["seal"]
    before = everything(served.parts.store)
    address = f"{served.url}/plan/{end}".rstrip("/")
    data = {"seal": seal, "vehicle": "AN", "day": "2026-06-20", "time": "9:00"}
    assert client.post(address, data=data, headers=rufus).status_code == 403
    assert client.post(address, data=data).status_code == 403
    assert client.post(address, data=data | {"seal": "x"}, headers=ines).status_code == 403
    assert everything(served.parts.store) == before


def test_what_is_not_there_is_not_found(served: Served, client: httpx.Client) -> None:
    ines = served.session("ines")
    seal = {"seal": form_to(plan_of(served, client, ines), "/plan/AN/1/rub-out").fields["seal"]}
    for end in ("AN/77/ink", "AN/x/ink", "AN/1/burn"):
        assert client.post(f"{served.url}/plan/{end}", data=seal, headers=ines).status_code == 404


def test_a_visit_makes_its_sheet_once_and_both_lead_to_each_other(served: Served, client: httpx.Client) -> None:
    ines = served.session("ines")
    (with_none,) = [form for form in plan_of(served, client, ines).forms if form.action == "/plan/AN/2/sheet"]
    sheets = set()
    for _ in range(2):
        answer = client.post(served.url + with_none.action, data=with_none.fields, headers=ines)
        assert answer.status_code == 303
        sheets.add(answer.headers["location"])
    (sheet,) = sheets
    assert sheet in plan_of(served, client, ines).addresses
    assert "/plan#AN-2" in page_of(client.get(served.url + sheet, headers=ines)).addresses
    assert "/plan/AN/2/sheet" not in {form.action for form in plan_of(served, client, ines).forms}


def form_of(served: Served, client: httpx.Client, headers: Headers, action: str, address: str = "/plan") -> PageForm:
    """The form that goes there, on the page as it is now."""
    page = page_of(client.get(served.url + address, headers=headers))
    return next(form for form in page.forms if form.action.partition("#")[0] == action)


@pytest.mark.parametrize("what", ["ink", "rub-out", "move"])
def test_an_older_form_undoes_nothing_that_somebody_else_did_meanwhile(
    served: Served, client: httpx.Client, what: str
) -> None:
    """Two browsers: Teo moves the visit while Ines has the page of before open."""
    ines, teo = served.session("ines"), served.session("teo")
    older = form_of(served, client, ines, f"/plan/AN/2/{what}")
    assert send(served, client, teo, "/plan/AN/2/move", day="2026-06-13", time="11:00").status_code == 303
    before = everything(served.parts.store)
    typed = {"day": "2026-06-20", "time": "9:00"} if what == "move" else {}
    answer = client.post(served.url + older.action, data=older.filled(**typed), headers=ines)
    assert answer.status_code == 409
    words = page_of(answer).words
    assert "Visit 2 of Anvil was changed meanwhile: now it is pencilled, 2026-06-13 11:00." in words
    assert "Saturday 13 June" in words, "the page shows how it stands"
    assert everything(served.parts.store) == before
    newer = form_of(served, client, ines, f"/plan/AN/2/{what}")
    assert client.post(served.url + newer.action, data=newer.filled(**typed), headers=ines).status_code == 303


def test_an_older_page_of_other_days_moves_nothing_either(served: Served, client: httpx.Client) -> None:
    ines, teo = served.session("ines"), served.session("teo")
    older = form_of(served, client, ines, "/plan/AN/2/move", "/plan/AN/2")
    assert send(served, client, teo, "/plan/AN/2/rub-out").status_code == 303
    answer = client.post(served.url + older.action, data=older.filled(), headers=ines)
    assert answer.status_code == 409
    assert "Visit 2 of Anvil was changed meanwhile: now it is rubbed out" in page_of(answer).words
    assert not visit_in(served, "AN", 2).takes_place


def test_a_form_that_is_sent_twice_counts_once_and_is_no_clash(served: Served, client: httpx.Client) -> None:
    ines = served.session("ines")
    inks = form_of(served, client, ines, "/plan/AN/2/ink")
    for _ in range(2):
        assert client.post(served.url + inks.action, data=inks.filled(), headers=ines).status_code == 303
    moves = form_of(served, client, ines, "/plan/AN/2/move")
    for _ in range(2):
        sent = moves.filled(day="2026-06-13", time="11:00")
        assert client.post(served.url + moves.action, data=sent, headers=ines).status_code == 303


@pytest.mark.parametrize(("number", "state"), [(1, VisitState.INKED), (2, VisitState.PENCILLED)])
def test_what_was_rubbed_out_is_put_back_as_it_was(
    served: Served, client: httpx.Client, number: int, state: VisitState
) -> None:
    ines, teo = served.session("ines"), served.session("teo")
    before = visit_in(served, "AN", number)
    assert before.state is state
    back_to = send(served, client, ines, f"/plan/AN/{number}/rub-out").headers["location"]
    end = "ink" if state is VisitState.INKED else "pencil"
    undo = form_of(served, client, ines, f"/plan/AN/{number}/{end}", back_to)
    assert "rubbed out." in page_of(client.get(served.url + back_to, headers=teo)).words
    assert "rubbed out." not in page_of(client.get(served.url + back_to)).words, "a stranger undoes nothing"
    assert client.post(served.url + undo.action, data=undo.filled(), headers=ines).status_code == 303
    assert visit_in(served, "AN", number) == before
    assert "rubbed out." not in page_of(client.get(served.url + back_to, headers=ines)).words, "it is no longer so"


def test_what_was_moved_is_moved_back(served: Served, client: httpx.Client) -> None:
    ines = served.session("ines")
    before = visit_in(served, "AN", 2)
    back_to = send(served, client, ines, "/plan/AN/2/move", day="2026-06-13", time="11:00").headers["location"]
    page = page_of(client.get(served.url + back_to, headers=ines))
    assert "Anvil was moved to Saturday 13 June at 11:00, from Saturday 30 May at 09:00." in page.words
    (undo,) = [f for f in page.forms if f.action == "/plan/AN/2/move" and f.fields.get("day") == "2026-05-30"]
    assert client.post(served.url + undo.action, data=undo.filled(), headers=ines).status_code == 303
    assert visit_in(served, "AN", 2).stretches == before.stretches


@pytest.mark.parametrize(
    "asked", ["out=AN-99&was=inked", "out=AN-2&was=inked", "out=ZZ-1&was=inked", "moved=AN-2&was=soon", "moved=-&was=1"]
)
def test_an_address_that_tells_of_nothing_shows_the_page_as_it_is(
    served: Served, client: httpx.Client, asked: str
) -> None:
    ines = served.session("ines")
    words = page_of(client.get(f"{served.url}/plan?{asked}", headers=ines)).words
    assert "rubbed out." not in words
    assert "was moved to" not in words
