"""Headers of every answer: nothing may be embedded, sniffed or sent elsewhere.

The referrer policy is `same-origin` because forms are checked by their Origin, and `no-referrer`
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
"""For a page that is only text."""


def headers_with(policy: Mapping[str, str]) -> dict[str, str]:
    """Return the headers of an answer; `policy` says, by kind, from where it may load things."""
    rules = "; ".join(f"{name} {value}" for name, value in policy.items())
    return {"Content-Security-Policy": rules, **COMMON_HEADERS}
