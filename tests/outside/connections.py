"""Many connections that do nothing, and what becomes of those who want something meanwhile:
`python -m tests.outside.connections [--connections 2000] [--files 1024]`.

One worker is started that may have so many files open. Then connections are opened that send nothing, that begin a
request and never end it, that begin a body, and that ask for a large answer and don't read it. After each kind a
caller who isn't part of it asks for `/healthz`, `/readyz` and a rule, each time on a connection of its own; what it got
and how long that took is printed, with what the worker holds. Exit status 1 if it wasn't answered well each time.
"""

import argparse
import os
import resource
import socket
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import httpx

from service.database.engine import open_engine
from service.database.migrating import migrate
from tests.outside.hammer import served

KINDS: dict[str, bytes] = {
    "silent": b"",
    "half a request": b"GET /healthz HTTP/1.1\r\nHost: kitchen\r\nX-Slow: ",
    "half a body": b"POST /v1/recipe-checks HTTP/1.1\r\nHost: kitchen\r\nContent-Type: application/json\r\n"
    b"Content-Length: 1000\r\n\r\n{",
    "unread answers": b"GET /openapi.json HTTP/1.1\r\nHost: kitchen\r\n\r\n" * 4,
}
OPENING_SECONDS = 30
CALLS = 20
ESTABLISHED = 1  # TCP's state, by the number Linux gives it
PATIENCE_SECONDS = 20


def opened(port: int, count: int, says: bytes) -> list[socket.socket]:
    """So many connections; fewer, if no more are taken in time."""
    found: list[socket.socket] = []
    until = time.monotonic() + OPENING_SECONDS
    while len(found) < count and time.monotonic() < until:
        connection = socket.socket()
        connection.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        connection.settimeout(2)
        try:
            connection.connect(("127.0.0.1", port))
            connection.sendall(says)
        except OSError:
            connection.close()
            continue
        found.append(connection)
    return found


def still_open(connections: list[socket.socket]) -> int:
    """How many of them the service has not closed, as Linux tells it."""
    states = (each.getsockopt(socket.IPPROTO_TCP, socket.TCP_INFO, 1)[0] for each in connections)
    return sum(state == ESTABLISHED for state in states)


def asked(base_url: str, path: str) -> tuple[Counter[str], list[float]]:
    seen: Counter[str] = Counter()
    seconds = []
    for _ in range(CALLS):
        started = time.monotonic()
        try:
            seen[str(httpx.get(base_url + path, timeout=PATIENCE_SECONDS).status_code)] += 1
        except httpx.TransportError as failed:
            seen[type(failed).__name__] += 1
            if seen.total() > 2 and not seen["200"]:
                break
        seconds.append(time.monotonic() - started)
    return seen, sorted(seconds)


def held(pid: int) -> str:
    files = len(os.listdir(f"/proc/{pid}/fd"))
    status = Path(f"/proc/{pid}/status").read_text(encoding="ascii")
    kib = int(next(line for line in status.splitlines() if line.startswith("VmRSS")).split()[1])
    return f"{files} files, {kib // 1024} MiB"


def said(base_url: str, pid: int, what: str) -> bool:
    well = True
    for path in ("/healthz", "/readyz", "/v1/reference/rules?limit=1"):
        seen, seconds = asked(base_url, path)
        well &= set(seen) == {"200"}
        half = seconds[len(seconds) // 2] * 1000 if seconds else float("nan")
        print(f"  {what}, {path}: {dict(seen)}, half within {half:.1f} ms, the slowest {seconds[-1] * 1000:.1f} ms")
    print(f"  the worker holds {held(pid)}", flush=True)
    return well


def limited(files: int) -> Callable[[], None]:
    return lambda: resource.setrlimit(resource.RLIMIT_NOFILE, (files, files))


def main() -> int:
    parser = argparse.ArgumentParser(description="Keep many connections open and see who is still answered.")
    parser.add_argument("--connections", type=int, default=2000)
    parser.add_argument("--files", type=int, default=1024, help="that the service may have open")
    given = parser.parse_args()
    well = True
    with tempfile.TemporaryDirectory(prefix="canning-connections-") as folder:
        url = f"sqlite:///{folder}/kitchen.db"
        database = open_engine(url)
        migrate(database)
        database.close()
        for kind, says in KINDS.items():
            with served(url, 1, limited(given.files)) as (base_url, pid):
                print(f"{kind}:")
                well &= said(base_url, pid, "before")
                started = time.monotonic()
                connections = opened(int(base_url.rpartition(":")[2]), given.connections, says)
                print(f"  {len(connections)} opened in {time.monotonic() - started:.1f} s")
                well &= said(base_url, pid, "meanwhile")
                print(f"  after {time.monotonic() - started:.0f} s {still_open(connections)} are open", flush=True)
                time.sleep(12)
                print(f"  after {time.monotonic() - started:.0f} s {still_open(connections)} are open", flush=True)
                for connection in connections:
                    connection.close()
    return 0 if well else 1


if __name__ == "__main__":
    resource.setrlimit(resource.RLIMIT_NOFILE, (resource.getrlimit(resource.RLIMIT_NOFILE)[1],) * 2)
    sys.exit(main())
