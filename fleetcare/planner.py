"""The one plan of bay days that is worked out at a time beside a serving process: a thread here, the search apart."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from dataclasses import dataclass, field

from fleetcare.actions.plan_bays import Proposal, Wish, accept, propose
from fleetcare.assemble import Parts
from fleetcare.bayplan.plan import BayPlan
from fleetcare.bayplan.port import Answer, Limits, Progress
from fleetcare.bayplan.problem import BayProblem
from fleetcare.bayplan.standing import Standing
from fleetcare.clock import monotonic_s
from fleetcare.errors import FleetcareError, SearchTrouble
from fleetcare.fleet.bay_visit import VisitState
from fleetcare.language import later
from fleetcare.solvers.apart import ApartSolver

STEPS = 40.0
"""As much work as the command does; a household's plan is there in some seconds."""

FAILED = later("The plan could not be worked out. What is pencilled stays; try again.")
MOST_VEHICLES_UNASKED = 500
"""In a larger garage a search takes minutes of a processor, if not that of the readers, so somebody has to ask."""

log = logging.getLogger(__name__)


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
    _seen: int = -1
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
        """Works the plan out again if visits are pencilled and something has changed; takes it if it is set so."""
        given = self.parts.settings.plan
        if not given.again or self.is_working:
            return
        with self.parts.store.read() as view:
            now, version = self.parts.clock.now(), view.version()
            is_small = version != self._seen and len(view.vehicles()) <= MOST_VEHICLES_UNASKED
            is_planned = is_small and any(
                v.state is VisitState.PENCILLED and v.begins_at > now for v in view.bay_visits()
            )
        if version == self._seen:
            return
        self._seen = version
        if not is_planned:
            return
        self.begin(unasked=True)
        if given.take:
            self._take_quietly()

    def _take_quietly(self) -> None:
        parts = self.parts
        if self._thread is not None:
            self._thread.join()
        found = self.found
        # What a person has stopped is no plan to be taken unseen.
        if found is None or not self.changes or self._stop.is_set():
            return
        try:
            accept(parts.store, parts.rules, found, who="timetable", now=parts.clock.now(), base_url=parts.base_url)
            self.found = None
            with parts.store.read() as view:
                self._seen = view.version()
        except FleetcareError:
            log.info("the plan was overtaken by somebody; it is looked at again")

    def begin(self, *, unasked: bool = False, wish: Wish | None = None) -> bool:
        """Begins to work one out, around a wish if there is one. Does nothing, and says no, while that is going on."""
        with self._lock:
            if self.is_working:
                return False
            self._stop.clear()
            self.is_unasked = unasked
            self.began_s, self.best_cents, self.found, self.problem = monotonic_s(), None, None, ""
            # The store is another connection for every thread, and a search that is left behind ends with the program.
            self._thread = threading.Thread(target=self._work, args=(wish,), name="bay plan", daemon=True)
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

    def _work(self, wish: Wish | None) -> None:
        parts = self.parts
        self.problem = FAILED  # said unless it comes to its end
        try:
            # One process for the whole search: a wish is searched for several times.
            with self.apart() as solver:
                self._solver = solver
                now = parts.clock.now()
                self.found = propose(
                    parts.store,
                    parts.rules,
                    parts.workplace,
                    self._solve,
                    now=now,
                    wish=wish,
                    kept=parts.kept_outlooks,
                )
            self.problem = ""
        except SearchTrouble as trouble:
            log.warning("%s", trouble)
        except FleetcareError as trouble:
            self.problem = trouble.said
        finally:
            self._solver = None

    def _solve(self, problem: BayProblem, standing: Standing) -> Answer:
        assert self._solver is not None  # begun before anything is solved
        limits = Limits(STEPS, is_stopped=self._stop.is_set)
        return self._solver.solve(problem, limits, tell=self._told, standing=standing)

    def _told(self, progress: Progress, _best: BayPlan | None) -> None:
        self.best_cents = progress.total
