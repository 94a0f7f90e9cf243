"""Who the page's server listens to, and what it never gives away."""

from __future__ import annotations

import asyncio
import json
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from digitise.page.answers import sentence
from digitise.page.guard import LARGEST_BODY_BYTES
from digitise.page.server import make_app
from digitise.page.session import Session
from digitise.photo import read_photo
from tests.page_browser import PHOTO

TOKEN, PORT = "a-token-for-tests", 4321
HOST = f"127.0.0.1:{PORT}"
OWN = f"http://{HOST}"


class Answered:
    """A response put together again."""

    def __init__(self, messages: list[Any]) -> None:
        self.status = int(messages[0]["status"])
        self.headers = {k.decode().lower(): v.decode() for k, v in messages[0]["headers"]}
        self.body = b"".join(message.get("body", b"") for message in messages[1:])

    def json(self) -> Any:
        return json.loads(self.body)


def ask(
    app: Any,
    path: str,
    method: str = "GET",
    body: bytes = b"",
    host: str = HOST,
    pieces: int = 1,
    **headers: Any,
) -> Answered:
    """Send one request straight into the application."""
    sent: list[Any] = []
    size = -(-len(body) // pieces) if body else 0
    parts = [body[i * size : (i + 1) * size] for i in range(pieces)]

    async def receive() -> Any:
        part = parts.pop(0) if parts else b""
        return {"type": "http.request", "body": part, "more_body": bool(parts)}

    async def send(message: Any) -> None:
        sent.append(message)

    given = {"host": host} | {name.replace("_", "-"): value for name, value in headers.items()}
    path, _, query = path.partition("?")
    scope = {
        "type": "http",
        "http_version": "1.1",
        "method": method,
        "path": path,
        "raw_path": path.encode(),
        "query_string": query.encode(),
        "headers": [(name.encode(), value.encode()) for name, value in given.items()],
        "scheme": "http",
        "server": ("127.0.0.1", PORT),
        "client": ("127.0.0.1", 5),
        "root_path": "",
    }
    # in a thread of its own: a browser's test may have left an event loop running in this one
    with ThreadPoolExecutor(1) as pool:
        pool.submit(lambda: asyncio.run(app(scope, receive, send))).result()
    return Answered(sent)


@pytest.fixture(scope="session")
def photo() -> Any:
    return read_photo(PHOTO)


@pytest.fixture
def app(paddle_path: Path, photo: Any) -> Any:
    return make_app(Session(photo, paddle_path, PHOTO), TOKEN, PORT)


def test_the_page_and_its_policy(app: Any) -> None:
    page = ask(app, f"/{TOKEN}/")
    assert page.status == 200
    assert b"<title>" in page.body
    policy = page.headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy
    assert "http" not in policy
    assert page.headers["cache-control"] == "no-store"
    assert page.headers["x-content-type-options"] == "nosniff"
    assert page.headers["referrer-policy"] == "no-referrer"


def test_static_files_load_nothing_from_elsewhere(app: Any) -> None:
    folder = Path(__file__).parents[1] / "digitise" / "page" / "static"
    for path in folder.iterdir():
        assert ask(app, f"/{TOKEN}/static/{path.name}").body == path.read_bytes()
        for line in path.read_text("utf-8").splitlines():
            assert "http://" not in line.replace("http://www.w3.org/", "")
            assert "https://" not in line
            assert "style=" not in line  # the policy forbids it


@pytest.mark.parametrize(
    ("path", "host", "headers"),
    [
        (f"/{TOKEN}/", "club.example:4321", {}),
        (f"/{TOKEN}/", "127.0.0.1:80", {}),
        (f"/{TOKEN}/", "", {}),
        (f"/{TOKEN}/", HOST, {"origin": "https://club.example"}),
        (f"/{TOKEN}/", HOST, {"origin": "null"}),
        (f"/{TOKEN}/start", HOST, {"sec_fetch_site": "cross-site"}),
        (f"/{TOKEN}/start", HOST, {"sec_fetch_site": "same-site"}),
    ],
)
def test_strangers_are_refused(path: str, host: str, headers: dict[str, Any], app: Any) -> None:
    answer = ask(app, path, host=host, **headers)
    assert answer.status == 403
    assert b"racquet" not in answer.body


@pytest.mark.parametrize("origin", [None, "http://localhost:4321", "https://127.0.0.1:4321"])
def test_changes_need_the_pages_own_origin(origin: str | None, app: Any) -> None:
    headers: dict[str, Any] = {} if origin is None else {"origin": origin}
    assert ask(app, f"/{TOKEN}/do/reopen", "POST", **headers).status == 403
    assert ask(app, f"/{TOKEN}/do/reopen", "POST", origin=OWN).status == 200


@pytest.mark.parametrize("path", ["/", "/wrong/", "/wrong/start", f"/{TOKEN[:-1]}/", f"/{TOKEN}x/start"])
def test_without_the_token_there_is_nothing(path: str, app: Any) -> None:
    assert ask(app, path).status == 404


@pytest.mark.parametrize(
    "name", ["../server.py", "..%2fserver.py", "/etc/passwd", "....//index.html", "server.py", ""]
)
def test_no_path_is_taken_from_the_browser(name: str, app: Any) -> None:
    assert ask(app, f"/{TOKEN}/static/{name}").status == 404


def test_bodies_are_limited_whatever_they_claim(app: Any) -> None:
    large = b"x" * (LARGEST_BODY_BYTES + 1)
    where = f"/{TOKEN}/do/figures"
    assert ask(app, where, "POST", large, origin=OWN).status == 413
    assert ask(app, where, "POST", large, origin=OWN, pieces=7, content_length="5").status == 413
    assert ask(app, where, "POST", b"{}", origin=OWN, content_length=str(10**9)).status == 413


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"not json",
        b"{}",
        b'{"edit": {"outer": {"points": [[0, 0]], "corners": [false]}, "handle_top_mm": 1}}',
        b'{"edit": 1, "more": 2}',
    ],
)
def test_what_makes_no_sense_gets_a_sentence(body: bytes, app: Any) -> None:
    answer = ask(app, f"/{TOKEN}/do/figures", "POST", body, origin=OWN)
    assert answer.status == 422
    assert answer.json()["error"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("p.racquet.json can't be written: no space", "p.racquet.json can't be written: no space."),
        ("photos/p.json\n is damaged", "photos/p.json is damaged."),
        ("the card comes first: mark it", "The card comes first: mark it."),
        ("done.", "Done."),
    ],
)
def test_a_file_name_keeps_its_letters_in_a_sentence(words: str, said: str) -> None:
    assert sentence(words) == said


