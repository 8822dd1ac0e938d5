"""Job sheets of the invented garage as pages: planned, handed in, the form, and what follows."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from decimal import Decimal
from functools import cache

from fleetcare.actions.hand_in_sheet import Filling, HandedIn, hand_in, look_over
from fleetcare.actions.order_work import Opening, open_order
from fleetcare.fleet.component import LineKey
from fleetcare.page.cards.hand_in import hand_in_card, questions_of
from fleetcare.page.cards.history import Record, history_card
from fleetcare.page.cards.sheet import SheetCard, sheet_card
from fleetcare.page.cards.sheets import sheets_card
from fleetcare.page.cards.what_follows import review_card
from fleetcare.page.render import Pages
from fleetcare.settings.finding_files import load_findings
from fleetcare.settings.job_files import load_jobs
from fleetcare.settings.places import shipped_config
from fleetcare.work.found import Seen
from fleetcare.work.order import Filled, WorkOrder
from fleetcare.work.sheet_course import SheetCourse, sheet_course
from tests.actions.garages import BASE_URL, DEMO_NOW, Stage, demo

NINE = datetime(2026, 4, 25, 15, 0, tzinfo=UTC)
JOBS = load_jobs(shipped_config() / "jobs")
BOOK = load_findings(shipped_config() / "findings.toml")
GEARS = LineKey("AN", "front-axle", "axle-fluid-new-gears")
SEEN = (
    Seen("rear-axle", "magnet", "chips"),
    Seen("rear-axle", "old-fluid", "milky"),
    Seen("rear-axle", "pattern", "toe", "drive side"),
)


@cache
def _stage() -> tuple[Stage, WorkOrder, HandedIn, HandedIn, WorkOrder]:
    stage = demo()
    services = ("rear axle fluid", "axle vents")
    given = Opening("Anvil", services, NINE.date(), "bay 1", ("Teo", "ines"), note="cover is damp")
    order = open_order(stage.store, stage.rules, given, now=DEMO_NOW, who="ines", base_url=BASE_URL)
    looked = look_over(stage.store, stage.rules, BOOK, order.number, Filling(seen=SEEN), now=DEMO_NOW, who="teo")
    front = open_order(
        stage.store, stage.rules, Opening("Anvil", ("front axle fluid",)), now=DEMO_NOW, who="ines", base_url=BASE_URL
    )
    filling = Filling(
        renewed=("front-axle",),
        fills=(Filled("front-axle", "75W-90 GL-5", Decimal("1.7")),),
        seen=(Seen("front-axle", "magnet", "flakes", note="three of them"),),
        photos=("a" * 64,),
        signed_by="Teo Lindqvist",
    )
    closed = hand_in(stage.store, stage.rules, BOOK, front.number, filling, now=DEMO_NOW, who="teo", base_url=BASE_URL)
    gears = open_order(
        stage.store, stage.rules, Opening("Anvil", (GEARS.service,)), now=DEMO_NOW, who="ines", base_url=BASE_URL
    )
    return stage, order, looked, closed, gears


def course_of(order: WorkOrder, begins_at: datetime | None = NINE) -> SheetCourse:
    """Its stages, begun at nine on the bay day."""
    stage, *_ = _stage()
    rows = {line: stage.rules.book.rows[line.service] for line in order.lines}
    with stage.store.read() as view:
        return sheet_course(order, view.vehicles(("AN",))[0], rows, JOBS, begins_at=begins_at)


def planned_sheet() -> SheetCard:
    """The sheet of the bay day of 25 April."""
    return _card(_stage()[1])


def _card(order: WorkOrder, *, is_stranger: bool = False) -> SheetCard:
    stage, *_ = _stage()
    with stage.store.read() as view:
        garage, people, vehicle = view.garage(), view.people(), view.vehicles(("AN",))[0]
        found = tuple(each for each in view.found() if each.order == order.number)
    assert garage is not None
    return sheet_card(
        garage=garage,
        reader=None if is_stranger else next(person for person in people if person.key == "teo"),
        order=order,
        vehicle=vehicle,
        course=course_of(order, None if is_stranger else NINE),
        findings=BOOK,
        found=found,
        names={person.key: person.name for person in people},
        titles={key: row.title for key, row in stage.rules.book.rows.items()},
        today=DEMO_NOW.date(),
        base_url=BASE_URL,
        may_work=not is_stranger,
    )


def sheet_pages(made: Pages) -> dict[str, str]:
    """The pages by a short name."""
    stage, order, looked, closed, gears = _stage()
    with stage.store.read() as view:
        garage, people, vehicle = view.garage(), view.people(), view.vehicles(("AN",))[0]
        orders = view.orders(("AN",))
    assert garage is not None
    assert closed.settled is not None
    teo = next(person for person in people if person.key == "teo")
    titles = {key: row.title for key, row in stage.rules.book.rows.items()}
    today, names = DEMO_NOW.date(), {person.key: person.name for person in people}

    def form(sheet: WorkOrder, problem: str = "") -> str:
        asked = questions_of(sheet, vehicle, course_of(sheet), BOOK, titles=titles, people=names, reader=teo)
        typed = {"f.rear-axle.magnet.0": "flakes", "svc.0": "left", "kept": "a" * 64} if problem else {}
        return made.hand_in(
            hand_in_card(
                garage=garage,
                today=today,
                order=sheet,
                vehicle=vehicle,
                asked=asked,
                reader=teo,
                typed=typed,
                form_key="f",
                problem=problem,
            )
        )

    outlook = closed.settled.outlooks[0]
    record = Record((), (closed.order,), tuple(each.found for each in closed.judged), (), {})
    return {
        "history": made.history(
            history_card(garage=garage, reader=teo, outlook=outlook, record=record, names=names, titles=titles)
        ),
        "sheet": made.sheet(planned_sheet()),
        "sheet-stranger": made.sheet(_card(order, is_stranger=True)),
        "sheet-closed": made.sheet(_card(closed.order)),
        "sheet-gears": made.sheet(_card(gears)),
        "hand-in": form(order),
        "hand-in-gears": form(gears),
        "hand-in-problem": form(order, "Rear axle fluid, cover reseal was left. Say why."),
        "review": made.review(
            review_card(
                garage=garage,
                today=today,
                order=order,
                after=replace(looked.order),
                vehicle=vehicle,
                judged=looked.judged,
                remarks=("Rear axle: 4.1 L went in, more than the 2.6 L of its tag. Look at the level again.",),
                titles=titles,
                typed={"f.rear-axle.magnet.0": "chips", "other.0": "look", "days.0": "7", "reason.0": "a rag pin"},
            )
        ),
        "sheets": made.sheets(
            sheets_card(garage=garage, reader=teo, outlook=outlook, orders=orders, may_work=True, problem="Name one.")
        ),
        "sheets-stranger": made.sheets(
            sheets_card(garage=garage, reader=None, outlook=outlook, orders=(), may_work=False)
        ),
    }
