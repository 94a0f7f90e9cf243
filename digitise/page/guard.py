"""Who may speak to the page: only a browser on this machine that was given the address.

A page of another site that the person also has open can send requests to 127.0.0.1 and can have a name of
its own resolve to it. It cannot know the token, cannot send our Host, and a browser says where it comes from.
"""

from __future__ import annotations

import hmac
import json
from typing import Any

from starlette.datastructures import Headers
from starlette.types import ASGIApp, Message, Receive, Scope, Send

LARGEST_BODY_BYTES = 4 * 2**20

POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self'",
        "connect-src 'self'",
        "base-uri 'none'",
        "form-action 'none'",
        "frame-ancestors 'none'",
    )
)
HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "x-frame-options": "DENY",
}


class Guard:
    """Checks Host, Origin, token and size of every request, and adds the headers that bind the browser."""

    def __init__(self, app: ASGIApp, token: str, port: int) -> None:
        self.app = app
        self.token = token
        self.hosts = (f"127.0.0.1:{port}", f"localhost:{port}")

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """ASGI."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return  # no websockets here
        refusal = self._refusal(scope)
        if refusal is not None:
            await _refuse(send, *refusal)
            return
        body = await _whole_body(receive)
        if body is None:
            await _refuse(send, 413, "too much was sent at once")
            return

        async def again() -> Message:
            return {"type": "http.request", "body": body, "more_body": False}

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                given = {name.lower() for name, _ in message["headers"]}
                extra = [(k.encode(), v.encode()) for k, v in HEADERS.items() if k.encode() not in given]
                if b"cache-control" not in given:
                    extra.append((b"cache-control", b"no-store"))
                message["headers"] = [*message["headers"], *extra]
            await send(message)

        await self.app(scope, again, with_headers)

    def _refusal(self, scope: Scope) -> tuple[int, str] | None:
        headers = Headers(scope=scope)
        host = headers.get("host", "")
        if host not in self.hosts:
            return 403, "this address is not the page's"
        origin = headers.get("origin")
        own = f"http://{host}"
        if origin is not None and origin != own:
            return 403, "another site may not speak to this page"
        if scope["method"] not in ("GET", "HEAD") and origin != own:
            return 403, "another site may not speak to this page"
        if headers.get("sec-fetch-site", "none") not in ("none", "same-origin"):
            return 403, "another site may not speak to this page"
        first = scope["path"].split("/", 2)[1]
        if not hmac.compare_digest(first.encode("utf-8", "replace"), self.token.encode()):
            return 404, "there is nothing here: use the address that digitise printed"
        said = headers.get("content-length") or "0"
        if not said.isdecimal() or int(said) > LARGEST_BODY_BYTES:
            return 413, "too much was sent at once"
        return None


async def _whole_body(receive: Receive) -> bytes | None:
    """The request's body, or None where it is larger than allowed, whatever its length was said to be."""
    body = bytearray()
    while True:
        message = await receive()
        if message["type"] == "http.disconnect":
            return bytes(body)
        body += message.get("body", b"")
        if len(body) > LARGEST_BODY_BYTES:
            return None
        if not message.get("more_body"):
            return bytes(body)


async def _refuse(send: Send, status: int, words: str) -> None:
    content: dict[str, Any] = {"error": words}
    data = json.dumps(content).encode()
    headers = [(b"content-type", b"application/json"), (b"cache-control", b"no-store")]
    headers += [(k.encode(), v.encode()) for k, v in HEADERS.items()]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": data})
