"""Ask the club's provider who somebody is, and check its answers.

This is OpenID Connect's authorization code flow with PKCE, state and nonce. All three are made
from one secret, which the browser has in a cookie while its person is away at the provider. So an
answer works in that browser only, and the server has nothing to remember meanwhile.
"""

from __future__ import annotations

import hashlib
import hmac
import time
from collections.abc import Mapping
from threading import Lock
from typing import Any

from authlib.common.errors import AuthlibBaseError
from authlib.integrations.requests_client import OAuth2Session
from authlib.oidc.core import CodeIDToken
from joserfc import jwt
from joserfc.errors import JoseError
from joserfc.jwk import KeySet
from requests import RequestException

from dashboard.sign_in.club_provider import Provider, is_safe

SIGNED_BY = [f"{kind}{bits}" for kind in ("RS", "PS", "ES") for bits in (256, 384, 512)]
"""Never "none", and no algorithm whose checking key can also sign."""
ANSWER_SECONDS = 5.0
CLOCKS_APART_SECONDS = 60
ASK_AGAIN_SECONDS = 5.0
"""Short, to notice that a provider is down before sending a browser there."""


class Silent(Exception):
    """The provider does not answer, or not as a provider should."""


class NotBelieved(Exception):
    """The provider's answer does not prove who somebody is."""


Facts = Mapping[str, Any]


def made_of(secret: str, what: str) -> str:
    """Return the state, the nonce or the verifier made from a browser's secret."""
    return hmac.new(secret.encode(), what.encode(), hashlib.sha256).hexdigest()


def address_to_ask(provider: Provider, secret: str, come_back: str) -> str:
    """Return the address where a browser's person signs in with the provider.

    Raises
    ------
    Silent
        If the provider does not answer.
    """
    facts = _described(provider)
    with _session(provider, come_back) as session:
        address, _ = session.create_authorization_url(
            _address(facts, "authorization_endpoint"),
            state=made_of(secret, "state"),
            nonce=made_of(secret, "nonce"),
            code_verifier=made_of(secret, "verifier"),
        )
    return str(address)


def who_came_back(provider: Provider, secret: str, code: str, come_back: str) -> Facts:
    """Return the provider's facts about who came back with a code: `email`, `email_verified`.

    Raises
    ------
    Silent
        If the provider does not answer.
    NotBelieved
        If the code is not valid, or the answer is not signed by the provider for us, for this
        browser and for now.
    """
    facts = _described(provider)
    try:
        with _session(provider, come_back) as session:
            token = session.fetch_token(
                _address(facts, "token_endpoint"),
                grant_type="authorization_code",
                code=code,
                code_verifier=made_of(secret, "verifier"),
                allow_redirects=False,
            )
            keys: Any = _json(session, _address(facts, "jwks_uri"))
            nonce = made_of(secret, "nonce")
            claims = _checked(provider, token, KeySet.import_key_set(keys), nonce)
            told = "email" in claims or "userinfo_endpoint" not in facts
            return claims if told else _more(session, facts, claims)
    except RequestException as error:
        raise Silent(str(error)) from error
    except (AuthlibBaseError, JoseError, KeyError, TypeError, ValueError) as error:
        raise NotBelieved(repr(error)) from error


def _checked(provider: Provider, token: Facts, keys: KeySet, nonce: str) -> Facts:
    """Return the claims of an ID token that is signed, ours, fresh and for this browser."""
    read = jwt.decode(token["id_token"], keys, algorithms=SIGNED_BY)
    claims = CodeIDToken(
        read.claims,
        read.header,
        {
            "iss": {"essential": True, "value": provider.issuer},
            "aud": {"essential": True, "value": provider.client_id},
        },
        {
            "nonce": nonce,
            "client_id": provider.client_id,
            "access_token": token.get("access_token"),
        },
    )
    claims.validate(leeway=CLOCKS_APART_SECONDS)
    return dict(claims)


def _more(session: OAuth2Session, facts: Facts, claims: Facts) -> Facts:
    """Return the provider's user info, where many have the e-mail address instead."""
    more = _json(session, _address(facts, "userinfo_endpoint"), withhold_token=False)
    if more["sub"] != claims["sub"]:
        raise ValueError("The provider speaks of somebody else.")
    return more


_descriptions: dict[Provider, tuple[float, Facts | Silent]] = {}
_turn = Lock()


def _described(provider: Provider) -> Facts:
    """Return how the provider describes itself, asking at most once every few seconds."""
    with _turn:
        until, facts = _descriptions.get(provider, (0.0, {}))
        if time.monotonic() >= until:
            facts = _ask_for_description(provider)
            _descriptions[provider] = (time.monotonic() + ASK_AGAIN_SECONDS, facts)
    if isinstance(facts, Silent):
        raise Silent(str(facts))
    return facts


def _ask_for_description(provider: Provider) -> Facts | Silent:
    place = f"{provider.issuer.rstrip('/')}/.well-known/openid-configuration"
    try:
        with _session(provider, "") as session:
            facts = _json(session, place)
    except (RequestException, ValueError) as error:
        return Silent(str(error))
    if facts.get("issuer") != provider.issuer:
        return Silent(f"{place} describes the issuer {facts.get('issuer')!r}")
    return facts


def _address(facts: Facts, name: str) -> str:
    address = facts.get(name)
    if not is_safe(address):
        raise Silent(f"the provider's {name} is {address!r}, which is not https")
    return str(address)


def _session(provider: Provider, come_back: str) -> OAuth2Session:
    return OAuth2Session(
        provider.client_id,
        provider.client_secret,
        scope="openid email",
        redirect_uri=come_back,
        code_challenge_method="S256",
        default_timeout=ANSWER_SECONDS,
    )


def _json(session: OAuth2Session, address: str, withhold_token: bool = True) -> dict[str, Any]:
    answer = session.get(address, withhold_token=withhold_token, allow_redirects=False)
    answer.raise_for_status()
    facts = answer.json()
    if answer.status_code != 200 or not isinstance(facts, dict):
        raise ValueError(f"{address} did not answer with a JSON object")
    return facts
