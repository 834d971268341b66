"""The bench's server: its page, uploads, and what was made."""

from __future__ import annotations

import asyncio
import contextlib
import socket
import webbrowser
from collections.abc import AsyncIterator
from pathlib import Path

import click
import uvicorn
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, PlainTextResponse, Response
from starlette.routing import Route, WebSocketRoute
from starlette.websockets import WebSocket

from sheetlark.bench.address import Address, keep_address, last_address
from sheetlark.bench.folder import LARGEST_DESIGN_BYTES, Folder
from sheetlark.bench.guard import Guard
from sheetlark.bench.holdings import Bench
from sheetlark.bench.line import Line
from sheetlark.errors import DesignError, SheetlarkError

PAGE = Path(__file__).parent / "page"
_KINDS = {
    ".html": "text/html; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".svg": "image/svg+xml",
    ".ttf": "font/ttf",
}
LARGEST_PICTURE_BYTES = 12_000_000
_UPLOAD_S = 30.0
_LET_RUN_OUT = 50_000_000
_LARGEST_MESSAGE = 1_000_000


def _file(path: Path) -> Response:
    return Response(path.read_bytes(), media_type=_KINDS.get(path.suffix, "application/octet-stream"))


async def _front(_request: Request) -> Response:
    return _file(PAGE / "index.html")


async def _asset(request: Request) -> Response:
    wanted = str(request.path_params["path"])
    file = (PAGE / wanted).resolve()
    if not file.is_relative_to(PAGE.resolve()) or not file.is_file() or file.suffix not in _KINDS:
        return PlainTextResponse("There is no such thing here.", 404)
    return _file(file)


async def _lettering(request: Request) -> Response:
    import sheetlark.sheets

    name = str(request.path_params["name"])
    file = Path(str(sheetlark.sheets.__file__)).parent / "fonts" / name
    if name not in {"DejaVuSansCondensed.ttf", "DejaVuSansCondensed-Bold.ttf"} or not file.is_file():
        return PlainTextResponse("There is no such thing here.", 404)
    return _file(file)


async def _made(request: Request) -> Response:
    bench: Bench = request.app.state.bench
    file = bench.made.get(str(request.path_params["path"]))
    if file is None or not file.is_file() or not file.resolve().is_relative_to(bench.folder.path):
        return PlainTextResponse("There is no such file.", 404)
    return FileResponse(file, filename=file.name)


async def _seen(request: Request) -> Response:
    bench: Bench = request.app.state.bench
    png = bench.seen.get(str(request.path_params["name"]))
    if png is None:
        return PlainTextResponse("There is no such picture.", 404)
    return Response(png, media_type="image/png")


async def _upload(request: Request) -> Response:
    bench: Bench = request.app.state.bench
    name = str(request.query_params.get("name", ""))[:120]
    most = LARGEST_DESIGN_BYTES if name.lower().endswith(".toml") else LARGEST_PICTURE_BYTES
    try:
        raw = await asyncio.wait_for(_body(request, most), _UPLOAD_S)
        if name.lower().endswith(".toml"):
            file = await asyncio.to_thread(bench.folder.take_in, name, raw)
            return JSONResponse({"design": file.name})
        return JSONResponse({"picture": bench.sent(name, raw)})
    except SheetlarkError as error:
        return JSONResponse({"says": str(error)}, 400)
    except TimeoutError:
        return JSONResponse({"says": f"The upload took longer than {_UPLOAD_S:.0f} s and was dropped."}, 408)


async def _body(request: Request, most: int) -> bytes:
    """The body, or a refusal in words; what is too large is let run out, up to a point, so that the words arrive."""
    parts: list[bytes] = []
    size = 0
    async for chunk in request.stream():
        size += len(chunk)
        if size <= most:
            parts.append(chunk)
        else:
            parts.clear()
        if size > most + _LET_RUN_OUT:
            break
    if size > most:
        raise DesignError(f"this file is larger than {most / 1e6:.0f} MB, the most that is taken")
    return b"".join(parts)


async def _line(websocket: WebSocket) -> None:
    await websocket.accept()
    await Line(websocket.app.state.bench, websocket).talk()


def application(folder: Folder, first: str | None) -> Starlette:
    """The bench's web application, without its guard."""

    @contextlib.asynccontextmanager
    async def living(app: Starlette) -> AsyncIterator[None]:
        app.state.bench = Bench(folder, first)
        yield
        await app.state.bench.close()

    return Starlette(
        routes=[
            Route("/", _front),
            Route("/page/{path:path}", _asset),
            Route("/lettering/{name}", _lettering),
            Route("/made/{path:path}", _made),
            Route("/seen/{name}", _seen),
            Route("/upload", _upload, methods=["POST"]),
            WebSocketRoute("/line", _line),
        ],
        lifespan=living,
    )


def _listening(port: int, last: int | None) -> socket.socket:
    """A socket that listens: on the port asked for, or where the last bench was if that is free, or on any.

    Raises
    ------
    DesignError
        If the port asked for is taken.
    """
    for wanted in [port] if port or last is None else [last, 0]:
        listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listening.bind(("127.0.0.1", wanted))
        except OSError as error:
            listening.close()
            if wanted == last and not port:
                continue
            raise DesignError(
                f"port {wanted} is taken ({error.strerror}); choose another with --port, or leave it out"
            ) from None
        listening.listen(
            128
        )  # whoever opens the address before the server is ready waits, and is not refused
        return listening
    raise AssertionError("a socket on any port is refused only with words")


def serve(design: Path | None, *, port: int, folder: Path | None, show: bool) -> None:
    """Serve the bench until interrupted; see `sheetlark.bench.run`."""
    first = None
    where = folder or Path.cwd()
    if design is not None:
        if not design.is_file():
            from sheetlark.design import load

            load(design)  # says in words what is wrong
        where, first = design.resolve().parent, design.name
    home = Folder(where)
    last = last_address(home.path)
    listening = _listening(port, None if last is None else last.port)
    port = int(listening.getsockname()[1])
    address = last if last is not None and last.port == port else Address.fresh(port)
    keep_address(home.path, address)
    guard = Guard(application(home, first), address)
    click.echo(f"The bench is open at  {guard.address}")
    click.echo("Only this machine can reach it. Stop it with Ctrl-C.")
    config = uvicorn.Config(
        guard,
        log_level="warning",
        ws_max_size=_LARGEST_MESSAGE,
        ws_ping_interval=20.0,
        ws_per_message_deflate=False,  # both ends are this machine: packing a message takes longer than sending it
        timeout_graceful_shutdown=2,
        server_header=False,
    )
    if show:
        webbrowser.open(guard.address)
    uvicorn.Server(config).run(sockets=[listening])
