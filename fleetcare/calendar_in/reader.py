"""Reads a calendar by its URL: asks for it, takes it apart in a child process, and says what it holds."""

from __future__ import annotations

import ssl
from collections.abc import Collection, Iterable
from datetime import date

from fleetcare.calendar_in.addresses import Opening, may_call
from fleetcare.calendar_in.child import answer_of_child
from fleetcare.calendar_in.connecting import JudgeAddress
from fleetcare.calendar_in.expanding import Task
from fleetcare.calendar_in.fetching import fetch, host_and_port, keep_addresses_out_of_logs
from fleetcare.calendar_in.limits import Limits
from fleetcare.calendar_in.values import copy_from
from fleetcare.errors import BadSettings
from fleetcare.fleet.busy import CalendarAnswer, CalendarSource, days_to_see, wants_whole


class HttpCalendars:
    """Implements the `CalendarReader` port. Safe to use from several threads at once.

    openings: networks (with a port, or 0 for any) that may be called although they are not public; ports: those that
    may be called at public addresses beside 80 and 443. tls: in place of the machine's own authorities.
    """

    def __init__(
        self,
        *,
        openings: Iterable[tuple[str, int]] = (),
        ports: Collection[int] = (),
        limits: Limits = Limits(),  # noqa: B008 - frozen
        tls: ssl.SSLContext | None = None,
    ) -> None:
        """Calls nobody yet. Raises BadSettings for an opening that is no network."""
        try:
            self._openings = tuple(Opening.of(network, port) for network, port in openings)
        except ValueError:
            raise BadSettings("A network that may be called is none.", remedy="Write it as 127.0.0.1:8000.") from None
        self._ports = frozenset(ports)
        self._limits = limits
        self._tls = tls
        keep_addresses_out_of_logs()

    def read(self, source: CalendarSource, *, zone: str, today: date) -> CalendarAnswer:
        """What the calendar holds on the days that are looked at, as seen in `zone`. Raises CalendarTrouble."""
        whole = wants_whole(source, today)
        fetched = fetch(
            source.url,
            etag="" if whole else source.etag,
            last_modified="" if whole else source.last_modified,
            judge=lambda host, port: self._judge(source, host, port),
            limits=self._limits,
            tls=self._tls or ssl.create_default_context(),
        )
        if fetched.body is None:
            return CalendarAnswer(None, fetched.etag or source.etag, fetched.last_modified or source.last_modified)
        days = days_to_see(today)
        task = Task(zone, days.first, days.end, fetched.charset, self._limits)
        copy = copy_from(answer_of_child(fetched.body, task), task, read_on=today)
        return CalendarAnswer(copy, fetched.etag, fetched.last_modified)

    def _judge(self, source: CalendarSource, host: str, port: int) -> JudgeAddress:
        """A private address is vouched for where the calendar's own URL leads, never where a redirect leads on to."""
        vouched_for = source.may_be_private and host_and_port(source.url) == (host, port)
        return lambda address, to: may_call(
            address, to, openings=self._openings, ports=self._ports, vouched_for=vouched_for
        )
