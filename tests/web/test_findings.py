"""The findings page over real HTTP: what waits, and what comes of settling, putting off and looking again."""

from __future__ import annotations

import re
from datetime import date, timedelta
from decimal import Decimal

import httpx

from fleetcare.actions.answer_finding import Reply, answer_finding
from fleetcare.actions.gather import outlooks_of
from fleetcare.actions.hand_in_sheet import Filling, hand_in
from fleetcare.actions.look_at_findings import findings_waiting
from fleetcare.actions.order_work import Opening, open_order
from fleetcare.due.outlook import DueWindow
from fleetcare.fleet.component import LineKey
from fleetcare.work.findings import Follow, FollowKind
from fleetcare.work.found import Found, Seen
from fleetcare.work.open_findings import WaitingFinding
from tests.web.conftest import Served
from tests.web.pages import PageForm, page_of
from tests.web.stored import everything

PAGE = "/findings"


def waiting(served: Served) -> tuple[WaitingFinding, ...]:
    """What waits now."""
    return findings_waiting(served.parts.store, served.parts.rules, now=served.clock.now()).findings


def handed_in(served: Served, *seen: Seen) -> int:
    """A sheet of Anvil that was handed in with these findings."""
    parts, now = served.parts, served.clock.now()
    given = Opening("Anvil", ("rear axle fluid",))
    order = open_order(parts.store, parts.rules, given, now=now, who="teo", base_url=served.url)
    filling = Filling(end=Decimal(113_052), seen=seen, signed_by="Teo Lindqvist")
    hand_in(parts.store, parts.rules, parts.findings, order.number, filling, now=now, who="teo", base_url=served.url)
    return order.number


def feed(served: Served, client: httpx.Client) -> str:
    """Teo's feed with its folded lines joined."""
    return client.get(served.feed("teo")).text.replace("\r\n ", "")


def form_of(served: Served, client: httpx.Client, headers: dict[str, str], key: str) -> PageForm:
    """The form of one finding as the page shows it."""
    page = page_of(client.get(served.url + PAGE, headers=headers))
    return next(form for form in page.forms if f"/{key}#" in form.action)


def test_every_finding_of_the_demo_stands_there_with_what_follows(shared: Served, client: httpx.Client) -> None:
    page = page_of(client.get(shared.url + PAGE, headers=shared.session("ines")))
    assert "Three findings wait. The next look is Bellows’, by 30 April." in page.words
    assert (
        "Rear cover damp at the lower left bolt. Found 2 March by Teo, 43 days ago. Look again by 30 April."
        in page.words
    )
    assert "Front vent hose chafed" not in page.words, "what was settled waits no more"
    assert "Without it the next hand there would be for axle vents" in page.words
    assert '<a href="/findings" aria-current="page">' in client.get(shared.url + PAGE).text


def test_a_record_s_finding_is_settled_and_the_feed_forgets_it(served: Served, client: httpx.Client) -> None:
    headers, damp = served.session("ines"), next(each for each in waiting(served) if each.line.mark == "BE")
    assert "cover damp" in feed(served, client)
    with served.parts.store.read() as view:
        records = len(view.work(("BE",)))
    form = form_of(served, client, headers, damp.key)
    answer = client.post(
        served.url + form.action, data=form.filled(note="Dry since the bolt was drawn", reply="settle"), headers=headers
    )
    assert answer.status_code == 303
    page = page_of(client.get(served.url + answer.headers["location"], headers=headers))
    assert "Bellows, rear cover damp at the lower left bolt: settled: Dry since the bolt was drawn." in page.words
    assert "Two findings wait." in page.words
    assert [each.key for each in waiting(served) if each.line.mark == "BE"] == []
    with served.parts.store.read() as view:
        assert len(view.work(("BE",))) == records
        assert view.log(str(damp.line))[0].change.who == "ines"
    assert "cover damp" not in feed(served, client)


