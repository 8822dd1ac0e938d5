"""Plans that cannot be whole, in a garage of two vehicles: command, page and API name the trouble in the same words,
and the rest is planned all the same."""

from __future__ import annotations

import hmac
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import httpx
import pytest

from fleetcare.actions.links import make_key
from fleetcare.assemble import assemble
from fleetcare.fleet.access import Purpose
from fleetcare.page.cards.frame import SEAL_FIELD
from fleetcare.web.app import create_app
from fleetcare.web.server import open_socket, port_of
from fleetcare.web.who import COOKIE
from tests.cli.conftest import run_in
from tests.cli.small_garage import write_garage
from tests.web.conftest import answering
from tests.web.pages import page_of

SATURDAYS = '[[open]]\ndays = ["saturday"]\nfrom = "09:00"\nuntil = "17:00"\n'
SHORT = '[[open]]\ndays = ["saturday"]\nfrom = "09:00"\nuntil = "10:10"\n'
OIL = """
[job.engine-oil]
title = "Engine oil and filter"
services = ["engine oil"]
components = ["engine"]
source = "a test"
status = "from memory"
{more}
[[job.engine-oil.stage]]
key = "one"
title = "By hand."
minutes = {minutes}
"""
CHAIN = (
    OIL.format(more="", minutes=30)
    + """
[[job.engine-oil.stage]]
key = "cures"
title = "It cures."
least_minutes = 1200
most_minutes = 2000
source = "a test"
status = "from memory"

[[job.engine-oil.stage]]
key = "two"
title = "By hand."
minutes = 30
"""
)
BATTERY = """
[[vehicle.component]]
key = "battery"
kind = "battery"
title = "Battery"
services = [{ row = "battery-test", history = "new" }]
"""


@dataclass(frozen=True)
class Said:
    """What each of the three doors says of one plan."""

    command: str
    data: Any
    page: str
    api: Any


def home_of(tmp_path: Path, *, workshop: str = SATURDAYS, jobs: str = "", bookings: str = "") -> Path:
    """A home with Pocket and another vehicle, both with an oil change and a battery that are long overdue."""
    home, files = tmp_path / "home", write_garage(tmp_path / "files", vehicles=2)
    people, vehicles = files / "people.toml", files / "vehicles.toml"
    people.write_text(people.read_text(encoding="utf-8").rstrip() + '\nroles = ["mechanic"]\n', encoding="utf-8")
    texts = vehicles.read_text(encoding="utf-8").split("\n[[vehicle]]\n")
    vehicles.write_text("\n[[vehicle]]\n".join(text + BATTERY if text else "" for text in texts), encoding="utf-8")
    if bookings:
        head = "key,title,first_day,last_day,vehicles,distance,unit,duty,event\n"
        (files / "bookings.csv").write_text(head + bookings, encoding="utf-8")
    assert run_in(home, "init").status == 0
    own = home / "config"
    own.mkdir(exist_ok=True)
    (own / "workshop.toml").write_text(workshop, encoding="utf-8")
    if jobs:
        (own / "jobs.toml").write_text(jobs, encoding="utf-8")
    brought = run_in(home, "import", str(files))
    assert brought.status == 0, brought.err
    return home


@contextmanager
def served(home: Path) -> Iterator[tuple[str, dict[str, str], dict[str, str], str]]:
    """The home's pages: address, headers of a browser and of a program in which Noor is, and the seal of forms."""
    sock = open_socket("127.0.0.1", 0)
    parts = assemble(home, {}, overrides={"FLEETCARE_WEB_PORT": str(port_of(sock))})

    def key(purpose: Purpose) -> str:
        return make_key(parts.store, parts.keys, now=parts.clock.now(), who="test", purpose=purpose, person="noor")

    session = key(Purpose.SESSION)
    seal = hmac.new(session.encode(), b"form", "sha256").hexdigest()
    try:
        with answering(create_app(parts), sock):
            bearer = {"Authorization": f"Bearer {key(Purpose.API)}"}
            yield parts.base_url, {"Cookie": f"{COOKIE}={session}"}, bearer, seal
    finally:
        parts.close()


def said_of(home: Path) -> Said:
    """One plan, asked for by command, page and API."""
    shown, data = run_in(home, "plan"), run_in(home, "plan", "--json")
    assert (shown.status, data.status) == (0, 0), shown.err
    with served(home) as (url, browser, program, seal), httpx.Client(trust_env=False, timeout=60) as client:
        began = client.post(f"{url}/plan/propose", data={SEAL_FIELD: seal}, headers=browser)
        assert began.status_code == 303
        api = client.get(f"{url}/api/plan/proposal", headers=program).json()
        for _ in range(600):
            if not api["working"]:
                break
            time.sleep(0.2)
            api = client.get(f"{url}/api/plan/proposal", headers=program).json()
        page = page_of(client.get(f"{url}/plan/proposal", headers=browser)).words
    return Said(" ".join(shown.out.split()), data.data, page, api)


def told(said: Said) -> list[str]:
    """The troubles, which all three doors have."""
    assert [plain(each) for each in said.api["troubles"]] == [plain(each) for each in said.data["troubles"]]
    assert said.api["left"] == said.data["left"]
    troubles = [plain(each) for each in said.data["troubles"]]
    for sentence in troubles:
        assert sentence in said.command
        assert sentence in plain(said.page)
    return troubles


def plain(text: str) -> str:
    """With one blank between words; thousands stand apart by a thin one."""
    return " ".join(text.split())


def planned(said: Said) -> set[tuple[str, str]]:
    assert [each["begins"] for each in said.api["visits"]] == [each["begins"] for each in said.data["visits"]]
    return {(each["vehicle"], service) for each in said.data["visits"] for service in each["services"]}


