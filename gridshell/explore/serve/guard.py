"""Who may ask: this machine only, with the key that the command printed, from the page itself."""

from __future__ import annotations

import secrets
from collections.abc import Awaitable, Callable

from aiohttp import web

LARGEST_REQUEST = 64 * 1024  # bytes; a design is below two thousand
HEADERS = {
    # Nothing from elsewhere is ever loaded, and no other page may show this one in a frame.
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
        "connect-src 'self'; form-action 'none'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cache-Control": "no-store",
}

Handler = Callable[[web.Request], Awaitable[web.StreamResponse]]


class Guard:
    """Checks every request before anything of it is read.

    The address that is printed holds a token that works once; it is exchanged for a cookie that
    scripts can't read. A request must name this host (so that a foreign name that resolves to the
    loopback is refused) and, where the browser says where it comes from, come from the page.
    """

    def __init__(self, port: int) -> None:
        self.port = port
        self.token: str | None = secrets.token_urlsafe(24)
        self._key = secrets.token_urlsafe(32)
        self.cookie = f"gridshell-{port}"  # cookies know no ports, so the name does
        self.hosts = (f"127.0.0.1:{port}", f"localhost:{port}")

    @property
    def address(self) -> str:
        """The address that opens the page, once."""
        return f"http://127.0.0.1:{self.port}/?token={self.token}"

    def _has_key(self, request: web.Request) -> bool:
        given = request.cookies.get(self.cookie, "")
        return secrets.compare_digest(given.encode(), self._key.encode())

    def _takes_token(self, request: web.Request) -> bool:
        given = request.query.get("token", "")
        if self.token is None or not secrets.compare_digest(given.encode(), self.token.encode()):
            return False
        self.token = None
        return True

    def refusal(self, request: web.Request) -> str | None:
        """Why a request is refused before its key is looked at; None if it is not."""
        if request.headers.getall("Host", []) not in [[host] for host in self.hosts]:
            return "this page answers only to 127.0.0.1 and localhost"
        origin = request.headers.get("Origin")
        if origin is not None and origin not in [f"http://{host}" for host in self.hosts]:
            return "requests from another page are refused"
        site = request.headers.get("Sec-Fetch-Site", "none")
        if site not in ("same-origin", "none"):
            return "requests from another page are refused"
        if request.method == "POST" and request.content_type != "application/json":
            return "only JSON is taken"
        return None

    async def check(self, request: web.Request, handler: Handler) -> web.StreamResponse:
        """Let a request through, exchange the token, or refuse."""
        refused = self.refusal(request)
        if refused is not None:
            raise web.HTTPForbidden(text=refused)
        if request.path == "/" and "token" in request.query:
            # Also when the token is used up: whoever has the key goes on to the page.
            if self._has_key(request) or self._takes_token(request):
                moved = web.HTTPSeeOther("/")
                moved.set_cookie(
                    self.cookie, self._key, httponly=True, samesite="Strict", path="/"
                )
                raise moved
        if not self._has_key(request):
            raise web.HTTPForbidden(
                text="this address works once, in one browser; start 'gridshell explore' again"
            )
        return await handler(request)
