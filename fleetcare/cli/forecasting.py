"""The command that answers from lines alone: forecast. It needs no home and keeps nothing."""

from __future__ import annotations

import os
import stat
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, BinaryIO, NamedTuple

import typer

from fleetcare.cli.frame import BAD_INPUT, command
from fleetcare.cli.progress import progress_bar
from fleetcare.errors import BadInput, BadSettings, shown
from fleetcare.language import saying

_TELL_EVERY = 64
"""Lines between two looks at the progress bar."""


@command("forecast")
def forecast(
    file: Annotated[str, typer.Argument(metavar="FILE|-", help="Lines of JSON; standard input if left out.")] = "-",
    numbers: Annotated[
        Path | None, typer.Option("--numbers", help="Numbers of the forecast to use, as in config/forecast.toml.")
    ] = None,
) -> None:
    """Due dates for vehicles given as lines of JSON, one vehicle a line in, one line out.

    \b
    {"id": "c17", "unit": "km", "as_of": "2023-05-14", "in_service": "2017-02-03",
     "readings": [["2022-11-02", 83211], ["2023-05-10", 89102]],
     "trips": [["2023-06-20", 900]], "parked": [["2023-07-01", "2023-09-01"]],
     "services": [{"id": "a", "due_at": 95000, "not_after": "2024-01-15"},
                  {"id": "b", "remaining": 2500}]}
    {"id": "c17", "services": {"a": ["2023-10-03", "2023-11-28", "2024-01-15"],
     "b": ["2023-06-20", "2023-06-27", "2023-09-28"]}, "suspect": []}

    (Shown on several lines here; each is one line.) Dates are early, likely and late: the service falls due before them
    in 10, 50 and 90 of 100 cases. null is never: past the year 2200, or nothing to count from. suspect lists the places
    of readings held to be wrong, from 0; they are not used.

    unit is km, mi or h. due_at is a value on the dial; without a reading it is counted from nought on the in_service
    date, and gives null without that. remaining counts from as_of, and is used where the dial is not known. not_after
    is a day it must not pass. readings stand by day. parked names the first day and the day of return.

    Also taken: max_per_day, the most it can do in a day (else 1600 km, 24 h); vouched, the places of readings somebody
    has confirmed; digits, of the dial; rolls_over, true if it begins anew at nought after them.

    A line that cannot be taken is named on standard error and has no answer; the others have theirs. The status is then
    2.
    """
    from fleetcare.due.vehicle_lines import vehicle_dates
    from fleetcare.intake.vehicle_lines import MOST_BYTES, answer_line, parse_vehicle_line
    from fleetcare.settings.forecast_file import load_priors
    from fleetcare.settings.places import SHIPPED_FORECAST, shipped_config

    if numbers is not None and not numbers.is_file():
        raise BadSettings(
            saying("There is no file {numbers}.", numbers=shown(str(numbers), 200)),
            remedy="Name a file with forecast numbers.",
        )
    priors = load_priors(shipped_config() / SHIPPED_FORECAST, numbers)
    refused = 0
    with _lines_of(file, MOST_BYTES) as lines, _answers() as answers:
        for line in lines:
            try:
                if line.is_too_long:
                    raise BadInput(
                        saying("The line is longer than {megabytes} MB.", megabytes=MOST_BYTES // 1_000_000),
                        remedy="Split it.",
                    )
                answer = answer_line(vehicle_dates(parse_vehicle_line(line.text), priors))
            except BadInput as error:
                refused += 1
                where = f"line {line.number}, {error.field}" if error.field else f"line {line.number}"
                typer.echo(f"{where}: {error}", err=True)
                continue
            answers.write(f"{answer}\n".encode("ascii"))
            if line.is_waited_for:
                answers.flush()
    if refused:
        raise typer.Exit(BAD_INPUT)


class _Line(NamedTuple):
    """One line of the input that is not blank. is_waited_for: whoever writes the lines may wait for the answer."""

    number: int
    text: bytes
    is_too_long: bool
    is_waited_for: bool


@contextmanager
def _lines_of(file: str, most_bytes: int) -> Iterator[Iterator[_Line]]:
    """The lines of a file, or of standard input for `-`; one at a time, never more of one than `most_bytes`."""
    if file == "-":
        yield _numbered(sys.stdin.buffer, most_bytes)
        return
    try:
        stream = open(file, "rb")  # noqa: SIM115 - closed below
    except OSError as error:
        why = (error.strerror or "it cannot be read").lower()
        raise BadInput(
            saying("{file} cannot be read: {why}.", file=shown(file, 200), why=why),
            remedy="Name a file, or - for input.",
        ) from None
    with stream, progress_bar() as tell:
        size = os.fstat(stream.fileno()).st_size

        def told() -> Iterator[_Line]:
            done = 0
            for at, line in enumerate(_numbered(stream, most_bytes)):
                if at % _TELL_EVERY == 0:
                    tell("kB read", done // 1000, size // 1000)
                done += len(line.text)
                yield line

        yield told()


def _numbered(stream: BinaryIO, most_bytes: int) -> Iterator[_Line]:
    is_waited_for = not _is_plain_file(stream)
    number = 0
    while text := stream.readline(most_bytes + 1):
        number += 1
        is_too_long = len(text) > most_bytes
        while is_too_long and not text.endswith(b"\n"):
            text = stream.readline(most_bytes)
            if not text:
                break
        if number == 1:
            text = text.removeprefix(b"\xef\xbb\xbf")
        if text.strip() or is_too_long:
            yield _Line(number, text, is_too_long, is_waited_for)


def _is_plain_file(stream: BinaryIO) -> bool:
    try:
        return stat.S_ISREG(os.fstat(stream.fileno()).st_mode)
    except OSError:  # no file of the machine at all
        return False


@contextmanager
def _answers() -> Iterator[BinaryIO]:
    """Standard output; a reader that has gone away ends the command in peace."""
    try:
        yield sys.stdout.buffer
        sys.stdout.buffer.flush()
    except BrokenPipeError:
        # What is still in the buffer would be written, and fail again, when the process ends.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
