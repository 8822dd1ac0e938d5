"""Names the real parts and puts them together, once."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import closing
from dataclasses import dataclass
from datetime import timedelta
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Self

from fleetcare.actions.gather import Rules
from fleetcare.actions.ports import Composer, Mailer, PhotoShelf, Store
from fleetcare.chance import KeyMaker, RandomKeys
from fleetcare.clock import Clock, MachineClock
from fleetcare.language import Tongues, tr
from fleetcare.settings.garage_rules import OWN_CONFIG, RulesKept, load_rules, own_book_path, tongues_of
from fleetcare.settings.places import (
    OWN_JOBS,
    SETTINGS_FILE,
    SHIPPED_FINDINGS,
    SHIPPED_GEAR_OILS,
    SHIPPED_JOBS,
    SHIPPED_TAG_BANDS,
    SHIPPED_WORKSHOP,
    shipped_config,
)
from fleetcare.settings.sections import Settings
from fleetcare.settings.settings import load_settings

if TYPE_CHECKING:
    from fleetcare.actions.bay_ground import Workplace
    from fleetcare.actions.kept_outlooks import KeptOutlooks
    from fleetcare.actions.read_calendars import CalendarDesk
    from fleetcare.actions.sheet_visits import Shop
    from fleetcare.actions.write_letters import Desk
    from fleetcare.book.jobs import JobBook
    from fleetcare.fleet.gear_oil import GearOils
    from fleetcare.fleet.reply_address import ReplyAddresses
    from fleetcare.fleet.tag_bands import TagBand
    from fleetcare.mail_in.mailbox import ImapMailbox
    from fleetcare.page.render import Pages
    from fleetcare.store.backup_file import Contents
    from fleetcare.store.sql_store import SqlStore
    from fleetcare.work.findings import FindingBook

LETTERS_FOLDER = "letters"
SERVED_AT_FILE = "served-at"
KEPT_FILES = (SETTINGS_FILE, OWN_CONFIG, SERVED_AT_FILE)
"""What belongs to a home beside its database and its photos."""
NO_SENDER = "garage@fleetcare.invalid"
"""Stands in letters that lie in the folder while no sender is set; such a name can never be delivered to (RFC 2606)."""


@dataclass(frozen=True)
class Parts:
    """Everything an entry point works with. What is slow to load is made when it is first asked for."""

    settings: Settings
    home: Path
    kept_rules: RulesKept
    store: Store
    clock: Clock
    keys: KeyMaker
    served_at: str = ""
    """Base address under which this home is served, or was last; empty if it never was."""

    @property
    def tongues(self) -> Tongues:
        """The languages of this garage."""
        return tongues_of(self.settings)

    @property
    def rules(self) -> Rules:
        """What the garage goes by now."""
        return self.kept_rules.now()

    @property
    def base_url(self) -> str:
        """Where the pages are reached from outside, without a stroke at the end.

        Unless it is set, it is where this home was served last, so that a command beside the server names the same
        addresses as the server does.
        """
        web = self.settings.web
        return web.base_url if web.base_url_given or not self.served_at else self.served_at

    @property
    def letters_folder(self) -> Path:
        """Where letters lie while no mail server is set."""
        return self.home / LETTERS_FOLDER

    @cached_property
    def kept_outlooks(self) -> KeptOutlooks:
        """What this process has worked out of where vehicles stand."""
        from fleetcare.actions.kept_outlooks import KeptOutlooks

        return KeptOutlooks()

    @cached_property
    def pages(self) -> Pages:
        """The page templates."""
        from fleetcare.page.render import Pages

        return Pages()

    @cached_property
    def desk(self) -> Desk:
        """What letters are written with."""
        from fleetcare.actions.write_letters import Desk

        return Desk(
            keys=self.keys,
            composer=self.composer,
            base_url=self.base_url,
            replies=self.reply_addresses,
            tongues=self.tongues,
        )

    @cached_property
    def composer(self) -> Composer:
        """Puts letters into envelopes."""
        from fleetcare.mailer.message import Envelopes

        mail = self.settings.mail
        return Envelopes(from_name=mail.from_name, from_address=mail.from_address or NO_SENDER)

    @cached_property
    def mailer(self) -> Mailer:
        """Takes letters where the settings say: to a mail server, to a program, or into the folder of letters."""
        return self._new_mailer()

    @cached_property
    def second_mailer(self) -> Mailer:
        """One more of the same, for while the first waits for an answer; there is never a third."""
        return self._new_mailer()

    @property
    def letter_lease(self) -> timedelta:
        """For how long a letter that is being sent is nobody else's: longer than its mailer can take for it."""
        return timedelta(seconds=self.settings.mail.total_timeout_s + 60.0)

    def _new_mailer(self) -> Mailer:
        mail = self.settings.mail
        if mail.command:
            from fleetcare.mailer.pipe import PipeMailer

            return PipeMailer(mail.command, from_address=mail.from_address, timeout_s=mail.total_timeout_s)
        if not mail.host:
            from fleetcare.mailer.folder import FolderMailer

            return FolderMailer(self.letters_folder)
        from fleetcare.mailer.smtp import SmtpMailer

        return SmtpMailer(
            host=mail.host,
            port=mail.port,
            security=mail.security,
            user=mail.user,
            password=mail.password,
            from_address=mail.from_address,
            timeout_s=mail.timeout_s,
            total_timeout_s=mail.total_timeout_s,
            ca_file=mail.ca_file,
        )

    @cached_property
    def reply_addresses(self) -> ReplyAddresses | None:
        """Where answers to reading requests are sent to; None if they are not taken by mail."""
        from fleetcare.fleet.reply_address import ReplyAddresses

        given = self.settings.replies
        return ReplyAddresses(given.address) if given.is_read else None

    @cached_property
    def mailbox(self) -> ImapMailbox | None:
        """The mailbox that these answers come to; None if they are not taken by mail."""
        from fleetcare.mail_in.mailbox import ImapMailbox

        given, addresses = self.settings.replies, self.reply_addresses
        if addresses is None:
            return None
        return ImapMailbox(
            host=given.host,
            port=given.port,
            security=given.security,
            user=given.user,
            password=given.password,
            folder=given.folder,
            addresses=addresses,
            timeout_s=given.timeout_s,
            total_timeout_s=given.total_timeout_s,
            ca_file=given.ca_file,
        )

    @cached_property
    def calendar_desk(self) -> CalendarDesk:
        """What other people's calendars are read with."""
        from fleetcare.actions.read_calendars import CalendarDesk
        from fleetcare.calendar_in.reader import HttpCalendars
        from fleetcare.intake.numbers import parse_amount

        given = self.settings.calendars
        return CalendarDesk(HttpCalendars(openings=given.allow, ports=given.ports), parse_amount)

    @cached_property
    def jobs(self) -> JobBook:
        """How each service is done: the shipped jobs, overlaid by the home's own."""
        from fleetcare.settings.job_files import load_jobs

        return load_jobs(shipped_config() / SHIPPED_JOBS, self.home / OWN_CONFIG / OWN_JOBS)

    @cached_property
    def shop(self) -> Shop:
        """What a step of a sheet needs beside the store."""
        from fleetcare.actions.sheet_visits import Shop

        return Shop(self.jobs, self.base_url)

    @cached_property
    def tag_bands(self) -> tuple[TagBand, ...]:
        """Between which ends the figures of a tag plausibly lie."""
        from fleetcare.settings.tag_band_file import load_tag_bands

        return load_tag_bands(shipped_config() / SHIPPED_TAG_BANDS, self.home / OWN_CONFIG / SHIPPED_TAG_BANDS)

    @cached_property
    def findings(self) -> FindingBook:
        """What may be found and what follows from it: the shipped book, overlaid by the home's own."""
        from fleetcare.settings.finding_files import load_findings

        return load_findings(shipped_config() / SHIPPED_FINDINGS, self.home / OWN_CONFIG / SHIPPED_FINDINGS)

    @property
    def workplace(self) -> Workplace:
        """What bay days are planned with: the shipped prices and hours, overlaid by the home's own, and the jobs."""
        from fleetcare.actions.bay_ground import Workplace
        from fleetcare.settings.workshop_file import load_workshop

        found = load_workshop(shipped_config() / SHIPPED_WORKSHOP, self.home / OWN_CONFIG / SHIPPED_WORKSHOP)
        return Workplace(found.prices, found.hours, self.jobs, found.days_off.between, found.skills)

    @cached_property
    def photos(self) -> PhotoShelf:
        """The photos in the home."""
        from fleetcare.store.photo_folder import FOLDER, PhotoFolder

        return PhotoFolder(self.home / FOLDER)

    @cached_property
    def gear_oils(self) -> GearOils:
        """The grades of gear oil."""
        from fleetcare.settings.gear_oil_file import load_gear_oils

        return load_gear_oils(shipped_config() / SHIPPED_GEAR_OILS)

    @property
    def mail_note(self) -> str:
        """What the front page says while letters cannot go out; empty if they can."""
        if self.settings.mail.goes_out:
            return ""
        return tr("Letters lie in the folder {folder}; no mail server is set.", folder=self.letters_folder)

    def back_up(self, path: Path, *, progress: Callable[[str, int, int], None]) -> Contents:
        """Writes a backup of the whole home. Raises what `make_backup` raises."""
        from fleetcare.store.backup_file import make_backup
        from fleetcare.store.sql_store import open_store

        with closing(open_store(self.settings.database)) as store:
            return make_backup(store, self.home, path, now=self.clock.now(), kept=KEPT_FILES, progress=progress)

    def bring_feeds_up(self) -> int:
        """Has calendars show what was entered while somebody waited; of how many vehicles. Raises StoreTrouble."""
        from fleetcare.actions.bring_feeds_up import bring_feeds_up

        return bring_feeds_up(self.store, self.rules, now=self.clock.now(), base_url=self.base_url)

    def keep_daily_copy(self) -> bool:
        """Makes today's backup if it is not there yet; True if one was made. Raises what `back_up` raises."""
        from fleetcare.store.daily_copies import keep_daily_copy

        given = self.settings.backup
        if not given.kept:
            return False
        today = self.clock.now().date()
        return keep_daily_copy(self.home / given.folder, today, self._back_up_quietly, kept=given.kept)

    def _back_up_quietly(self, path: Path) -> Contents:
        return self.back_up(path, progress=lambda what, done, of: None)

    def close(self) -> None:
        """Closes the store."""
        self.store.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *failure: object) -> None:
        self.close()


