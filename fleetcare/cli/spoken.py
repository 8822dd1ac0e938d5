"""In which language a command answers people; data (`--json`) and help are always English.

As `--language` asks; else as the machine is set, by LC_ALL, LC_MESSAGES or LANG in this order (POSIX.1-2017, Base
Definitions, 8.2), where the garage offers that language; else the garage's own.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from fleetcare.errors import BadInput, FleetcareError, shown
from fleetcare.language import ENGLISH, chosen, saying, speak, speaking

if TYPE_CHECKING:
    from fleetcare.language import Tongues

LOCALES = ("LC_ALL", "LC_MESSAGES", "LANG")
_ASKED: ContextVar[str] = ContextVar("asked", default="")


@dataclass(slots=True)
class _Answer:
    """How one command answers. is_settled: its language is known."""

    is_data: bool
    is_settled: bool = False


_ANSWER: ContextVar[_Answer | None] = ContextVar("answer", default=None)


def ask_for(code: str) -> None:
    """What `--language` says, for the command that follows; empty for nothing."""
    _ASKED.set(code.strip())


@contextmanager
def answering(*, is_data: bool) -> Iterator[None]:
    """Within it a command runs: in English, until `speak_as_asked`."""
    before = _ANSWER.set(_Answer(is_data))
    try:
        with speaking(ENGLISH):
            yield
    finally:
        _ANSWER.reset(before)


def speak_as_asked(tongues: Tongues, environ: Mapping[str, str]) -> None:
    """From here on the command that runs answers in its language. Raises BadInput if one is asked that is not offered.

    Outside of a command, or if data are asked for, nothing changes.
    """
    answer = _ANSWER.get()
    if answer is None or answer.is_settled:
        return
    answer.is_settled = True
    if answer.is_data:
        return
    asked = _ASKED.get()
    if not asked:
        speak(tongues.to(chosen((machine_language(environ),), tongues.offered) or ""))
        return
    code = chosen((asked,), tongues.offered)
    speak(tongues.to(code or ""))
    if code is None:
        raise BadInput(
            saying("The language {text_} is not offered here.", text_=shown(asked, 20)),
            remedy=saying(
                "There are: {offered}; others by offered in [language] of settings.toml.",
                offered=", ".join(tongues.offered),
            ),
            field="language",
        )


def speak_of_trouble(home: Path | None) -> None:
    """The same for a command that came to grief before it knew its home's languages; never raises."""
    answer = _ANSWER.get()
    if answer is None or answer.is_settled or answer.is_data:
        return
    from fleetcare.language import Tongues
    from fleetcare.settings.catalogues import LANGUAGES, tongue_of
    from fleetcare.settings.places import SETTINGS_FILE, environment, home_folder

    environ = environment()
    tongues = Tongues(ENGLISH.code, LANGUAGES, tongue_of)
    try:
        folder = home_folder(home, environ)
        if (folder / SETTINGS_FILE).is_file():
            from fleetcare.settings.settings import load_settings

            language = load_settings(folder, environ).language
            tongues = Tongues(language.garage, language.offered, tongue_of)
        speak_as_asked(tongues, environ)
    except FleetcareError:
        # What went wrong first is told; which languages there are is known well enough for that.
        return


def machine_language(environ: Mapping[str, str]) -> str:
    """The language of the machine's messages, such as `de-DE` for `de_DE.UTF-8`; empty for none, or for C."""
    name = next((environ[each] for each in LOCALES if environ.get(each)), "")
    code = name.partition(".")[0].partition("@")[0]
    return "" if code in ("C", "POSIX") else code.replace("_", "-")
