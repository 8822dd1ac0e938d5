"""What the driver says went wrong, in our own words."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy import exc

from fleetcare.errors import BadInput, Clash, FleetcareError, StoreBusy, StoreDamaged, StoreFull, StoreTrouble
from fleetcare.language import saying

AGAIN = saying("Try again in a moment.")
DAMAGED = "The database is damaged; nothing was changed. Bring back the latest whole copy of it."
_BUSY = saying("Another program holds the database; nothing was changed. {again}", again=AGAIN)
_FULL = "There is no room left on the disk; nothing was changed. Make room and try again."
_READ_ONLY = "The database cannot be written. See to the rights of its file and folder."
_NOT_OPENED = "The database cannot be opened. See to the path and the rights of its folder."
_NO_ANSWER = "The database server does not answer. See that it runs, and try again."
_DISK = "The disk did not do its part; nothing was changed. See to it before you go on."
_TOO_LARGE = "That number is too large to be kept."
_NOT_TAKEN = "That holds something the database does not take."
_CLASH = "That does not go together with what is stored; nothing was changed. Look at what is there first."


@contextmanager
def troubles() -> Iterator[None]:
    """The driver's errors as ours. Errors of ours pass through."""
    try:
        yield
    except FleetcareError:
        raise
    except (exc.DBAPIError, sqlite3.Error) as error:
        raise as_trouble(error) from error
    except exc.TimeoutError as error:
        raise StoreBusy(
            saying("Too many want the database at once; nothing was changed. {again}", again=AGAIN)
        ) from error
    except UnicodeEncodeError as error:
        raise BadInput("That text holds signs that cannot be kept.", remedy="Type it anew.") from error
    except OverflowError as error:
        raise BadInput(_TOO_LARGE, remedy="Type it anew.") from error


def as_trouble(error: Exception) -> FleetcareError:
    """What an error of the driver means for whoever uses the store. By code: messages may quote what was typed."""
    inner = error.orig if isinstance(error, exc.DBAPIError) else error
    kind = type(inner).__name__
    if isinstance(inner, sqlite3.Error):
        found = _from_sqlite(getattr(inner, "sqlite_errorcode", 0) or 0)
    else:
        found = _from_postgresql(getattr(inner, "sqlstate", None) or "", kind)
    return found or StoreTrouble(
        saying("The database did not do its part ({kind}); nothing was changed. {again}", kind=kind, again=AGAIN)
    )


def _from_sqlite(code: int) -> FleetcareError | None:
    """By primary result code. Source: https://sqlite.org/rescode.html."""
    match code & 0xFF:
        case sqlite3.SQLITE_BUSY | sqlite3.SQLITE_LOCKED:
            return StoreBusy(_BUSY)
        case sqlite3.SQLITE_FULL:
            return StoreFull(_FULL)
        case sqlite3.SQLITE_CORRUPT | sqlite3.SQLITE_NOTADB:
            return StoreDamaged(DAMAGED)
        case sqlite3.SQLITE_READONLY | sqlite3.SQLITE_PERM:
            return StoreTrouble(_READ_ONLY)
        case sqlite3.SQLITE_CANTOPEN:
            return StoreTrouble(_NOT_OPENED)
        case sqlite3.SQLITE_IOERR:
            return StoreTrouble(_DISK)
        case sqlite3.SQLITE_CONSTRAINT:
            return Clash(_CLASH)
        case sqlite3.SQLITE_TOOBIG | sqlite3.SQLITE_MISMATCH:
            return BadInput(_NOT_TAKEN, remedy="Type it anew.")
    return None


def _from_postgresql(state: str, kind: str) -> FleetcareError | None:
    """By SQLSTATE, and its class where that says enough. Source: PostgreSQL manual, appendix A."""
    match state[:2], state:
        case ("40", _) | (_, "55P03" | "57014"):
            return StoreBusy(_BUSY)
        case _, "53100":
            return StoreFull(_FULL)
        case ("XX", _) | (_, "58P02"):
            return StoreDamaged(DAMAGED)
        case ("25" | "42", "25006" | "42501"):
            return StoreTrouble("This account may not write to the database. See to its rights.")
        case "28" | "3D", _:
            return StoreTrouble("The database server does not let us in. See to the name, the password and the rights.")
        case "23", _:
            return Clash(_CLASH)
        case _, "22003":
            return BadInput(_TOO_LARGE, remedy="Type it anew.")
        case "22", _:
            return BadInput(_NOT_TAKEN, remedy="Type it anew.")
        case ("08" | "53", _) | (_, "57P01" | "57P02" | "57P03"):
            return StoreTrouble(_NO_ANSWER)
    if not state and kind == "OperationalError":  # the line was lost, or there never was one
        return StoreTrouble(_NO_ANSWER)
    if not state and kind == "DataError":  # psycopg itself refuses NUL in a text
        return BadInput(_NOT_TAKEN, remedy="Type it anew.")
    return None
