"""A reading saved without signal is kept on the phone and sent once there is some; it counts once."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Error, Page

from fleetcare.actions.links import make_key
from fleetcare.assemble import Parts, assemble
from fleetcare.cli.serving import load_demo
from fleetcare.fleet.access import Purpose
from fleetcare.meter.reading import ReadingState
from fleetcare.settings.new_home import write_new_home
from fleetcare.web.app import create_app
from fleetcare.web.server import open_socket, port_of
from tests.stand_ins import FixedClock, NumberedKeys
from tests.web.conftest import TUESDAY, answering

pytestmark = pytest.mark.browser


class Garage:
    """A garage that can be reached or not."""

    def __init__(self, home: Path) -> None:
        write_new_home(home)
        self._stack = ExitStack()
        sock = open_socket("127.0.0.1", 0)
        self.port = port_of(sock)
        sock.close()
        # The phone's clock is the machine's own, and it says on which day the reading was kept.
        self.clock = FixedClock(max(TUESDAY, datetime.now(UTC)))
        overrides = {"FLEETCARE_WEB_PORT": str(self.port), "FLEETCARE_WEB_OPEN_HOUSE": "true"}
        parts = assemble(home, {}, clock=self.clock, keys=NumberedKeys(), overrides=overrides)
        self.parts: Parts
        self.parts, _ = load_demo(parts)
        key = make_key(
            self.parts.store, self.parts.keys, now=self.clock.now(), who="test", purpose=Purpose.ODOMETER, mark="BE"
        )
        self.link = f"http://127.0.0.1:{self.port}/o/{key}"

    def open(self) -> None:
        """From now on it answers."""
        self._stack.enter_context(answering(create_app(self.parts), open_socket("127.0.0.1", self.port)))

    def close(self) -> None:
        """From now on nothing gets through."""
        self._stack.close()

    def stored(self) -> list[Decimal]:
        """Values of Bellows' readings of the last days that count."""
        with self.parts.store.read() as view:
            readings = view.readings(("BE",))
        return [r.value for r in readings if r.state is ReadingState.USED and r.by == "sticker"]


@pytest.fixture
def garage(tmp_path: Path) -> Iterator[Garage]:
    made = Garage(tmp_path / "home")
    made.open()
    yield made
    made.close()
    made.parts.close()


@pytest.fixture
def phone(chromium: Browser) -> Iterator[BrowserContext]:
    context = chromium.new_context(viewport={"width": 390, "height": 844})
    yield context
    context.close()


def opened(phone: BrowserContext, garage: Garage) -> Page:
    """The reading page, once its worker is there."""
    page = phone.new_page()
    page.goto(garage.link)
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    page.wait_for_function("navigator.serviceWorker.controller !== null")
    return page


def test_digits_are_kept_and_sent_when_the_page_is_opened_again(phone: BrowserContext, garage: Garage) -> None:
    page = opened(phone, garage)
    garage.close()
    page.fill("#odo", "84 210")
    page.click("button.go")
    assert "Kept on this phone: 84 210" in page.inner_text("h1")
    page.click("text=Try now")
    assert "Kept on this phone" in page.inner_text("h1")
    assert garage.stored() == []
    garage.open()
    page.goto(garage.link)
    # By then the browser may have sent it by itself; if not, opening the page does, and shows what came of it.
    assert page.inner_text("h1").startswith(("Saved: 84", "What does the odometer show?"))
    assert page.query_selector("[role=alert]") is None
    assert garage.stored() == [Decimal(84210)]
    page.goto(garage.link)
    assert "What does the odometer show?" in page.inner_text("h1")
    assert garage.stored() == [Decimal(84210)]


def test_what_does_not_fit_is_asked_back_when_the_page_is_opened_again(phone: BrowserContext, garage: Garage) -> None:
    page = opened(phone, garage)
    garage.close()
    page.fill("#odo", "48210")
    page.click("button.go")
    garage.open()
    page.goto(garage.link)
    assert "Did you mean 84 210?" in page.inner_text("h1").replace("\u2009", " ").replace("\u00a0", " ")
    page.click("button.go")
    assert garage.stored() == [Decimal(84210)]


def test_without_the_worker_a_page_that_does_not_get_through_is_the_browsers_own(
    chromium: Browser, garage: Garage
) -> None:
    context = chromium.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(garage.link)
    garage.close()
    page.fill("#odo", "84210")
    page.click("button.go", no_wait_after=True)
    with pytest.raises(Error, match=r"ERR_CONNECTION|ERR_ABORTED"):
        page.goto(garage.link)
    assert garage.stored() == []
    context.close()
