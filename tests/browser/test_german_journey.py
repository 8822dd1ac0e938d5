"""Somebody who speaks German: chooses it, is asked by mail, types a wrong and a right figure, looks into the calendar.

In Chromium on a phone, on a demo garage of its own, with letters by SMTP on loopback; then every kind of page of that
garage is read for English that was left.
"""

from __future__ import annotations

import csv
import email
import email.policy
import re
from concurrent.futures import ThreadPoolExecutor
from email.message import EmailMessage
from functools import cache
from pathlib import Path
from urllib.parse import urljoin, urlsplit

import httpx
import pytest
from playwright.sync_api import Browser, expect

from fleetcare.actions.choose_letters import LetterChoice, choose_letters
from fleetcare.actions.send_letters import send_due_letters
from fleetcare.actions.write_letters import write_due_letters
from fleetcare.fleet.access import Purpose
from fleetcare.mailer.smtp import SmtpMailer
from fleetcare.settings.places import shipped_demo
from fleetcare.web.who import COOKIE
from tests.browser.test_journeys import came_in, entries
from tests.browser.test_journeys import garage as garage
from tests.language.marking import unmarked_on
from tests.language.written import strings_in
from tests.mailer.servers import RealServer
from tests.web.conftest import Served
from tests.web.conftest import prepared as prepared

pytestmark = pytest.mark.browser

ENGLISH = re.compile(
    r"\b(?:the|is|are|were|has|have|of|and|with|this|that|there|it|its|by|from|every|until|nothing|nobody|who|what|when"
    r"|early|likely|late|due|done|save|enter|reading|readings|sheet|vehicle|vehicles|keeper|week|weeks|months?|days?)\b",
    re.IGNORECASE,
)
"""Words of English that German has not, neither as its own nor in the words of a workshop."""
PATH = re.compile(r"https?://\S+|/\S*/\S+|fleetcare [\w ./-]+|\b\w+\.(?:toml|csv)\b")
LETTERS_PAGE = "The language of pages, letters and calendar"
WAITING = re.compile(
    # Keys of the book, to be typed as they are.
    r"^Je eine Zeile: "
    # Skills as the job book has them, to be typed as they are.
    r"|^Wörter mit Kommas dazwischen\. Arbeiten verlangen: "
)
"""Known to be English still."""
NOT_PAGES = re.compile(r"^/(?:static|api|feeds|go-out|o/|sign-in/)|\.(?:csv|ics|json|js)$")
ONE_OF_A_KIND = re.compile(r"/(?:[A-Z]{2}|\d+|[a-z]+(?:-[a-z0-9]+)+)(?=/|$)")


@cache
def written_by_the_garage() -> tuple[str, ...]:
    """What the invented garage wrote into its own files, the longest first."""
    found: set[str] = set()
    for file in sorted(Path(str(shipped_demo())).iterdir()):
        if file.suffix == ".toml":
            found.update(strings_in(file))
        elif file.suffix == ".csv":
            with file.open(encoding="utf-8", newline="") as rows:
                found.update(cell for row in csv.reader(rows) for cell in row)
    told = {" ".join(text.split()) for text in found if " " in text or text[:1].isupper()}
    return tuple(sorted((text.casefold() for text in told if len(text) > 2), key=len, reverse=True))


def english_in(text: str) -> list[str]:
    """What of a text has English in it that the garage did not write."""
    text = text.casefold()
    for own in written_by_the_garage():
        if own in text:
            text = text.replace(own, " ")
    return [match[0] for match in ENGLISH.finditer(PATH.sub(" ", text))]


def english_on(page: str) -> list[str]:
    """The pieces of a page that hold English of our own."""
    return [piece for piece in unmarked_on(page) if english_in(piece)]


def test_english_that_was_left_would_be_seen() -> None:
    assert english_on("<p>Ablesung</p><p>This was left over</p>") == ["This was left over"]
    assert english_on("<p>Anvil, tow rig</p>") == []


def mailed(garage: Served) -> list[EmailMessage]:
    """Every letter that is due, as a mail server on loopback took it."""
    parts = garage.parts
    write_due_letters(parts.store, parts.rules, parts.desk, now=garage.clock.now())
    with RealServer() as server:
        mailer = SmtpMailer(
            host="127.0.0.1", port=server.port, security="none", from_address="garage@karstridge.example", timeout_s=5.0
        )
        try:
            send_due_letters(parts.store, mailer, garage.clock)
        finally:
            mailer.finish()
        return [_read(each.content) for each in server.kept]


