"""People and keys over real HTTP: who keeps the list adds, changes, lets in and lets go; nobody else does."""

from __future__ import annotations

import httpx

from fleetcare.actions.keep_people import Given, change_person
from fleetcare.fleet.access import Purpose
from fleetcare.fleet.people import Person, Role
from fleetcare.quantities import DistanceUnit
from tests.web.conftest import Served
from tests.web.pages import PageForm, page_of
from tests.web.stored import everything

NEW = {"name": "Sami Koskela", "mail": "sami@karstridge.example", "zone": "Europe/Vienna", "unit": "km"}


def person(served: Served, key: str) -> Person:
    """As stored."""
    with served.parts.store.read() as view:
        return next(each for each in view.people() if each.key == key)


def form_at(served: Served, client: httpx.Client, headers: dict[str, str], path: str, ending: str) -> PageForm:
    """The form of that page which is sent to an address that ends so."""
    forms = page_of(client.get(served.url + path, headers=headers)).forms
    return next(form for form in forms if form.action.partition("#")[0].endswith(ending))


def sent(served: Served, client: httpx.Client, headers: dict[str, str], path: str, **typed: object) -> httpx.Response:
    """The answer to a form of that browser."""
    data = {**typed, **served.sealed(headers)}
    return client.post(served.url + path, data=data, headers=headers)


def test_everybody_stands_there_for_who_keeps_the_list_alone(shared: Served, client: httpx.Client) -> None:
    page = page_of(client.get(f"{shared.url}/people", headers=shared.session("ines")))
    assert "Teo Lindqvist" in page.words
    assert "Keeps the list, keeper, mechanic and driver." in page.words
    assert "/people/teo" in page.addresses
    assert client.get(f"{shared.url}/people", headers=shared.session("teo")).status_code == 403
    assert client.get(f"{shared.url}/people").headers["location"] == "/sign-in"
    assert 'href="/people"' not in client.get(f"{shared.url}/", headers=shared.session("teo")).text
    assert client.get(f"{shared.url}/people/nobody", headers=shared.session("ines")).status_code == 404


def test_a_person_is_added_with_vehicles_and_comes_in_by_a_printed_link(served: Served, client: httpx.Client) -> None:
    ines = served.session("ines")
    answer = sent(served, client, ines, "/people", **NEW, role=["driver"], drives=["PO", "LA"])
    assert answer.status_code == 303
    assert answer.headers["location"].startswith("/people/sami?done=")
    page = page_of(client.get(served.url + answer.headers["location"], headers=ines))
    assert "Added: Sami Koskela; sami@karstridge.example; Europe/Vienna; km; driver." in page.words
    assert "Drives Lantern and Pocket." in page.words
    added = person(served, "sami")
    assert (added.zone, added.unit, added.roles) == ("Europe/Vienna", DistanceUnit.KM, (Role.DRIVER,))
    path = shown_once(sent(served, client, ines, "/people/sami/print").text).removeprefix(served.url)
    assert path.startswith("/sign-in/")
    assert "Sami" in client.get(served.url + path).text
    cookie = client.post(served.url + path).headers["set-cookie"].partition(";")[0]
    assert "Sami Koskela" in client.get(f"{served.url}/", headers={"Cookie": cookie}).text
    assert client.get(f"{served.url}/vehicles/PO/reading", headers={"Cookie": cookie}).status_code == 200
    assert client.get(f"{served.url}/vehicles/AN/reading", headers={"Cookie": cookie}).status_code == 403


def test_the_keeper_chooses_the_language_somebody_is_answered_in(served: Served, client: httpx.Client) -> None:
    ines, teo = served.session("ines"), served.session("teo")
    form = page_of(client.get(f"{served.url}/people/teo", headers=ines))
    assert "The language of pages, letters and calendar as the browser asks English Deutsch" in form.words
    typed = {"name": "Teo Lindqvist", "mail": "teo@karstridge.example", "zone": "Europe/Vienna", "unit": "mi"}
    given = {**typed, "role": ["keeper", "mechanic"], "keeps": ["BE"]}
    answer = sent(served, client, ines, "/people/teo", **given, language="de")
    assert answer.status_code == 303
    assert person(served, "teo").language == "de"
    assert (
        "Europe/Vienna; mi; de; keeper, mechanic"
        in page_of(client.get(served.url + answer.headers["location"], headers=ines)).words
    )
    assert '<html lang="de"' in client.get(f"{served.url}/", headers=teo).text
    # A form without the choice, as where one language alone is offered, leaves it as it is.
    sent(served, client, ines, "/people/teo", **given)
    assert person(served, "teo").language == "de"


