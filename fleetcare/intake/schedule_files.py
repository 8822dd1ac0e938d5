"""Bay problems and bay plans as JSON files, gzipped or not, as `fleetcare schedule` takes and writes them.

Nothing is guessed: a key that is not known, a number in quotes or a missing key is refused, with the place where it
stands, such as `services[3].stages[0].min`.
"""

from __future__ import annotations

import gzip
import json
from typing import Any

from fleetcare.bayplan.plan import BayPlan, Visit, Work, WorkKind, in_order
from fleetcare.bayplan.problem import (
    MOST_DAYS,
    After,
    BayProblem,
    BayService,
    Depot,
    Hand,
    PlanVehicle,
    Published,
    SetUp,
    Shift,
    Stage,
    Wait,
)
from fleetcare.errors import shown
from fleetcare.intake.json_entries import Entry, bad, document, whole
from fleetcare.language import saying

FORMAT = "visit-plan-instance/1"
EXAMPLE = f'{{"format": "{FORMAT}", ...}}'


def parse_problem(raw: bytes) -> BayProblem:
    """The problem in a file. Raises BadInput; its `field` is the place in the file, empty for the file as a whole."""
    given = Entry(document(raw, EXAMPLE), "")
    given.keys(
        needed=(
            "format",
            "name",
            "days",
            "max_visit_min",
            "setups",
            "depots",
            "people",
            "shifts",
            "vehicles",
            "services",
        )
    )
    if given.text("format") != FORMAT:
        raise bad(
            saying("The format is {text_}.", text_=shown(given.text("format"))),
            saying('Write "format": "{format}".', format=FORMAT),
            "format",
        )
    return BayProblem(
        name=given.text("name"),
        days=given.whole("days"),
        max_visit_min=given.whole("max_visit_min"),
        setups=given.each("setups", _setup),
        depots=given.each("depots", _depot),
        people=given.each("people", _hand),
        shifts=given.each("shifts", _shift),
        vehicles=given.each("vehicles", _vehicle),
        services=given.each("services", _service),
    )


def parse_plan(raw: bytes) -> BayPlan:
    """The plan in a file. Raises BadInput; its `field` is the place in the file."""
    given = Entry(document(raw, EXAMPLE), "")
    given.keys(
        needed=("instance", "visits", "skipped"),
        optional=("lower_bound_cents", "total_cents", "gap", "left_out", "outcome"),
    )
    return BayPlan(given.text("instance"), given.each("visits", _visit), given.texts("skipped"))


def problem_text(problem: BayProblem) -> str:
    """The problem as its file is written, with a final newline."""
    return _encode(
        {
            "format": FORMAT,
            "name": problem.name,
            "days": problem.days,
            "max_visit_min": problem.max_visit_min,
            "setups": [{"id": one.name, "min": one.minutes, "cents": one.cents} for one in problem.setups],
            "depots": [_depot_entry(one) for one in problem.depots],
            "people": [{"id": one.name, "depot": one.depot, "skills": list(one.skills)} for one in problem.people],
            "shifts": [
                {
                    "id": one.name,
                    "depot": one.depot,
                    "day": one.day,
                    "start": one.start,
                    "end": one.end,
                    "people": list(one.people),
                    "premium_cents_per_min": one.premium_cents_per_min,
                }
                for one in problem.shifts
            ],
            "vehicles": [
                {
                    "id": one.name,
                    "depot": one.depot,
                    "arrive_min": one.arrive_min,
                    "arrive_cents": one.arrive_cents,
                    "out_cents_per_hour": one.out_cents_per_hour,
                    "away": [list(span) for span in one.away],
                }
                for one in problem.vehicles
            ],
            "services": [_service_entry(one) for one in problem.services],
        }
    )


def plan_text(plan: BayPlan, more: dict[str, Any] | None = None) -> str:
    """The plan as its file is written, sorted, with a final newline. more: further keys behind it, such as a bound."""
    plan = in_order(plan)
    visits = [
        {"vehicle": visit.vehicle, "bay": visit.bay, "work": [_work_entry(work) for work in visit.work]}
        for visit in plan.visits
    ]
    return _encode({"instance": plan.problem, "visits": visits, "skipped": list(plan.skipped), **(more or {})})


