"""How well the windows hold in two invented worlds of cars, as tables: `python -m tests.worlds.tables [--quick]`.

python -m tests.worlds.tables                       all of it to standard output
python -m tests.worlds.tables --quick               a fourth of the cars: coarser figures
python -m tests.worlds.tables --write DEVELOPERS.md the main ones, between the marks `worlds:begin`, `worlds:end`
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from fleetcare.usage.learned import LEARNED
from fleetcare.usage.priors import Priors
from tests.worlds import verdicts
from tests.worlds.cells import HORIZONS, READINGS
from tests.worlds.grid import AVERAGE, BARE, FITTED, FITTED_BORN, ONE_FOR_ALL, SHIPPED, SHIPPED_BORN, Asked, Result
from tests.worlds.methods import Ours
from tests.worlds.scores import Scored, error_of_mean, paired_ratio
from tests.worlds.special import bias, booked_tow, duty_mix, km_or_hours, known_lay_up
from tests.worlds.wrong_readings import with_one_wrong

VEHICLES, QUICK_VEHICLES = 1500, 375
BEGIN, END = "<!-- worlds:begin -->", "<!-- worlds:end -->"
Results = Mapping[str, Mapping[str, Result]]


def markdown(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table; figures to the right, the first column to the left."""
    lines = ["| " + " | ".join(head) + " |", "|---" + "|---:" * (len(head) - 1) + "|"]
    return "\n".join(lines + ["| " + " | ".join(row) + " |" for row in rows])


def figure(value: float, digits: int = 3) -> str:
    """Without the nought before the point: .347."""
    text = f"{value:.{digits}f}"
    return text[1:] if text.startswith("0.") else text


def numbers_table(asked: Mapping[str, Asked]) -> str:
    """The numbers as shipped, and as learned from the training cars of each world."""
    given = {"shipped": Priors()} | {f"learned in {name}": each.numbers for name, each in asked.items()}
    rows = [[name, *(f"{getattr(priors, key):.3g}" for key in LEARNED)] for name, priors in given.items()]
    return markdown(["numbers", *LEARNED], rows)


def score_table(results: Mapping[str, Result]) -> str:
    """CRPS over horizon by readings in sight, and coverage, for every method of one world."""
    rows = []
    for name, result in results.items():
        every = result.per_vehicle()
        cells = result.cell_coverages()
        covers = (
            "none" if name == BARE else f"{figure(cells.mean())} ({figure(cells.min(), 2)} to {figure(cells.max(), 2)})"
        )
        scores = [figure(float(result.per_vehicle([n]).mean())) for n in READINGS]
        whole = f"{figure(float(every.mean()))} ± {figure(error_of_mean(every))}"
        rows.append([name, *scores, whole, figure(result.error_by_horizon()), covers])
    head = ["method", *(f"n={n}" for n in READINGS), "all", "median error / h", "coverage of the 80 % window (cells)"]
    return markdown(head, rows)


def error_table(results: Results, ours: str) -> str:
    """Median absolute error in days, ours / 12-month average, by cell."""
    places = [(world, h) for world in results for h in HORIZONS]
    rows = []
    for n in READINGS:
        pairs = [[results[w][name].by_place[n, h].median_error for name in (ours, BARE)] for w, h in places]
        rows.append([str(n), *(f"{mine:.1f} / {average:.1f}" for mine, average in pairs)])
    return markdown(["n", *(f"{world} {h} d" for world, h in places)], rows)


def coverage_table(results: Results, name: str) -> str:
    """Coverage of the 80 % window, by cell."""
    places = [(world, h) for world in results for h in HORIZONS]
    rows = [
        [str(n), *(figure(results[world][name].by_place[n, h].coverage, 2) for world, h in places)] for n in READINGS
    ]
    return markdown(["n", *(f"{world} {h} d" for world, h in places)], rows)


