"""Every page as a driver, an onlooker and a guest see it: no link leads to a refusal, and the pages pass every check.

A real garage, walked from its front page along every link, one page of each kind. The checks are those of
`test_every_page.py` and `test_axe.py`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from urllib.parse import urljoin, urlsplit

import httpx
import pytest
from playwright.sync_api import Browser

from fleetcare.actions.ports import Change
from fleetcare.fleet.access import Purpose
from fleetcare.fleet.people import Person, Role
from fleetcare.web.who import COOKIE
from tests.browser.test_axe import LOOKS, violations
from tests.browser.test_every_page import LOST, LOST_IN_FORCED_COLOURS, ROUNDED_PX, STOP, STOPS, window
from tests.browser.test_pages import SIDEWAYS
from tests.web.conftest import Prepared, Served, serving
from tests.web.conftest import prepared as prepared

pytestmark = pytest.mark.browser

READERS = {
    "driver": Person("pat", "Pat Ferreira", roles=(Role.DRIVER,)),
    "onlooker": Person("olu", "Olu Brandt", roles=(Role.ONLOOKER,)),
    "guest": None,
}
ONE_OF_A_KIND = re.compile(r"/(?:[A-Z]{2}|\d+|[a-z]+(?:-[a-z0-9]+)+)(?=/|$)")
NO_PAGES = re.compile(r"^/(?:static|api)/|\.(?:csv|ics|json|js)$")
LEAST_PAGES = {"driver": 16, "onlooker": 16, "guest": 11}


@pytest.fixture(scope="module")
def garage(prepared: Prepared, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """An open garage in which somebody drives Bellows, and somebody looks on."""
    with serving(tmp_path_factory.mktemp("others") / "home", prepared=prepared, open_house=True) as running:
        with running.parts.store.write(Change("test", "people", running.clock.now())) as unit:
            for person in READERS.values():
                if person is not None:
                    unit.put_person(person)
            bellows = next(each for each in unit.vehicles() if each.mark == "BE")
            unit.put_vehicle(replace(bellows, drivers=(*bellows.drivers, "pat")))
        yield running


def cookie(garage: Served, reader: str) -> str:
    """The session of that reader; empty for a guest."""
    person = READERS[reader]
    return "" if person is None else garage.key(Purpose.SESSION, person=person.key)


def walked(garage: Served, reader: str) -> tuple[list[str], list[str]]:
    """The pages that links lead to, one of each kind, and which links on which pages lead to a refusal."""
    pages, refused, waiting, kinds = ["/"], list[str](), ["/"], {"/"}
    with httpx.Client(trust_env=False, timeout=60, cookies={COOKIE: cookie(garage, reader)}) as client:
        while waiting:
            here = waiting.pop(0)
            answer = client.get(garage.url + here)
            for link in re.findall(r'<a\b[^>]*\bhref="([^"#]+)', answer.text):
                target = urlsplit(urljoin(garage.url + here, link.replace("&amp;", "&")))
                kind = ONE_OF_A_KIND.sub("/*", target.path)
                if target.netloc != urlsplit(garage.url).netloc or kind in kinds:
                    continue
                kinds.add(kind)
                path = target.path + (f"?{target.query}" if target.query else "")
                there = client.get(garage.url + path)
                if there.status_code != 200:
                    refused.append(f"{here} -> {path}: {there.status_code}")
                elif not NO_PAGES.search(target.path):
                    pages.append(path)
                    waiting.append(path)
    return pages, refused


@pytest.mark.parametrize("reader", READERS)
def test_no_link_leads_to_a_refusal(garage: Served, reader: str) -> None:
    pages, refused = walked(garage, reader)
    assert refused == []
    assert len(pages) >= LEAST_PAGES[reader], pages


def test_a_link_to_a_refusal_would_be_seen(garage: Served) -> None:
    with httpx.Client(trust_env=False, cookies={COOKIE: cookie(garage, "driver")}) as client:
        assert client.get(f"{garage.url}/people").status_code == 403
        assert client.get(f"{garage.url}/vehicles/BE/edit").status_code == 403


@pytest.mark.parametrize("reader", READERS)
def test_every_page_they_may_open_passes_every_check(chromium: Browser, garage: Served, reader: str) -> None:
    pages, _ = walked(garage, reader)
    cookies = [{"name": COOKIE, "value": cookie(garage, reader), "url": garage.url}] if READERS[reader] else []
    with window(chromium, 1280) as page, window(chromium, 1280, forced_colors="active") as forced:
        for each in (page, forced):
            each.context.add_cookies(cookies)  # type: ignore[arg-type]
        for path in pages:
            page.goto(garage.url + path)
            for width, scheme in LOOKS:
                page.set_viewport_size({"width": width, "height": 844})
                page.emulate_media(color_scheme=scheme)
                assert violations(page) == [], (path, width, scheme)
            page.set_viewport_size({"width": 320, "height": 844})
            page.evaluate("document.documentElement.style.fontSize = '200%'")
            page.evaluate("document.fonts.ready.then(() => true)")
            assert page.evaluate(SIDEWAYS) <= ROUNDED_PX, path
            assert page.evaluate(LOST) == [], path
            page.set_viewport_size({"width": 390, "height": 844})
            page.goto(garage.url + path)
            for _ in range(STOPS):
                page.keyboard.press("Tab")
                stop = page.evaluate(STOP)
                assert stop["wrong"] == "", (path, stop)
                if stop["ended"]:
                    break
            forced.goto(garage.url + path)
            assert forced.evaluate(LOST_IN_FORCED_COLOURS) == [], path
