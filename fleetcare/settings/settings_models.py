"""The shape of settings.toml: every key with what it may hold. An environment variable is held to the same."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Annotated, Any
from urllib.parse import urlsplit

from pydantic import AfterValidator, BaseModel, BeforeValidator, Field

from fleetcare.errors import BadInput, shown
from fleetcare.fleet.reply_address import ReplyAddresses
from fleetcare.language import saying
from fleetcare.settings.book_models import Strict, wrong
from fleetcare.settings.catalogues import LANGUAGES
from fleetcare.settings.sections import FitWhen, Security, openings_in


def _one_word(text: str) -> str:
    if any(not sign.isprintable() or sign.isspace() for sign in text):
        raise wrong(
            saying("{text_} holds a blank or a sign that cannot be seen.", text_=shown(text, 40)), "Write it without."
        )
    return text


def _printable(text: str) -> str:
    if any(not sign.isprintable() for sign in text):
        raise wrong("The text holds a sign that cannot be seen.", "Write it again, on one line.")
    return text.strip()


def _base_url(text: str) -> str:
    _one_word(text)
    try:
        parts = urlsplit(text)
        fits = parts.scheme in ("http", "https") and bool(parts.hostname) and parts.port != 0
    except ValueError:
        fits = False
    else:
        fits = fits and not (parts.query or parts.fragment or "@" in parts.netloc or "?" in text or "#" in text)
    if not fits:
        raise wrong(
            saying("{text_} is no address of a site.", text_=shown(text, 60)), 'Write it as "https://garage.example".'
        )
    return text.rstrip("/")


def _mail_address(text: str) -> str:
    _one_word(text)
    name, _, place = text.rpartition("@")
    if text and not (name and "." in place.strip(".") and "@" not in name and not set(text) & set('<>(),;:"\\')):
        raise wrong(saying("{text_} is no mail address.", text_=shown(text, 60)), 'Write it as "garage@example.org".')
    return text


def _language(text: str) -> str:
    code = text.strip().casefold()
    if code not in LANGUAGES:
        raise wrong(
            saying("{text_} is no language that is here.", text_=shown(text, 40)),
            saying("There are: {languages}.", languages=", ".join(LANGUAGES)),
        )
    return code


def _languages(text: str) -> str:
    return " ".join(_language(word) for word in text.split())


def _whole_as_decimal(value: Any) -> Any:
    return Decimal(value) if type(value) is int else value


_Word = Annotated[str, Field(max_length=254), AfterValidator(_one_word)]
_Port = Annotated[int, Field(ge=0, le=65_535)]


class WebIn(Strict):
    """[web]."""

    base_url: Annotated[str, Field(max_length=400), AfterValidator(_base_url)] | None = None
    host: _Word | None = None
    port: _Port | None = None
    open_house: bool | None = None
    sends_a_minute_address: Annotated[int, Field(ge=0, le=1_000_000)] | None = None
    sends_a_minute_key: Annotated[int, Field(ge=0, le=1_000_000)] | None = None


class MailIn(Strict):
    """[mail]."""

    host: _Word | None = None
    port: Annotated[int, Field(ge=1, le=65_535)] | None = None
    security: Annotated[Security, Field(strict=False)] | None = None
    user: Annotated[str, Field(max_length=254), AfterValidator(_printable)] | None = None
    password: Annotated[str, Field(max_length=1000)] | None = Field(default=None, repr=False)
    from_address: Annotated[str, Field(max_length=254), AfterValidator(_mail_address)] | None = None
    from_name: Annotated[str, Field(max_length=120), AfterValidator(_printable)] | None = None
    timeout_s: Annotated[Decimal, BeforeValidator(_whole_as_decimal), Field(gt=0, le=600)] | None = None
    total_timeout_s: Annotated[Decimal, BeforeValidator(_whole_as_decimal), Field(gt=0, le=3600)] | None = None
    ca_file: Annotated[str, Field(max_length=1000), AfterValidator(_printable)] | None = None
    command: Annotated[str, Field(max_length=1000), AfterValidator(_printable)] | None = None


def _reply_pattern(text: str) -> str:
    if text:
        try:
            ReplyAddresses(text)
        except BadInput as bad:
            raise wrong(bad.what, bad.remedy) from None
    return text


class RepliesIn(Strict):
    """[replies]."""

    host: _Word | None = None
    port: Annotated[int, Field(ge=1, le=65_535)] | None = None
    security: Annotated[Security, Field(strict=False)] | None = None
    user: Annotated[str, Field(max_length=254), AfterValidator(_printable)] | None = None
    password: Annotated[str, Field(max_length=1000)] | None = Field(default=None, repr=False)
    folder: Annotated[str, Field(min_length=1, max_length=200), AfterValidator(_printable)] | None = None
    address: Annotated[str, Field(max_length=254), AfterValidator(_reply_pattern)] | None = None
    every_minutes: Annotated[int, Field(ge=1, le=1440)] | None = None
    timeout_s: Annotated[Decimal, BeforeValidator(_whole_as_decimal), Field(gt=0, le=600)] | None = None
    total_timeout_s: Annotated[Decimal, BeforeValidator(_whole_as_decimal), Field(gt=0, le=3600)] | None = None
    ca_file: Annotated[str, Field(max_length=1000), AfterValidator(_printable)] | None = None


class LettersIn(Strict):
    """[letters]."""

    enabled: bool | None = None


class ForecastIn(Strict):
    """[forecast]."""

    fit: Annotated[FitWhen, Field(strict=False)] | None = None


def _openings(text: str) -> str:
    try:
        openings_in(text)
    except ValueError:
        what = saying("{text_} names something that is no numeric address.", text_=shown(text, 60))
        raise wrong(what, 'Write it as "127.0.0.1:8000 fd00::/8", blanks between.') from None
    return text


def _ports(text: str) -> str:
    if not re.fullmatch(r"\s*([0-9]{1,5}(\s+|$))*", text) or any(not 0 < int(port) < 65536 for port in text.split()):
        raise wrong(
            saying("{text_} is no list of ports.", text_=shown(text, 60)), 'Write it as "8443 9443", blanks between.'
        )
    return text


class CalendarsIn(Strict):
    """[calendars]."""

    enabled: bool | None = None
    every_minutes: Annotated[int, Field(ge=5, le=1440)] | None = None
    allow: Annotated[str, Field(max_length=1000), AfterValidator(_openings)] | None = None
    ports: Annotated[str, Field(max_length=200), AfterValidator(_ports)] | None = None


class PlanIn(Strict):
    """[plan]."""

    again: bool | None = None
    take: bool | None = None


class LanguageIn(Strict):
    """[language]."""

    garage: Annotated[str, AfterValidator(_language)] | None = None
    offered: Annotated[str, Field(max_length=100), AfterValidator(_languages)] | None = None


class BackupIn(Strict):
    """[backup]."""

    kept: Annotated[int, Field(ge=0, le=1000)] | None = None
    folder: Annotated[str, Field(min_length=1, max_length=1000), AfterValidator(_printable)] | None = None


class SettingsIn(Strict):
    """settings.toml, every key optional."""

    web: WebIn = WebIn()
    mail: MailIn = MailIn()
    replies: RepliesIn = RepliesIn()
    letters: LettersIn = LettersIn()
    forecast: ForecastIn = ForecastIn()
    calendars: CalendarsIn = CalendarsIn()
    backup: BackupIn = BackupIn()
    plan: PlanIn = PlanIn()
    language: LanguageIn = LanguageIn()


SECTIONS: dict[str, type[BaseModel]] = {
    "web": WebIn,
    "mail": MailIn,
    "replies": RepliesIn,
    "letters": LettersIn,
    "forecast": ForecastIn,
    "calendars": CalendarsIn,
    "backup": BackupIn,
    "plan": PlanIn,
    "language": LanguageIn,
}


def known_keys() -> dict[str, tuple[str, ...]]:
    """Keys of settings.toml by section."""
    return {name: tuple(section.model_fields) for name, section in SECTIONS.items()}
