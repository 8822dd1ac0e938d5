"""Of commands that were not called nobody sees more than name and first line, and that is as it was."""

from __future__ import annotations

import pytest
from typer.testing import CliRunner

from fleetcare.cli.frame import all_commands
from fleetcare.cli.one_command import only_the_called

LINES = [
    [],
    ["--help"],
    ["-h"],
    ["--version"],
    ["due", "--help"],
    ["reading", "--help"],
    ["calendar", "--help"],
    ["calendar", "add", "--help"],
    ["vehicle"],
    ["dew"],
    ["calendar", "ad"],
    ["--no-such-option", "due"],
    ["--language", "de", "due", "--help"],
    ["--language", "de", "calendar", "add", "--help"],
]


@pytest.mark.parametrize("words", LINES, ids=" ".join)
def test_what_is_answered_is_the_same(words: list[str]) -> None:
    commands = all_commands()
    whole = CliRunner().invoke(commands, words)
    with only_the_called(commands, words):
        quick = CliRunner().invoke(commands, words)
    assert (quick.exit_code, quick.output) == (whole.exit_code, whole.output)


def test_every_command_is_whole_again_afterwards() -> None:
    commands = all_commands()
    with only_the_called(commands, ["--help"]):
        # The guard can fail: within it, the options of another command are not there.
        assert CliRunner().invoke(commands, ["due", "--within", "30"]).exit_code == 2
    assert "--within" in CliRunner().invoke(commands, ["due", "--help"]).output