def _encode(content: dict[str, Any]) -> str:
    return json.dumps(content, ensure_ascii=False) + "\n"


def _depot_entry(depot: Depot) -> dict[str, Any]:
    entry: dict[str, Any] = {"id": depot.name, "bays": depot.bays, "open_cents": depot.open_cents}
    if depot.open_by_day:
        entry["open_by_day"] = {str(day): cents for day, cents in depot.open_by_day}
    return entry


def _service_entry(one: BayService) -> dict[str, Any]:
    entry: dict[str, Any] = {
        "id": one.name,
        "vehicle": one.vehicle,
        "setups": list(one.setups),
        "stages": [{"min": each.minutes} | ({"skill": each.skill} if each.skill else {}) for each in one.stages],
        "waits": [{"min": wait.least, "max": wait.most} for wait in one.waits],
        "due": [list(point) for point in one.due],
        "early_cents_per_day": one.early_cents_per_day,
        "late_cents_per_day": one.late_cents_per_day,
        "overdue_cents": one.overdue_cents,
        "not_before": one.not_before,
        "not_after": one.not_after,
        "required": one.is_required,
        "skip_cents": one.skip_cents,
    }
    orders = [{"service": each.service, "gap_days": each.gap_days} for each in one.after]
    if orders:
        entry["after"] = orders[0] if len(orders) == 1 else orders
    if one.published is not None:
        told = one.published
        entry["published"] = {"day": told.day, "move_cents": told.move_cents, "per_day_cents": told.per_day_cents}
    if one.cost_by_day:
        entry["cost_by_day"] = list(one.cost_by_day)
    return entry


def _work_entry(work: Work) -> dict[str, Any]:
    entry: dict[str, Any] = {"kind": str(work.kind), "shift": work.shift, "person": work.person, "start": work.start}
    if work.kind is WorkKind.SETUP:
        entry["setup"] = work.setup
    elif work.kind is WorkKind.STAGE:
        entry |= {"service": work.service, "stage": work.stage}
    return entry


def _setup(entry: Entry) -> SetUp:
    entry.keys(needed=("id", "min", "cents"))
    return SetUp(entry.text("id"), entry.whole("min"), entry.whole("cents"))


def _depot(entry: Entry) -> Depot:
    entry.keys(needed=("id", "bays", "open_cents"), optional=("open_by_day",))
    by_day = entry.given.get("open_by_day")
    found = []
    if by_day is not None:
        days = Entry(by_day, entry.at("open_by_day"))
        for key in days.given:
            if not (key.isascii() and key.isdigit() and len(key) <= 6):
                raise bad(
                    saying("{key} is no day.", key=shown(key, 40)),
                    'Write the number of a day: {"12": 900}.',
                    days.at(key[:40]),
                )
            found.append((int(key), days.whole(key)))
    return Depot(entry.text("id"), entry.whole("bays"), entry.whole("open_cents"), tuple(sorted(found)))


def _hand(entry: Entry) -> Hand:
    entry.keys(needed=("id", "depot", "skills"))
    return Hand(entry.text("id"), entry.text("depot"), entry.texts("skills"))


def _shift(entry: Entry) -> Shift:
    entry.keys(needed=("id", "depot", "day", "start", "end", "people", "premium_cents_per_min"))
    return Shift(
        entry.text("id"),
        entry.text("depot"),
        entry.whole("day"),
        entry.whole("start"),
        entry.whole("end"),
        entry.texts("people"),
        entry.whole("premium_cents_per_min"),
    )


def _vehicle(entry: Entry) -> PlanVehicle:
    entry.keys(needed=("id", "depot", "arrive_min", "arrive_cents", "out_cents_per_hour", "away"))
    return PlanVehicle(
        entry.text("id"),
        entry.text("depot"),
        entry.whole("arrive_min"),
        entry.whole("arrive_cents"),
        entry.whole("out_cents_per_hour"),
        entry.pairs("away"),
    )