def _read(content: bytes) -> EmailMessage:
    letter = email.message_from_bytes(content, policy=email.policy.default)
    assert isinstance(letter, EmailMessage)
    return letter


def test_from_choosing_german_to_a_reading_in_the_calendar(chromium: Browser, garage: Served) -> None:
    context = chromium.new_context(viewport={"width": 390, "height": 844}, locale="en-GB", service_workers="block")
    context.set_default_timeout(15_000)
    page = came_in(context, garage, "teo")
    page.goto(f"{garage.url}/letters")
    page.get_by_label(LETTERS_PAGE).select_option(label="Deutsch")
    page.get_by_role("button", name="Save").first.click()
    page.goto(garage.url)
    assert page.locator("html").get_attribute("lang") == "de"
    expect(page.get_by_role("main")).to_contain_text("Fenster")

    # The mail server has a loop of its own, and so has the browser in this thread.
    with ThreadPoolExecutor(1) as aside:
        letters = [each for each in aside.submit(mailed, garage).result() if "teo@" in str(each["To"])]
    (asking,) = [each for each in letters if "Bellows" in str(each["Subject"])]
    assert asking["Subject"] == "Bellows: Was zeigt der Kilometerzähler?"
    for letter in letters:
        plain, html = (letter.get_body((kind,)) for kind in ("plain", "html"))
        assert plain is not None
        assert html is not None
        told = re.sub(r"https?://\S+", "", " ".join(str(plain.get_content()).split()))
        assert english_in(told) == [], told
        assert english_on(html.get_content()) == []
        assert 'lang="de"' in html.get_content()

    body = asking.get_body(("plain",))
    assert body is not None
    page.goto(re.findall(r"http://\S+/o/[\w-]+", body.get_content())[0])
    expect(page.get_by_role("heading", level=1)).to_contain_text("Was zeigt der Kilometerzähler?")
    dial, save = page.get_by_role("textbox").first, page.get_by_role("button", name="Ablesung speichern")
    dial.fill("84k")
    save.click()
    expect(page.get_by_role("main")).to_contain_text("„84k“")
    assert english_on(page.content()) == []
    dial.fill("48210")
    save.click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("84")
    assert english_on(page.content()) == []
    page.get_by_role("button", name=re.compile("84.210")).first.click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Gespeichert: 84")
    assert english_on(page.content()) == []
    context.close()

    titles = [each.summary.value for each in entries(garage.feed("teo"))]
    assert any(title.startswith("Bellows: ") and "wahrscheinlich" in title for title in titles), titles
    assert [title for title in titles if english_in(title)] == []


def test_no_kind_of_page_of_a_garage_has_english_left_on_it(garage: Served) -> None:
    """From the front page along every link, one page of each kind; forms are not sent."""
    with httpx.Client(base_url=garage.url, trust_env=False, timeout=60, follow_redirects=True) as client:
        parts = garage.parts
        german = LetterChoice(language="de")
        now, url = garage.clock.now(), parts.base_url
        choose_letters(parts.store, parts.rules, "ines", german, now=now, who="ines", base_url=url)
        client.cookies.set(COOKIE, garage.key(Purpose.SESSION, person="ines"))
        waiting, kinds, left = ["/"], {"/"}, dict[str, list[str]]()
        while waiting:
            path = waiting.pop(0)
            answer = client.get(path)
            if not answer.headers.get("content-type", "").startswith("text/html"):
                continue
            assert '<html lang="de"' in answer.text, path
            if pieces := [piece for piece in english_on(answer.text) if not WAITING.search(piece)]:
                left[path] = pieces
            for link in re.findall(r'href="([^"#?]+)[^"]*"', answer.text):
                target = urlsplit(urljoin(f"{garage.url}{path}", link))
                kind = ONE_OF_A_KIND.sub("/*", target.path)
                is_ours = target.netloc == urlsplit(garage.url).netloc and not NOT_PAGES.search(target.path)
                if is_ours and kind not in kinds:
                    kinds.add(kind)
                    waiting.append(target.path)
    assert len(kinds) > 25, sorted(kinds)
    assert left == {}
