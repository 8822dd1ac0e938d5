"""What the server writes goes out at once, however small it is."""

from __future__ import annotations

import asyncio
import socket

from fleetcare.web.server import open_socket


async def _sends_at_once(listening: socket.socket) -> bool:
    """Whether the server's end of a connection to that socket has TCP_NODELAY."""
    told: asyncio.Future[bool] = asyncio.get_running_loop().create_future()

    def came(_reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        end = writer.get_extra_info("socket")
        told.set_result(end.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY) != 0)
        writer.close()

    async with await asyncio.start_server(came, sock=listening):
        _, writer = await asyncio.open_connection(*listening.getsockname()[:2])
        answer = await asyncio.wait_for(told, 20)
        writer.close()
        await writer.wait_closed()
    return answer


def test_the_body_of_an_answer_does_not_wait_for_the_readers_word_that_its_head_has_come() -> None:
    with open_socket("127.0.0.1", 0) as listening:
        assert asyncio.run(_sends_at_once(listening))


def test_the_guard_sees_a_socket_that_does_not_say_it_is_tcp() -> None:
    # Breaks it once on purpose: asyncio goes by `proto`, and 0 stands for "whatever fits".
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as plain:
        plain.bind(("127.0.0.1", 0))
        assert not asyncio.run(_sends_at_once(plain))