def shown_once(text: str) -> str:
    """The link or key that a page shows."""
    return text.partition('readonly value="')[2].partition('"')[0]


def test_a_link_by_mail_lies_in_the_letters(served: Served, client: httpx.Client) -> None:
    answer = sent(served, client, served.session("ines"), "/people/teo/mail")
    assert "A link is on its way to teo@karstridge.example." in page_of(answer).words
    with served.parts.store.read() as view:
        assert view.deliveries()[-1].to_mail == "teo@karstridge.example"
        assert b"/sign-in/" in view.deliveries()[-1].raw


def test_who_has_sessions_is_signed_out_everywhere(served: Served, client: httpx.Client) -> None:
    ines, teo = served.session("ines"), served.session("teo")
    assert client.get(f"{served.url}/readings", headers=teo).status_code == 200
    answer = sent(served, client, ines, "/people/teo/sessions")
    assert "Session link" not in page_of(client.get(served.url + answer.headers["location"], headers=ines)).words
    assert client.get(f"{served.url}/readings", headers=teo).headers["location"] == "/sign-in"
    assert client.get(f"{served.url}/readings", headers=ines).status_code == 200


def test_a_key_for_a_program_is_shown_once_works_and_is_ended(served: Served, client: httpx.Client) -> None:
    ines = served.session("ines")
    answer = sent(served, client, ines, "/people/teo/key", name="tracker", scope="readings", vehicle="BE", days="90")
    assert answer.status_code == 200
    secret = shown_once(answer.text)
    bearer = {"Authorization": f"Bearer {secret}"}
    odd = {"vehicle": "BE", "value": "84k"}
    assert client.post(f"{served.url}/api/readings", headers=bearer, json=odd).status_code == 422
    page = client.get(f"{served.url}/people/teo", headers=ines)
    assert secret not in page.text, "it is shown once"
    assert "tracker Readings, for BE alone, made 14 April, until 13 July." in page_of(page).words
    form = form_at(served, client, ines, "/people/teo", "/end-key")
    assert client.post(served.url + form.action, data=form.filled(), headers=ines).status_code == 303
    assert client.post(f"{served.url}/api/readings", headers=bearer, json=odd).status_code == 401
    assert "No program has a key of theirs." in page_of(client.get(f"{served.url}/people/teo", headers=ines)).words


def test_who_leaves_keeps_their_name_in_the_history_and_nothing_opens(served: Served, client: httpx.Client) -> None:
    ines, teo = served.session("ines"), served.session("teo")
    form = form_at(served, client, ines, "/people/teo", "/leave")
    answer = client.post(served.url + form.action, data=form.filled(), headers=ines)
    assert answer.status_code == 303
    page = page_of(client.get(served.url + answer.headers["location"], headers=ines)).words
    assert "left; nothing opens for them any more" in page
    assert "Who left Teo Lindqvist" in page
    assert client.get(served.feed("teo")).status_code == 404
    assert client.get(f"{served.url}/readings", headers=teo).headers["location"] == "/sign-in"
    gone = person(served, "teo")
    assert (gone.mail, gone.roles, gone.letter_weekday, gone.name) == ("", (), None, "Teo Lindqvist")
    with served.parts.store.read() as view:
        assert not [v.mark for v in view.vehicles() if v.keeper == "teo" or "teo" in v.drivers]
        assert any(work.by == "teo" for work in view.work())
    assert "by Teo" in page_of(client.get(f"{served.url}/vehicles/BE", headers=ines)).words
    # and comes back by being given something to do
    back = sent(served, client, ines, "/people/teo", **{**NEW, "name": "Teo Lindqvist"}, role=["mechanic"])
    assert back.status_code == 303
    assert person(served, "teo").letter_weekday == 0


def test_who_comes_second_is_told_and_what_was_typed_is_still_there(served: Served, client: httpx.Client) -> None:
    ines = served.session("ines")
    form = form_at(served, client, ines, "/people/piet", "/people/piet")
    other = Given("Piet Marchetti", "p@karst.example", roles=(Role.DRIVER,))
    change_person(
        served.parts.store, served.parts.rules, "piet", other, now=served.clock.now(), who="marit", base_url=served.url
    )
    before = everything(served.parts.store)
    typed = {**form.filled(name="Piet M. Marchetti"), "role": "keeper", "unit": "mi"}
    answer = client.post(served.url + form.action, data=typed, headers=ines)
    assert answer.status_code == 409
    assert "Marit changed Piet at 09:00." in page_of(answer).words
    assert page_of(answer).forms[0].fields["name"] == "Piet M. Marchetti"
    assert everything(served.parts.store) == before


