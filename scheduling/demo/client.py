"""A small HTTP client: one person with a device token, talking JSON to the API."""

import json
import urllib.error
import urllib.request
from dataclasses import dataclass
from typing import Any

TIMEOUT_SECONDS = 60.0


class StoryBroke(RuntimeError):
    """The service answered otherwise than the story needs."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    status: int
    body: Any
    etag: str
    raw: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class Caller:
    """Somebody who asks the API at `url` (without a trailing slash)."""

    name: str
    url: str
    secret: str = ""

    def get(self, path: str, *, expect: int = 200) -> Any:
        return self.ask("GET", path, expect=expect).body

    def post(self, path: str, body: Any = None, *, expect: int = 201) -> Any:
        return self.ask("POST", path, body, expect=expect).body

    def patch(self, path: str, body: Any, *, version: int, expect: int = 200) -> Any:
        return self.ask("PATCH", path, body, etag=f'"{version}"', expect=expect).body

    def ask(
        self,
        method: str,
        path: str,
        body: Any = None,
        *,
        expect: int | tuple[int, ...],
        etag: str = "",
        csv: str | None = None,
    ) -> Answer:
        """Send one request; raises StoryBroke if its status is not the expected one."""
        headers = {"Content-Type": "application/json", "Accept": "*/*"}
        if self.secret:
            headers["Authorization"] = f"Bearer {self.secret}"
        if etag:
            headers["If-Match"] = etag
        data = None if body is None else json.dumps(body).encode()
        if csv is not None:
            data, headers["Content-Type"] = csv.encode(), "text/csv"
        address = path if path.startswith("http") else f"{self.url}/api/v1/{path}"
        request = urllib.request.Request(address, data=data, headers=headers, method=method)
        try:
            with urllib.request.urlopen(request, timeout=TIMEOUT_SECONDS) as response:
                status, raw, head = response.status, response.read(), response.headers
        except urllib.error.HTTPError as refused:
            with refused:
                status, raw, head = refused.code, refused.read(), refused.headers
        is_json = "json" in head.get("Content-Type", "")
        answer = Answer(
            status=status,
            body=json.loads(raw) if is_json and raw else None,
            etag=head.get("ETag", ""),
            raw=raw,
        )
        if status not in (expect if isinstance(expect, tuple) else (expect,)):
            raise StoryBroke(
                f"{method} {path} as {self.name}: expected {expect}, got {status}: "
                f"{raw[:1500].decode(errors='replace')}"
            )
        return answer