def test_a_sheet_s_finding_stands_there_and_a_second_look_moves_its_date(served: Served, client: httpx.Client) -> None:
    number = handed_in(served, Seen("rear-axle", "magnet", "flakes"))
    headers, key = served.session("ines"), f"{number:04d}-1"
    page = page_of(client.get(served.url + PAGE, headers=headers))
    assert "Look again within 500" in page.words
    assert "On the road it is likely" in page.words
    assert f"/work/{number}" in page.addresses
    form = form_of(served, client, headers, key)
    answer = client.post(
        served.url + form.action,
        data=form.filled(note="Fewer now", by="2026-06-20", reply="look-again"),
        headers=headers,
    )
    told = page_of(client.get(served.url + answer.headers["location"], headers=headers)).words
    assert "look again by 20 June 2026: Fewer now." in told
    assert "Anvil, look again: new, likely" in told
    assert "Anvil, look again: nothing to look at any more." in told
    (anew,) = [each for each in waiting(served) if each.sheet == number]
    assert (anew.key, anew.look_by, anew.on) == (f"{number:04d}-2", date(2026, 6, 20), date(2026, 4, 14))
    assert isinstance(anew.origin, Found)
    assert anew.origin.at is None, "the dial was not read at the second look"


def test_putting_off_keeps_the_day_it_was_found_on_and_says_why(served: Served, client: httpx.Client) -> None:
    number = handed_in(served, Seen("rear-axle", "magnet", "flakes"))
    served.clock.move(timedelta(days=2))
    answer_finding(
        served.parts.store, served.parts.rules, f"{number:04d}-1", Reply.PUT_OFF, note="Away until June",
        by_day=date(2026, 6, 10), now=served.clock.now(), who="ines", base_url=served.url,
    )  # fmt: skip
    (later,) = [each for each in waiting(served) if each.sheet == number]
    assert (later.on, later.look_by) == (date(2026, 4, 14), date(2026, 6, 10))
    assert isinstance(later.origin, Found)
    assert later.origin.decided == "Away until June"
    with served.parts.store.read() as view:
        first = next(each for each in view.found() if (each.order, each.position) == (number, 1))
    assert first.settled_note == "put off until 10 June 2026: Away until June"


def test_who_comes_second_is_told_who_was_first_and_loses_nothing(served: Served, client: httpx.Client) -> None:
    headers, damp = served.session("ines"), next(each for each in waiting(served) if each.line.mark == "BE")
    form = form_of(served, client, headers, damp.key)
    answer_finding(
        served.parts.store, served.parts.rules, damp.key, Reply.PUT_OFF, note="Dry today", by_day=date(2026, 5, 20),
        now=served.clock.now(), who="teo", base_url=served.url,
    )  # fmt: skip
    before = everything(served.parts.store)
    answer = client.post(
        served.url + form.action,
        data=form.filled(note="New gasket ordered", by="2026-05-02", reply="put-off"),
        headers=headers,
    )
    assert answer.status_code == 409
    words = page_of(answer).words
    assert "Teo answered that finding at 09:00: look again by 20 May 2026: Dry today. Here it is as it is now." in words
    assert "Look again by 20 May." in words
    again = next(each for each in page_of(answer).forms if f"/{damp.key}#" in each.action)
    assert (again.fields["note"], again.fields["by"]) == ("New gasket ordered", "2026-05-02")
    assert everything(served.parts.store) == before
    # with what stands there now it is taken
    assert (
        client.post(served.url + again.action, data=again.filled(reply="put-off"), headers=headers).status_code == 303
    )


def test_what_was_settled_meanwhile_is_told_too(served: Served, client: httpx.Client) -> None:
    headers, damp = served.session("ines"), next(each for each in waiting(served) if each.line.mark == "BE")
    form = form_of(served, client, headers, damp.key)
    sent = form.filled(note="Dry", reply="settle")
    assert client.post(served.url + form.action, data=sent, headers=headers).status_code == 303
    answer = client.post(served.url + form.action, data=sent, headers=headers)
    assert answer.status_code == 409
    assert "Ines answered that finding at 09:00: settled: Dry." in page_of(answer).words
    assert client.post(f"{served.url}{PAGE}/0999-1", data=form.filled(note="Dry"), headers=headers).status_code == 404


