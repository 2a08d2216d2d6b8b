"""The names and addresses under which a phone in the same network finds this machine."""

import socket
from contextlib import suppress
from ipaddress import ip_address, ip_network

from estimator.access.certificates import PRIVATE, PRIVATE_6
from estimator.errors import BadInputError

LOCAL_HOSTS = ("127.0.0.1", "localhost", "::1")


def network_address() -> str:
    """This machine's address in its network; "" where it is in none. Nothing is sent to find it."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked, suppress(OSError):
        asked.connect(("192.0.2.1", 9))  # RFC 5737: an address of nobody; a datagram socket sends nothing on connecting
        found = str(asked.getsockname()[0])
        return "" if ip_address(found).is_loopback else found
    return ""


def private_address(said: str) -> str:
    """The address, where it is one of a network of one's own. Raises BadInputError for any other."""
    try:
        address = ip_address(said)
    except ValueError as problem:
        raise BadInputError(
            f"{said[:40]!r} is no address. Join the salon's network, or name this machine's own in it: "
            "--address 192.168.1.20"
        ) from problem
    if not any(address in ip_network(network) for network in (*PRIVATE, *PRIVATE_6)):
        raise BadInputError(
            f"{said} is an address of the open internet, and the door is for the salon's own network. "
            "Name a private one with --address."
        )
    return said


def local_name() -> str:
    """This machine's name as its network says it (RFC 6762), such as `salon.local`; "" where none serves."""
    name = socket.gethostname().split(".")[0].lower()
    return f"{name}.local" if name and name.replace("-", "").isalnum() and name.isascii() else ""


def hosts_of(address: str) -> tuple[str, ...]:
    """Every name under which this machine answers at `address`."""
    return tuple(dict.fromkeys(host for host in (address, local_name(), *LOCAL_HOSTS) if host))
