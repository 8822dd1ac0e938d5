"""The one plan of bay days that is worked out at a time beside a serving process: a thread here, the search apart."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import partial

from fleetcare.actions.bay_ground import Workplace
from fleetcare.actions.gather import garage_day, garage_of
from fleetcare.actions.plan_bays import Wish, accept, propose
from fleetcare.actions.plan_notes import plan_notes
from fleetcare.actions.proposal import Proposal
from fleetcare.actions.replan_bays import replan_bays
from fleetcare.assemble import Parts
from fleetcare.bayplan.plan import BayPlan
from fleetcare.bayplan.port import Answer, Limits, Progress
from fleetcare.bayplan.problem import BayProblem
from fleetcare.bayplan.standing import Standing
from fleetcare.bayplan.what_is_hit import Hit, PlanNotes, hit_at_first, hit_by
from fleetcare.clock import monotonic_s
from fleetcare.errors import FleetcareError, SearchTrouble
from fleetcare.fleet.bay_visit import BayVisit, VisitState
from fleetcare.language import later
from fleetcare.solvers.apart import ApartSolver

STEPS = 40.0
"""As much work as the command does; a household's plan is there in some seconds."""

CALM_STEPS = 1.0
"""For a few vehicles that were hit, and again for those that compete with them; each takes some tenths of a second."""

FAILED = later("The plan could not be worked out. What is pencilled stays; try again.")
MOST_VEHICLES_WHOLE = 500
"""In a larger garage a search for the whole plan takes minutes of a processor, if not that of the readers, so somebody
has to ask for it; what a change hits is planned anew there, too."""
WHOLE_SHARE = 0.5
"""Where more of the vehicles that are planned were hit, the whole plan is searched for: freeing the rest costs little
more then, and finds what one group after another does not."""
ASKED_FOR_S = 3600.0
"""So long a plan that somebody asked for waits to be looked at, and is not planned over unasked."""

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class _Basis:
    """What vehicles were planned with. figures: the workshop's own."""

    figures: object
    notes: PlanNotes


@dataclass(frozen=True, slots=True)
class _Offered:
    """What a plan that nobody has taken yet would change. visits: of these vehicles as they would be; gone: keys of
    what would be rubbed out; notes: what it was made with."""

    marks: frozenset[str]
    visits: tuple[BayVisit, ...]
    gone: tuple[tuple[str, int], ...]
    notes: PlanNotes


@dataclass(frozen=True, slots=True)
class _Task:
    """One plan to be worked out. hit: the vehicles that a change hit, and why; None: all of them. basis: as it is now,
    if it is known."""

    hit: Mapping[str, Hit] | None = None
    basis: _Basis | None = None
    wish: Wish | None = None


