"""What comes in as JSON and what goes out: errors with what would be accepted, safe headers."""

from __future__ import annotations

import html
import json
from typing import Any

from aiohttp import web

from gridshell.define.errors import DefinitionError, InputError
from gridshell.explore.serve.guard import HEADERS, Guard, Handler


def flag(content: dict[str, Any], key: str) -> bool:
    value = content.get(key, False)
    if not isinstance(value, bool):
        raise InputError(f"{key}: must be true or false")
    return value


async def content_of(request: web.Request) -> dict[str, Any]:
    """The JSON table of a request.

    Raises:
        HTTPBadRequest: it is not one.
    """
    try:
        content = json.loads((await request.read()).decode("utf-8"))
    except (ValueError, RecursionError):
        raise web.HTTPBadRequest(text="not JSON") from None
    if not isinstance(content, dict):
        raise web.HTTPBadRequest(text="not a JSON table")
    return content


def guarded(guard: Guard) -> Any:
    @web.middleware
    async def checked(request: web.Request, handler: Handler) -> web.StreamResponse:
        return await guard.check(request, handler)

    return checked


def _explained(error: web.HTTPException) -> web.Response:
    """A page for people, where a browser asks for the page and may not have it."""
    words = html.escape(error.text or error.reason)
    return web.Response(
        text='<!doctype html><html lang="en"><meta charset="utf-8"><title>gridshell explore</title>'
        f"<h1>This address does not open the page</h1><p>{words}.</p><p>Open the address that the "
        "running command printed, or start it again in a terminal: "
        "<code>gridshell explore FILE</code></p></html>",
        content_type="text/html", status=error.status,
    )


@web.middleware
async def answered(request: web.Request, handler: Handler) -> web.StreamResponse:
    """Errors as JSON with what would be accepted, and the headers that keep the page to itself."""
    try:
        response = await handler(request)
    except DefinitionError as error:
        response = web.json_response({"problems": [
            {"path": problem.path, "message": problem.message} for problem in error.problems
        ]}, status=422)
    except InputError as error:
        path, _, message = str(error).partition(": ")
        response = web.json_response(
            {"problems": [{"path": path, "message": message or path}]}, status=422
        )
    except web.HTTPException as error:
        if error.status < 400:
            error.headers.update(HEADERS)
            raise
        response = _explained(error) if request.path == "/" else web.json_response(
            {"problems": [{"path": "", "message": error.text or error.reason}]},
            status=error.status,
        )
    response.headers.update(HEADERS)
    return response
