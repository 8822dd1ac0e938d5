"""Every page is whole, accessible markup: one h1, labels tied, ids unique, nothing from elsewhere."""

from __future__ import annotations

import re
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise

import pytest

from fleetcare.page.render import Pages, together
from fleetcare.page.scripts import entry_script
from tests.page.karst_ridge import OUTLOOKS, WORK, entry_card, every_page, garage_of, road_card

VOID = {"meta", "link", "input", "br", "img", "hr"}
PAGES = every_page()
ONLY_ASK = [f"new-vehicle{step}" for step in ("", "-problem", "-dial", "-trailer", "-parts", "-when")]
LARGEST_PAGE = 100_000


class Reader(HTMLParser):
    """Reads a page into a flat list of elements with their attributes, and checks that tags nest."""

    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: list[tuple[str, dict[str, str]]] = []
        self.inside: list[tuple[str, ...]] = []
        self._stack: list[str] = []
        self.text = ""
        self.feed(page)
        self.close()
        assert not self._stack, f"left open: {self._stack}"

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        names = [name for name, _ in attrs]
        assert len(names) == len(set(names)), f"{tag} has an attribute twice: {names}"
        self.elements.append((tag, {name: value or "" for name, value in attrs}))
        self.inside.append(tuple(self._stack))
        if tag not in VOID:
            self._stack.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, {name: value or "" for name, value in attrs}))
        self.inside.append(tuple(self._stack))

    def handle_endtag(self, tag: str) -> None:
        assert self._stack, f"</{tag}> closes nothing"
        assert self._stack[-1] == tag, f"</{tag}> closes {self._stack[-1]}"
        self._stack.pop()

    def handle_data(self, data: str) -> None:
        self.text += data

    def all(self, tag: str) -> list[dict[str, str]]:
        """Attributes of every element of that kind."""
        return [attributes for name, attributes in self.elements if name == tag]


@pytest.mark.parametrize("name", PAGES)
def test_page_has_one_heading_landmarks_language_and_title(name: str) -> None:
    page = Reader(PAGES[name])
    assert [attributes["lang"] for attributes in page.all("html")] == ["en"]
    assert len(page.all("h1")) == 1
    assert len(page.all("title")) == 1
    assert len(page.all("main")) == len(page.all("header")) == 1
    levels = [int(tag[1]) for tag, _ in page.elements if re.fullmatch(r"h[1-6]", tag)]
    assert levels[0] == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))
    labels = [attributes.get("aria-label") for attributes in page.all("nav")]
    assert None not in labels
    assert len(labels) == len(set(labels))


@pytest.mark.parametrize("name", PAGES)
def test_ids_are_unique_and_every_reference_finds_its_target(name: str) -> None:
    page = Reader(PAGES[name])
    ids = [attributes["id"] for _, attributes in page.elements if "id" in attributes]
    assert len(ids) == len(set(ids))
    for _, attributes in page.elements:
        for reference in ("for", "aria-labelledby", "aria-describedby", "form"):
            for wanted in attributes.get(reference, "").split():
                assert wanted in ids, f"{reference}={wanted}"
        if attributes.get("href", "").startswith("#"):
            assert attributes["href"][1:] in ids
    for wanted in re.findall(r"url\(#([^)]+)\)", PAGES[name]):
        assert wanted in ids


@pytest.mark.parametrize("name", PAGES)
def test_every_field_has_a_label(name: str) -> None:
    page = Reader(PAGES[name])
    labelled = {attributes["for"] for attributes in page.all("label") if "for" in attributes}
    for (tag, attributes), inside in zip(page.elements, page.inside, strict=True):
        if tag == "input" and attributes.get("type") != "hidden":
            assert attributes.get("id") in labelled or "label" in inside, attributes
    assert page.all("fieldset") == [] or len(page.all("legend")) == len(page.all("fieldset"))


@pytest.mark.parametrize("name", PAGES)
def test_drawings_have_a_label_or_are_hidden_from_screen_readers(name: str) -> None:
    for attributes in Reader(PAGES[name]).all("svg"):
        if attributes.get("aria-hidden") == "true":
            continue
        if attributes.get("role") in ("img", "group"):
            assert attributes["aria-label"]
        else:
            # The mix bar's drawings stand inside an element that is hidden as a whole.
            assert attributes.get("viewbox") == "0 0 560 34"


@pytest.mark.parametrize("name", PAGES)
def test_nothing_is_inline_and_nothing_comes_from_another_host(name: str) -> None:
    page = Reader(PAGES[name])
    assert page.all("style") == []
    for tag, attributes in page.elements:
        assert "style" not in attributes
        assert not [attribute for attribute in attributes if attribute.startswith("on") and attribute != "on"]
        if tag == "script" and "src" in attributes:
            assert attributes["src"].startswith("/static/")
        for address in (attributes.get("href", ""), attributes.get("src", ""), attributes.get("action", "")):
            assert "//" not in address
    # One script may be inline, the one that the content security policy names.
    assert re.findall(r"<script>(.*?)</script>", PAGES[name], re.DOTALL) in ([], [entry_script()])


