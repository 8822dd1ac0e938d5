"""The whole chain in one process, everything it gives written into a folder: for comparing runs byte by byte.

    python -m tests.house.chain FOLDER INSTANT [MACHINE_INSTANT]

The program's clock stands at INSTANT. With MACHINE_INSTANT, whatever asks the machine for the time is told that one.
"""

from __future__ import annotations

import asyncio
import json
import sys
from contextlib import nullcontext
from datetime import datetime
from pathlib import Path

import freezegun
import httpx

from fleetcare.actions.look_ahead import look_ahead
from fleetcare.actions.settle import state_in_words
from fleetcare.assemble import Parts
from fleetcare.cli.serving import Addresses, load_demo
from fleetcare.page.as_data import line_data
from fleetcare.timetable import Round
from fleetcare.web.app import create_app
from tests.flow.homes import BASE_URL, open_home, path_of
from tests.stand_ins import FixedClock


def given_by(parts: Parts, addresses: Addresses) -> dict[str, bytes]:
    """Windows, pages, and feeds with their tags, as they are now, by file name."""
    ahead = look_ahead(parts.store, parts.rules, now=parts.clock.now())
    lines = [line_data(outlook, line) for outlook in ahead.outlooks for line in outlook.lines]
    with parts.store.read() as view:
        windows = [f"{key}: {state_in_words(state)}" for key, state in view.windows().items()]
    paths = {"road.html": "/", "road-km.html": "/?unit=km"}
    paths |= {f"entry-{mark}.html": path_of(address) for mark, address in addresses["readings"].items()}
    paths |= {f"{person}.ics": path_of(address) for person, address in addresses["feeds"].items()}
    given = {
        "due.json": json.dumps(lines, ensure_ascii=False).encode(),
        "windows.txt": "\n".join(windows).encode(),
    }
    for name, answer in asyncio.run(_fetched(parts, paths)).items():
        assert answer.status_code == 200, (name, answer.text)
        given[name] = answer.content
        if name.endswith(".ics"):
            given[f"{name}.etag"] = answer.headers["etag"].encode()
    return given


def run(folder: Path, now: datetime) -> None:
    """The demo garage from its files to everything that goes out, in a fresh home inside the folder."""
    settings = {"FLEETCARE_WEB_OPEN_HOUSE": "true", "FLEETCARE_MAIL_FROM_ADDRESS": "garage@karstridge.example"}
    parts = open_home(folder / "home", FixedClock(now), settings=settings)
    parts, addresses = load_demo(parts)
    out = folder / "out"
    out.mkdir()
    try:
        # As the folder's own name stands on the front page, letters are sent only after it was fetched.
        for name, content in given_by(parts, addresses).items():
            (out / name).write_bytes(content.replace(str(folder).encode(), b"FOLDER"))
        round_ = Round(parts)
        round_.run()
        assert not round_.last_trouble
        for letter in parts.letters_folder.iterdir():
            (out / letter.name).write_bytes(letter.read_bytes())
        for name, text in _exported(parts).items():
            (out / f"export-{name}").write_text(text, encoding="utf-8", newline="")
        with parts.store.read() as view:
            log = [
                (e.id, e.change.at.isoformat(), e.change.who, e.change.why, e.subject, e.what, e.before, e.after)
                for e in view.log()
            ]
        (out / "log.txt").write_text("\n".join(map(repr, log)), encoding="utf-8")
    finally:
        parts.close()


def _exported(parts: Parts) -> dict[str, str]:
    from fleetcare.actions.hand_out import hand_out
    from fleetcare.intake.writing import garage_as_files
    from fleetcare.settings.garage_rules import own_book_path

    all_of_it = hand_out(parts.store)
    return garage_as_files(
        garage=all_of_it.garage,
        people=all_of_it.people,
        vehicles=all_of_it.vehicles,
        readings=all_of_it.readings,
        work=all_of_it.work,
        bookings=all_of_it.bookings,
        events=all_of_it.events,
        book_text=own_book_path(parts.home).read_text(encoding="utf-8"),
        shelf=all_of_it.shelf,
    )


async def _fetched(parts: Parts, paths: dict[str, str]) -> dict[str, httpx.Response]:
    transport = httpx.ASGITransport(app=create_app(parts))
    async with httpx.AsyncClient(transport=transport, base_url=BASE_URL, trust_env=False) as client:
        return {name: await client.get(path) for name, path in paths.items()}


def main(folder: str, now: str, machine: str = "") -> None:
    """Entry point of the process that is compared."""
    if machine:
        # Once to have everything loaded: libraries cannot be built on classes that freezegun has put in place.
        run(Path(folder) / "before", datetime.fromisoformat(now))
    frozen = freezegun.freeze_time(machine, real_asyncio=True) if machine else nullcontext()
    with frozen:
        run(Path(folder), datetime.fromisoformat(now))


if __name__ == "__main__":
    main(*sys.argv[1:])
