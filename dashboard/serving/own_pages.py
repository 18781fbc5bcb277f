"""Our own plain pages besides Streamlit's: HTML without script, nothing from elsewhere."""

from __future__ import annotations

from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined
from starlette.requests import Request
from starlette.responses import HTMLResponse
from starlette.types import ASGIApp, ExceptionHandler, Message, Receive, Scope, Send

from dashboard.core.failures import failure_sentences, for_anybody, known_problem, log_failure
from dashboard.screen.menu import at
from db.errors import BadInput, StoreError
from modeling.errors import ModelError


def page(template: str, status: int = 200, **facts: object) -> HTMLResponse:
    """Return one of our own pages, which browsers must not cache."""
    told = {"message": "", "club": "", **facts}
    html = _templates().get_template(template).render(told)
    return HTMLResponse(html, status_code=status, headers={"Cache-Control": "no-store"})


async def show_problem(_request: Request, error: Exception) -> HTMLResponse:
    """Answer a request that could not be served with the sentence of the error."""
    heading, sentence = known_problem(error) or ("", str(error))
    status = 503
    if isinstance(error, BadInput | ModelError):
        heading, status = "This file cannot be made", 400
    return page("trouble.html", status, heading=heading, sentence=for_anybody(sentence))


exception_handlers: dict[type[Exception], ExceptionHandler] = {
    StoreError: show_problem,
    ModelError: show_problem,
}
"""What answers when a route raises one of these."""


async def answered(app: ASGIApp, scope: Scope, receive: Receive, send: Send) -> None:
    """Let an application answer, and say so if it breaks; for routes only this place does.

    Half an answer must not look like a whole one, so a break in the middle is left to the server,
    which logs it and cuts the connection. So are breaks in websockets, which show nothing.
    """
    begun = scope["type"] != "http"

    async def noting(message: Message) -> None:
        nonlocal begun
        begun = True
        await send(message)

    try:
        await app(scope, receive, noting)
    except Exception as error:
        if begun:
            raise
        what = failure_sentences("this", "Go back and try again.", log_failure(error))
        answer = page("trouble.html", 500, heading="This could not be done", sentence=what)
        await answer(scope, receive, send)


@cache
def _templates() -> Environment:
    loader = PackageLoader("dashboard", "assets")
    made = Environment(loader=loader, autoescape=True, undefined=StrictUndefined, trim_blocks=True)
    made.globals["at"] = at
    return made
