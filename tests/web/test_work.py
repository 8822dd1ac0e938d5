"""Job sheets over HTTP: who may work on them, handing in by phone, what follows first, and photos."""

from __future__ import annotations

import re
from datetime import date, timedelta
from decimal import Decimal
from io import BytesIO

import httpx
import pytest
from PIL import Image

from fleetcare.actions.order_work import Opening, open_order
from fleetcare.work.findings import Follow, FollowKind
from fleetcare.work.order import OrderState, WorkOrder
from tests.web.conftest import TUESDAY, Served
from tests.web.pages import page_of
from tests.web.stored import everything


def opened(served: Served, *services: str, vehicle: str = "Anvil") -> int:
    given = Opening(vehicle, services or ("rear axle fluid", "axle vents"), date(2026, 4, 25), "bay 1", ("Teo",))
    return open_order(
        served.parts.store, served.parts.rules, given, now=TUESDAY, who="ines", base_url=served.url
    ).number


def order_of(served: Served, number: int) -> WorkOrder:
    with served.parts.store.read() as view:
        order = view.order(number)
    assert order is not None
    return order


def form_of(
    served: Served, client: httpx.Client, number: int, person: str = "teo"
) -> tuple[dict[str, str], dict[str, str]]:
    """What the form carries untouched, and the headers of that person."""
    headers = served.session(person)
    answer = client.get(f"{served.url}/work/{number}/hand-in", headers=headers)
    assert answer.status_code == 200
    (form,) = page_of(answer).forms
    return form.fields, headers


def test_a_sheet_is_opened_on_the_vehicles_page_and_shown_with_its_code(served: Served, client: httpx.Client) -> None:
    ines = served.session("ines")
    address = f"{served.url}/vehicles/AN/work"
    page = page_of(client.get(address, headers=ines))
    assert "No sheet is open." in page.words
    given = {"service": ["rear-axle/rear-axle-fluid", "rear-axle/axle-vents"], "on": "2026-04-25", "bay": "bay 1"}
    answer = client.post(address, data={**given, **served.sealed(ines)}, headers=ines)
    assert (answer.status_code, answer.headers["location"]) == (303, "/work/1")
    sheet = client.get(f"{served.url}/work/1", headers=ines)
    words = page_of(sheet).words
    assert "Planned for 25 April." in words
    assert "Axle fluid, 75W-140" in words
    assert "2.6 L" in words
    assert "stands 24 h" in words
    assert "34 to 46 N·m, aim for 40" in sheet.text
    assert "a qualified technician" in words
    assert len(sheet.content) < 100_000
    assert "Open" in page_of(client.get(address, headers=ines)).words
    again = client.post(address, data={**given, **served.sealed(ines)}, headers=ines)
    assert again.status_code == 422
    assert "stands on sheet 0001 already" in page_of(again).words
    nothing = client.post(address, data={**served.sealed(ines)}, headers=ines)
    assert "Name at least one." in page_of(nothing).words


def test_a_sheet_is_handed_in_by_phone_after_what_follows_was_shown(served: Served, client: httpx.Client) -> None:
    number = opened(served)
    fields, teo = form_of(served, client, number)
    filled = {
        **fields,
        "svc.1": "left",
        "why.1": "no hose",
        "end": "113 052",
        "in.rear-axle": "2.6",
        "out.rear-axle": "2.45",
        "tq.0": "40",
        "f.rear-axle.magnet.0": "flakes",
        "hands.teo": "140",
        "parts": "sealant=1 tube @ 12.90\nwipes",
        "signed": "Teo Lindqvist",
    }
    before = everything(served.parts.store)
    address = f"{served.url}/work/{number}/hand-in"
    review = client.post(address, data={**filled, "step": "look", **served.sealed(teo)}, headers=teo)
    assert review.status_code == 200
    words = page_of(review).words
    assert "Debris on the magnet: slivers or flakes" in words
    assert "Look again within 500 mi or by 12 May" in words
    assert "Axle vents, front and rear: no hose. Its dates stay." in words
    assert everything(served.parts.store) == before
    (form,) = page_of(review).forms
    saved = client.post(address, data=form.filled(step="save"), headers=teo)
    assert (saved.status_code, saved.headers["location"]) == (303, f"/work/{number}")
    order = order_of(served, number)
    assert order.state is OrderState.CLOSED
    assert [service.done for service in order.services] == [True, False]
    assert str(order.fills[0].litres) == "2.6"
    assert order.torques[0].low == 34
    assert order.signed_by == "Teo Lindqvist"
    once = everything(served.parts.store)
    twice = client.post(address, data=form.filled(step="save"), headers=teo)
    assert twice.status_code == 303
    assert everything(served.parts.store) == once
    shown = page_of(client.get(f"{served.url}/work/{number}", headers=teo)).words
    assert "Handed in: 14 April." in shown
    assert "left: no hose" in shown
    vehicle = page_of(client.get(f"{served.url}/vehicles/AN", headers=teo)).words
    assert "Look again: Rear axle, limited slip. Debris on the magnet: slivers or flakes" in vehicle


