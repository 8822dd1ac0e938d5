"""What all commands share: the home they work on, answers as words or JSON, and one plain line when something is wrong.

Exit status: 0 done, 1 looked and found something wrong, 2 bad input, 3 not now (try again).
"""

from __future__ import annotations

import functools
import json
import re
import sys
from collections.abc import Callable, Sequence
from io import TextIOWrapper
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, NoReturn, ParamSpec, TypeVar

import typer
from typer.core import TyperGroup

from fleetcare import __version__
from fleetcare.cli.one_command import only_the_called
from fleetcare.cli.spoken import answering, ask_for, speak_as_asked, speak_of_trouble
from fleetcare.errors import DeliveryFailed, FleetcareError, SearchTrouble, StoreTrouble

if TYPE_CHECKING:
    from fleetcare.assemble import Parts

WRONG = 1
BAD_INPUT = 2
NOT_NOW = 3

_CANNOT_BE_READ: type[Exception] = typer.BadParameter.__mro__[1]
"""What is raised for a command line that cannot be read. Typer names only its child for us, and where the parent lives
depends on the version of Typer."""


class _Commands(TyperGroup):
    """The group of all commands; a command line that cannot be read is answered in one line, like any bad input."""

    def main(
        self,
        args: Sequence[str] | None = None,
        prog_name: str | None = None,
        complete_var: str | None = None,
        standalone_mode: bool = True,
        windows_expand_args: bool = True,
        **extra: Any,
    ) -> Any:
        """Runs a command line; with `standalone_mode` it ends the process with the exit status."""
        try:
            status = super().main(args, prog_name, complete_var, False, windows_expand_args, **extra)
        except _CANNOT_BE_READ as error:
            if not standalone_mode:
                raise
            typer.echo(_one_line(error), err=True)
            sys.exit(BAD_INPUT)
        if standalone_mode:
            sys.exit(status or 0)
        return status


def _one_line(error: Any) -> str:
    """What cannot be read of a command line, and where to look."""
    given = getattr(error, "option_name", "")
    if re.fullmatch(r"-[0-9.,]", given):
        return f"A dial never shows less than nought, and “{given}” is no option. Digits only, please."
    words = " ".join(str(error.format_message()).split())
    where = error.ctx.command_path if getattr(error, "ctx", None) is not None else "fleetcare"
    return f"{words if words.endswith(('.', ')', '?')) else words + '.'} See: {where} --help"


app = typer.Typer(
    name="fleetcare",
    cls=_Commands,
    help="When the next service is due, given how each vehicle is really used.",
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


def command(name: str, group: typer.Typer | None = None) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Registers a command whose errors become one line on standard error and an exit status.

    group: of a command of two words, such as `calendar add`.
    """

    def register(function: Callable[P, R]) -> Callable[P, R]:
        @functools.wraps(function)
        def answered(*args: P.args, **kwargs: P.kwargs) -> R:
            with answering(is_data=bool(kwargs.get("as_json"))):
                try:
                    return function(*args, **kwargs)
                except FleetcareError as error:
                    home = kwargs.get("home")
                    speak_of_trouble(home if isinstance(home, Path) else None)
                    stop(error)

        (group or app).command(name)(answered)
        return answered

    return register


def stop(error: FleetcareError) -> NoReturn:
    """Says what is wrong and ends with the status that fits."""
    typer.echo(error.words(), err=True)
    again = isinstance(error, StoreTrouble | SearchTrouble) or (
        isinstance(error, DeliveryFailed) and not error.permanent
    )
    raise typer.Exit(NOT_NOW if again else BAD_INPUT)


def say(text: str = "") -> None:
    """One line for people."""
    typer.echo(text)


def show_bytes(octets: bytes) -> None:
    """Octets as they are, with nothing added."""
    typer.echo(octets, nl=False)


def show_data(data: Any) -> None:
    """One line of JSON."""
    typer.echo(json.dumps(data, ensure_ascii=False))


def home_folder(home: Path | None) -> Path:
    """The home that was named, or the usual one."""
    from fleetcare.settings.places import environment
    from fleetcare.settings.places import home_folder as usual

    return usual(home, environment())


def parts_of(home: Path | None, *, overrides: dict[str, str] | None = None) -> Parts:
    """The parts of a home, put together: `with parts_of(home) as parts` closes them at the end.

    From here on the command answers in the language that was asked for, or in that of the machine or the garage.
    """
    from fleetcare.assemble import assemble
    from fleetcare.settings.places import environment

    environ = environment()
    parts = assemble(home_folder(home), environ, overrides=overrides)
    try:
        speak_as_asked(parts.tongues, environ)
    except FleetcareError:
        parts.close()
        raise
    return parts


@app.callback(invoke_without_command=True)
def _root(
    context: typer.Context,
    version: Annotated[bool, typer.Option("--version", help="Print the version and stop.", is_eager=True)] = False,
    language: Annotated[
        str,
        typer.Option("--language", help="Answer in this language, en or de; else as the machine or the garage is set."),
    ] = "",
) -> None:
    ask_for(language)
    if version:
        say(__version__)
        raise typer.Exit
    if context.invoked_subcommand is None:
        # Somebody who types the bare name asks what there is; that is no mistake.
        say(context.get_help())


def all_commands() -> typer.Typer:
    """The commands, every one registered."""
    from fleetcare.cli import (  # noqa: F401  (they register themselves)
        backtesting,
        backups,
        bay,
        beginning,
        calendars,
        components,
        drawing,
        files,
        finding,
        fitting,
        forecasting,
        history,
        letters,
        links,
        look,
        look_choice,
        planning,
        refreshing,
        scheduling,
        serving,
        shopping,
        spells,
        tags,
        tokens,
        vehicle_changes,
        vehicles,
        work,
        work_close,
        work_look,
        write,
    )

    return app


def main() -> None:
    """Entry point of the installed command."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            # A terminal that has no thin space or quote sign shows a question mark; it must not stop a command.
            stream.reconfigure(errors="replace")
    commands = all_commands()
    with only_the_called(commands, sys.argv[1:]):
        commands()
