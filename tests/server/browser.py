"""An installed browser driven over a pipe, as a person would: pages opened, keys pressed, what is shown read."""

from __future__ import annotations

import base64
import fcntl
import itertools
import json
import os
import select
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from estimator.report.page.pdf import browser_there

PATIENCE_S = 60.0
KEYS = {
    "Tab": ("Tab", 9, ""),
    "Enter": ("Enter", 13, "\r"),
    "ArrowRight": ("ArrowRight", 39, ""),
    "ArrowLeft": ("ArrowLeft", 37, ""),
    "ArrowDown": ("ArrowDown", 40, ""),
    "ArrowUp": ("ArrowUp", 38, ""),
    " ": ("Space", 32, " "),
    "Backspace": ("Backspace", 8, ""),
    "Home": ("Home", 36, ""),
    ".": ("Period", 190, "."),
}
there = browser_there() is not None


class Browser:
    """A browser without a window, and one page of it."""

    def __init__(self, folder: Path, width: int = 1280) -> None:
        program = browser_there()
        assert program is not None
        to_it, from_it = os.pipe(), os.pipe()
        ends = [fcntl.fcntl(fd, fcntl.F_DUPFD, 20) for fd in (to_it[0], from_it[1])]

        def in_place() -> None:
            os.dup2(ends[0], 3)
            os.dup2(ends[1], 4)

        alone = ["--no-sandbox"] if os.geteuid() == 0 else []
        self.process = subprocess.Popen(
            [
                program,
                "--headless",
                "--disable-gpu",
                *alone,
                "--remote-debugging-pipe",
                "--no-first-run",
                "--disable-background-networking",
                "--disable-component-update",
                "--disable-sync",
                f"--user-data-dir={folder}",
                "about:blank",
            ],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            preexec_fn=in_place,
            pass_fds=(3, 4),
        )
        for fd in (to_it[0], from_it[1], *ends):
            os.close(fd)
        self._to, self._from = to_it[1], from_it[0]
        self._left = b""
        self._numbers = itertools.count(1)
        self._session = ""
        self.requests: list[str] = []
        self.console: list[str] = []
        target = self.send("Target.createTarget", url="about:blank")["targetId"]
        self._session = self.send("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Network", "Log"):
            self.send(f"{domain}.enable")
        self.size(width)

    def close(self) -> None:
        self.process.terminate()
        self.process.wait(timeout=30)
        os.close(self._to)
        os.close(self._from)

    def send(self, method: str, **params: object) -> dict[str, Any]:
        """Ask the browser; returns its answer."""
        number = next(self._numbers)
        message: dict[str, object] = {"id": number, "method": method, "params": params}
        if self._session:
            message["sessionId"] = self._session
        os.write(self._to, json.dumps(message).encode() + b"\0")
        end = time.monotonic() + PATIENCE_S
        while time.monotonic() < end:
            told = self._read(end)
            if told.get("id") == number:
                assert "error" not in told, told["error"]
                result: dict[str, Any] = told["result"]
                return result
            self._note(told)
        raise AssertionError(f"the browser does not answer {method}")

    def _read(self, end: float) -> dict[str, Any]:
        while b"\0" not in self._left:
            ready, _, _ = select.select([self._from], [], [], max(0.0, end - time.monotonic()))
            assert ready, "the browser says nothing"
            self._left += os.read(self._from, 1 << 20)
        first, _, self._left = self._left.partition(b"\0")
        told: dict[str, Any] = json.loads(first)
        return told

    def _note(self, event: dict[str, Any]) -> None:
        params = event.get("params", {})
        if event.get("method") == "Network.requestWillBeSent":
            self.requests.append(params["request"]["url"])
        elif event.get("method") == "Log.entryAdded":
            self.console.append(params["entry"]["text"])
        elif event.get("method") == "Runtime.exceptionThrown":
            self.console.append(json.dumps(params["exceptionDetails"])[:500])

    def size(self, width: int, height: int = 844) -> None:
        self.send(
            "Emulation.setDeviceMetricsOverride",
            width=width,
            height=height,
            deviceScaleFactor=1,
            mobile=width < 500,
        )

    def open(self, address: str) -> None:
        """Open a page; done when its script is."""
        self.send("Page.navigate", url=address)
        self.until("document.readyState === 'complete' && location.href !== 'about:blank'")

    def run(self, script: str) -> Any:
        """The value of an expression in the page (by the browser's own door, not by the page's)."""
        got = self.send("Runtime.evaluate", expression=script, awaitPromise=True, returnByValue=True)
        assert "exceptionDetails" not in got, got["exceptionDetails"]
        return got["result"].get("value")

    def until(self, script: str, seconds: float = PATIENCE_S) -> None:
        """Wait until an expression is true."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            # while one page goes and another comes there may be no document for a moment
            if self.run(
                f"(() => {{ try {{ return document.readyState === 'complete' && Boolean({script}) }} catch (e) {{ return false }} }})()"
            ):
                return
            time.sleep(0.01)
        raise AssertionError(f"never came true: {script}\n{self.run('document.body.innerText')[:2000]}")

    def press(self, key: str, times: int = 1) -> None:
        """Press a key, or type a letter."""
        code, number, text = KEYS.get(key, (key, ord(key.upper()[0]), key))
        for _ in range(times):
            for kind in ("keyDown", "keyUp"):
                more = {"text": text} if text and kind == "keyDown" else {}
                self.send(
                    "Input.dispatchKeyEvent",
                    type=kind,
                    key=key,
                    code=code,
                    windowsVirtualKeyCode=number,
                    **more,
                )

    def type(self, text: str) -> None:
        for letter in text:
            self.press(letter)

    def thumb(self) -> None:
        """From now on there is a touch screen and no mouse."""
        self.send("Emulation.setTouchEmulationEnabled", enabled=True, maxTouchPoints=1)

    def tap(self, of: str) -> None:
        """Tap on what an expression finds, where a thumb would: it has to be on the screen and on top."""
        at = self.run(f"""(() => {{ const e = {of}; e.scrollIntoView({{ block: 'center' }}); const r = e.getBoundingClientRect();
            const x = r.left + r.width / 2, y = r.top + r.height / 2, top = document.elementFromPoint(x, y);
            return [x, y, top === e || e.contains(top), r.height, top && top.outerHTML.slice(0, 200)]; }})()""")
        assert at[2], f"{of} lies under {at[4]}"
        point = [{"x": at[0], "y": at[1]}]
        self.send("Input.dispatchTouchEvent", type="touchStart", touchPoints=point)
        self.send("Input.dispatchTouchEvent", type="touchEnd", touchPoints=[])

    def picture(self, path: Path, whole: bool = True) -> None:
        shot = self.send("Page.captureScreenshot", captureBeyondViewport=whole)
        path.write_bytes(base64.b64decode(shot["data"]))


@contextmanager
def browsing(folder: Path, width: int = 1280) -> Iterator[Browser]:
    browser = Browser(folder, width)
    try:
        yield browser
    finally:
        browser.close()