def test_another_decision_wants_a_reason_and_the_typed_words_are_kept(served: Served, client: httpx.Client) -> None:
    number = opened(served, "rear axle fluid")
    fields, teo = form_of(served, client, number)
    address = f"{served.url}/work/{number}/hand-in"
    filled = {**fields, "f.rear-axle.magnet.0": "chips", "note": "one tooth is missing"}
    (form,) = page_of(client.post(address, data={**filled, "step": "look", **served.sealed(teo)}, headers=teo)).forms
    refused = client.post(address, data=form.filled(step="save", **{"other.0": "nothing"}), headers=teo)
    assert refused.status_code == 422
    assert "Say why it is decided otherwise." in page_of(refused).words
    assert "one tooth is missing" in refused.text
    without_days = client.post(address, data=form.filled(step="save", **{"other.0": "look"}), headers=teo)
    assert "Give the days." in page_of(without_days).words
    without_part = client.post(address, data=form.filled(step="save", **{"other.0": "cut"}), headers=teo)
    assert "The part of the interval is missing." in page_of(without_part).words
    no_cut = {"other.0": "cut", "share.0": "120 %", "reason.0": "so"}
    longer = client.post(address, data=form.filled(step="save", **no_cut), headers=teo)
    assert longer.status_code == 422
    assert "An interval cannot be shortened to 1.2 of itself." in page_of(longer).words
    assert 'value="120 %"' in longer.text
    assert order_of(served, number).state is OrderState.PLANNED
    saved = client.post(address, data=form.filled(step="save"), headers=teo)
    assert saved.status_code == 303
    page = page_of(client.get(f"{served.url}/vehicles/AN", headers=teo)).words
    assert "Do not drive: Rear axle, limited slip. Debris on the magnet: chips or pieces" in page


def test_an_interval_is_cut_by_who_hands_the_sheet_in(served: Served, client: httpx.Client) -> None:
    number = opened(served, "rear axle fluid")
    fields, teo = form_of(served, client, number)
    address = f"{served.url}/work/{number}/hand-in"
    filled = {**fields, "f.rear-axle.old-fluid.0": "dark"}
    (form,) = page_of(client.post(address, data={**filled, "step": "look", **served.sealed(teo)}, headers=teo)).forms
    decided = {"other.0": "cut", "share.0": "70 %", "reason.0": "it towed all summer"}
    assert client.post(address, data=form.filled(step="save", **decided), headers=teo).status_code == 303
    with served.parts.store.read() as view:
        (found,) = [each for each in view.found(("AN",)) if each.order == number]
    assert found.follow == Follow(FollowKind.SHORTEN, factor=Decimal("0.7"))
    assert found.decided == "it towed all summer"


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"end": "12"}, "Anvil"),
        ({"end": "lots"}, "Digits only"),
        ({"start": "113052", "end": "113051"}, "A dial does not run backwards"),
        ({"svc.0": "left"}, "Say why."),
        ({"in.rear-axle": "2600"}, "at most 200"),
        ({"out.rear-axle": "2"}, "nothing is said of what went in"),
        ({"tq.0": "55"}, "is outside of 34 to 46"),
        ({"hands.teo": "all day"}, "whole number"),
        ({"parts": "sealant=some"}, "is no amount"),
        ({"f.rear-axle.magnet.0": "green"}, "is not graded"),
        ({"kept": "f" * 64}, "There is no photo"),
    ],
)
def test_a_bad_sheet_is_refused_with_a_sentence_and_stores_nothing(
    served: Served, client: httpx.Client, typed: dict[str, str], said: str
) -> None:
    number = opened(served, "rear axle fluid")
    fields, teo = form_of(served, client, number)
    before = everything(served.parts.store)
    for step in ("look", "save"):
        answer = client.post(
            f"{served.url}/work/{number}/hand-in",
            data={**fields, **typed, "step": step, **served.sealed(teo)},
            headers=teo,
        )
        assert answer.status_code == 422
        assert said in page_of(answer).words
    assert everything(served.parts.store) == before


def _picture() -> bytes:
    exif = Image.Exif()
    exif.get_ifd(0x8825)[2] = (39.0, 44.0, 21.0)
    out = BytesIO()
    Image.new("RGB", (3000, 2000), "grey").save(out, "JPEG", exif=exif)
    return out.getvalue()


