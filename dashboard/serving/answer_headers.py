"""Headers of all answers, whoever gives them: nothing is embedded, sniffed or sent elsewhere.

Forms need an Origin to be checked against, hence the referrer policy `same-origin`: `no-referrer`
would make browsers send `Origin: null`.
"""

from __future__ import annotations

from collections.abc import Mapping

COMMON_HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}
NO_SCRIPT_POLICY = {
    "default-src": "'none'",
    "style-src": "'unsafe-inline'",
    "img-src": "data:",
    "frame-ancestors": "'none'",
    "base-uri": "'none'",
    "form-action": "'none'",
}
"""For a page of words alone."""


def headers_with(policy: Mapping[str, str]) -> dict[str, str]:
    """Return the headers of an answer with what it may load, by kind, where from."""
    rules = "; ".join(f"{name} {value}" for name, value in policy.items())
    return {"Content-Security-Policy": rules, **COMMON_HEADERS}
