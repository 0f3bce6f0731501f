"""Who may ask the desk, and what a browser may do with its answers.

The desk listens on this machine's own address and speaks only to a browser that was given its key. Each check answers a
known attack (OWASP ASVS 4.0.3: 3.4 cookies, 4.2.2 request forgery, 13.2, 14.4 headers, 14.5 host and origin): a foreign
``Host`` is DNS rebinding, a foreign ``Origin`` or a missing token is a forged request, a missing key is another
user of this machine or of the network.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
import time
from collections.abc import Awaitable, Callable, Iterable, MutableMapping
from http.cookies import CookieError, SimpleCookie
from typing import Any
from urllib.parse import urlsplit

from msgspec import Struct, field
from starlette.requests import Request

from reports.words.catalogue import message
from reports.words.reader import Reader, reading
from spooldown.desk.templates import language_of

Scope = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[MutableMapping[str, Any]]]
Send = Callable[[MutableMapping[str, Any]], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

COOKIE = "desk"
TOKEN_FIELD = "token"
TOKEN_HEADER = b"x-token"
SAFE_METHODS = frozenset({"GET", "HEAD"})
PAIRING_S = 300.0
"""A pairing code is good for five minutes."""
TRIES, TRIES_S = 5, 60.0
"""So many wrong codes within a minute, then none is taken for a minute."""

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; connect-src 'self';"
    " form-action 'self'; base-uri 'none'; frame-ancestors 'none'; media-src 'self' blob:"
)
HEADERS = (
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"same-origin"),
    (b"x-frame-options", b"DENY"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
)


class Device(Struct, frozen=True):
    """A browser that may use the desk: its name, when it was let in, and whether it may change anything."""

    name: str
    since: float
    writes: bool = True
    own: bool = False
    """Whether it is this machine's own browser."""


class Keys(Struct):
    """Keys of the browsers that were let in, and codes that let a further one in.

    Only digests of keys are kept. ``secret`` signs the tokens of forms.
    """

    secret: bytes = field(default_factory=lambda: secrets.token_bytes(32))
    clock: Callable[[], float] = time.monotonic
    devices: dict[str, Device] = field(default_factory=dict)
    _codes: dict[str, tuple[float, bool, bool]] = field(default_factory=dict)
    _wrong: list[float] = field(default_factory=list)

    def code(self, *, writes: bool = True, own: bool = False, digits: bool = False) -> str:
        """Make a code that lets one browser in, once, within five minutes."""
        made = f"{secrets.randbelow(10**8):08d}" if digits else secrets.token_urlsafe(24)
        self._codes[_digest(made)] = (self.clock() + PAIRING_S, writes, own)
        return made

    def pair(self, code: str, name: str) -> str | None:
        """Take a code; returns the browser's new key, or None where the code is wrong, used or too old."""
        now = self.clock()
        self._wrong = [t for t in self._wrong if now - t < TRIES_S]
        found = None if len(self._wrong) >= TRIES else self._codes.pop(_digest(code), None)
        if found is None or found[0] < now:
            self._wrong.append(now)
            return None
        key = secrets.token_urlsafe(32)
        self.devices[_digest(key)] = Device(name[:80] or "a browser", time.time(), found[1], found[2])
        return key

    def device(self, key: str) -> Device | None:
        """Who holds this key."""
        return self.devices.get(_digest(key)) if key else None

    def revoke(self, which: str) -> None:
        """Take a browser's key away, by the digest that :attr:`devices` lists it under."""
        self.devices.pop(which, None)

    def token(self, key: str) -> str:
        """The token that every form of this browser carries."""
        return hmac.new(self.secret, key.encode(), hashlib.sha256).hexdigest()

    def good(self, key: str, token: str) -> bool:
        """Whether a token is this browser's."""
        return hmac.compare_digest(self.token(key).encode(), token.encode("utf-8", "surrogatepass"))


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


class Guard:
    """Refuses what is not for the desk, and puts the protecting headers on every answer.

    Parameters
    ----------
    app : ASGI application
    keys : Keys
    hosts : iterable of str
        What the ``Host`` header may say: ``127.0.0.1:8765``, ``localhost:8765``.
    cookie_name : str
        Cookies are shared over the ports of a host, so each desk has a name of its own.
    """

    def __init__(self, app: App, keys: Keys, hosts: Iterable[str], cookie_name: str = COOKIE) -> None:
        self.app, self.keys, self.cookie_name = app, keys, cookie_name
        self.hosts = frozenset(h.casefold() for h in hosts)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, or refuse in one sentence."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":  # no web sockets here
            return
        headers = {k.lower(): v for k, v in scope["headers"]}
        key = _cookie(headers.get(b"cookie", b""), self.cookie_name)
        device = self.keys.device(key)
        if refused := self._refusal(scope, headers, device):
            status, why = refused
            with reading(Reader(language_of(Request(scope)))):
                await _say(send, status, message(f"desk.refused.{why}"))
            return
        scope["state"] = {
            **scope.get("state", {}), "key": key, "device": device, "token": self.keys.token(key) if key else "",
            # The token of a form is in its body, which whoever reads it checks; a script's stands in a header.
            "trusted": self.keys.good(key, headers.get(TOKEN_HEADER, b"").decode("latin-1")) if key else False,
        }  # fmt: skip

        async def guarded(message: MutableMapping[str, Any]) -> None:
            if message["type"] == "http.response.start":
                present = {k.lower() for k, _ in message["headers"]}
                policy = ((b"content-security-policy", POLICY.encode()), (b"cache-control", b"no-store"))
                message["headers"] = [
                    *message["headers"], *HEADERS, *((k, v) for k, v in policy if k not in present)
                ]  # fmt: skip
            await send(message)

        await self.app(scope, receive, guarded)

    def _refusal(
        self, scope: Scope, headers: MutableMapping[bytes, bytes], device: Device | None
    ) -> tuple[int, str] | None:
        host = headers.get(b"host", b"").decode("latin-1").casefold()
        if host not in self.hosts:
            return 421, "host"
        origin = headers.get(b"origin", b"").decode("latin-1")
        if origin and origin != "null" and urlsplit(origin).netloc.casefold() != host:
            return 403, "foreign"
        if scope["method"] not in SAFE_METHODS and (
            origin == "null" or headers.get(b"sec-fetch-site", b"same-origin") not in (b"same-origin", b"none")
        ):
            return 403, "foreign"
        if scope["path"] in OPEN:
            return None
        if device is None:
            return 401, "not_let_in"
        if scope["method"] not in SAFE_METHODS and not device.writes:
            return 403, "reads_only"
        return None


OPEN = frozenset({"/enter", "/pair", "/alive"})
"""What may be asked without a key: to be let in, and whether a desk is here at all."""


def _cookie(header: bytes, name: str) -> str:
    try:
        jar = SimpleCookie(header.decode("latin-1"))
    except CookieError:
        return ""
    return jar[name].value if name in jar else ""


async def _say(send: Send, status: int, sentence: str) -> None:
    body = sentence.encode()
    headers = [(b"content-type", b"text/plain; charset=utf-8"), (b"content-length", str(len(body)).encode()), *HEADERS]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
