"""One browser and one server for all tests of a process, so that a browser compiles each script
once: for the pages with figures that is most of what a first look costs."""

from __future__ import annotations

import contextlib
import shutil
import threading
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from flask import Flask
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright
from waitress.channel import HTTPChannel
from waitress.server import BaseWSGIServer, create_server
from werkzeug.wsgi import ClosingIterator

# the one without a window takes a quarter of the other's processor time for a fresh device
CHROMIUMS = ("chromium-headless-shell", "chromium")
WAIT_MS = 30_000
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    "--process-per-site",  # what one tab has compiled, the next need not
    "--disable-features=ScriptStreaming",  # compiles in the background what is compiled already
    "--js-flags=--no-opt,--no-maglev",  # a page lives too short a time to be worth compiling well
)
STAYS = "/stays-open"
KEPT_BY_PAGES = "local_storage,session_storage,indexeddb,service_workers"

expect.set_options(timeout=WAIT_MS)


class Server:
    """Waitress in a thread of its own."""

    def __init__(self, app: Any, port: int = 0) -> None:
        server = create_server(app, host="127.0.0.1", port=port, threads=4)
        assert isinstance(server, BaseWSGIServer)
        assert server.socket
        self._server = server
        self._thread = threading.Thread(target=server.run, daemon=True)
        self.address = f"http://127.0.0.1:{server.socket.getsockname()[1]}"
        self._thread.start()

    def stop(self) -> None:
        """End waitress and the thread that runs it."""
        stop_serving(self._server, self._thread)


def stop_serving(server: BaseWSGIServer, thread: threading.Thread) -> None:
    """End waitress and the thread that runs it.

    Nothing is closed before that thread has left its loop: a handle closed under it fails the
    `select` it is about to enter.
    """
    running: Any = server  # waitress has no word of its own for this
    held: list[Any] = []

    def leave() -> None:
        held.extend(running._map.values())
        running._map.clear()

    running.task_dispatcher.shutdown()
    running.trigger.pull_trigger(leave)
    thread.join(30)
    assert not thread.is_alive()
    for opened in held:  # what a browser left half read waits in a file, which close() leaves open
        (opened.handle_close if isinstance(opened, HTTPChannel) else opened.close)()


class Stage:
    """The apps that are shown in turn at one address; whoever asks between two is turned away."""

    def __init__(self) -> None:
        self._app: Flask | None = None
        self._server: Server | None = None
        self._asked, self._changed = 0, threading.Condition()

    @contextlib.contextmanager
    def show(self, app: Flask) -> Iterator[str]:
        """The app at that address until all who asked it are answered."""
        self._app = app
        try:
            yield self.address
        finally:
            with self._changed:
                self._app = None
                assert self._changed.wait_for(lambda: self._asked == 0, 30)

    @property
    def address(self) -> str:
        """Where the apps are shown."""
        if self._server is None:
            self._server = Server(self._answer)
        return self._server.address

    @property
    def free(self) -> bool:
        """Whether no app is shown."""
        return self._app is None

    def end(self) -> None:
        """Stop the server."""
        if self._server is not None:
            self._server.stop()
            self._server = None

    def _answer(self, environ: dict[str, Any], start: Any) -> Iterable[bytes]:
        if environ["PATH_INFO"] == STAYS:
            start("200 OK", [("Content-Type", "text/plain"), ("Content-Length", "0")])
            return []
        with self._changed:
            app = self._app
            if app is not None:
                self._asked += 1
        if app is None:
            start("503 Service Unavailable", [("Content-Length", "0")])
            return []
        try:
            return ClosingIterator(app(environ, start), self._answered)
        except BaseException:
            self._answered()
            raise

    def _answered(self) -> None:
        with self._changed:
            self._asked -= 1
            self._changed.notify_all()


stage = Stage()


@contextlib.contextmanager
def served(app: Flask, port: int = 0) -> Iterator[str]:
    """The app at the address that all tests share, or on a port of its own where one is named or
    another app is shown already; gives the address."""
    if not port and stage.free:
        with stage.show(app) as address:
            yield address
        return
    server = Server(app, port)
    try:
        yield server.address
    finally:
        server.stop()


@contextlib.contextmanager
def chromium(flags: Sequence[str] = FLAGS) -> Iterator[Browser]:
    """Debian's browser, without a window."""
    path = next(filter(None, map(shutil.which, CHROMIUMS)))
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=list(flags))
        try:
            yield browser
        finally:
            browser.close()


@dataclass
class Watched:
    """A page and everything it asked for or complained of."""

    page: Page
    asked: list[str] = field(default_factory=list)
    said: list[str] = field(default_factory=list)


# Every device that serves again, with the tab that keeps what its browser has compiled.
_devices: dict[BrowserContext, Page] = {}


def watched(
    browser: Browser, size: tuple[int, int] = (1920, 1080), **cookies: str
) -> tuple[Watched, Page]:
    """A device of that size with these cookies; what it asks and says is kept.

    It has nothing of an earlier test but scripts it need not compile again.
    """
    return _watched(_device(browser), size, cookies)


def watched_afresh(
    browser: Browser, size: tuple[int, int] = (1920, 1080), **cookies: str
) -> tuple[Watched, Page]:
    """The same with a device that has seen no page, nor fetched a script."""
    return _watched(browser.new_context(color_scheme="dark"), size, cookies)


def _watched(
    context: BrowserContext, size: tuple[int, int], cookies: Mapping[str, str]
) -> tuple[Watched, Page]:
    for name, value in cookies.items():
        context.add_cookies([{"name": name, "value": value, "url": "http://127.0.0.1"}])
    page = _tab(context)
    page.set_viewport_size({"width": size[0], "height": size[1]})
    page.set_default_timeout(WAIT_MS)
    device = Watched(page)
    page.on("request", lambda worker: device.asked.append(worker.url))
    page.on("console", lambda line: device.said.append(line.text))
    page.on("pageerror", lambda error: device.said.append(str(error)))
    return device, page


def _tab(context: BrowserContext) -> Page:
    """A new tab; in a device that serves again it is opened by the one that stays, in whose process
    it can stay: a process of its own costs as much again as a small page."""
    if context not in _devices:
        return context.new_page()
    with context.expect_page() as opened:
        _devices[context].evaluate("() => { window.open('about:blank') }")
    return opened.value


def _device(browser: Browser) -> BrowserContext:
    """A device on which no test has a page open; its clock is the computer's."""
    for context in [
        browser_context for browser_context in browser.contexts if browser_context in _devices
    ]:
        stays = _devices[context]
        if context.pages != [stays]:
            continue
        if stays.evaluate("setTimeout.toString().includes('[native code]')"):
            return context
        context.close()
    context = browser.new_context(color_scheme="dark")
    _devices[context] = context.new_page()
    _devices[context].goto(stage.address + STAYS)
    return context


def put_away(browser: Browser) -> None:
    """Close every page, and empty the devices that serve again."""
    for context in browser.contexts:
        if context not in _devices:
            context.close()
            continue
        stays = _devices[context]
        for page in [each for each in context.pages if each is not stays]:
            page.close()
        context.set_offline(False)
        context.clear_cookies()
        session = context.new_cdp_session(stays)
        session.send("Storage.clearDataForOrigin", {"origin": "*", "storageTypes": KEPT_BY_PAGES})
        session.detach()