def miss_table(results: Results) -> str:
    """Shares that fell due before the early and after the late date, and the bias of the likely one."""
    rows = []
    for world, each in results.items():
        for name in (SHIPPED, FITTED, SHIPPED_BORN, FITTED_BORN):
            early, late = each[name].misses()
            off = [np.median(one.error) / one.horizon for one in each[name].by_place.values()]
            rows.append([f"{world}, {name}", figure(early), figure(late), f"{np.mean(off):+.3f}"])
    return markdown(["world, method", "before early", "after late", "median of (likely less true) / h"], rows)


def regularity_table(asked: Mapping[str, Asked], results: Results) -> str:
    """Coverage by fifths of regularity."""
    rows = []
    for world, each in results.items():
        for name in (ONE_FOR_ALL, FITTED, SHIPPED):
            fifths = each[name].by_regularity(asked[world].test_seen)
            rows.append([f"{world}, {name}", *(figure(float(part), 2) for part in fifths)])
    return markdown(["world, method", "most regular", "2", "3", "4", "least regular"], rows)


def ratio_table(results: Results) -> str:
    """Paired ratios of CRPS, ours (fleet-fitted) over the 12-month average, by readings in sight."""
    rows = []
    for world, each in results.items():
        for mine in (FITTED, SHIPPED, FITTED_BORN):
            for theirs in (BARE, AVERAGE):
                cells = [f"{world}: {mine} over {theirs}"]
                for n in READINGS:
                    ratio = paired_ratio(each[mine].per_vehicle([n]), each[theirs].per_vehicle([n]))
                    cells.append(f"{figure(ratio.value)} ({figure(ratio.low)} to {figure(ratio.high)})")
                rows.append(cells)
    return markdown(["CRPS ratio (middle 95 %)", *(f"n={n}" for n in READINGS)], rows)


def special_table(asked: Mapping[str, Asked]) -> str:
    """The cases of their own, with the shipped numbers and 12 readings."""
    ours = Ours()
    rows: list[list[str]] = []

    def add(world: str, case: str, one: Scored) -> None:
        rows.append(
            [
                f"{world}: {case}",
                f"{figure(one.crps_by_horizon)} ± {figure(error_of_mean(one.crps / one.horizon))}",
                f"{one.median_error:.1f}",
                f"{bias(one):+.1f}",
                figure(one.coverage),
                figure(float(one.early.mean())),
                figure(float(one.late.mean())),
            ]
        )

    for world, each in asked.items():
        place = (each.test_world, each.test_seen, ours)
        for case, pair in (("tow of 900 km", booked_tow(*place)), ("lay-up of 120 days", known_lay_up(*place))):
            for said, one in zip(("told", "not told"), pair, strict=True):
                add(world, f"{case}, {said}, h=91", one)
        for said, one in duty_mix(*place).items():
            add(world, f"towing and track, h=365: {said}", one)
        for h in HORIZONS[1:]:
            for said, one in zip(("smaller quantile", "as if independent"), km_or_hours(*place, h), strict=True):
                add(world, f"km or hours, {said}, h={h}", one)
    head = ["case", "CRPS/h", "median error, days", "bias, days", "coverage", "before early", "after late"]
    return markdown(head, rows)


def wrong_reading_table(scores: Mapping[str, Mapping[str, Sequence[Scored]]]) -> str:
    """Cars with one grossly wrong reading among twelve."""
    names = {"judged": "ours, readings judged", "clean": "ours, had it been right", "average": "12-month average, bare"}
    rows = []
    for world, each in scores.items():
        for key, many in each.items():
            every = np.mean([one.crps / one.horizon for one in many], axis=0)
            held = "none" if key == "average" else figure(float(np.mean([one.coverage for one in many])))
            scored = f"{figure(float(every.mean()))} ± {figure(error_of_mean(every))}"
            rows.append([f"{world}: {names[key]}", f"{len(every)}", scored, held])
    return markdown(["one grossly wrong reading of 12", "cars", "CRPS/h", "coverage"], rows)


def verdict_table(found: Iterable[verdicts.Verdict]) -> str:
    """Target by target."""
    rows = [[f"{each.key}: {each.asked}", each.measured, "yes" if each.holds else "**no**"] for each in found]
    return markdown(["target", "measured", "holds"], rows)


