"""What an address asks for behind its question mark."""

from __future__ import annotations

from urllib.parse import parse_qs

from dashboard.pages.routes import Address

MOST_FIELDS = 50


def asked_of(address: Address) -> dict[str, str]:
    """The fields of an address' query, each once; none where there are too many."""
    try:
        fields = parse_qs(
            address.query, keep_blank_values=True, errors="replace", max_num_fields=MOST_FIELDS
        )
    except ValueError:
        return {}
    return {name: values[0] for name, values in fields.items()}
