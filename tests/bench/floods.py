"""Ten thousand connections of garbage, and one that never reads: ./tests/bench/run floods.

The gatekeeper with each broker: no handles and no memory are left, and it still serves.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from itertools import product
from pathlib import Path

from sensors.broker.mosquitto import Mosquitto
from sensors.broker.process import EmbeddedBroker
from tests.support.floods import deaf_fills_nothing, garbage_leaves_nothing
from tests.support.proxies import MAPPED, RunningGatekeeper, run_gatekeeper

KINDS: tuple[type[EmbeddedBroker] | type[Mosquitto], ...] = (EmbeddedBroker, Mosquitto)
FLOODS: dict[str, Callable[[RunningGatekeeper], None]] = {
    "garbage": lambda gatekeeper: garbage_leaves_nothing(gatekeeper, 2000, 8000),
    "never reads": lambda gatekeeper: deaf_fills_nothing(gatekeeper, 5.0),
}


def main() -> None:
    """Print how long each took; what does not hold ends it."""
    print("| broker | flood | s |\n|---|---|---|")
    for kind, (name, flood) in product(KINDS, FLOODS.items()):
        with (
            tempfile.TemporaryDirectory() as folder,
            run_gatekeeper(Path(folder), MAPPED, kind=kind) as gatekeeper,
        ):
            began = time.monotonic()
            flood(gatekeeper)
            print(f"| {kind.called} | {name} | {time.monotonic() - began:.1f} |", flush=True)


if __name__ == "__main__":
    main()
