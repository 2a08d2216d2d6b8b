"""How often an address, and all together, may ask: buckets that fill again with time, in memory."""

import ipaddress
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass

MOST_ADDRESSES = 10_000  # remembered at a time; the one that asked longest ago is forgotten first


@dataclass(frozen=True)
class Pace:
    """at_once : Requests that are let through together. a_second : How many are added again each second."""

    at_once: float
    a_second: float


# A walk through the page asks some forty times. Codes that open nothing are counted again, tighter: a person mistypes
# twice, a guesser does nothing else. [our assumption]
EACH_ADDRESS, ALL_TOGETHER = Pace(120, 2), Pace(1_200, 40)
WRONG_CODES = Pace(12, 1 / 30)


class Bucket:
    """How many requests are left at one pace."""

    def __init__(self, pace: Pace, now: float) -> None:
        self.pace, self.left, self.at = pace, pace.at_once, now

    def filled(self, now: float) -> "Bucket":
        """The same, with what time has added."""
        self.left = min(self.pace.at_once, self.left + max(now - self.at, 0) * self.pace.a_second)
        self.at = now
        return self


class RateLimit:
    """One pace for each address, and one for all together where there is one."""

    def __init__(self, each: Pace, together: Pace | None = None, seconds: Callable[[], float] = time.monotonic) -> None:
        self._each, self._seconds = each, seconds
        self._all = Bucket(together, seconds()) if together else None
        self._of: OrderedDict[str, Bucket] = OrderedDict()
        self._lock = threading.Lock()

    def is_spent(self, address: str) -> bool:
        """Whether this address must wait; nothing is counted."""
        with self._lock:
            return self._buckets(address)[0].left < 1

    def count(self, address: str) -> bool:
        """Whether this request may pass; it is counted then."""
        with self._lock:
            buckets = self._buckets(address)
            if min(bucket.left for bucket in buckets) < 1:
                return False
            for bucket in buckets:
                bucket.left -= 1
            return True

    def _buckets(self, address: str) -> list[Bucket]:
        now, key = self._seconds(), network_of(address)
        own = self._of.pop(key, None) or Bucket(self._each, now)
        self._of[key] = own
        if len(self._of) > MOST_ADDRESSES:
            self._of.popitem(last=False)
        return [bucket.filled(now) for bucket in (own, self._all) if bucket is not None]


def network_of(address: str) -> str:
    """What counts as one address: an IPv4 address, or the /64 of an IPv6 one, which one household has to itself."""
    try:
        found = ipaddress.ip_address(address.partition("%")[0])
    except ValueError:
        return ""
    if isinstance(found, ipaddress.IPv6Address) and found.ipv4_mapped is None:
        return str(ipaddress.ip_network((found, 64), strict=False))
    return str(found)