def test_a_vehicle_that_must_not_be_driven_is_only_settled(served: Served, client: httpx.Client) -> None:
    number = handed_in(served, Seen("rear-axle", "magnet", "chips"))
    (held,) = [each for each in waiting(served) if each.sheet == number]
    assert held.follow is not None
    assert held.follow.kind is FollowKind.HOLD
    headers = served.session("ines")
    form = form_of(served, client, headers, held.key)
    assert [button["value"] for button in form.buttons] == ["settle"]
    page = page_of(client.get(served.url + PAGE, headers=headers)).words
    assert "Anvil is not driven until its finding is settled." in page
    answer = client.post(
        served.url + form.action, data=form.filled(note="later", by="2026-06-01", reply="put-off"), headers=headers
    )
    assert answer.status_code == 422
    assert "is not put off" in page_of(answer).words
    assert [each.key for each in waiting(served) if each.sheet == number] == [held.key]


def test_what_cannot_be_changes_nothing_and_what_was_typed_stays(shared: Served, client: httpx.Client) -> None:
    headers, key = shared.session("ines"), waiting(shared)[0].key
    before = everything(shared.parts.store)
    for typed, told in (
        ({"note": " ", "reply": "settle"}, "Nothing is said of what was seen"),
        ({"note": "x", "reply": "put-off"}, "The day to look again is missing."),
        ({"note": "x", "by": "2026-04-13", "reply": "put-off"}, "That day is over."),
        ({"note": "x", "by": "2046-04-13", "reply": "look-again"}, "too far ahead"),
        ({"note": "x", "by": "soon", "reply": "look-again"}, "soon"),
        ({"note": "x", "reply": "forget"}, "Press one of the buttons."),
    ):
        form = form_of(shared, client, headers, key)
        answer = client.post(shared.url + form.action, data=form.filled(**typed), headers=headers)
        assert answer.status_code == 422, typed
        assert told in page_of(answer).words
        assert next(f for f in page_of(answer).forms if f"/{key}#" in f.action).fields["note"] == typed["note"].strip()
    assert everything(shared.parts.store) == before


def axle_window(served: Served) -> DueWindow:
    """When the fluid of Anvil's rear axle is due now."""
    with served.parts.store.read() as view:
        outlook = outlooks_of(view, served.parts.rules, date(2026, 4, 14), ("AN",))[0]
    line = next(each for each in outlook.lines if each.key == LineKey("AN", "rear-axle", "rear-axle-fluid"))
    assert line.window is not None
    return line.window


def test_a_finding_that_only_cuts_an_interval_stands_there_and_is_taken_back(
    served: Served, client: httpx.Client
) -> None:
    number = handed_in(served, Seen("rear-axle", "old-fluid", "burnt"))
    headers, key, cut = served.session("ines"), f"{number:04d}-1", axle_window(served)
    words = page_of(client.get(served.url + PAGE, headers=headers)).words
    assert "One finding cuts an interval short and waits for nobody." in words
    assert "The next interval is cut to 50 % of itself: look for what made it hot." in words
    assert "Found 14 April by Teo." in words
    assert "So it is until the next time of: rear axle fluid, likely" in words
    form = form_of(served, client, headers, key)
    assert [button["value"] for button in form.buttons] == ["settle", "cut"]
    # another part: the date moves, and the finding says why
    answer = client.post(
        served.url + form.action, data=form.filled(note="Only the trip", share="80 %", reply="cut"), headers=headers
    )
    assert answer.status_code == 303
    words = page_of(client.get(served.url + answer.headers["location"], headers=headers)).words
    assert "the interval is cut to 80 % of itself: Only the trip." in words
    assert "The next interval is cut to 80 % of itself: look for what made it hot." in words
    milder = axle_window(served)
    assert milder.likely > cut.likely
    # what was shown before is an old form by now
    late = client.post(served.url + form.action, data=form.filled(note="x", reply="settle"), headers=headers)
    assert late.status_code == 409
    assert axle_window(served) == milder
    again = form_of(served, client, headers, f"{number:04d}-2")
    answer = client.post(
        served.url + again.action, data=again.filled(note="It was the old fluid", reply="settle"), headers=headers
    )
    words = page_of(client.get(served.url + answer.headers["location"], headers=headers)).words
    assert "taken back: It was the old fluid." in words
    assert "cut an interval short" not in words
    assert axle_window(served).likely > milder.likely


