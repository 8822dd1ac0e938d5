"""Problems from elsewhere written as bay problems: their published optima must come out.

Single-source facility location: a facility is a workshop day with its own price and hours, a customer a vehicle with
one service. Job shop: an operation is a stage with a skill, a machine a person, the shift as long as the makespan asked
for.
"""

from __future__ import annotations

from pathlib import Path

from fleetcare.bayplan.problem import BayProblem, BayService, Depot, Hand, PlanVehicle, Shift, Stage, Wait

BENCHMARKS = Path(__file__).parent / "benchmarks"


def facility_location(name: str) -> BayProblem:
    """One of the single-source instances. Layout of a file: facilities and customers; hours; opening prices; demands;
    then a row a customer of what it costs in all at each facility."""
    numbers = [float(word) for word in (BENCHMARKS / f"{name}.txt").read_text(encoding="ascii").split()]
    facilities, customers = int(numbers[0]), int(numbers[1])
    hours = [round(each) for each in numbers[2 : 2 + facilities]]
    opening = [round(each) for each in numbers[2 + facilities : 2 + 2 * facilities]]
    demands = [round(each) for each in numbers[2 + 2 * facilities : 2 + 2 * facilities + customers]]
    rest = [round(each) for each in numbers[2 + 2 * facilities + customers :]]
    assert len(rest) == facilities * customers
    cents = [[rest[j * facilities + i] for j in range(customers)] for i in range(facilities)]
    return BayProblem(
        name=name,
        days=facilities,
        max_visit_min=1440,
        setups=(),
        depots=(Depot("yard", 1, 0, tuple(enumerate(opening))),),
        people=(Hand("ines", "yard"),),
        shifts=tuple(Shift(f"day {day}", "yard", day, 0, length, ("ines",)) for day, length in enumerate(hours)),
        vehicles=tuple(PlanVehicle(f"v{j:02d}", "yard", 0, 0, 0) for j in range(customers)),
        services=tuple(
            BayService(
                f"s{j:02d}",
                f"v{j:02d}",
                (Stage(demands[j]),),
                cost_by_day=tuple(cents[i][j] for i in range(facilities)),
                not_after=facilities - 1,
            )
            for j in range(customers)
        ),
    )


def job_shop(name: str, makespan: int) -> BayProblem:
    """One of the classic job shops, with a shift of the length given. Layout of a file: comments, then jobs and
    machines, then a line a job of machine and minutes."""
    lines = (BENCHMARKS / f"{name}.txt").read_text(encoding="ascii").splitlines()
    rows = [[int(word) for word in line.split()] for line in lines if line.strip() and not line.startswith("#")]
    (jobs, machines), work = rows[0], rows[1:]
    assert len(work) == jobs
    return BayProblem(
        name=name,
        days=1,
        max_visit_min=1440,
        setups=(),
        depots=(Depot("yard", jobs, 0),),
        people=tuple(Hand(f"p{m}", "yard", (f"machine {m}",)) for m in range(machines)),
        shifts=(Shift("day", "yard", 0, 0, makespan, tuple(f"p{m}" for m in range(machines))),),
        vehicles=tuple(PlanVehicle(f"v{j:02d}", "yard", 0, 0, 0) for j in range(jobs)),
        services=tuple(
            BayService(
                f"job {j:02d}",
                f"v{j:02d}",
                tuple(Stage(row[2 * k + 1], f"machine {row[2 * k]}") for k in range(machines)),
                waits=(Wait(0, makespan),) * (machines - 1),
                cost_by_day=(0,),
                not_after=0,
            )
            for j, row in enumerate(work)
        ),
    )
