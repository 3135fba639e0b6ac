"""The whole app killed under load: what was acknowledged is stored; and a soak sees what grows."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from pathlib import Path

import psutil
import pytest

from tests.bench.soak import Watch
from tests.support.campaign import Publisher, Whole, stored
from tests.support.many import cases


@pytest.mark.parametrize("kind", ["embedded", "mosquitto"])
def test_nothing_acknowledged_is_lost_when_it_is_killed(kind: str, tmp_path: Path) -> None:
    """All of it at once, as by a power cut; then its broker alone."""
    campaign = Whole(tmp_path, kind)
    publisher = Publisher(campaign.port, 300)
    for kill in (Whole.kill_all, Whole.kill_broker) * cases(1):
        time.sleep(0.6)
        kill(campaign)
    acknowledged = publisher.finish()
    assert len(acknowledged) > 100
    assert acknowledged - stored(tmp_path, "curewatch.sqlite") == set()
    campaign.stop()


def watch(memory: Callable[[int], float], handles: Callable[[int], int] = lambda _: 20) -> Watch:
    """Ten minutes of a process, looked at every two seconds. [MB]"""
    found = Watch("server", psutil.Process(os.getpid()))
    for at in range(300):
        found.at.append(2.0 * at)
        found.memory.append(memory(at))
        found.handles.append(handles(at))
        found.threads.append(13)
        found.busy.append(0.04 * at)
    return found


def test_a_process_that_only_warms_up_is_flat() -> None:
    flat = watch(lambda at: min(50.0 + at / 10, 55.0))
    assert flat.faults() == []
    assert flat.slope_mb_h == pytest.approx(0)
    assert flat.cpu_pct == pytest.approx(2.0)
    assert flat.row() == "| server | 50.0 | 55.0 | 55.0 | +0.0 | 20 to 20 | 13 to 13 | 2.00 % |"


def test_memory_and_handles_that_grow_are_faults() -> None:
    growing = watch(lambda at: 50.0 + at / 30, lambda at: 20 + at // 50)
    assert [fault.split(" grew")[0] for fault in growing.faults()] == [
        "server: memory",
        "server: file handles",
    ]


def test_it_looks_at_a_real_process() -> None:
    watch = Watch("this", psutil.Process(os.getpid()))
    for now_s in range(8):
        watch.look(float(now_s))
    assert watch.memory[0] > 5
    assert watch.handles[0] > 2
    assert watch.faults() == []
