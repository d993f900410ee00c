"""What every request meets first: the host it asks for, where it comes from, how large and how slow it is.

Pure ASGI, so that a body is counted and timed as it is read, whatever its headers say.
"""

from __future__ import annotations

import asyncio
import hmac
import secrets
from dataclasses import dataclass
from hashlib import sha256
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import cookie_parser
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

COOKIE = "geartrack_page"
TOKEN_HEADER, TOKEN_FIELD = "x-geartrack-token", "token"
READING = frozenset({"GET", "HEAD", "OPTIONS"})
HEADERS = {
    "content-security-policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; connect-src 'self';"
        " font-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
    ),
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=()",
}


@dataclass(frozen=True)
class Limits:
    """How much is read of a request, and how long it may take.

    body_bytes: of a usual request; upload_bytes: of one to a path in `uploads`; seconds [s]: for a whole body;
    silent_seconds [s]: between two pieces of it.
    """

    body_bytes: int = 1_000_000
    upload_bytes: int = 400_000_000
    seconds: float = 300.0
    silent_seconds: float = 20.0
    uploads: tuple[str, ...] = ("/open", "/scan")


class TooMuch(Exception):
    """A body larger than its limit."""


class TooSlow(Exception):
    """A body that does not come."""


class Safety:
    """The middleware: refuses strangers before anything else looks at a request."""

    def __init__(self, app: ASGIApp, *, hosts: frozenset[str], secret: bytes, limits: Limits | None = None) -> None:
        self.app, self.hosts, self.secret, self.limits = app, hosts, secret, limits or Limits()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on with its body counted, or answer it with a refusal."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        page = cookie_parser(headers.get("cookie", "")).get(COOKIE, "")
        fresh = "" if page else secrets.token_urlsafe(18)
        scope.setdefault("state", {})["token"] = token(self.secret, page or fresh)
        sender = _Sender(send, fresh)
        refusal = self._refused(scope, headers)
        if refusal is not None:
            await refusal(scope, receive, sender)
            return
        await self._passed_on(scope, receive, sender)

    def _refused(self, scope: Scope, headers: Headers) -> PlainTextResponse | None:
        if headers.get("host", "").lower() not in self.hosts:
            return PlainTextResponse("This page answers to its own address only.\n", 421)
        if scope["method"] in READING:
            return None
        if not self._same_origin(headers):
            return PlainTextResponse("Changes are taken from the page itself only.\n", 403)
        length = headers.get("content-length", "")
        if length and (not length.isdecimal() or int(length) > self._most(scope)):
            return PlainTextResponse(f"Too large: up to {self._most(scope):,} bytes are read here.\n", 413)
        return None

    def _same_origin(self, headers: Headers) -> bool:
        """Whether a change comes from this page: by Origin, else by what else the browser says of where it is from."""
        if "origin" in headers:
            found = urlsplit(headers["origin"])
            return found.scheme == "http" and found.netloc.lower() in self.hosts
        if "sec-fetch-site" in headers:
            return headers["sec-fetch-site"] in ("same-origin", "none")
        return "referer" not in headers or urlsplit(headers["referer"]).netloc.lower() in self.hosts

    def _most(self, scope: Scope) -> int:
        upload = any(scope["path"].endswith(end) for end in self.limits.uploads)
        return self.limits.upload_bytes if upload else self.limits.body_bytes

    async def _passed_on(self, scope: Scope, receive: Receive, sender: _Sender) -> None:
        most, read, clock = self._most(scope), 0, asyncio.get_running_loop().time
        ends, whole = clock() + self.limits.seconds, False

        async def counted() -> Message:
            nonlocal read, whole
            if whole:
                return await receive()
            try:
                wait = min(self.limits.silent_seconds, ends - clock())
                message = await asyncio.wait_for(receive(), max(wait, 0.0))
            except TimeoutError:
                raise TooSlow("The rest of it did not come in time; nothing was changed.") from None
            read += len(message.get("body", b""))
            if read > most:
                raise TooMuch(f"Too large: up to {most:,} bytes are read here; nothing was changed.")
            whole = not message.get("more_body", False)
            return message

        try:
            await self.app(scope, counted, sender)
        except (TooMuch, TooSlow) as fault:
            if not sender.started:
                status = 413 if isinstance(fault, TooMuch) else 408
                answer = PlainTextResponse(f"{fault}\n", status, {"connection": "close"})
                await answer(scope, receive, sender)


class _Sender:
    """Sends on, with the headers that every answer carries."""

    def __init__(self, send: Send, fresh: str) -> None:
        self._send, self._fresh, self.started = send, fresh, False

    async def __call__(self, message: Message) -> None:
        """Send one message on."""
        if message["type"] == "http.response.start":
            self.started = True
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
            headers.setdefault("cache-control", "no-store")
            if self._fresh:
                headers.append("set-cookie", f"{COOKIE}={self._fresh}; Path=/; HttpOnly; SameSite=Strict")
        await self._send(message)


def token(secret: bytes, page: str) -> str:
    """What a form must carry to change anything: only this server, with the page's cookie, can make it."""
    return hmac.new(secret, page.encode(), sha256).hexdigest()


def token_holds(expected: str, given: object) -> bool:
    """Whether a form's token is the page's."""
    return isinstance(given, str) and hmac.compare_digest(expected.encode(), given.encode())
