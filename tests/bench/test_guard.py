"""The guard: this machine's own page, opened with the printed address, and nobody else."""

from __future__ import annotations

from typing import Any

import pytest

from sheetlark.bench.address import Address
from sheetlark.bench.guard import Guard

PORT = 8765


async def _reached(scope: Any, receive: Any, send: Any) -> None:
    if scope["type"] == "websocket":
        await send({"type": "websocket.accept"})
        return
    await send({"type": "http.response.start", "status": 200, "headers": [(b"content-type", b"text/plain")]})
    await send({"type": "http.response.body", "body": b"reached"})


@pytest.fixture
def guard() -> Guard:
    return Guard(_reached, Address.fresh(PORT))


def ask(
    guard: Guard,
    *,
    kind: str = "http",
    method: str = "GET",
    path: str = "/",
    query: str = "",
    **headers: str,
) -> tuple[Any, dict[str, str]]:
    head = {"host": f"127.0.0.1:{PORT}", **headers}
    scope = {
        "type": kind,
        "method": method,
        "path": path,
        "query_string": query.encode(),
        "headers": [(k.encode(), v.encode("utf-8")) for k, v in head.items()],
    }
    sent: list[Any] = []

    async def send(message: Any) -> None:
        sent.append(message)

    async def receive() -> Any:
        return {"type": "http.request", "body": b"", "more_body": False}

    # Nothing here waits for anything, so no event loop is needed (the browser's own may be running).
    with pytest.raises(StopIteration):
        guard(scope, receive, send).send(None)
    first = sent[0]
    return first.get("status", first["type"]), {
        k.decode(): v.decode() for k, v in first.get("headers", []) if isinstance(k, bytes)
    }


def cookie(guard: Guard) -> str:
    _, headers = ask(guard, query=f"key={guard.key}")
    return headers["set-cookie"].split(";")[0]


def test_the_printed_address_gives_a_strict_cookie_once_asked(guard: Guard) -> None:
    status, headers = ask(guard, query=f"key={guard.key}")
    assert status == 303
    assert headers["location"] == "/"
    assert "HttpOnly" in headers["set-cookie"]
    assert "SameSite=Strict" in headers["set-cookie"]
    assert guard.key not in headers["set-cookie"]
    assert ask(guard, cookie=cookie(guard))[0] == 200


@pytest.mark.parametrize("query", ["", "key=", "key=wrong", "key=%00", "key=é"])
def test_without_the_secret_nobody_gets_in(guard: Guard, query: str) -> None:
    assert ask(guard, query=query)[0] == 403
    assert ask(guard, cookie=f"sheetlark-{PORT}=wrong")[0] == 403
    assert ask(guard, cookie=f"sheetlark-{PORT}=ü")[0] == 403
    assert (
        ask(guard, path="/line", kind="websocket", origin=f"http://127.0.0.1:{PORT}")[0] == "websocket.close"
    )


@pytest.mark.parametrize(
    "host", ["evil.example", "127.0.0.1", f"127.0.0.1.evil.example:{PORT}", "127.0.0.1:80", ""]
)
def test_another_name_for_this_address_is_refused(guard: Guard, host: str) -> None:
    assert ask(guard, host=host, cookie=cookie(guard))[0] == 421
    assert ask(guard, host=host, query=f"key={guard.key}")[0] == 421


@pytest.mark.parametrize(
    "origin", ["http://evil.example", "null", f"http://127.0.0.1:{PORT + 1}", "https://127.0.0.1"]
)
def test_another_site_cannot_drive_it_even_with_the_cookie(guard: Guard, origin: str) -> None:
    ours = cookie(guard)
    assert ask(guard, method="POST", path="/upload", cookie=ours, origin=origin)[0] == 403
    assert ask(guard, kind="websocket", path="/line", cookie=ours, origin=origin)[0] == "websocket.close"


def test_a_change_needs_an_origin(guard: Guard) -> None:
    ours = cookie(guard)
    assert ask(guard, method="POST", path="/upload", cookie=ours)[0] == 403
    assert ask(guard, kind="websocket", path="/line", cookie=ours)[0] == "websocket.close"
    own = f"http://127.0.0.1:{PORT}"
    assert ask(guard, kind="websocket", path="/line", cookie=ours, origin=own)[0] == "websocket.accept"


def test_the_page_may_load_nothing_from_elsewhere_and_run_no_inline_script(guard: Guard) -> None:
    _, headers = ask(guard, cookie=cookie(guard))
    policy = dict(part.strip().split(" ", 1) for part in headers["content-security-policy"].split(";"))
    assert policy["default-src"] == "'none'"
    assert policy["script-src"] == "'self'"
    assert policy["frame-ancestors"] == "'none'"
    assert "unsafe" not in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"
