"""Who may speak to the bench: this machine's own page, opened with the address that was printed, and nobody else.

Another site's page can make a browser send requests here. It is refused four times over: the Host header must
be the loopback address itself (a name that was made to point here is refused), an Origin header must be our
own, every request must carry a cookie that such a page's requests never carry, and that cookie is had only for
the secret in the printed address.
"""

from __future__ import annotations

import secrets
from collections.abc import Awaitable, Callable, MutableMapping
from typing import TYPE_CHECKING, Any
from urllib.parse import parse_qs

if TYPE_CHECKING:
    from sheetlark.bench.address import Address

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]


class Guard:
    """An ASGI layer that lets only our own page through."""

    def __init__(self, app: App, address: Address) -> None:
        self.app = app
        self.port = port = address.port
        self.key = address.key
        self._pass = address.token
        self._cookie = f"sheetlark-{port}"
        self._hosts = {f"127.0.0.1:{port}", f"localhost:{port}"}
        self._origins = {f"http://{host}" for host in self._hosts}

    @property
    def address(self) -> str:
        """The address to open, secret included."""
        return f"http://127.0.0.1:{self.port}/?key={self.key}"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, exchange the secret for the cookie, or refuse."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        head = {k.decode("latin-1").lower(): v.decode("latin-1") for k, v in scope["headers"]}
        socket = scope["type"] == "websocket"
        if head.get("host", "") not in self._hosts:
            await _refuse(send, 421, "This address is not the bench's.", socket=socket)
            return
        origin = head.get("origin")
        changes = socket or scope.get("method") not in {"GET", "HEAD"}
        if (origin is not None and origin not in self._origins) or (changes and origin is None):
            await _refuse(send, 403, "Only the bench's own page may do this.", socket=socket)
            return
        if not socket and scope["path"] == "/" and self._opens(scope):
            await self._exchange(send)
            return
        if not secrets.compare_digest(
            _cookie(head.get("cookie", ""), self._cookie).encode(), self._pass.encode()
        ):
            words = "Open the bench with the whole address that `sheetlark bench` printed."
            await _refuse(send, 403, words, socket=socket)
            return
        if socket:
            await self.app(scope, receive, send)
            return
        await self.app(scope, receive, self._hardened(send))

    def _opens(self, scope: Scope) -> bool:
        given = parse_qs(scope.get("query_string", b"").decode("latin-1")).get("key", [""])[0]
        return bool(given) and secrets.compare_digest(given.encode(), self.key.encode())

    async def _exchange(self, send: Send) -> None:
        cookie = f"{self._cookie}={self._pass}; HttpOnly; SameSite=Strict; Path=/"
        headers = [
            (b"location", b"/"),
            (b"set-cookie", cookie.encode()),
            (b"cache-control", b"no-store"),
            (b"referrer-policy", b"no-referrer"),
        ]
        await send({"type": "http.response.start", "status": 303, "headers": headers})
        await send({"type": "http.response.body", "body": b""})

    def _hardened(self, send: Send) -> Send:
        policy = (
            "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; "
            "img-src 'self' blob: data:; "
            f"connect-src 'self' ws://127.0.0.1:{self.port} ws://localhost:{self.port}; "
            "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
        )
        extra = [
            (b"content-security-policy", policy.encode()),
            (b"x-content-type-options", b"nosniff"),
            (b"x-frame-options", b"DENY"),
            (b"referrer-policy", b"no-referrer"),
            (b"cross-origin-opener-policy", b"same-origin"),
            (b"cross-origin-resource-policy", b"same-origin"),
            (b"cache-control", b"no-store"),
        ]

        async def hardened(message: Message) -> None:
            if message["type"] == "http.response.start":
                message = {**message, "headers": [*message.get("headers", []), *extra]}
            await send(message)

        return hardened


def _cookie(header: str, name: str) -> str:
    for pair in header.split(";"):
        key, _, value = pair.strip().partition("=")
        if key == name:
            return value
    return ""


async def _refuse(send: Send, status: int, words: str, *, socket: bool) -> None:
    if socket:
        await send({"type": "websocket.close", "code": 4403, "reason": words})
        return
    headers = [
        (b"content-type", b"text/plain; charset=utf-8"),
        (b"content-security-policy", b"default-src 'none'"),
        (b"x-content-type-options", b"nosniff"),
    ]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": words.encode()})
