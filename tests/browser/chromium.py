"""A real Chromium for tests of pages, with the network cut.

It is that of the system (`chromium`, or what RUSHLIGHT_CHROMIUM names). Where it or the extra `browser` is missing,
what imports this is skipped, unless RUSHLIGHT_BROWSER is `required`.
"""

import importlib
import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

REQUIRED = os.environ.get("RUSHLIGHT_BROWSER") == "required"
CHROMIUM = os.environ.get("RUSHLIGHT_CHROMIUM") or next(
    (path for name in ("chromium", "chromium-browser", "google-chrome") if (path := shutil.which(name))), None
)
OPTIONS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]

Opener = Callable[..., Any]


def needed(module: str) -> Any:
    """Return a module of the extra `browser`; without it these tests are skipped, or fail where they are required."""
    if REQUIRED:
        return importlib.import_module(module)
    return pytest.importorskip(module, reason="the extra browser is not installed")


sync_playwright = needed("playwright.sync_api").sync_playwright
Axe = needed("axe_playwright_python.sync_playwright").Axe
pypdf = needed("pypdf")
if CHROMIUM is None:
    assert not REQUIRED, "no Chromium, and RUSHLIGHT_BROWSER is required"
    pytest.skip("no Chromium on this machine", allow_module_level=True)


def opened_browser() -> Iterator[Any]:
    """Yield a browser, for a fixture."""
    with sync_playwright() as started:
        opened = started.chromium.launch(executable_path=CHROMIUM, args=OPTIONS)
        yield opened
        opened.close()


@contextmanager
def watched(browser: Any, folder: Path) -> Iterator[Opener]:
    """Give what opens a page of a folder with the network cut; at the end, nothing may have been asked for or said."""
    contexts: list[Any] = []
    told: list[str] = []
    asked: list[str] = []

    def open_page(
        name: str, width: int = 768, *, dark: bool = False, script: str = "", context: Any = None, scripts: bool = True
    ) -> Any:
        if context is None:
            scheme = "dark" if dark else "light"
            context = browser.new_context(
                viewport={"width": width, "height": 900},
                color_scheme=scheme,
                offline=True,
                java_script_enabled=scripts,
            )
            contexts.append(context)
        if script:
            context.add_init_script(script)
        page = context.new_page()
        page.on("console", lambda message: told.append(f"{message.type}: {message.text}"))
        page.on("pageerror", lambda error: told.append(f"error: {error}"))
        page.on("dialog", lambda dialog: told.append(f"dialog: {dialog.message}"))
        page.on("request", lambda request: asked.append(request.url))
        page.goto((folder / f"{name}.html").as_uri())
        return page

    yield open_page
    for context in contexts:
        context.close()
    assert told == []
    assert all(url.startswith("file:") and url.endswith(".html") for url in asked)