BATTERIES = {("PO", "battery/battery-test"), ("V0002", "battery/battery-test")}
OILS = {("PO", "engine/engine-oil"), ("V0002", "engine/engine-oil")}


def test_nothing_in_the_way_everything_is_planned(tmp_path: Path) -> None:
    said = said_of(home_of(tmp_path))
    assert told(said) == []
    assert planned(said) == BATTERIES | OILS


def test_no_open_day_at_all(tmp_path: Path) -> None:
    """Whoever the hours are for does not work here."""
    said = said_of(home_of(tmp_path, workshop=SATURDAYS + 'people = ["somebody"]\n'))
    assert told(said) == ["On no day of the time that is planned is anybody there with a bay free."]
    assert planned(said) == set()


def test_a_job_longer_than_any_day(tmp_path: Path) -> None:
    said = said_of(home_of(tmp_path, workshop=SHORT))
    assert planned(said) == BATTERIES
    assert any(
        each.startswith("Pocket, engine oil") and "no day is open for longer than" in each for each in told(said)
    )
    assert len(told(said)) == 2


def test_a_stage_of_sixty_days_is_named_and_one_of_a_million_minutes_is_refused_by_its_line(tmp_path: Path) -> None:
    home = home_of(tmp_path, jobs=OIL.format(more="", minutes=86_400))
    said = said_of(home)
    assert planned(said) == BATTERIES
    assert len([each for each in told(said) if "it takes 1 440 h at a stretch" in each]) == 2, told(said)
    (home / "config" / "jobs.toml").write_text(OIL.format(more="", minutes=1_000_000), encoding="utf-8")
    for words in (("plan",), ("plan", "--accept")):
        refused = run_in(home, *words)
        assert (refused.status, refused.out) == (2, "")
        assert "jobs.toml, line 12: minutes is “1000000”. Write 86400 at most." in refused.err


def test_a_chain_over_two_days_where_only_single_days_are_open(tmp_path: Path) -> None:
    said = said_of(home_of(tmp_path, jobs=CHAIN))
    assert planned(said) == BATTERIES
    assert len([each for each in told(said) if "its stages lie 20 h or more apart" in each]) == 2, told(said)


def test_a_skill_that_nobody_has(tmp_path: Path) -> None:
    jobs = OIL.format(more='skills = ["engines"]', minutes=40)
    said = said_of(home_of(tmp_path, workshop=SATURDAYS + "[skills]\nnoor = []\n", jobs=jobs))
    assert planned(said) == BATTERIES
    assert len([each for each in told(said) if "it wants somebody who knows engines" in each]) == 2, told(said)


def test_a_booking_over_the_whole_time(tmp_path: Path) -> None:
    last = date.today() + timedelta(days=500)  # noqa: DTZ011 - any day far ahead
    said = said_of(home_of(tmp_path, bookings=f"away,Away,2026-01-01,{last},PO,,,,\n"))
    assert {mark for mark, _ in planned(said)} == {"V0002"}
    assert len([each for each in told(said) if "Pocket is spoken for whenever somebody is there" in each]) == 2
    assert {each.partition("/")[0] for each in said.data["left"]} == {"PO"}


def test_contradictory_inked_visits(tmp_path: Path) -> None:
    """Two vehicles at one time in one bay: both are named. One vehicle twice at one time is refused at once."""
    home = home_of(tmp_path)
    on = date.today() + timedelta(days=10)  # noqa: DTZ011 - a day ahead
    when = ("--on", on.isoformat(), "--at", "10:00", "--takes", "1:00")
    for mark in ("PO", "V0002"):
        assert run_in(home, "bay", "ink", mark, "engine oil", *when).status == 0
    twice = run_in(home, "bay", "ink", "PO", "battery test", *when)
    assert twice.status == 2
    assert "is in the bay already" in twice.err
    said = said_of(home)
    (clash,) = told(said)
    assert "Pocket on " in clash
    assert "Errand 2 on " in clash
    assert "cannot all be" in clash
    assert planned(said) == BATTERIES


@pytest.mark.parametrize("by_wish", [True, False])
def test_a_saturday_whose_bay_is_taken_names_the_visit(tmp_path: Path, *, by_wish: bool) -> None:
    """To the command that asks why, to its page and the API, and to a wish."""
    home = home_of(tmp_path)
    assert run_in(home, "plan", "--accept").status == 0
    mine = next(each for each in run_in(home, "bay", "list", "--json").data if each["vehicle"] == "V0002")
    taken = date.fromisoformat(mine["begins"][:10]) + timedelta(days=7)
    ink = run_in(
        home, "bay", "ink", "PO", "battery test", "--on", (taken - timedelta(days=1)).isoformat(), "--at", "08:00",
        "--takes", "1:00, stands 60:00", "--json",
    )  # fmt: skip
    assert ink.status == 0, ink.err
    number = ink.data["number"]
    if by_wish:
        refused = run_in(home, "plan", "--move", f"V0002/{mine['number']}", "--to", taken.isoformat())
        assert refused.status == 2
        assert f"the bay is taken by Pocket (visit {number})" in refused.err
        return
    why = run_in(home, "bay", "why", "V0002", str(mine["number"]))
    assert f" by Pocket (visit {number})" in why.out
    with served(home) as (url, browser, program, _), httpx.Client(trust_env=False, timeout=60) as client:
        page = client.get(f"{url}/plan/V0002/{mine['number']}", headers=browser)
        days = client.get(f"{url}/api/plan/V0002/{mine['number']}", headers=program).json()["days"]
    assert f" by Pocket (visit {number})" in page_of(page).words
    (day,) = [each for each in days if each["day"] == taken.isoformat()]
    assert (day["forbidden"], day["taken_by"]) == ("the bay is taken", [f"PO/{number}"])
