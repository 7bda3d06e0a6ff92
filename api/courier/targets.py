"""Where events may be sent, and sending them there.

The address that was looked at is the one that is connected to: a name that leads elsewhere a moment later leads
nowhere. Redirects are not followed.
"""

import http.client
import ipaddress
import os
import socket
import ssl
from dataclasses import dataclass
from typing import Final
from urllib.parse import SplitResult, urlsplit

from graph.errors import TargetRefused

PRIVATE_VARIABLE: Final = "SPOOLWRIGHT_PRIVATE_HOOKS"
SECONDS: Final = 10.0
_ANSWER_BYTES: Final = 64 * 1024
_NAT64: Final = ipaddress.ip_network("64:ff9b::/96")
Address = ipaddress.IPv4Address | ipaddress.IPv6Address


@dataclass(frozen=True, slots=True)
class Target:
    """A looked-at address: where it is, and the number to connect to."""

    parts: SplitResult
    host: str
    port: int
    number: str


def private_allowed() -> bool:
    """Whether the operator lets events go to private addresses, by SPOOLWRIGHT_PRIVATE_HOOKS."""
    return os.environ.get(PRIVATE_VARIABLE, "") in ("1", "yes", "true")


def target(url: str, *, private: bool) -> Target:
    """Look at an address.

    Raises
    ------
    TargetRefused
        It is no http(s) address, its name leads nowhere, or (unless `private`) to no public address.
    """
    try:
        parts = urlsplit(url)
        port = parts.port or {"https": 443, "http": 80}.get(parts.scheme, 0)
    except ValueError as error:
        raise TargetRefused(f"{url!r} is no address", fix="send an http or https address") from error
    host = parts.hostname or ""
    if parts.scheme not in ("http", "https") or not host or not url.isprintable() or " " in url:
        raise TargetRefused(f"{url!r} is no http or https address", fix="send an http or https address")
    if parts.username is not None or parts.password is not None:
        raise TargetRefused("an address with a name and password in it", fix="leave them out: deliveries are signed")
    try:
        found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
    except (OSError, UnicodeError) as error:
        raise TargetRefused(f"{host!r} leads nowhere", fix="check the name") from error
    numbers = [str(info[4][0]) for info in found]
    for number in numbers:
        if not public(number) and not private:
            raise TargetRefused(
                f"{host!r} leads to {number}, which is not on the public network",
                fix=f"the operator may allow that with {PRIVATE_VARIABLE}=1",
            )
    return Target(parts, host, port, numbers[0])


def public(number: str) -> bool:
    """Whether an address is one of the public network, also when it is wrapped into another."""
    address: Address = ipaddress.ip_address(number.partition("%")[0])
    if isinstance(address, ipaddress.IPv6Address):
        if address.ipv4_mapped:
            address = address.ipv4_mapped
        elif address.sixtofour:
            address = address.sixtofour
        elif address in _NAT64:
            address = ipaddress.IPv4Address(int(address) & 0xFFFFFFFF)
    return address.is_global and not address.is_multicast


def post(to: Target, body: bytes, headers: dict[str, str]) -> int:
    """Send it; the status that came back.

    Raises
    ------
    OSError, http.client.HTTPException
        Nothing sound came back in time.
    """
    connection = _Connection(to)
    try:
        path = (to.parts.path or "/") + (f"?{to.parts.query}" if to.parts.query else "")
        connection.request("POST", path, body, headers)
        answer = connection.getresponse()
        answer.read(_ANSWER_BYTES)
        return answer.status
    finally:
        connection.close()


class _Connection(http.client.HTTPConnection):
    """Connects to the number that was looked at, whatever the name leads to by now."""

    def __init__(self, to: Target) -> None:
        super().__init__(to.host, to.port, timeout=SECONDS)
        self._to = to

    def connect(self) -> None:
        self.sock = socket.create_connection((self._to.number, self._to.port), SECONDS)
        if self._to.parts.scheme == "https":
            self.sock = ssl.create_default_context().wrap_socket(self.sock, server_hostname=self._to.host)
