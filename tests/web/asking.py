"""Asking the service with next to nothing between: for tests that ask thousands of times."""

import json
from dataclasses import dataclass
from typing import Any
from urllib.parse import unquote

from tests.conftest import Client


@dataclass(frozen=True, slots=True)
class Got:
    """An answer."""

    status: int
    headers: dict[str, str]
    content: bytes

    @property
    def json(self) -> Any:
        """The body."""
        return json.loads(self.content)

    @property
    def code(self) -> str | None:
        """The code of a problem."""
        is_problem = self.headers.get("content-type") == "application/problem+json"
        return str(self.json["code"]) if is_problem else None


def ask(client: Client, method: str, path: str, token: str | None = None, body: Any = None, **headers: str) -> Got:
    """Ask once; `body` is bytes as they are, or anything else as JSON."""
    content = body if isinstance(body, bytes) else b"" if body is None else json.dumps(body).encode()
    given = {"host": "testserver"} | ({"authorization": f"Bearer {token}"} if token else {})
    given |= {"content-type": "application/json", "content-length": str(len(content))} if body is not None else {}
    given |= {name.replace("_", "-"): value for name, value in headers.items()}
    return client.portal.call(_asked, client.app, method, path, given, content)  # type: ignore[no-any-return]


async def _asked(app: Any, method: str, target: str, headers: dict[str, str], content: bytes) -> Got:
    path, _, query = target.partition("?")
    scope = {
        "type": "http",
        "http_version": "1.1",
        "method": method,
        "scheme": "http",
        "path": unquote(path, errors="replace"),
        "raw_path": path.encode(),
        "root_path": "",
        "query_string": query.encode(),
        "headers": [(name.lower().encode(), value.encode("latin-1")) for name, value in headers.items()],
        "client": ("testclient", 1),
        "server": ("testserver", 80),
        "state": {},
    }
    incoming = [{"type": "http.request", "body": content, "more_body": False}]
    outgoing: list[dict[str, Any]] = []

    async def receive() -> dict[str, Any]:
        return incoming.pop(0) if incoming else {"type": "http.disconnect"}

    async def send(message: dict[str, Any]) -> None:
        outgoing.append(message)

    await app(scope, receive, send)
    start = outgoing[0]
    found = {name.decode().lower(): value.decode("latin-1") for name, value in start["headers"]}
    return Got(start["status"], found, b"".join(each.get("body", b"") for each in outgoing[1:]))