def test_photos_come_along_without_their_place_and_are_shown_to_who_may_look(
    served: Served, client: httpx.Client
) -> None:
    number = opened(served, "rear axle fluid")
    fields, teo = form_of(served, client, number)
    address = f"{served.url}/work/{number}/hand-in"
    refused = client.post(
        address, data={**fields, "step": "look"}, files={"photo": ("notes.txt", b"hello", "image/jpeg")}, headers=teo
    )
    assert refused.status_code == 422
    assert "“notes.txt” is no photo that can be read." in page_of(refused).words
    review = client.post(
        address, data={**fields, "step": "look"}, files={"photo": ("m.jpg", _picture(), "image/jpeg")}, headers=teo
    )
    (form,) = page_of(review).forms
    assert client.post(address, data=form.filled(step="save"), headers=teo).status_code == 303
    (name,) = order_of(served, number).photos
    shown = client.get(f"{served.url}/work/{number}/photos/{name}", headers=teo)
    assert (shown.status_code, shown.headers["content-type"]) == (200, "image/jpeg")
    assert b"Exif" not in shown.content
    assert f"/work/{number}/photos/{name}" in client.get(f"{served.url}/work/{number}", headers=teo).text
    other = opened(served, "axle vents")
    assert client.get(f"{served.url}/work/{other}/photos/{name}", headers=teo).status_code == 404


def test_only_people_of_the_vehicle_take_steps_and_strangers_learn_no_numbers(
    served: Served, client: httpx.Client
) -> None:
    number = opened(served, "rear axle fluid")
    before = order_of(served, number)
    for path in ("hand-in", "start", "stands", "defer", "abandon", "back", "stage"):
        for sheet in (number, 99):
            answer = client.post(f"{served.url}/work/{sheet}/{path}", data={"because": "x"})
            assert answer.status_code == 403
            assert "Come in" in page_of(answer).words
    assert client.get(f"{served.url}/work/{number}/hand-in").headers["location"] == "/sign-in"
    noor = served.session("noor")
    assert client.post(f"{served.url}/work/{number}/start", data=served.sealed(noor), headers=noor).status_code == 403
    assert "Hand in the sheet" not in client.get(f"{served.url}/work/{number}", headers=noor).text
    elsewhere = {**served.session("teo"), "Origin": "https://elsewhere.example"}
    start = f"{served.url}/work/{number}/start"
    assert client.post(start, data=served.sealed(elsewhere), headers=elsewhere).status_code == 403
    assert order_of(served, number) == before
    for path in (f"/work/{number}" for number in ("99", "x", "1e9", "-1")):
        assert client.get(served.url + path, headers=noor).status_code == 404


def test_steps_are_taken_on_the_page(served: Served, client: httpx.Client) -> None:
    number = opened(served, "rear axle fluid")
    teo = served.session("teo")
    address = f"{served.url}/work/{number}"

    def step(name: str, **typed: str) -> int:
        return client.post(f"{address}/{name}", data={**typed, **served.sealed(teo)}, headers=teo).status_code

    assert step("start") == 303
    page = client.get(address, headers=teo).text
    stage = re.search(r'<option value="([^"]+)"', page)
    assert stage is not None
    assert step("stage", stage=stage[1]) == 303
    assert step("stage", stage="nothing/at-all") == 404
    assert step("stands", hours="24") == 303
    assert step("start") == 422
    assert "stands until" in page_of(client.get(address, headers=teo)).words.casefold()
    assert step("start", although="gasket instead") == 303
    assert step("defer", until="2026-04-10", because="rain") == 422
    assert step("defer", until="2026-05-10", because="rain") == 303
    assert order_of(served, number).until == date(2026, 5, 10)
    assert "Deferred until 10 May: rain." in page_of(client.get(address, headers=teo)).words
    assert step("abandon", because="sold") == 303
    assert step("abandon", because="sold") == 422


def test_a_sheet_that_was_handed_in_is_put_back_on_its_page(served: Served, client: httpx.Client) -> None:
    number = opened(served, "rear axle fluid")
    fields, teo = form_of(served, client, number)
    address = f"{served.url}/work/{number}"
    client.post(
        f"{address}/hand-in", data={**fields, "end": "113052", "step": "save", **served.sealed(teo)}, headers=teo
    )
    assert client.get(f"{address}/hand-in", headers=teo).headers["location"] == f"/work/{number}"
    assert client.post(f"{address}/back", data=served.sealed(teo), headers=teo).status_code == 303
    assert order_of(served, number).state is OrderState.PLANNED
    served.clock.move(timedelta(minutes=5))
    fields, teo = form_of(served, client, number)
    again = client.post(
        f"{address}/hand-in", data={**fields, "end": "113053", "step": "save", **served.sealed(teo)}, headers=teo
    )
    assert again.status_code == 303
    end = order_of(served, number).end
    assert end is not None
    assert end.value == 113053


def test_a_body_without_photos_keeps_the_usual_limit(served: Served, client: httpx.Client) -> None:
    number = opened(served, "rear axle fluid")
    teo = served.session("teo")
    large = {"although": "x" * 1_100_000}
    assert (
        client.post(f"{served.url}/work/{number}/start", data={**large, **served.sealed(teo)}, headers=teo).status_code
        == 413
    )