def test_what_cannot_be_changes_nothing(shared: Served, client: httpx.Client) -> None:
    ines, before = shared.session("ines"), everything(shared.parts.store)
    for path, typed, status, told in (
        ("/people", {**NEW, "role": "driver", "name": ""}, 422, "empty"),
        ("/people", {**NEW}, 422, "Tick at least one."),
        ("/people", {**NEW, "role": "boss"}, 422, "There is no such role."),
        ("/people", {**NEW, "role": "driver", "mail": "sami"}, 422, "is no mail address"),
        ("/people", {**NEW, "role": "driver", "mail": "teo@karstridge.example"}, 409, "is down here already"),
        ("/people", {**NEW, "role": "driver", "name": "Teo Lindqvist"}, 409, "is down here already"),
        ("/people", {**NEW, "role": "driver", "zone": "Karst/Ridge"}, 422, "is no time zone"),
        ("/people", {**NEW, "role": "driver", "unit": "ft"}, 422, "km or mi"),
        ("/people", {**NEW, "role": "driver", "language": "xx"}, 422, "Choose from the list."),
        ("/people", {**NEW, "role": "driver", "drives": "ZZ"}, 422, "ZZ"),
        ("/people/ines", {**NEW, "name": "Ines", "role": "onlooker"}, 422, "Tick a role"),
        ("/people/ines/leave", {}, 422, "keeps the list"),
        ("/people/teo/key", {"name": "", "scope": "all"}, 422, "empty"),
        ("/people/teo/key", {"name": "x", "scope": "most"}, 422, "Choose one."),
        ("/people/teo/key", {"name": "x", "scope": "all", "days": "soon"}, 422, "soon"),
        ("/people/teo/end-key", {"short": "ab"}, 404, ""),
        ("/people/teo/scrap", {}, 404, ""),
        ("/people/nobody/sessions", {}, 404, ""),
    ):
        answer = sent(shared, client, ines, path, **typed)
        assert (answer.status_code, told in page_of(answer).words) == (status, True), (path, typed, answer.text[:3000])
    assert everything(shared.parts.store) == before


def test_a_session_of_another_purpose_is_no_key(shared: Served, client: httpx.Client) -> None:
    """A key that programs carry opens no page of people."""
    key = shared.key(Purpose.API, person="ines")
    assert client.get(f"{shared.url}/people", headers={"Cookie": f"fleetcare={key}"}).headers["location"] == "/sign-in"


def test_the_list_is_handed_over_and_only_the_new_keeper_can_give_it_back(served: Served, client: httpx.Client) -> None:
    ines, teo = served.session("ines"), served.session("teo")
    form = form_at(served, client, ines, "/people/teo", "/list")
    answer = client.post(served.url + form.action, data=form.filled(), headers=ines)
    assert answer.status_code == 200
    assert "From now on Teo Lindqvist keeps the list" in page_of(answer).words
    with served.parts.store.read() as view:
        garage = view.garage()
        assert garage is not None
        assert garage.list_keeper == "teo"
    assert Role.KEEPER in person(served, "teo").roles
    assert person(served, "ines").roles == (Role.KEEPER, Role.MECHANIC, Role.DRIVER)
    assert client.get(f"{served.url}/people", headers=ines).status_code == 403
    assert client.get(f"{served.url}/people", headers=teo).status_code == 200
    assert sent(served, client, ines, "/people/ines/list").status_code == 403
    before = everything(served.parts.store)
    assert sent(served, client, teo, "/people/teo/list").status_code == 200
    assert everything(served.parts.store) == before
    assert sent(served, client, teo, "/people/ines/list").status_code == 200
    assert client.get(f"{served.url}/people", headers=ines).status_code == 200


def test_the_list_goes_to_nobody_who_left_looks_on_or_has_no_way_in(served: Served, client: httpx.Client) -> None:
    ines = served.session("ines")
    sent(served, client, ines, "/people", name="Olga Onlooker", mail="o@karst.example", unit="km", role=["onlooker"])
    sent(served, client, ines, "/people", name="Bo Bare", unit="km", role=["driver"])
    sent(served, client, ines, "/people/noor/leave")
    for key, told in (("olga", "only looks on"), ("bo", "has no way in"), ("noor", "left")):
        before = everything(served.parts.store)
        answer = sent(served, client, ines, f"/people/{key}/list")
        assert answer.status_code == 422
        assert told in page_of(answer).words
        assert everything(served.parts.store) == before
    assert "/people/ines/list" not in client.get(f"{served.url}/people/ines", headers=ines).text
    assert "/people/olga/list" not in client.get(f"{served.url}/people/olga", headers=ines).text
