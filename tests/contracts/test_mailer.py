"""Every mailer takes whole messages, answers each with a sentence or a refusal, and ends a batch without harm."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from fleetcare.actions.ports import Mailer
from fleetcare.errors import DeliveryFailed
from fleetcare.mailer.folder import FolderMailer
from fleetcare.mailer.pipe import PipeMailer
from fleetcare.mailer.smtp import SmtpMailer
from tests.mailer.letters import FROM, LETTER, TO, message
from tests.mailer.programs import keeping_program
from tests.mailer.servers import RealServer
from tests.stand_ins import KeptLetters


@dataclass(frozen=True)
class Post:
    """A mailer, what arrived by it, and how to make the next letter to an address fail."""

    mailer: Mailer
    arrived: Callable[[], list[bytes]]
    refuse_once: Callable[[bool], None]


@pytest.fixture(params=["kept", "folder", "pipe", "smtp"])
def post(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Post]:
    """Each mailer in turn."""
    if request.param == "kept":
        kept = KeptLetters()

        def refuse(permanent: bool) -> None:
            kept.refusals[TO] = [DeliveryFailed("550 no" if permanent else "450 later", permanent=permanent)]

        yield Post(kept, lambda: [raw for _, raw in kept.sent], refuse)
    elif request.param == "folder":
        folder = tmp_path / "letters"

        def block(permanent: bool) -> None:
            if permanent:
                pytest.skip("a folder refuses nobody for good")
            folder.write_bytes(b"in the way")

        yield Post(FolderMailer(folder), lambda: [p.read_bytes() for p in sorted(folder.glob("*.eml"))], block)
    elif request.param == "pipe":
        program = keeping_program(tmp_path / "program")

        def end(permanent: bool) -> None:
            program.end_next_with(67 if permanent else 75, "no such user" if permanent else "later")

        # The program is given bare line feeds; on the wire they are CRLF again.
        arrived = lambda: [raw.replace(b"\n", b"\r\n") for raw in program.messages]  # noqa: E731
        yield Post(PipeMailer(program.command, from_address=FROM, timeout_s=30), arrived, end)
    else:
        with RealServer() as server:
            mailer = SmtpMailer("127.0.0.1", server.port, "none", from_address=FROM, timeout_s=10)

            def answer(permanent: bool) -> None:
                server.answers[TO] = "550 5.1.1 no such user" if permanent else "450 4.2.1 later"

            yield Post(mailer, lambda: [one.content for one in server.kept], answer)
            mailer.finish()


def test_a_message_arrives_octet_for_octet_and_is_answered(post: Post) -> None:
    raw = message()
    assert post.mailer.send(raw, TO).strip()
    post.mailer.finish()
    assert post.arrived() == [raw]


def test_a_batch_of_letters_arrives_each_once(post: Post) -> None:
    raws = [message(message_id=f"<{number}@karstridge.example>") for number in range(5)]
    for raw in raws:
        post.mailer.send(raw, TO)
    post.mailer.finish()
    assert sorted(post.arrived()) == sorted(raws)


@pytest.mark.parametrize("permanent", [False, True])
def test_a_refusal_says_whether_trying_again_is_any_use_and_nothing_arrives(post: Post, permanent: bool) -> None:
    post.refuse_once(permanent)
    with pytest.raises(DeliveryFailed) as refusal:
        post.mailer.send(message(), TO)
    assert refusal.value.permanent is permanent
    assert refusal.value.answer.strip() == str(refusal.value)
    post.mailer.finish()
    assert post.arrived() == []


def test_one_refused_letter_does_not_hold_up_the_next(post: Post) -> None:
    if isinstance(post.mailer, FolderMailer):
        pytest.skip("a folder takes everybody's letters or nobody's")
    post.refuse_once(True)
    with pytest.raises(DeliveryFailed):
        post.mailer.send(message(), TO)
    other = message(type(LETTER)(LETTER.kind, "Ines", "ines@x.example", "Hello", "Hello", "<p>Hello</p>"))
    post.mailer.send(other, "ines@x.example")
    post.mailer.finish()
    assert post.arrived() == [other]


def test_a_batch_may_end_before_it_began_twice_over_and_another_follow(post: Post) -> None:
    post.mailer.finish()
    post.mailer.finish()
    post.mailer.send(message(), TO)
    post.mailer.finish()
    post.mailer.send(message(message_id="<second@karstridge.example>"), TO)
    post.mailer.finish()
    assert len(post.arrived()) == 2
