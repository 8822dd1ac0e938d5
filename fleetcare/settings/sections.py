"""What can be set, section by section, checked and frozen; values only."""

from __future__ import annotations

import ipaddress
import re
from dataclasses import dataclass, field, replace
from enum import StrEnum
from pathlib import Path

DEFAULT_HOST = "127.0.0.1"
DEFAULT_PORT = 8642


class FitWhen(StrEnum):
    """How often a serving garage learns its own forecast numbers by itself."""

    MONTHLY = "monthly"
    NEVER = "never"


class Security(StrEnum):
    """How the connection to the mail server is kept private."""

    STARTTLS = "starttls"
    TLS = "tls"
    NONE = "none"


@dataclass(frozen=True, slots=True)
class WebSettings:
    """Where the pages are. `base_url` has no stroke at its end; links in letters and feeds begin with it."""

    base_url: str
    host: str = DEFAULT_HOST
    port: int = DEFAULT_PORT
    open_house: bool = False
    """Pages may be looked at without coming in."""
    sends_a_minute_address: int = 300
    """Forms and API calls that one network address may send in a minute; 0 for no limit."""
    sends_a_minute_key: int = 60
    """The same for one link or API key."""
    base_url_given: bool = False
    """False: `base_url` follows from host and port."""

    def at(self, host: str, port: int) -> WebSettings:
        """The same, listening elsewhere; the base address follows unless it was given."""
        base_url = self.base_url if self.base_url_given else default_base_url(host, port)
        return replace(self, host=host, port=port, base_url=base_url)


@dataclass(frozen=True, slots=True)
class MailSettings:
    """The mail server or program that letters are handed to. Neither: letters stay in the home."""

    host: str = ""
    port: int = 587
    security: Security = Security.STARTTLS
    user: str = ""
    password: str = field(default="", repr=False)
    from_address: str = ""
    from_name: str = ""
    timeout_s: float = 30.0
    """For each command; also the longest wait for a connection."""
    total_timeout_s: float = 300.0
    """For one letter in all, the wait after its last line included."""
    ca_file: Path | None = None
    """Authorities that the server's certificate is checked against; None: those of the machine."""
    command: str = ""
    """A program that takes letters on its standard input; if it is set, no server is called."""

    @property
    def goes_out(self) -> bool:
        """True if letters are handed to anybody."""
        return bool(self.host or self.command)


@dataclass(frozen=True, slots=True)
class LetterSettings:
    """Whether letters are written at all."""

    enabled: bool = True


@dataclass(frozen=True, slots=True)
class ReplySettings:
    """The mailbox that answers to reading requests are read from, over IMAP. Without host and address none is."""

    host: str = ""
    port: int = 993
    security: Security = Security.TLS
    user: str = ""
    password: str = field(default="", repr=False)
    folder: str = "INBOX"
    address: str = ""
    """What answers are sent to, with {key} where the key of the request stands."""
    every_minutes: int = 2
    timeout_s: float = 30.0
    total_timeout_s: float = 300.0
    ca_file: Path | None = None

    @property
    def is_read(self) -> bool:
        """True if answers are taken by mail."""
        return bool(self.host and self.address)


@dataclass(frozen=True, slots=True)
class ForecastSettings:
    """Whether the numbers of the forecast are learned by themselves; `fleetcare fit` learns them either way."""

    fit: FitWhen = FitWhen.MONTHLY


@dataclass(frozen=True, slots=True)
class CalendarSettings:
    """How often other people's calendars are read by their URL, and which machines may be called for it."""

    enabled: bool = True
    every_minutes: int = 60
    allow: tuple[tuple[str, int], ...] = ()
    """Networks that may be called although they are not public, each with a port, or 0 for any."""
    ports: tuple[int, ...] = ()
    """That may be called at public addresses beside 80 and 443."""


@dataclass(frozen=True, slots=True)
class PlanSettings:
    """Whether a serving garage works its plan out again when something has changed, and takes it by itself."""

    again: bool = True
    take: bool = False


@dataclass(frozen=True, slots=True)
class BackupSettings:
    """How many daily backups a serving garage keeps in its home, and where; 0 keeps none."""

    kept: int = 7
    folder: str = "backups"
    """Below the home, or an absolute path: another disk is the better place."""


@dataclass(frozen=True, slots=True)
class LanguageSettings:
    """The garage's own language, for letters and for who asks for none, and those that people may choose."""

    garage: str = "en"
    offered: tuple[str, ...] = ("en", "de")


@dataclass(frozen=True, slots=True)
class Settings:
    """Everything that can be set, checked. The database address may hold a password and is never shown."""

    home: Path
    database: str = field(repr=False)
    web: WebSettings
    mail: MailSettings
    letters: LetterSettings
    forecast: ForecastSettings = ForecastSettings()
    calendars: CalendarSettings = CalendarSettings()
    backup: BackupSettings = BackupSettings()
    plan: PlanSettings = PlanSettings()
    replies: ReplySettings = ReplySettings()
    language: LanguageSettings = LanguageSettings()

    @property
    def database_shown(self) -> str:
        """The database address without user and password, for messages."""
        return re.sub(r"//[^@/]*@", "//", self.database.partition("?")[0])


def default_base_url(host: str, port: int) -> str:
    """http://HOST:PORT as one opens it on this machine; a server for every address is opened at localhost."""
    name = "localhost" if host in ("0.0.0.0", "::", "") else f"[{host}]" if ":" in host else host  # noqa: S104
    return f"http://{name}:{port}"


def openings_in(text: str) -> tuple[tuple[str, int], ...]:
    """Networks with their ports: `127.0.0.1:8000 [::1]:8000 fd00::/8`; port 0 stands for any. Raises ValueError."""
    found: list[tuple[str, int]] = []
    for word in text.split():
        with_port = re.fullmatch(r"\[([0-9A-Fa-f:.]+)\]:([0-9]{1,5})|([0-9.]+):([0-9]{1,5})", word)
        network, port = word, 0
        if with_port is not None:
            network, port = with_port[1] or with_port[3], int(with_port[2] or with_port[4])
            if not 0 < port < 65536:
                raise ValueError("no port")
        found.append((str(ipaddress.ip_network(network, strict=False)), port))
    return tuple(found)