def assemble(
    home: Path,
    environ: Mapping[str, str],
    *,
    clock: Clock | None = None,
    keys: KeyMaker | None = None,
    overrides: Mapping[str, str] | None = None,
) -> Parts:
    """The parts for one home.

    overrides: settings given on the command line, named as in the environment (`FLEETCARE_WEB_PORT`); they win.
    Raises BadSettings, BadFile, StoreTrouble.
    """
    from fleetcare.store.sql_store import open_store

    settings = load_settings(home, {**environ, **(overrides or {})})
    return Parts(
        settings=settings,
        home=home,
        kept_rules=RulesKept(load_rules(home, settings), own_book_path(home), lambda: load_rules(home, settings)),
        store=open_store(settings.database),
        clock=clock or MachineClock(),
        keys=keys or RandomKeys(),
        served_at=_served_at(home),
    )


def restore_home(
    home: Path,
    environ: Mapping[str, str],
    path: Path,
    *,
    over: bool,
    progress: Callable[[str, int, int], None],
    clock: Clock | None = None,
) -> tuple[Contents, tuple[Path, ...]]:
    """Puts a backup back into a home: what it held, and where what stood there before lies now.

    Raises BadSettings, and what `put_back` raises.
    """
    from fleetcare.actions.after_restore import feeds_after_restore
    from fleetcare.store.put_back import put_back

    settings = load_settings(home, environ)
    now = (clock or MachineClock()).now()

    def take_up(store: SqlStore, unpacked: Path) -> None:
        unpacked_settings = load_settings(unpacked, environ)
        web = unpacked_settings.web
        base_url = web.base_url if web.base_url_given else _served_at(unpacked) or web.base_url
        feeds_after_restore(store, load_rules(unpacked, unpacked_settings), now=now, base_url=base_url)

    return put_back(path, home, database=settings.database, now=now, over=over, take_up=take_up, progress=progress)


def note_served_at(home: Path, base_url: str) -> None:
    """Leaves word of where a home is served, for commands that run beside the server."""
    home.mkdir(parents=True, exist_ok=True)
    (home / SERVED_AT_FILE).write_text(f"{base_url}\n", encoding="utf-8")


def _served_at(home: Path) -> str:
    try:
        return (home / SERVED_AT_FILE).read_text(encoding="utf-8").strip()
    except OSError:
        return ""