def test_a_file_that_is_gone_is_told_by_its_own_name(app: Any, paddle_path: Path) -> None:
    number = ask(app, f"/{TOKEN}/start?window=a").json()["number"]
    paddle_path.unlink()
    answer = ask(app, f"/{TOKEN}/do/save", "POST", json.dumps({"number": number}).encode(), origin=OWN)
    assert answer.status == 409
    assert answer.json() == {"error": "club.racquet.json is no longer where it was.", "stale": "gone"}


@pytest.mark.parametrize("spoil", [float("nan"), float("inf"), 1e9])
def test_numbers_must_be_numbers_of_a_racquet(spoil: float, app: Any) -> None:
    start = ask(app, f"/{TOKEN}/start?window=a").json()
    edit = start["steps"][0]
    edit["outer"]["points"][0][0] = spoil
    body = json.dumps({"edit": edit}).encode()
    assert ask(app, f"/{TOKEN}/do/figures", "POST", body, origin=OWN).status == 422


def test_tiles_are_pictures_and_end_where_the_photo_does(app: Any) -> None:
    sheet = ask(app, f"/{TOKEN}/start?window=a").json()["sheet"]
    coarse = ask(app, f"/{TOKEN}/tiles/{sheet['key']}/{sheet['levels'] - 1}/0/0.jpg")
    assert coarse.headers["content-type"] == "image/jpeg"
    assert coarse.body[:2] == b"\xff\xd8"
    for wrong in ("99/0/0", "0/999/0", "0/0/-1"):
        assert ask(app, f"/{TOKEN}/tiles/{sheet['key']}/{wrong}.jpg").status == 404
    assert ask(app, f"/{TOKEN}/tiles/nothing/0/0/0.jpg").status == 404
