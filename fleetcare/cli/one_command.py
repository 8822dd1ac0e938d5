"""Only the options of the command that was called are read: those of all of them took most of the time of a start."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from itertools import chain

import typer


@contextmanager
def only_the_called(app: typer.Typer, words: Sequence[str]) -> Iterator[None]:
    """Within it, every command but the one these words call has no options, as nobody will see them.

    Names and first lines of help stay, for the list of commands and for what is said of a name that is none.
    """
    names = {
        *(each.name for each in app.registered_commands),
        *(
            name
            for each in app.registered_groups
            if each.typer_instance is not None
            for name in (each.name, each.typer_instance.info.name)
        ),
    }
    # An option may stand before it with a value of its own, which names none: --language de plan.
    called = next((word for word in words if word in names), "")
    others = chain(
        (each for each in app.registered_commands if each.name != called),
        *(
            group.typer_instance.registered_commands
            for group in app.registered_groups
            if group.typer_instance is not None and called not in (group.name, group.typer_instance.info.name)
        ),
    )
    whole = [(each, each.callback) for each in others]
    for each, callback in whole:
        each.callback = _without_options(callback)
    try:
        yield
    finally:
        for each, callback in whole:
            each.callback = callback


def _without_options(callback: Callable[..., object] | None) -> Callable[[], None]:
    def unread() -> None:
        raise AssertionError("a command that was not called")

    unread.__doc__ = getattr(callback, "__doc__", None)
    return unread
