"""Debian's Firefox, asked over Marionette: the remote control that it brings along, on a socket.

A message is its length, a colon and a JSON array: [0, number, command, parameters] to it, and
[1, number, error, result] from it. Commands are those of WebDriver (W3C), from memory.
"""

import json
import shutil
import socket
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

FIREFOX = shutil.which("firefox-esr") or shutil.which("firefox")
STARTS_WITHIN_SECONDS = 90.0
ANSWERS_WITHIN_SECONDS = 60.0
SHOWN_WITHIN_MS = 15_000
ELEMENT = "element-6066-11e4-a52e-4f735466cecf"  # the key of an element in WebDriver's JSON
PREFERENCES = {
    "marionette.port": 0,  # any that is free, told in a file of the profile
    "network.disable-localhost-when-offline": True,
    "browser.shell.checkDefaultBrowser": False,
    "datareporting.policy.dataSubmissionEnabled": False,
    "app.update.auto": False,
    "extensions.update.enabled": False,
    "network.captive-portal-service.enabled": False,
    "network.connectivity-service.enabled": False,
    "browser.safebrowsing.malware.enabled": False,
    "browser.safebrowsing.phishing.enabled": False,
}


class Firefox:
    """One window of a phone's width; `find` waits for what it looks for."""

    def __init__(self, connection: socket.socket) -> None:
        self._connection = connection
        self._number = 0
        self._received()  # it introduces itself
        self.ask("WebDriver:NewSession")
        self.ask("WebDriver:SetTimeouts", implicit=SHOWN_WITHIN_MS, pageLoad=30_000)
        self.ask("WebDriver:SetWindowRect", width=390, height=750)

    def ask(self, command: str, **parameters: Any) -> Any:
        self._number += 1
        text = json.dumps([0, self._number, command, parameters]).encode()
        self._connection.sendall(b"%d:%s" % (len(text), text))
        _kind, number, error, result = self._received()
        assert number == self._number
        assert error is None, f"{command} {parameters}: {error}"
        return result["value"] if isinstance(result, dict) and "value" in result else result

    def go(self, url: str) -> None:
        self.ask("WebDriver:Navigate", url=url)

    def find(self, xpath: str) -> str:
        found = self.ask("WebDriver:FindElement", using="xpath", value=xpath)
        return str(found[ELEMENT])

    def see(self, text: str) -> None:
        """Wait for an element whose own words hold `text`."""
        self.find(f"//main//*[contains(normalize-space(.), '{text}')]")

    def type(self, xpath: str, text: str) -> None:
        self.ask("WebDriver:ElementSendKeys", id=self.find(xpath), text=text)

    def press(self, name: str) -> None:
        self.ask("WebDriver:ElementClick", id=self.find(f"//button[normalize-space(.)='{name}']"))

    def text(self, xpath: str) -> str:
        return str(self.ask("WebDriver:GetElementText", id=self.find(xpath)))

    def offline(self, yes: bool) -> None:
        """Cut or mend the browser's whole network, as flight mode does."""
        self.ask("Marionette:SetContext", value="chrome")
        # Connections that were kept open would go on.
        script = (
            "Services.io.offline = arguments[0];"
            "Services.obs.notifyObservers(null, 'net:prune-all-connections');"
        )
        self.ask("WebDriver:ExecuteScript", script=script, args=[yes], sandbox="system")
        self.ask("Marionette:SetContext", value="content")

    def new_tab(self) -> None:
        """Close this tab, and go on in another."""
        fresh = self.ask("WebDriver:NewWindow", type="tab")
        self.ask("WebDriver:CloseWindow")
        self.ask("WebDriver:SwitchToWindow", handle=fresh["handle"])

    def _received(self) -> Any:
        length = b""
        while (byte := self._exactly(1)) != b":":
            length += byte
        return json.loads(self._exactly(int(length)))

    def _exactly(self, size: int) -> bytes:
        data = b""
        while len(data) < size:
            part = self._connection.recv(size - len(data))
            assert part, "Firefox has hung up"
            data += part
        return data


@contextmanager
def firefox(profile: Path) -> Iterator[Firefox]:
    """A Firefox of its own over an empty profile, ended with the block."""
    assert FIREFOX is not None
    lines = [f"user_pref({json.dumps(k)}, {json.dumps(v)});" for k, v in PREFERENCES.items()]
    (profile / "user.js").write_text("\n".join(lines))
    flags = ("--headless", "--no-remote", "--marionette", "--remote-allow-system-access")
    running = subprocess.Popen(
        [FIREFOX, *flags, "--profile", str(profile)],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        with socket.create_connection(("127.0.0.1", _port(profile, running))) as connection:
            connection.settimeout(ANSWERS_WITHIN_SECONDS)
            yield Firefox(connection)
    finally:
        running.terminate()
        try:
            running.wait(10)
        except subprocess.TimeoutExpired:
            running.kill()
            running.wait(10)


def _port(profile: Path, running: "subprocess.Popen[bytes]") -> int:
    """The port that it has chosen, once it listens there."""
    told = profile / "MarionetteActivePort"
    until = time.monotonic() + STARTS_WITHIN_SECONDS
    while time.monotonic() < until:
        assert running.poll() is None, f"Firefox ended with status {running.returncode}"
        if told.exists() and (text := told.read_text().strip()):
            return int(text)
        time.sleep(0.1)
    raise AssertionError("Firefox does not start")