def test_a_cut_that_cannot_be_changes_nothing(served: Served, client: httpx.Client) -> None:
    number = handed_in(served, Seen("rear-axle", "old-fluid", "burnt"))
    headers, key = served.session("ines"), f"{number:04d}-1"
    before = everything(served.parts.store)
    for typed, told in (
        ({"note": " ", "reply": "settle"}, "Nothing is said of what was seen"),
        ({"note": "x", "reply": "cut"}, "The part of the interval is missing."),
        ({"note": "x", "share": "100", "reply": "cut"}, "Give it in per cent, from 5 to 95."),
        ({"note": "x", "share": "half", "reply": "cut"}, "half"),
        ({"note": "x", "by": "2026-06-01", "reply": "put-off"}, "An interval that is cut short is not put off."),
    ):
        form = form_of(served, client, headers, key)
        answer = client.post(served.url + form.action, data=form.filled(**typed), headers=headers)
        assert answer.status_code == 422, typed
        assert told in page_of(answer).words
        shown = next(f for f in page_of(answer).forms if f"/{key}#" in f.action).fields
        assert (shown["note"], shown["share"]) == (typed["note"].strip(), typed.get("share", ""))
    assert everything(served.parts.store) == before
    looks = next(each for each in waiting(served) if each.line.mark == "BE")
    form = form_of(served, client, headers, looks.key)
    answer = client.post(served.url + form.action, data=form.filled(note="x", share="50", reply="cut"), headers=headers)
    assert "That finding cuts no interval." in page_of(answer).words


def test_a_sheet_is_handed_in_with_an_interval_cut_by_who_decides_so(served: Served, client: httpx.Client) -> None:
    number = handed_in(
        served,
        Seen(
            "rear-axle", "old-fluid", "dark", otherwise=Follow(FollowKind.SHORTEN, factor=Decimal("0.7")), decided="hot"
        ),
    )
    page = page_of(client.get(served.url + PAGE, headers=served.session("ines"))).words
    assert "The next interval is cut to 70 % of itself." in page
    assert f"Sheet {number:04d}" in page


def test_no_findings_open(served: Served, client: httpx.Client) -> None:
    headers = served.session("ines")
    for each in waiting(served):
        answer_finding(
            served.parts.store, served.parts.rules, each.key, Reply.SETTLED, note="seen to",
            now=served.clock.now(), who="ines", base_url=served.url,
        )  # fmt: skip
    assert "No findings open." in page_of(client.get(served.url + PAGE, headers=headers)).words


def test_what_a_change_did_is_told_to_who_made_it_alone(served: Served, client: httpx.Client) -> None:
    headers, key = served.session("ines"), waiting(served)[0].key
    form = form_of(served, client, headers, key)
    answer = client.post(served.url + form.action, data=form.filled(note="Dry", reply="settle"), headers=headers)
    back = served.url + answer.headers["location"]
    assert "settled: Dry" in page_of(client.get(back, headers=headers)).words
    for other in (served.session("marit"), {}):
        assert "settled: Dry" not in page_of(client.get(back, headers=other)).words
    for odd in ("x", "2026-04-14", "9" * 400, "%00"):
        assert client.get(f"{served.url}{PAGE}?done={odd}", headers=headers).status_code == 200
    assert re.search(r"done=2026-04-14T15", back)
