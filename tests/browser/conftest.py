"""A real Chromium and a small server that hands out the pages under the strictest policy they must live with."""

from __future__ import annotations

import base64
import shutil
import threading
from collections.abc import Iterator
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from urllib.parse import parse_qs

import pytest
from playwright.sync_api import Browser, sync_playwright

from fleetcare.language import speaking
from fleetcare.page.render import static_folder
from fleetcare.page.style import SHEETS
from fleetcare.settings.catalogues import tongue_of
from fleetcare.web.safety import CONTENT_POLICY
from tests.page.karst_ridge import every_page

PICTURE = base64.b64decode(
    "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAAAAAA6fptVAAAACklEQVR4nGNgAAAAAgABSK+kcQAAAABJRU5ErkJggg=="
)
"""One grey dot, for whatever photo a page shows."""
_TYPES = {".css": "text/css", ".js": "text/javascript", ".woff2": "font/woff2", ".txt": "text/plain"}


@dataclass
class Shown:
    """Where the pages are served, their names, and the forms that were sent, each with its address."""

    base_url: str
    names: tuple[str, ...]
    sent: list[tuple[str, dict[str, list[str]]]] = field(default_factory=list)


@pytest.fixture(scope="module")
def chromium(request: pytest.FixtureRequest) -> Iterator[Browser]:
    """The Chromium on the path. Without one the tests are skipped, or fail if `--need-browser` was given."""
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if found is None:
        reason = "no chromium or chromium-browser on the path; install one to run the browser tests"
        if request.config.getoption("--need-browser", default=False):
            pytest.fail(reason)
        pytest.skip(reason)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=found, args=["--no-sandbox"])
        yield browser
        browser.close()


@pytest.fixture(scope="module")
def shown() -> Iterator[Shown]:
    """Every page of the invented garage at `/its-name`, with style sheet, script and fonts below `/static`."""
    yield from serving_pages(every_page())


@pytest.fixture(scope="module")
def shown_in_german() -> Iterator[Shown]:
    """The same, said in German."""
    with speaking(tongue_of("de")):
        pages = every_page()
    yield from serving_pages(pages)


def serving_pages(pages: dict[str, str]) -> Iterator[Shown]:
    """The pages at `/their-name` of a server that ends with the test module."""
    served = Shown("", tuple(pages))

    class Hand(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            path = self.path.partition("?")[0]
            if (made := SHEETS.get(path.removeprefix("/static/"))) is not None:
                self._answer(made().encode(), "text/css")
            elif path.startswith("/static/"):
                asset = static_folder() / path.removeprefix("/static/")
                self._answer(asset.read_bytes(), _TYPES[Path(path).suffix])
            elif "/photos/" in path:
                self._answer(PICTURE, "image/png")
            elif path[1:] in pages:
                self._answer(pages[path[1:]].encode(), "text/html; charset=utf-8")
            else:
                self._answer(b"", "text/plain", 204 if path == "/favicon.ico" else 404)

        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["Content-Length"])).decode()
            served.sent.append((self.path, parse_qs(body, keep_blank_values=True)))
            self._answer(pages["saved"].encode(), "text/html; charset=utf-8")

        def _answer(self, body: bytes, kind: str, status: int = 200) -> None:
            self.send_response(status)
            self.send_header("Content-Type", kind)
            self.send_header("Content-Length", str(len(body)))
            self.send_header("Content-Security-Policy", CONTENT_POLICY)
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, format: str, *args: object) -> None:  # noqa: A002  named so by the standard library
            """Nothing is written to the terminal."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), Hand)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    served.base_url = f"http://127.0.0.1:{server.server_port}"
    yield served
    server.shutdown()
    server.server_close()
    thread.join()
