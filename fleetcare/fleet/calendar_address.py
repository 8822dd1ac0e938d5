"""The address of somebody's calendar: what may stand there, and how it is shown without giving it away.

address = scheme "://" host [ ":" port ] [ "/" *sign ] [ "?" *sign ]
scheme  = "https" / "http" / "webcal"            ; webcal is what calendar programs write for https
host    = name / "[" IPv6 "]"
sign    = any visible ASCII character but quotes, < > \\ ^ ` { | } and #
"""

from __future__ import annotations

import re

from fleetcare.errors import BadInput
from fleetcare.language import saying

LONGEST = 2000
_ADDRESS = re.compile(
    r"(?P<scheme>https?|webcals?)://(?P<host>[A-Za-z0-9](?:[A-Za-z0-9.-]{0,252}[A-Za-z0-9])?\.?|\[[0-9A-Fa-f:.]{2,45}\])"
    r"(?::(?P<port>[0-9]{1,5}))?(?P<rest>[/?][!$-;=?-\[\]_a-z~]*)?",
    re.IGNORECASE,
)
_ASK = "Give the secret address of the calendar, such as https://calendar.example/….ics"


def calendar_address(text: str) -> str:
    """The address as it is kept: `https` or `http`. Raises BadInput, which never repeats what was given."""
    given = text.strip()
    if len(given) > LONGEST:
        raise BadInput(
            "That address is too long.",
            remedy=saying("At most {longest} characters, please.", longest=LONGEST),
            field="calendar",
        )
    given = given.partition("#")[0]
    found = _ADDRESS.fullmatch(given)
    if found is None:
        what = "That is no address of a calendar."
        if "@" in given.partition("://")[2].partition("/")[0]:
            what = "A name and password cannot stand in the address of a calendar."
        raise BadInput(what, remedy=_ASK, field="calendar")
    if found["port"] is not None and not 0 < int(found["port"]) < 65536:
        raise BadInput("That address has a port that cannot be.", remedy=_ASK, field="calendar")
    scheme = "http" if found["scheme"].casefold() == "http" else "https"
    port = "" if found["port"] is None else f":{int(found['port'])}"
    return f"{scheme}://{found['host'].casefold()}{port}{found['rest'] or '/'}"


def host_of(address: str) -> str:
    """All of an address that may be shown: the machine it lies on."""
    found = _ADDRESS.match(address)
    return found["host"].casefold() if found is not None else "its host"


def shown_address(address: str) -> str:
    """`https://calendar.example/…`"""
    return f"{address.partition('://')[0]}://{host_of(address)}/…"
