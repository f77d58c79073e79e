"""How much each caller may ask for, counted in this process's memory."""

from collections.abc import Callable
from dataclasses import dataclass, field
from math import ceil
from threading import Lock
from time import monotonic

WINDOW_SECONDS = 60
MOST_CALLERS = 10_000


@dataclass(frozen=True, slots=True)
class Told:
    """What a caller is told about its allowance; `wait_seconds` is 0 when the request may go on."""

    wait_seconds: int
    headers: dict[str, str] = field(default_factory=dict)


class Allowances:
    """A bucket per caller that fills up again at a steady rate."""

    def __init__(self, per_minute: int, clock: Callable[[], float] = monotonic) -> None:
        """Give every caller `per_minute` requests a minute, all at once if they like."""
        self.per_minute = per_minute
        self.clock = clock
        self.lock = Lock()
        self.left: dict[str, tuple[float, float]] = {}

    def spend(self, who: str, cost: int) -> Told:
        """Take `cost` from a caller, or say how long to wait; a cost above the whole allowance empties it."""
        cost = min(cost, self.per_minute)
        a_second = self.per_minute / WINDOW_SECONDS
        with self.lock:
            at = self.clock()
            left, since = self.left.pop(who, (float(self.per_minute), at))
            left = min(self.per_minute, left + (at - since) * a_second)
            wait_seconds = 0 if left >= cost else ceil((cost - left) / a_second)
            left -= 0 if wait_seconds else cost
            self.left[who] = (left, at)  # last in the order, so that the longest unseen goes first
            if len(self.left) > MOST_CALLERS:
                del self.left[next(iter(self.left))]
        full_seconds = ceil((self.per_minute - left) / a_second)
        return Told(
            wait_seconds,
            {
                "RateLimit-Policy": f'"requests";q={self.per_minute};w={WINDOW_SECONDS}',
                "RateLimit": f'"requests";r={int(left)};t={full_seconds}',
            },
        )


class NoLimits:
    """For a demonstration, where nobody is turned away."""

    def spend(self, who: str, cost: int) -> Told:
        """Let everything pass."""
        return Told(0)
