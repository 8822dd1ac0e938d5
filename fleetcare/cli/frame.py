"""What all commands share: the home they work on, answers as words or JSON, and one plain line when something is wrong.

Exit status: 0 done, 1 looked and found something wrong, 2 bad input, 3 not now (try again).
"""

from __future__ import annotations

import functools
import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, NoReturn, ParamSpec, TypeVar

import typer

from fleetcare import __version__
from fleetcare.errors import DeliveryFailed, FleetcareError, StoreTrouble

if TYPE_CHECKING:
    from fleetcare.assemble import Parts

WRONG = 1
BAD_INPUT = 2
NOT_NOW = 3

app = typer.Typer(
    name="fleetcare",
    help="When the next service is due, given how each vehicle is really used.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)

Home = Annotated[
    Path | None,
    typer.Option("--home", help="Folder of the garage; else FLEETCARE_HOME, else the user's data folder."),
]
AsJson = Annotated[bool, typer.Option("--json", help="Print data instead of words.")]

P = ParamSpec("P")
R = TypeVar("R")


def command(name: str) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Registers a command whose errors become one line on standard error and an exit status."""

    def register(function: Callable[P, R]) -> Callable[P, R]:
        @functools.wraps(function)
        def answered(*args: P.args, **kwargs: P.kwargs) -> R:
            try:
                return function(*args, **kwargs)
            except FleetcareError as error:
                stop(error)

        app.command(name)(answered)
        return answered

    return register


def stop(error: FleetcareError) -> NoReturn:
    """Says what is wrong and ends with the status that fits."""
    typer.echo(str(error), err=True)
    again = isinstance(error, StoreTrouble) or (isinstance(error, DeliveryFailed) and not error.permanent)
    raise typer.Exit(NOT_NOW if again else BAD_INPUT)


def say(text: str = "") -> None:
    """One line for people."""
    typer.echo(text)


def show_data(data: Any) -> None:
    """One line of JSON."""
    typer.echo(json.dumps(data, ensure_ascii=False))


def home_folder(home: Path | None) -> Path:
    """The home that was named, or the usual one."""
    from fleetcare.settings.places import environment
    from fleetcare.settings.places import home_folder as usual

    return usual(home, environment())


def parts_of(home: Path | None, *, overrides: dict[str, str] | None = None) -> Parts:
    """The parts of a home, put together."""
    from fleetcare.assemble import assemble
    from fleetcare.settings.places import environment

    return assemble(home_folder(home), environment(), overrides=overrides)


def is_terminal() -> bool:
    """Whether a person looks at standard error, for progress bars."""
    return sys.stderr.isatty()


@app.callback(invoke_without_command=True)
def _root(
    version: Annotated[bool, typer.Option("--version", help="Print the version and stop.", is_eager=True)] = False,
) -> None:
    if version:
        say(__version__)
        raise typer.Exit


def main() -> None:
    """Entry point of the installed command."""
    from fleetcare.cli import files, links, look, serving, write  # noqa: F401  (they register their commands)

    app()