def _stage(entry: Entry) -> Stage:
    entry.keys(needed=("min",), optional=("skill",))
    return Stage(entry.whole("min"), "" if entry.given.get("skill") is None else entry.text("skill"))


def _wait(entry: Entry) -> Wait:
    entry.keys(needed=("min", "max"))
    return Wait(entry.whole("min"), entry.whole("max"))


def _after(entry: Entry) -> After:
    entry.keys(needed=("service", "gap_days"))
    return After(entry.text("service"), entry.whole("gap_days"))


def _afters(entry: Entry) -> tuple[After, ...]:
    """One, or a list of several."""
    if isinstance(entry.given.get("after"), list):
        return entry.each("after", _after)
    one = entry.maybe("after", _after)
    return () if one is None else (one,)


def _published(entry: Entry) -> Published:
    entry.keys(needed=("day", "move_cents", "per_day_cents"))
    return Published(entry.whole("day"), entry.whole("move_cents"), entry.whole("per_day_cents"))


_PRICES = ("early_cents_per_day", "late_cents_per_day", "overdue_cents")


def _service(entry: Entry) -> BayService:
    has_days = entry.given.get("cost_by_day") is not None
    always = ("id", "vehicle", "setups", "stages", "waits", "not_before", "not_after", "required", "skip_cents")
    of_due = ("due", *_PRICES)
    optional = ("after", "published", "cost_by_day")
    entry.keys(
        needed=always if has_days else (*always, *of_due), optional=(*optional, *of_due) if has_days else optional
    )
    early, late, overdue = (entry.whole(key) if key in entry.given else 0 for key in _PRICES)
    by_day = tuple(whole(one, entry.at("cost_by_day")) for one in entry.listed("cost_by_day")) if has_days else ()
    return BayService(
        name=entry.text("id"),
        vehicle=entry.text("vehicle"),
        stages=entry.each("stages", _stage),
        due=entry.pairs("due") if "due" in entry.given else (),
        waits=entry.each("waits", _wait),
        setups=entry.texts("setups"),
        early_cents_per_day=early,
        late_cents_per_day=late,
        overdue_cents=overdue,
        not_before=max(entry.whole("not_before"), -MOST_DAYS),
        not_after=min(entry.whole("not_after"), MOST_DAYS),
        is_required=entry.is_true("required"),
        skip_cents=entry.whole("skip_cents"),
        after=_afters(entry),
        published=entry.maybe("published", _published),
        cost_by_day=by_day,
    )


_KINDS = {str(kind): kind for kind in WorkKind}


def _work(entry: Entry) -> Work:
    entry.keys(needed=("kind", "shift", "person", "start"), optional=("setup", "service", "stage"))
    kind = _KINDS.get(entry.text("kind"))
    if kind is None:
        raise bad(
            saying("The kind is {text_}.", text_=shown(entry.text("kind"))),
            'Write "arrive", "setup" or "stage".',
            entry.at("kind"),
        )
    own = {WorkKind.ARRIVE: (), WorkKind.SETUP: ("setup",), WorkKind.STAGE: ("service", "stage")}[kind]
    entry.keys(needed=("kind", "shift", "person", "start", *own))
    return Work(
        kind,
        entry.text("shift"),
        entry.text("person"),
        entry.whole("start"),
        entry.text("setup") if kind is WorkKind.SETUP else "",
        entry.text("service") if kind is WorkKind.STAGE else "",
        entry.whole("stage") if kind is WorkKind.STAGE else 0,
    )


def _visit(entry: Entry) -> Visit:
    entry.keys(needed=("vehicle", "bay", "work"))
    return Visit(entry.text("vehicle"), entry.whole("bay"), entry.each("work", _work))


def packed(text: str) -> bytes:
    """A text as the bytes of a gzip file that are the same whenever they are made."""
    return gzip.compress(text.encode("utf-8"), mtime=0)
