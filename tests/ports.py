"""Ports for services that are processes of their own, and have to be told theirs."""

import random
import socket
from pathlib import Path

_RANGE = Path("/proc/sys/net/ipv4/ip_local_port_range")
_FIRST_OF_THE_SYSTEMS = int(_RANGE.read_text().split()[0]) if _RANGE.exists() else 32_768


def free() -> int:
    """A port of 127.0.0.1 that nobody listens on, and that the system gives nobody who takes any."""
    while True:
        port = random.SystemRandom().randrange(10_000, _FIRST_OF_THE_SYSTEMS)
        with socket.socket() as asked:
            if asked.connect_ex(("127.0.0.1", port)) != 0:
                return port