@pytest.mark.parametrize("name", PAGES)
def test_page_is_under_100_kb(name: str) -> None:
    assert len(PAGES[name].encode()) < LARGEST_PAGE


def test_front_page_of_a_large_garage_is_under_100_kb_on_every_page_of_its_list() -> None:
    pages, outlooks = Pages(), garage_of(400)
    for start in (0, 600, 1190):
        assert len(pages.road(road_card(outlooks, start=start)).encode()) < LARGEST_PAGE


@pytest.mark.parametrize("name", PAGES)
def test_form_buttons_change_things_by_post_and_links_only_lead_somewhere(name: str) -> None:
    page = Reader(PAGES[name])
    for attributes in page.all("form"):
        # The steps of a new vehicle only lead on: each can be opened again by its address, and none changes anything.
        leads_on = attributes.get("role") == "search" or name in ONLY_ASK
        assert attributes["method"] == ("get" if leads_on else "post")


def test_what_is_only_asked_carries_no_seal_and_what_changes_something_does() -> None:
    for name in ONLY_ASK:
        assert 'name="seal"' not in PAGES[name]
    assert 'name="seal" value="s3al"' in PAGES["new-vehicle-review"]


@pytest.mark.parametrize("name", PAGES)
def test_keys_of_links_stand_in_no_title_and_nothing_is_sent_as_referrer(name: str) -> None:
    page = Reader(PAGES[name])
    title = re.search(r"<title>(.*?)</title>", PAGES[name])
    assert title
    assert "k3y" not in title[1]
    assert {"name": "referrer", "content": "no-referrer"} in page.all("meta")


def test_links_lead_only_to_pages_that_are_there() -> None:
    known = re.compile(
        r"/|/calendar|/find|/findings|/people(/[a-z]+)?|/letters|/look|/plan(#\S+|/proposal|/[A-Z]{2}/\d+)?|/readings(/held)?|/stickers|/sign-in|/trust"
        r"|/o/k3y|#\S+|\?\S+|/static/\S+"
        r"|/shopping(\.csv)?(\?\S+)?|/handbook(/[a-z0-9-]+)?|/vehicles(/[^/]+(/reading(\?meter=\w+)?|/work|/away|/tags(#[a-z-]+)?|/history(\.csv)?)?)?"
        r"|/workshop(#[a-z]+|/[a-z]+)?|/work/\d+(/hand-in)?|/new-vehicle(\?\S+)?|/vehicles/[A-Z]+/(edit|fit|sell|move|service-more|service-less|dial)"
    )
    for name, text in PAGES.items():
        for tag, attributes in Reader(text).elements:
            if tag == "a":
                assert known.fullmatch(attributes["href"]), f"{name}: {attributes['href']}"


def test_names_from_outside_are_never_markup() -> None:
    wicked = '<img src=x onerror="alert(1)">&'
    outlook = replace(OUTLOOKS[0], vehicle=replace(OUTLOOKS[0].vehicle, name=wicked, mark="<b", called=wicked))
    card = entry_card(outlook.vehicle, typed='"><script>', problem="<i>")
    for text in (Pages().road(road_card((outlook,))), Pages().entry(card)):
        assert Reader(text).all("img") == []
        assert re.findall(r"<script>(.*?)</script>", text, re.DOTALL) in ([], [entry_script()])
        assert "&lt;" in text


def test_same_card_gives_the_same_bytes() -> None:
    assert every_page() == PAGES
    assert road_card() == road_card()
    assert WORK


def test_numbers_and_days_are_kept_on_one_line() -> None:
    assert together("84\u2009210 mi in 33 days & 25 April") == (
        '<span class="n">84\u2009210 mi</span> in 33 days &amp; <span class="n">25 April</span>'
    )
    assert together("it’s <b>97 %") == 'it’s &lt;b&gt;<span class="n">97 %</span>'
    assert together("I'd 5 minutes in May") == "I&#39;d 5 minutes in May"


def test_static_addresses_carry_a_mark_of_their_content() -> None:
    page = PAGES["entry"]
    assert re.search(r'href="/static/link-pages\.css\?v=[0-9a-f]{12}"', page)
    assert re.search(r'href="/static/fleetcare\.css\?v=[0-9a-f]{12}"', PAGES["road"])
    assert re.search(r'src="/static/find\.js\?v=[0-9a-f]{12}"', PAGES["road"])
    assert 'href="/elsewhere/link-pages.css?v=' in Pages("/elsewhere").entry(entry_card())
