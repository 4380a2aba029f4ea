"""A real Chromium, driven through its debugging pipe: no port, no driver program, no other library."""

import base64
import json
import os
import select
import shutil
import subprocess
import tempfile
import time
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from toneprobe.book.entries import StoredCondition
from toneprobe.report.compare import comparison_view
from toneprobe.report.life import life_view
from toneprobe.report.page import comparison_page, index_page, life_page, season_page, sweep_page, technician_page, write_page
from toneprobe.report.season import season_view
from toneprobe.report.technician import Concern, technician_view

NAMES = ("chromium", "chromium-browser", "google-chrome")
# Nothing but the page itself: no updates, no accounts, no guesses at what might be visited next.
SWITCHES = ("--headless=new", "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update",
            "--disable-sync", "--disable-default-apps", "--no-first-run", "--mute-audio", "--hide-scrollbars", "--disable-dev-shm-usage",
            "--autoplay-policy=no-user-gesture-required", "--remote-debugging-pipe")
PATIENCE_S = 30.0


class Chromium:
    """One browser with one page. `call` sends a command of the DevTools protocol; events are kept in `events`."""

    def __init__(self, program: str, folder: str) -> None:
        to_read, self._write = os.pipe()
        self._read, to_write = os.pipe()
        command = f"exec {program} {' '.join(SWITCHES)} --user-data-dir={folder} about:blank 3<&{to_read} 4>&{to_write}"
        self._process = subprocess.Popen(["bash", "-c", command], pass_fds=(to_read, to_write), stdout=subprocess.DEVNULL,
                                         stderr=subprocess.DEVNULL)
        os.close(to_read)
        os.close(to_write)
        self._buffer, self._number, self._session = b"", 0, None
        self.events: list[dict] = []
        page = next(one for one in self.call("Target.getTargets")["targetInfos"] if one["type"] == "page")
        self._session = self.call("Target.attachToTarget", targetId=page["targetId"], flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Log", "Network", "DOM"):
            self.call(f"{domain}.enable")

    def call(self, method: str, **params) -> dict:
        self._number += 1
        message = {"id": self._number, "method": method, "params": params} | ({"sessionId": self._session} if self._session else {})
        os.write(self._write, json.dumps(message).encode() + b"\0") if len(str(params)) < 60000 else self._write_all(message)
        while True:
            answer = self._next()
            if answer.get("id") == self._number:
                assert "error" not in answer, (method, answer["error"])
                return answer["result"]

    def _write_all(self, message: dict) -> None:
        rest = memoryview(json.dumps(message).encode() + b"\0")
        while rest:
            rest = rest[os.write(self._write, rest):]

    def _next(self) -> dict:
        end = time.monotonic() + PATIENCE_S
        while b"\0" not in self._buffer:
            ready, _, _ = select.select([self._read], [], [], max(0.0, end - time.monotonic()))
            assert ready, "the browser does not answer"
            part = os.read(self._read, 1 << 20)
            assert part, "the browser has gone"
            self._buffer += part
        raw, self._buffer = self._buffer.split(b"\0", 1)
        message = json.loads(raw)
        if "method" in message:
            self.events.append(message)
        return message

    def wait_for(self, event: str) -> dict:
        while not (found := [one for one in self.events if one["method"] == event]):
            self._next()
        return found[-1]

    def open(self, path: Path, *, width: int = 1440, height: int = 900, is_dark: bool = False) -> None:
        self.events.clear()
        self.call("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=False)
        features = [{"name": "prefers-color-scheme", "value": "dark" if is_dark else "light"},
                    {"name": "prefers-reduced-motion", "value": "reduce"}]
        self.call("Emulation.setEmulatedMedia", media="", features=features)
        self.call("Page.navigate", url=path.as_uri())
        self.wait_for("Page.loadEventFired")

    def run(self, script: str):
        """The value of a JavaScript expression, promises waited for."""
        answer = self.call("Runtime.evaluate", expression=script, awaitPromise=True, returnByValue=True, userGesture=True)
        assert "exceptionDetails" not in answer, answer["exceptionDetails"]
        return answer["result"].get("value")

    def press(self, key: str, *, code: int, text: str = "") -> None:
        for kind, typed in (("keyDown", text), ("keyUp", "")):
            self.call("Input.dispatchKeyEvent", type=kind, key=key, code=key, windowsVirtualKeyCode=code, text=typed)

    def complaints(self) -> list[str]:
        """Console errors and warnings, exceptions, and violations of the page's own policy."""
        found = [one["params"]["entry"]["text"] for one in self.events if one["method"] == "Log.entryAdded"]
        found += [str(one["params"]["args"]) for one in self.events if one["method"] == "Runtime.consoleAPICalled"]
        return found + [str(one["params"]) for one in self.events if one["method"] == "Runtime.exceptionThrown"]

    def requests(self) -> list[str]:
        return [one["params"]["request"]["url"] for one in self.events if one["method"] == "Network.requestWillBeSent"]

    def pdf(self, *, width_in: float, height_in: float) -> bytes:
        answer = self.call("Page.printToPDF", paperWidth=width_in, paperHeight=height_in, preferCSSPageSize=False, printBackground=False,
                           marginTop=0.5, marginBottom=0.5, marginLeft=0.47, marginRight=0.47)
        return base64.b64decode(answer["data"])

    def close(self) -> None:
        try:
            self._session = None
            self.call("Browser.close")
        except AssertionError:
            self._process.kill()
        self._process.wait(timeout=20)
        os.close(self._write)
        os.close(self._read)


def axe_source() -> str | None:
    """The text of axe-core, from $AXE_CORE or from the usual folders of npm; None where it is not installed."""
    places = [os.environ.get("AXE_CORE", ""), "node_modules/axe-core/axe.min.js", "/usr/local/lib/node_modules/axe-core/axe.min.js",
              "/usr/lib/node_modules/axe-core/axe.min.js", "/usr/share/nodejs/axe-core/axe.min.js"]
    found = next((Path(place) for place in places if place and Path(place).is_file()), None)
    return found.read_text(encoding="utf-8") if found else None


@pytest.fixture(scope="session")
def axe():
    source = axe_source()
    if source is None:
        pytest.skip("no axe-core: npm install axe-core, or name its axe.min.js in AXE_CORE")
    return source


@pytest.fixture(scope="session")
def page_file(sounding_view, tmp_path_factory):
    """The whole page of 47 strings with sound."""
    path = tmp_path_factory.mktemp("page") / "sweep.html"
    write_page(sweep_page(sounding_view), path)
    return path


@pytest.fixture(scope="session")
def small_page_file(small_view, tmp_path_factory):
    """A page of 22 strings with every verdict."""
    path = tmp_path_factory.mktemp("small") / "sweep.html"
    write_page(sweep_page(small_view), path)
    return path


@pytest.fixture(scope="session")
def other_pages(small_view, tmp_path_factory):
    """One file of each other kind."""
    folder, changed = tmp_path_factory.mktemp("others"), small_view.strings[2]
    later = replace(small_view, date=date(2025, 7, 1), strings=tuple(
        replace(one, condition=replace(one.condition, verdict="dead")) if one is changed else one for one in small_view.strings))
    span = (date(2024, 1, 1), date(2025, 12, 31))
    history = [StoredCondition(place, point.date, 1, one.condition)
               for one in small_view.strings for place, point in enumerate(one.history)]
    texts = {
        "compare": comparison_page(comparison_view(small_view, later)),
        "life": life_page(life_view(small_view, small_view.strings[0].name)),
        "season": season_page(season_view("A small harp", small_view.instrument, history, span=span)),
        "technician": technician_page(technician_view(small_view, concerns=[Concern("", "It buzzes", "noted by the player")])),
        "index": index_page(small_view, {"Pages": [("A page", "compare.html")]})}
    for name, text in texts.items():
        write_page(text, folder / f"{name}.html")
    return [folder / f"{name}.html" for name in texts]


@pytest.fixture(scope="session")
def chromium():
    program = next((found for found in map(shutil.which, NAMES) if found), None)
    if program is None:
        pytest.skip("no Chromium on this machine: install Debian's package chromium to test pages in a browser")
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        browser = Chromium(program, folder)
        yield browser
        browser.close()
