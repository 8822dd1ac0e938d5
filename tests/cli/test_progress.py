"""The progress bar: only on a terminal, and only for work that takes over a second."""

from __future__ import annotations

import io

import pytest

from fleetcare.cli.progress import progress_bar


class Terminal(io.StringIO):
    """A terminal that keeps what is drawn on it."""

    def isatty(self) -> bool:
        """It says it is one."""
        return True


def drawn(stream: io.StringIO, moments_s: list[float]) -> str:
    """What is drawn when the work tells of itself at those moments, in seconds since it began."""
    ticks = iter([0.0, *moments_s])
    with progress_bar(stream, tick_s=lambda: next(ticks, moments_s[-1])) as tell:
        for at, _ in enumerate(moments_s, 1):
            tell("working out", at, len(moments_s))
    return stream.getvalue()


def test_work_under_a_second_draws_nothing() -> None:
    assert drawn(Terminal(), [0.2, 0.5, 0.99]) == ""


def test_work_over_a_second_is_drawn_on_a_terminal() -> None:
    assert "working out" in drawn(Terminal(), [0.2, 1.1, 1.2])


def test_without_a_terminal_nothing_is_ever_drawn() -> None:
    assert drawn(io.StringIO(), [0.2, 1.1, 5.0]) == ""


def test_a_bar_is_taken_away_when_the_work_breaks_off() -> None:
    terminal = Terminal()
    with pytest.raises(ValueError, match="broken off"):
        _break_off(terminal)
    assert terminal.getvalue().endswith(("\x1b[2K", "\x1b[?25h", "\r")), "the line is cleared, the cursor is back"


def _break_off(terminal: Terminal) -> None:
    with progress_bar(terminal, tick_s=iter((0.0, 2.0)).__next__) as tell:
        tell("storing", 1, 2)
        raise ValueError("broken off")
