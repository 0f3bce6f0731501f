"""A headless Firefox as far as the tests need one, driven by its own remote protocol (Marionette), no driver needed.

The protocol: one TCP connection, messages of JSON with their length before a colon, ``[0, id, command, parameters]``
answered by ``[1, id, error, result]``; the commands are those of WebDriver (W3C).
"""

from __future__ import annotations

import json
import shutil
import socket
import subprocess
import time
from pathlib import Path
from typing import Any

SETTINGS = {
    "browser.shell.checkDefaultBrowser": False,
    "datareporting.policy.dataSubmissionEnabled": False,
    "toolkit.telemetry.enabled": False,
    "app.update.enabled": False,
    "app.normandy.enabled": False,
    "network.captive-portal-service.enabled": False,
    "network.connectivity-service.enabled": False,
}
# Complaints about pages come from another process a little later. One thrown on purpose comes after all of them.
LAST = "thrown on purpose, after all others"
COMPLAINTS = """
const found = Services.console.getMessageArray()
  .filter((m) => m instanceof Ci.nsIScriptError && m.sourceName.startsWith("file:")).map((m) => m.errorMessage);
if (!found.some((m) => m.includes(arguments[0]))) return null;
Services.console.reset();
return found.filter((m) => !m.includes(arguments[0]));
"""


def firefox_path() -> str | None:
    return shutil.which("firefox-esr") or shutil.which("firefox")


class Firefox:
    def __init__(self, profile: Path, width: int = 1280, height: int = 900) -> None:
        path = firefox_path()
        assert path is not None
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            port = free.getsockname()[1]
        settings = SETTINGS | {"marionette.port": port}
        lines = [f"user_pref({json.dumps(k)}, {json.dumps(v)});" for k, v in settings.items()]
        (profile / "user.js").write_text("\n".join(lines))
        self.process = subprocess.Popen(
            [path, "--headless", "--marionette", "--remote-allow-system-access", "--no-remote", "--profile", profile,
             "--width", str(width), "--height", str(height)],
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        self.number = 0
        end = time.monotonic() + 60.0
        while True:
            try:
                self.socket = socket.create_connection(("127.0.0.1", port), timeout=60.0)
                break
            except OSError:
                assert time.monotonic() < end, "Firefox did not start"
                time.sleep(0.1)
        self.stream = self.socket.makefile("rwb")
        self._read()
        self("WebDriver:NewSession")

    def _read(self) -> Any:
        size = b""
        while (char := self.stream.read(1)) != b":":
            assert char, "Firefox hung up"
            size += char
        return json.loads(self.stream.read(int(size)))

    def __call__(self, command: str, **given: object) -> Any:
        self.number += 1
        text = json.dumps([0, self.number, command, given]).encode()
        self.stream.write(str(len(text)).encode() + b":" + text)
        self.stream.flush()
        _, _, error, result = self._read()
        assert error is None, error
        return result

    def goto(self, file: Path, fragment: str = "") -> None:
        self("WebDriver:Navigate", url=file.resolve().as_uri() + fragment)

    def run(self, script: str) -> Any:
        """Run a script as the page itself would; what it returns."""
        return self("WebDriver:ExecuteScript", script=script, args=[], sandbox=None)["value"]

    def until(self, truth: str, seconds: float = 20.0) -> None:
        end = time.monotonic() + seconds
        while not self.run(f"return Boolean({truth});"):
            assert time.monotonic() < end, f"never came true: {truth}"
            time.sleep(0.05)

    def complaints(self) -> list[str]:
        """What the browser found wrong with the pages opened since last asked."""
        self.run(f"setTimeout(() => {{ throw new Error({json.dumps(LAST)}); }});")
        self("Marionette:SetContext", value="chrome")
        try:
            end = time.monotonic() + 20.0
            while (found := self("WebDriver:ExecuteScript", script=COMPLAINTS, args=[LAST])["value"]) is None:
                assert time.monotonic() < end, "Firefox's console stays silent"
                time.sleep(0.05)
        finally:
            self("Marionette:SetContext", value="content")
        return list(found)

    def close(self) -> None:
        try:
            self("Marionette:Quit", flags=["eForceQuit"])
        except (OSError, AssertionError):
            self.process.terminate()
        self.stream.close()
        self.socket.close()
        try:
            self.process.wait(20)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
