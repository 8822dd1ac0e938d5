"""Cards into whole HTML pages. Built once; the same card always gives the same text.

The pages ask nothing of another host and hold nothing inline but one script, so they live under a content security
policy of `default-src 'none'` with `'self'` for style, font, script and form-action, and that script's hash.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Sequence
from functools import cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup, escape

from fleetcare.language import in_force
from fleetcare.language.templates import say_in_language
from fleetcare.page.cards.asking import AskCard
from fleetcare.page.cards.away import AwayCard
from fleetcare.page.cards.bay_days import BayDaysCard
from fleetcare.page.cards.bay_why import BayWhyCard
from fleetcare.page.cards.book_row import BookRowCard
from fleetcare.page.cards.choose import ChooseCard
from fleetcare.page.cards.come_in import ComeInCard, ConfirmCard, LookInMailCard
from fleetcare.page.cards.doubt import DoubtCard
from fleetcare.page.cards.entry import EntryCard
from fleetcare.page.cards.find import FindCard
from fleetcare.page.cards.findings import FindingsCard
from fleetcare.page.cards.hand_in import HandInCard
from fleetcare.page.cards.handbook import HandbookCard
from fleetcare.page.cards.heading import HeadingCard
from fleetcare.page.cards.held import HeldCard
from fleetcare.page.cards.history import HistoryCard
from fleetcare.page.cards.letter_choice import LetterChoiceCard
from fleetcare.page.cards.look import LookCard
from fleetcare.page.cards.message import MessageCard
from fleetcare.page.cards.people import PeopleCard
from fleetcare.page.cards.person import PersonCard
from fleetcare.page.cards.proposal import ProposalCard
from fleetcare.page.cards.road import RoadCard
from fleetcare.page.cards.saved import SavedCard, TakenBackCard
from fleetcare.page.cards.shared_calendars import SharedCalendarsCard
from fleetcare.page.cards.sheet import SheetCard
from fleetcare.page.cards.sheets import SheetsCard
from fleetcare.page.cards.shopping import ShoppingCard
from fleetcare.page.cards.stickers import SheetCard as StickerSheetCard
from fleetcare.page.cards.stickers import StickersCard
from fleetcare.page.cards.stop_letters import StopLettersCard
from fleetcare.page.cards.tag_page import TagPageCard
from fleetcare.page.cards.trust import TrustCard
from fleetcare.page.cards.vehicle import VehicleCard
from fleetcare.page.cards.vehicle_told import VehicleToldCard
from fleetcare.page.cards.vehicles import VehiclesCard
from fleetcare.page.cards.what_follows import ReviewCard
from fleetcare.page.cards.workshop import WorkshopCard
from fleetcare.page.cards.your_calendar import AddCard, YourCalendarCard
from fleetcare.page.drawings.lone import lone
from fleetcare.page.drawings.road.strip import Strip
from fleetcare.page.light import light_in_force
from fleetcare.page.scripts import FIND_SCRIPT, WAIT_SCRIPT, entry_script
from fleetcare.page.style import BESIDE, LINK_STYLE_SHEET, SHEETS, STYLE_SHEET
from fleetcare.wording import THIN_SPACE

_NUMBERS = (
    rf"\d{{1,3}}(?:{THIN_SPACE}\d{{3}})+(?:[.,]\d)?(?: (?:mi|km|h)\b)?"
    r"|\d+(?:[.,]\d)? (?:mi\b|km\b|h\b|%)"
)


_DIGIT = re.compile(r"\d")


@cache
def _kept_together(months: tuple[str, ...]) -> re.Pattern[str]:
    """Numbers with their groups and unit, days with their month: never broken over two lines."""
    return re.compile(rf"{_NUMBERS}|\d{{1,2}}\.? (?:{'|'.join(re.escape(month) for month in months)})(?!\w)")


def static_folder() -> Path:
    """The folder with scripts and fonts, to be served as it is; the style sheets are `style.SHEETS`."""
    return Path(__file__).parent / "static"


class Pages:
    """The templates, read once.

    static_url: where `static_folder()` is served. The style sheet's and script's addresses carry a mark of their
    content, so they may be kept for ever.
    """

    def __init__(self, static_url: str = "/static") -> None:
        self._environment = Environment(
            loader=FileSystemLoader(Path(__file__).parent / "templates"),
            autoescape=True,
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
            auto_reload=False,
            extensions=["jinja2.ext.i18n"],
        )
        say_in_language(self._environment)
        self._environment.filters["together"] = together
        self._environment.globals["light"] = light_in_force
        urls = {name: _marked(static_url, name, text().encode()) for name, text in SHEETS.items()}
        self._environment.globals["style_url"] = urls[STYLE_SHEET]
        self._environment.globals["link_style_url"] = urls[LINK_STYLE_SHEET]
        self._environment.globals["beside"] = {name.removesuffix(".css"): urls[name] for name in BESIDE}
        self._environment.globals["entry_script"] = Markup(entry_script())  # noqa: S704  our own file
        for named, script in (("find_script_url", FIND_SCRIPT), ("wait_script_url", WAIT_SCRIPT)):
            content = (static_folder() / script).read_bytes()
            self._environment.globals[named] = _marked(static_url, script, content)

    def road(self, card: RoadCard) -> str:
        """The front page."""
        return self._page("road.html", card)

    def vehicles(self, card: VehiclesCard) -> str:
        """The list of vehicles."""
        return self._page("vehicles.html", card)

    def vehicle(self, card: VehicleCard) -> str:
        """The page about one vehicle."""
        return self._page("vehicle.html", card)

    def workshop(self, card: WorkshopCard) -> str:
        """What bay days are planned by."""
        return self._page("workshop.html", card)

    def ask(self, card: AskCard, seal: str = "") -> str:
        """A page that asks for something about a vehicle."""
        return self._page("ask.html", card, seal)

    def vehicle_told(self, card: VehicleToldCard) -> str:
        """What came of a change to a vehicle."""
        return self._page("vehicle_told.html", card)

    def trust(self, card: TrustCard) -> str:
        """How good the garage's dates were."""
        return self._page("trust.html", card)

    def handbook(self, card: HandbookCard) -> str:
        """The interval book as a list."""
        return self._page("handbook.html", card)

    def book_row(self, card: BookRowCard, seal: str = "") -> str:
        """One row of the book, with how the work is done."""
        return self._page("book_row.html", card, seal)

    def find(self, card: FindCard) -> str:
        """What was found by words."""
        return self._page("find.html", card)

    def findings(self, card: FindingsCard, seal: str = "") -> str:
        """The findings that wait."""
        return self._page("findings.html", card, seal)

    def choose(self, card: ChooseCard) -> str:
        """The list of vehicles to enter a reading for."""
        return self._page("choose.html", card)

    def held(self, card: HeldCard) -> str:
        """The readings kept aside."""
        return self._page("held.html", card)

    def stickers(self, card: StickersCard) -> str:
        """The stickers in use, and the form for new ones."""
        return self._page("stickers.html", card)

    def sticker_sheet(self, card: StickerSheetCard) -> str:
        """New stickers, to be printed."""
        return self._page("sticker_sheet.html", card)

    def entry(self, card: EntryCard) -> str:
        """The reading page."""
        return self._page("entry.html", card)

    def doubt(self, card: DoubtCard) -> str:
        """The page that asks back."""
        return self._page("doubt.html", card)

    def saved(self, card: SavedCard) -> str:
        """The page after saving."""
        return self._page("saved.html", card)

    def taken_back(self, card: TakenBackCard) -> str:
        """The page after a reading was taken back."""
        return self._page("taken_back.html", card)

    def come_in(self, card: ComeInCard) -> str:
        """The form for a sign-in link."""
        return self._page("come_in.html", card)

    def look_in_mail(self, card: LookInMailCard) -> str:
        """What is said after that form."""
        return self._page("look_in_mail.html", card)

    def confirm(self, card: ConfirmCard) -> str:
        """The page behind a sign-in link."""
        return self._page("confirm.html", card)

    def stop_letters(self, card: StopLettersCard) -> str:
        """The page with the button that ends the garage letter."""
        return self._page("stop_letters.html", card)

    def bay_days(self, card: BayDaysCard) -> str:
        """What is planned in the bay."""
        return self._page("bay_days.html", card)

    def letter_choice(self, card: LetterChoiceCard) -> str:
        """When one person's letters come."""
        return self._page("letter_choice.html", card)

    def look(self, card: LookCard, seal: str = "") -> str:
        """How pages look to whoever reads them."""
        return self._page("look.html", card, seal)

    def your_calendar(self, card: YourCalendarCard) -> str:
        """The page about one person's calendar."""
        return self._page("your_calendar.html", card)

    def shared_calendars(self, card: SharedCalendarsCard) -> str:
        """The page about calendars that several can look at."""
        return self._page("shared_calendars.html", card)

    def add_calendar(self, card: AddCard) -> str:
        """The page that puts a calendar on the device it is opened on."""
        return self._page("calendar_add.html", card)

    def sheets(self, card: SheetsCard, seal: str = "") -> str:
        """The sheets of one vehicle."""
        return self._page("sheets.html", card, seal)

    def sheet(self, card: SheetCard, seal: str = "") -> str:
        """One job sheet, for screen and paper."""
        return self._page("sheet.html", card, seal)

    def hand_in(self, card: HandInCard, seal: str = "") -> str:
        """The form by which a sheet is handed in."""
        return self._page("hand_in.html", card, seal)

    def review(self, card: ReviewCard, seal: str = "") -> str:
        """What follows from a sheet, before it is saved."""
        return self._page("review.html", card, seal)

    def bay_why(self, card: BayWhyCard, seal: str = "") -> str:
        """Why a visit is on its day, and what other days cost."""
        return self._page("bay_why.html", card, seal)

    def proposal(self, card: ProposalCard, seal: str = "") -> str:
        """A plan that is being worked out, or was."""
        return self._page("proposal.html", card, seal)

    def people(self, card: PeopleCard, seal: str = "") -> str:
        """The people of the garage."""
        return self._page("people.html", card, seal)

    def person(self, card: PersonCard, seal: str = "") -> str:
        """One person, with their keys."""
        return self._page("person.html", card, seal)

    def away(self, card: AwayCard, seal: str = "") -> str:
        """When one vehicle is spoken for, and what happened to it."""
        return self._page("away.html", card, seal)

    def tags(self, card: TagPageCard, seal: str = "") -> str:
        """The tags of one vehicle's components, with the forms that change them."""
        return self._page("tags.html", card, seal)

    def shopping(self, card: ShoppingCard, seal: str = "") -> str:
        """What to buy, and what lies on the shelf."""
        return self._page("shopping.html", card, seal)

    def history(self, card: HistoryCard) -> str:
        """The history of one vehicle."""
        return self._page("history.html", card)

    def message(self, card: MessageCard) -> str:
        """A plain message page."""
        return self._page("message.html", card)

    def lone_road(self, strip: Strip, title: str, *, night: bool = False) -> str:
        """The strip as an SVG file that stands alone."""
        return self._lone("road_strip.html", "strip", strip, ("due", "stand"), title, night=night)

    def lone_heading(self, card: HeadingCard, title: str, *, night: bool = False) -> str:
        """Where a dial is heading, as an SVG file that stands alone."""
        patterns, key = ("due", "stand", "fan", *card.patterns), [(each.pattern, each.title) for each in card.duties]
        return self._lone("fan.html", "fan", card.wide, patterns, title, key=key, night=night)

    def _lone(
        self,
        template: str,
        macro: str,
        drawn: object,
        patterns: tuple[str, ...],
        title: str,
        *,
        key: Sequence[tuple[str, str]] = (),
        night: bool,
    ) -> str:
        shapes = self._environment.get_template("shapes.html").module
        fragment = getattr(self._environment.get_template(template).module, macro)(drawn)
        defs = str(shapes.patterns(patterns))  # type: ignore[attr-defined]
        return lone(str(fragment), defs, title=title, key=key, night=night)

    def _page(self, template: str, card: object, seal: str = "") -> str:
        """seal: what the forms of the page carry, of the session that it is shown to."""
        return self._environment.get_template(template).render(card=card, seal=seal)


def together(text: str) -> Markup:
    """The text escaped, with numbers and days kept on one line."""
    if not _DIGIT.search(text):
        # Most words of a page; nothing in them can be kept together.
        return escape(text)
    names = in_force().names
    kept = _kept_together((*names.months, *names.months_short))
    return Markup(kept.sub(lambda found: f'<span class="n">{found[0]}</span>', str(escape(text))))  # noqa: S704


def _marked(static_url: str, name: str, content: bytes) -> str:
    return f"{static_url}/{name}?v={hashlib.sha256(content).hexdigest()[:12]}"