@dataclass
class Planner:
    """The one plan that is worked out at a time in this process, and the last one that was."""

    parts: Parts
    apart: Callable[[], ApartSolver] = ApartSolver
    """Begins what one plan is searched with; it has the processor to itself, and this one goes on serving."""
    began_s: float = 0.0
    best_cents: int | None = None
    found: Proposal | None = None
    problem: str = ""
    is_unasked: bool = False
    """The last plan was worked out because something had changed, not because somebody asked."""
    most_whole: int = MOST_VEHICLES_WHOLE
    """Of so many vehicles the whole plan is searched for unasked, if need be."""
    ended_s: float = 0.0
    _seen: tuple[int, date] | None = None
    _basis: _Basis | None = None
    _offered: _Offered | None = None
    _thread: threading.Thread | None = None
    _solver: ApartSolver | None = None
    _stop: threading.Event = field(default_factory=threading.Event)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    @property
    def is_working(self) -> bool:
        """Whether a search goes on."""
        return self._thread is not None and self._thread.is_alive()

    @property
    def seconds(self) -> int:
        """For how long it has been going on."""
        return int(monotonic_s() - self.began_s)

    @property
    def changes(self) -> int:
        """How many visits of the last plan are new, elsewhere or gone; 0 while there is none."""
        found = self.found
        if found is None or found.answer is None or found.answer.plan is None:
            return 0
        old = {each.key: each for each in found.before}
        differ = [each for each in found.visits if each.key not in old or old[each.key].begins_at != each.begins_at]
        return len(differ) + len(found.gone)

    def look_again(self) -> None:
        """Plans anew what has changed since it was last planned, if visits are pencilled; takes it if it is set so."""
        given = self.parts.settings.plan
        if not given.again or self.is_working:
            return
        workplace = self.parts.workplace
        with self.parts.store.read() as view:
            now, version = self.parts.clock.now(), view.version()
            seen = (version, garage_day(garage_of(view), now))
            if seen == self._seen:
                return
            visits = view.bay_visits()
            if self._is_being_looked_at(visits):
                return
            is_planned = any(v.state is VisitState.PENCILLED and v.begins_at > now for v in visits)
            notes = plan_notes(view, workplace, now=now) if is_planned else None
        self._seen = seen
        if self.is_unasked and self.found is not None and self.found.before != visits:
            self.found = None  # taken, or overtaken
        if notes is None:
            self._basis = None
            return
        self._mind_what_was_taken(visits)
        task = self._task(notes, workplace, seen[1])
        if task is None:
            return
        self._begin(task, unasked=True)
        if given.take:
            self._take_quietly()

    def _is_being_looked_at(self, visits: tuple[BayVisit, ...]) -> bool:
        found = self.found
        is_fresh = monotonic_s() - self.ended_s < ASKED_FOR_S
        return found is not None and not self.is_unasked and self.changes > 0 and is_fresh and found.before == visits

    def _mind_what_was_taken(self, visits: Iterable[BayVisit]) -> None:
        """Vehicles whose visits stand as they were last offered were planned with what was known then."""
        offered, basis = self._offered, self._basis
        if offered is None or basis is None:
            return
        stand = {each.key: each for each in visits if each.mark in offered.marks}
        if all(stand.get(each.key) == each for each in offered.visits) and not any(
            stand[key].takes_place for key in offered.gone if key in stand
        ):
            self._basis = _Basis(basis.figures, basis.notes.knowing(offered.marks, offered.notes))
            self._offered = None

    def _task(self, notes: PlanNotes, workplace: Workplace, today: date) -> _Task | None:
        """What is to be planned: what the change hit; everything if nothing is known of what the plan was made with, or
        if most of it was hit, and the garage is not too large for that."""
        figures = _figures_of(workplace)
        is_large = len(notes.vehicles) > self.most_whole
        basis = self._basis
        if basis is None or basis.figures != figures:
            hit = hit_at_first(notes) if is_large else None
            self._basis = _Basis(figures, notes.without(hit or ()))
        else:
            hit = hit_by(basis.notes, notes, at=self.parts.clock.now(), today=today)
            by_news = sum(why is not Hit.ROOM for why in hit.values())
            if not is_large and by_news > WHOLE_SHARE * notes.planned:
                hit = None
        if hit is not None and not hit:
            known = notes if basis is None or basis.figures != figures else basis.notes
            self._basis = _Basis(figures, known.with_vehicles((), notes))
            return None
        return _Task(hit=hit, basis=_Basis(figures, notes))

    def _take_quietly(self) -> None:
        parts = self.parts
        if self._thread is not None:
            self._thread.join()
        found = self.found
        # What a person has stopped is no plan to be taken unseen.
        if found is None or not self.changes or self._stop.is_set():
            return
        try:
            now = parts.clock.now()
            accept(parts.store, parts.rules, found, who="timetable", now=now, base_url=parts.base_url)
            self.found = None
            with parts.store.read() as view:
                self._seen = (view.version(), garage_day(garage_of(view), now))
                self._mind_what_was_taken(view.bay_visits())
        except FleetcareError:
            log.info("the plan was overtaken by somebody; it is looked at again")

    def begin(self, *, wish: Wish | None = None) -> bool:
        """Begins to work a whole plan out, around a wish if there is one. Does nothing, and says no, while one is being
        worked out."""
        return self._begin(_Task(wish=wish), unasked=False)

    def _begin(self, task: _Task, *, unasked: bool) -> bool:
        with self._lock:
            if self.is_working:
                return False
            self._stop.clear()
            self.is_unasked = unasked
            self.began_s, self.best_cents, self.found, self.problem = monotonic_s(), None, None, ""
            # The store is another connection for every thread, and a search that is left behind ends with the program.
            self._thread = threading.Thread(target=self._work, args=(task,), name="bay plan", daemon=True)
            self._thread.start()
            return True

    def stop(self) -> None:
        """Ends the search with the best plan so far, and waits a moment for it."""
        self._stop.set()
        solver = self._solver
        if solver is not None:
            solver.stop()
        if self._thread is not None:
            self._thread.join(timeout=5.0)

    def _work(self, task: _Task) -> None:
        self.problem = FAILED  # said unless it comes to its end
        try:
            # One process for the whole search: a wish is searched for several times.
            with self.apart() as solver:
                self._solver = solver
                found = self._found(task)
                self.ended_s, self.found = monotonic_s(), found
            self.problem = ""
        except SearchTrouble as trouble:
            log.warning("%s", trouble)
        except FleetcareError as trouble:
            self.problem = trouble.said
        finally:
            self._solver = None

    def _found(self, task: _Task) -> Proposal | None:
        parts, now, workplace = self.parts, self.parts.clock.now(), self.parts.workplace
        if task.hit is not None:
            found = replan_bays(
                parts.store,
                parts.rules,
                workplace,
                partial(self._solve, steps=CALM_STEPS, is_whole=False),
                now=now,
                hit=task.hit,
                kept=parts.kept_outlooks,
                is_stopped=self._stop.is_set,
            )
            if found is not None and task.basis is not None and self._basis is not None:
                self._settle(self._basis.notes, task.basis, found.planned, found)
            return found
        basis = task.basis
        if basis is None and task.wish is None:
            with parts.store.read() as view:
                basis = _Basis(_figures_of(workplace), plan_notes(view, workplace, now=now))
        found = propose(
            parts.store,
            parts.rules,
            workplace,
            partial(self._solve, steps=STEPS, is_whole=True),
            now=now,
            wish=task.wish,
            kept=parts.kept_outlooks,
        )
        if basis is not None:
            self._settle(PlanNotes({}), basis, basis.notes.vehicles, found)
        return found

    def _settle(self, known: PlanNotes, basis: _Basis, planned: Collection[str], found: Proposal) -> None:
        """Keeps what the vehicles were planned with. Whose visits would change are as good as unknown until somebody
        takes that: they are looked at again after the next change."""
        marks = frozenset(change.mark for change in found.changes)
        self._basis = _Basis(basis.figures, known.without(marks).with_vehicles(set(planned) - marks, basis.notes))
        self._offered = _Offered(
            marks,
            tuple(each for each in found.visits if each.mark in marks),
            tuple(each.key for each in found.gone),
            basis.notes,
        )

    def _solve(self, problem: BayProblem, standing: Standing, *, steps: float, is_whole: bool) -> Answer:
        assert self._solver is not None  # begun before anything is solved
        limits = Limits(steps, is_stopped=self._stop.is_set)
        # The price of a few vehicles is not that of a plan.
        tell = self._told if is_whole else None
        return self._solver.solve(problem, limits, tell=tell, standing=standing)

    def _told(self, progress: Progress, _best: BayPlan | None) -> None:
        self.best_cents = progress.total


def _figures_of(workplace: Workplace) -> object:
    return workplace.prices, tuple(workplace.hours), dict(workplace.skills)
