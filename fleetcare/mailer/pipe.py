"""Letters through a program of this machine that takes one on its standard input, as sendmail has done for ever."""

from __future__ import annotations

import contextlib
import os
import shlex
import signal
import subprocess
from collections.abc import Sequence

from fleetcare.errors import BadInput, BadSettings, DeliveryFailed, shown
from fleetcare.language import saying
from fleetcare.mailer.message import checked_address

_FOR_GOOD = {65: "the letter is malformed", 67: "there is no such recipient", 68: "there is no such host"}
"""Ends that are about this letter. Source: sysexits.h of 4.3BSD (EX_DATAERR, EX_NOUSER, EX_NOHOST); every other end is
trouble of the program or of its set-up, and trying again later is of use."""
_ONE_LETTER = {*_FOR_GOOD, 75}
"""75, EX_TEMPFAIL: taken in principle, not now."""
_WORDS_KEPT = 400


class PipeMailer:
    """Hands each letter to a program: `COMMAND -i -f SENDER -- RECIPIENT`, the message on its standard input.

    `-i`: a line with a single dot does not end the message. Lines end with a bare line feed, as such programs expect.
    The program is called directly, never through a shell, in a session of its own, and is ended when its time is over.
    """

    def __init__(self, command: str, *, from_address: str, timeout_s: float = 60.0) -> None:
        """command: the program by its whole path, and further words for it. Raises BadSettings."""
        try:
            self._command = tuple(shlex.split(command))
        except ValueError as torn:
            raise BadSettings(
                saying("{command} is no command ({torn}).", command=shown(command), torn=torn), field="command"
            ) from torn
        if not self._command or not os.path.isabs(self._command[0]):
            raise BadSettings(
                "The command for letters names no program by its whole path.",
                remedy="Write it as /usr/sbin/sendmail.",
                field="command",
            )
        if timeout_s <= 0:
            raise BadSettings("A time limit for mail is more than nothing.", remedy="Give it in seconds.")
        try:
            self._from = checked_address(from_address, field="from_address")
        except BadInput as bad:
            raise BadSettings(bad.what, remedy=bad.remedy, field=bad.field) from bad
        self._timeout_s = timeout_s

    def send(self, raw: bytes, to_mail: str, *, next_to_mail: str | None = None) -> str:
        """Hands one message over; the answer says that the program took it.

        Raises DeliveryFailed: permanent if the program says that letter or recipient can never be taken; otherwise not,
        and `server_away` if the program could not be run, or has trouble that is not this letter's.
        """
        try:
            recipient = checked_address(to_mail)
        except BadInput as bad:
            raise DeliveryFailed(str(bad), permanent=True) from bad
        words = (*self._command, "-i", "-f", self._from, "--", recipient)
        status, said = self._run(words, raw.replace(b"\r\n", b"\n"))
        if status == 0:
            return f"taken by {os.path.basename(self._command[0])}"
        why = said or _FOR_GOOD.get(status, f"it ended with {status}")
        raise DeliveryFailed(
            f"{os.path.basename(self._command[0])} did not take the letter: {why}",
            permanent=status in _FOR_GOOD,
            server_away=status not in _ONE_LETTER,
        )

    def finish(self) -> None:
        """Nothing is kept open."""

    def _run(self, words: Sequence[str], message: bytes) -> tuple[int, str]:
        """Exit status, and what the program said on its error output, in one printable line."""
        try:
            # In a session of its own, so that what it has started can be ended with it.
            program = subprocess.Popen(  # noqa: S603 - the words are settings and checked addresses, and no shell reads them
                words,
                stdin=subprocess.PIPE,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.PIPE,
                start_new_session=True,
            )
        except OSError as trouble:
            raise DeliveryFailed(
                f"The program {words[0]} cannot be run: {trouble.strerror or trouble}.",
                permanent=False,
                server_away=True,
            ) from trouble
        with program:
            try:
                _, said = program.communicate(message, timeout=self._timeout_s)
            except subprocess.TimeoutExpired as slow:
                _end(program)
                raise DeliveryFailed(
                    f"{os.path.basename(words[0])} took too long; the letter may have gone out.", permanent=False
                ) from slow
            except BaseException:
                _end(program)
                raise
        return program.returncode, _one_line(said)


def _end(program: subprocess.Popen[bytes]) -> None:
    with contextlib.suppress(ProcessLookupError, PermissionError):
        os.killpg(program.pid, signal.SIGKILL)
    for stream in (program.stdin, program.stdout, program.stderr):
        if stream is not None:
            with contextlib.suppress(OSError):
                stream.close()


def _one_line(said: bytes) -> str:
    text = said[: 4 * _WORDS_KEPT].decode("utf-8", "replace")
    return " ".join("".join(ch if ch.isprintable() else " " for ch in text).split())[:_WORDS_KEPT]
