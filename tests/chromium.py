"""Headless Chromium for tests, driven through its DevTools protocol; no other library needed.

Chrome DevTools Protocol: messages as JSON over one websocket, each call with an `id`, each event
without. websocket-client comes with JupyterLab's server.
"""

import json
import shutil
import signal
import subprocess
import tempfile
import time
from contextlib import contextmanager
from pathlib import Path

import websocket

FLAGS = (
    "--headless",
    "--no-sandbox",  # as root in a container there is none to have
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
    "--remote-debugging-port=0",
)


def find_chromium() -> str | None:
    """Path of the browser, None where there is none."""
    return shutil.which("chromium") or shutil.which("chromium-browser")


class Page:
    """One page of the browser."""

    def __init__(self, address: str) -> None:
        # Without an Origin header: the browser refuses those that it does not know.
        self._socket = websocket.create_connection(address, timeout=120, suppress_origin=True)
        self._number = 0

    def close(self) -> None:
        self._socket.close()

    def call(self, method: str, **parameters):
        """What the browser answers to one command."""
        self._number += 1
        message = {"id": self._number, "method": method, "params": parameters}
        self._socket.send(json.dumps(message))
        while True:
            answer = json.loads(self._socket.recv())
            if answer.get("id") == self._number:
                break
        if "error" in answer:
            raise RuntimeError(f"{method}: {answer['error']['message']}")
        return answer["result"]

    def run(self, script: str):
        """Value of a JavaScript expression; promises are awaited."""
        answer = self.call(
            "Runtime.evaluate", expression=script, awaitPromise=True, returnByValue=True
        )
        if "exceptionDetails" in answer:
            details = answer["exceptionDetails"]
            raise RuntimeError(details.get("exception", {}).get("description", details["text"]))
        return answer["result"].get("value")

    def wait(self, script: str, what: str, seconds: float = 30):
        """Value of the expression as soon as it is true; fails with `what` after the time."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            value = self.run(script)
            if value:
                return value
            time.sleep(0.1)
        raise AssertionError(f"after {seconds} s: {what}")

    def press(self, key: str) -> None:
        """Press and release one key where the focus is."""
        codes = {"ArrowRight": 39, "ArrowLeft": 37, "Home": 36, "End": 35}
        for kind in ("keyDown", "keyUp"):
            self.call(
                "Input.dispatchKeyEvent",
                type=kind,
                key=key,
                code=key,
                windowsVirtualKeyCode=codes[key],
            )


@contextmanager
def open_page(url: str, browser: str, *, width: int = 1300, height: int = 1000):
    """A page that has loaded `url`, in a browser with an empty profile; both go at the end."""
    size = f"--window-size={width},{height}"
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile:
        process = subprocess.Popen(
            [browser, *FLAGS, f"--user-data-dir={profile}", size, "about:blank"],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
        try:
            page = Page(_page_address(Path(profile) / "DevToolsActivePort", process))
            try:
                # Without a window nothing has the focus, and a page may wait for it.
                page.call("Emulation.setFocusEmulationEnabled", enabled=True)
                page.call("Page.navigate", url=url)
                # The page before this one is complete as well.
                loaded = "location.href !== 'about:blank' && document.readyState === 'complete'"
                page.wait(loaded, f"{url.partition('?')[0]} did not load")
                yield page
            finally:
                page.close()
        finally:
            stop(process)


def _page_address(note: Path, process: subprocess.Popen, seconds: float = 30) -> str:
    """Address of the websocket of the page, once the browser has written down its port."""
    import urllib.request

    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if process.poll() is not None:
            raise RuntimeError(f"the browser ended at once, with code {process.returncode}")
        lines = note.read_text().split() if note.is_file() else []
        if len(lines) == 2:
            with urllib.request.urlopen(f"http://127.0.0.1:{lines[0]}/json/list") as answer:
                pages = [entry for entry in json.load(answer) if entry["type"] == "page"]
            if pages:
                return pages[0]["webSocketDebuggerUrl"]
        time.sleep(0.1)
    raise AssertionError(f"the browser opened no page in {seconds} s")


def stop(process: subprocess.Popen, seconds: float = 10) -> None:
    """End a process that was started in a session of its own, with all of its children."""
    import os

    for how in (signal.SIGTERM, signal.SIGKILL):
        try:
            os.killpg(process.pid, how)
        except ProcessLookupError:
            break
        try:
            process.wait(seconds)
        except subprocess.TimeoutExpired:
            continue
    process.wait(seconds)
