"""The page's little server: on this machine only, for one racquet, until it is stopped."""

from __future__ import annotations

import asyncio
import secrets
import socket
from collections.abc import Callable
from importlib import resources
from typing import Any

from pydantic import ValidationError
from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp

from digitise.page.answers import sentence
from digitise.page.desk import Stale
from digitise.page.drawn import Unusable
from digitise.page.edit import Said
from digitise.page.guard import Guard
from digitise.page.misfit import misfit
from digitise.page.session import (
    CardMove,
    Drawing,
    Follow,
    MarkCard,
    MarkOutline,
    Mirror,
    Redraw,
    Save,
    Session,
    Steps,
)
from digitise.refusal import Refused
from model.errors import ModelError

HOST = "127.0.0.1"
TYPES = {
    ".html": "text/html; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".svg": "image/svg+xml",
}
Answer = dict[str, Any]


def make_app(session: Session, token: str, port: int) -> ASGIApp:
    """The whole page for one session; every address begins with the token."""
    files = _static_files()

    async def page(request: Request) -> Response:
        name = request.path_params.get("name", "index.html")
        found = files.get(name)
        if found is None:
            return JSONResponse({"error": "there is no such file"}, 404)
        return Response(found[0], media_type=found[1])

    async def tile(request: Request) -> Response:
        p = request.path_params
        data = await run_in_threadpool(session.tile, p["sheet"], p["level"], p["column"], p["row"])
        if data is None:
            return JSONResponse({"error": "there is no such tile"}, 404)
        headers = {"cache-control": "private, max-age=3600"}
        return Response(data, media_type="image/jpeg", headers=headers)

    async def start(request: Request) -> Response:
        return await _answer(lambda: session.start(request.query_params.get("window", "")[:64]))

    async def sheet(request: Request) -> Response:
        return await _said(request, Drawing, lambda said: session.sheet_answer(said.edit))

    async def reopen(request: Request) -> Response:
        return await _answer(session.reopen)

    async def ping(request: Request) -> Response:
        window = request.query_params.get("window", "")[:64]
        gone = bool(request.query_params.get("gone"))
        return await _answer(lambda: session.ping(window, gone))

    def post(path: str, kind: type[Said], do: Callable[[Any], Answer]) -> Route:
        async def endpoint(request: Request) -> Response:
            return await _said(request, kind, do)

        return Route(f"/{token}/do/{path}", endpoint, methods=["POST"])

    routes = [
        Route(f"/{token}/", page),
        Route(f"/{token}/static/{{name}}", page),
        Route(f"/{token}/tiles/{{sheet}}/{{level:int}}/{{column:int}}/{{row:int}}.jpg", tile),
        Route(f"/{token}/start", start),
        Route(f"/{token}/do/sheet", sheet, methods=["POST"]),
        Route(f"/{token}/do/reopen", reopen, methods=["POST"]),
        Route(f"/{token}/do/ping", ping, methods=["POST"]),
        post("figures", Drawing, session.figures),
        post("steps", Steps, session.steps),
        post("save", Save, session.save),
        post("follow", Follow, session.follow),
        post("redraw", Redraw, session.redraw),
        post("mirror", Mirror, session.mirror),
        post("card", CardMove, session.move_card),
        post("mark-card", MarkCard, session.mark_card),
        post("mark-outline", MarkOutline, session.mark_outline),
    ]
    return Guard(Starlette(routes=routes), token, port)


async def _said(request: Request, kind: type[Any], do: Callable[[Any], Answer]) -> Response:
    try:
        said = kind.model_validate_json(await request.body())
    except ValidationError as error:
        return JSONResponse({"error": misfit(error)}, 422)
    return await _answer(lambda: do(said))


async def _answer(do: Callable[[], Answer]) -> Response:
    """Run something slow aside; what is wrong with the input comes back as a sentence."""
    try:
        return JSONResponse(await run_in_threadpool(do))
    except Stale as error:
        return JSONResponse({"error": str(error), "stale": error.who}, 409)
    except Unusable as error:
        problems = [{"words": p.words, "ring": p.ring, "at": p.at_mm} for p in error.problems]
        return JSONResponse({"error": sentence(str(error)), "problems": problems}, 422)
    except (ModelError, Refused) as error:
        return JSONResponse({"error": sentence(str(error))}, 422)


def _static_files() -> dict[str, tuple[bytes, str]]:
    """The page's own files by name; nothing else can be asked for."""
    folder = resources.files("digitise.page").joinpath("static")
    found = {}
    for entry in folder.iterdir():
        kind = TYPES.get("." + entry.name.rpartition(".")[2])
        if kind is not None:
            found[entry.name] = (entry.read_bytes(), kind)
    return found


def serve(session: Session, port: int, opened: Callable[[str], None]) -> None:
    """Serve until interrupted; ``opened`` is called with the address once it answers. Port 0: any."""
    import uvicorn

    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((HOST, port))
        except OSError as error:
            raise ModelError(
                f"port {port} can't be used ({error.strerror}): leave --port out, or give another"
            ) from None
        actual = listener.getsockname()[1]
        token = secrets.token_urlsafe(24)
        config = uvicorn.Config(
            make_app(session, token, actual),
            log_level="warning",
            access_log=False,
            server_header=False,
            lifespan="off",
        )
        server = uvicorn.Server(config)

        async def run() -> None:
            task = asyncio.create_task(server.serve(sockets=[listener]))
            while not server.started and not task.done():
                await asyncio.sleep(0.02)
            if not task.done():
                opened(f"http://{HOST}:{actual}/{token}/")
            await task

        asyncio.run(run())
    finally:
        listener.close()
        session.close()
