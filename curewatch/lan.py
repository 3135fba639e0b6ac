"""Where other devices of the home network find this machine."""

from __future__ import annotations

import socket

_NOWHERE = ("192.0.2.1", 9)


def lan_address() -> str | None:
    """This machine's address on its network, without sending anything; None where it has none.

    A datagram socket that is merely pointed at an address of documentation (RFC 5737) takes the
    address from which the system would send.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(_NOWHERE)
            found = str(probe.getsockname()[0])
        except OSError:
            return None
    return None if found.startswith(("127.", "0.")) else found


def page_address(port: int, *, encrypted: bool) -> str | None:
    """The page's address for a phone; None where this machine has no network."""
    address = lan_address()
    scheme = "https" if encrypted else "http"
    return f"{scheme}://{address}:{port}/" if address else None