@dataclass(frozen=True, slots=True)
class Section:
    """One table with what it shows. short: it stands in the guide too."""

    title: str
    table: str
    short: bool = False

    def words(self) -> str:
        """Title and table."""
        return f"{self.title}:\n\n{self.table}"


def sections(vehicles: int) -> list[Section]:
    """All tables, from so many cars to learn from and as many to be judged on in each world."""
    asked = {world: Asked.of(world, vehicles) for world in ("A", "B")}
    results: dict[str, dict[str, Result]] = {
        world: {name: Result.of(method, each.cells) for name, method in each.methods().items()}
        for world, each in asked.items()
    }
    wrong = {world: with_one_wrong(each, Ours(each.numbers)) for world, each in asked.items()}
    found = [
        *verdicts.coverage_verdicts(results, FITTED),
        *verdicts.coverage_verdicts(results, FITTED_BORN),
        *verdicts.coverage_verdicts(results, SHIPPED),
        *verdicts.score_verdicts(results),
        *verdicts.regularity_verdicts(asked, results),
        *verdicts.wrong_reading_verdicts(wrong),
        verdicts.solver_verdict(asked),
        verdicts.golden_verdict(),
    ]
    return [
        Section("Numbers", numbers_table(asked)),
        *(Section(f"CRPS over horizon, world {world}", score_table(each), True) for world, each in results.items()),
        Section("Median absolute error in days, fleet-fitted / 12-month average", error_table(results, FITTED)),
        Section("Coverage of the 80 % window, fleet-fitted", coverage_table(results, FITTED), True),
        Section("Coverage of the 80 % window, shipped numbers", coverage_table(results, SHIPPED), True),
        Section("Misses to either side", miss_table(results)),
        Section("Coverage by regularity of past increments (n = 6, 12, 24)", regularity_table(asked, results), True),
        Section("Against the 12-month average, same cars", ratio_table(results)),
        Section("Cases of their own, n=12, shipped numbers", special_table(asked), True),
        Section("One grossly wrong reading, fleet-fitted", wrong_reading_table(wrong), True),
        Section("Targets", verdict_table(found), True),
    ]


def report(vehicles: int, *, short: bool) -> str:
    """The tables as Markdown, all of them or those of the guide."""
    told = (
        f"{vehicles:,} cars to learn from and {vehicles:,} others to be judged on, in each world. n: readings in sight,"
        " h: days away as the readings in sight suggest. CRPS: mean pinball over 19 levels, twice, in days, days cut at"
        f" 1,800. A share of one cell is known to ± {np.sqrt(0.16 / vehicles):.3f} (one standard error)."
    )
    chosen = [each.words() for each in sections(vehicles) if each.short or not short]
    return "\n\n".join([told, *chosen])


def between_marks(text: str, new: str) -> str:
    """The text with everything between the two marks replaced. Raises LookupError if they are not there once each."""
    if text.count(BEGIN) != 1 or text.count(END) != 1 or text.index(BEGIN) > text.index(END):
        raise LookupError(f"wanted one {BEGIN} and one {END} after it, each on its own line")
    before, after = text[: text.index(BEGIN) + len(BEGIN)], text[text.index(END) :]
    return f"{before}\n{new}\n{after}"


def main(arguments: Sequence[str]) -> int:
    """Prints the tables, or writes them into a file that has a place for them."""
    parser = argparse.ArgumentParser(prog="python -m tests.worlds.tables")
    parser.add_argument("--quick", action="store_true", help="a fourth of the cars")
    parser.add_argument("--write", type=Path, metavar="FILE", help="write the main ones between the marks of this file")
    chosen = parser.parse_args(arguments)
    if chosen.write is not None:
        between_marks(chosen.write.read_text(encoding="utf-8"), "")
    text = report(QUICK_VEHICLES if chosen.quick else VEHICLES, short=chosen.write is not None)
    if chosen.write is None:
        print(text)
    else:
        here = chosen.write.read_text(encoding="utf-8")
        chosen.write.write_text(between_marks(here, text), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
