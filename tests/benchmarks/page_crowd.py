"""People who turn pages without a browser, by speaking to the server as Streamlit's script does.

Twenty browsers would share two cores with the server that we measure; the people of a club have
their own machines.
"""

from __future__ import annotations

import asyncio
import random
import time
from collections.abc import Sequence
from dataclasses import dataclass

from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from websockets.asyncio.client import ClientConnection, connect
from websockets.typing import Subprotocol

from dashboard.serving.gate import SESSION_COOKIE

__all__ = ["Answers", "crowd"]

LARGEST_MESSAGE = 64 * 2**20


@dataclass
class Answers:
    """Seconds from asking for each page until its script had run, and a count of exceptions."""

    seconds: list[float]
    exceptions: int = 0


def crowd(address: str, tokens: Sequence[str], seconds: float, pause: float) -> Answers:
    """Let people turn from one of their pages to another, about every `pause` seconds.

    Parameters
    ----------
    address
        The server's address, with its scheme.
    tokens
        A web session's token for each person.
    seconds, pause
        How long they go on, and how long each looks at a page on average.
    """
    answers = Answers([])

    async def everybody() -> None:
        until = time.monotonic() + seconds
        people = enumerate(tokens)
        await asyncio.gather(
            *(_person(answers, address, token, until, pause, number) for number, token in people)
        )

    asyncio.run(everybody())
    return answers


async def _person(
    answers: Answers, address: str, token: str, until: float, pause: float, number: int
) -> None:
    chance = random.Random(number)
    await asyncio.sleep(chance.uniform(0, pause))
    async with connect(
        f"{address.replace('http', 'ws', 1)}/_stcore/stream",
        additional_headers={"Cookie": f"{SESSION_COOKIE}={token}", "Origin": address},
        subprotocols=[Subprotocol("streamlit")],
        max_size=LARGEST_MESSAGE,
    ) as socket:
        pages = await _turn(socket, "", answers)
        while time.monotonic() < until:
            await asyncio.sleep(chance.uniform(0.5, 1.5) * pause)
            started = time.perf_counter()
            await _turn(socket, chance.choice(pages), answers)
            answers.seconds.append(time.perf_counter() - started)


async def _turn(socket: ClientConnection, page: str, answers: Answers) -> list[str]:
    """Ask for a page, read until its script has run, and return the pages on offer."""
    asked = BackMsg()
    asked.rerun_script.page_script_hash = page
    asked.rerun_script.query_string = ""
    await socket.send(asked.SerializeToString())
    pages: list[str] = []
    async for frame in socket:
        told = ForwardMsg.FromString(frame)
        kind = told.WhichOneof("type")
        if kind == "navigation":
            pages = [each.page_script_hash for each in told.navigation.app_pages]
        elif kind == "delta" and told.delta.new_element.WhichOneof("type") == "exception":
            answers.exceptions += 1
        elif kind == "script_finished" and told.script_finished == ForwardMsg.FINISHED_SUCCESSFULLY:
            return pages
    raise ConnectionError("The server closed the connection in the middle of a page.")
