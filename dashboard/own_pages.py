"""Our own plain pages beside Streamlit's: HTML without script, nothing from elsewhere."""

from __future__ import annotations

from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined
from starlette.requests import Request
from starlette.responses import HTMLResponse

from db.errors import BadInput, StoreError


def page(template: str, status: int = 200, **facts: object) -> HTMLResponse:
    """Return one of our own pages; it is never kept by the browser."""
    told = {"message": "", "club": "", **facts}
    html = _templates().get_template(template).render(told)
    return HTMLResponse(html, status_code=status, headers={"Cache-Control": "no-store"})


async def show_store_error(_request: Request, error: StoreError) -> HTMLResponse:
    """Answer a request that the store could not serve with its sentence."""
    status = 400 if isinstance(error, BadInput) else 503
    return page("trouble.html", status, heading=error.title, sentence=error.message)


@cache
def _templates() -> Environment:
    loader = PackageLoader("dashboard", "assets")
    return Environment(loader=loader, autoescape=True, undefined=StrictUndefined, trim_blocks=True)
