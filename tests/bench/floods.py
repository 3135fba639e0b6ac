"""Ten thousand connections of garbage, and one that never reads: ./tests/bench/run floods.

The gatekeeper with each broker: no handles and no memory are left, and it still serves.
"""

from __future__ import annotations

import tempfile
import time
from pathlib import Path

from sensors.broker.mosquitto import Mosquitto
from sensors.broker.process import EmbeddedBroker
from tests.support.floods import deaf_fills_nothing, garbage_leaves_nothing
from tests.support.proxies import MAPPED, gatekeeper


def main() -> None:
    """Print how long each took; what does not hold ends it."""
    print("| broker | flood | s |\n|---|---|---|")
    for kind in (EmbeddedBroker, Mosquitto):
        with (
            tempfile.TemporaryDirectory() as name,
            gatekeeper(Path(name), MAPPED, kind=kind) as held,
        ):
            began = time.monotonic()
            garbage_leaves_nothing(held, 2000, 8000)
            print(f"| {kind.called} | garbage | {time.monotonic() - began:.1f} |", flush=True)
            began = time.monotonic()
            deaf_fills_nothing(held, 5.0)
            print(f"| {kind.called} | never reads | {time.monotonic() - began:.1f} |", flush=True)


if __name__ == "__main__":
    main()
