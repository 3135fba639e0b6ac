"""Pictures scaled in a process of their own, whose memory is bounded and ends with it.

Whatever a file makes a decoder do, it is done there: the page goes on beside it.
"""

from __future__ import annotations

import json
import resource
import shutil
import subprocess
import sys
import tempfile
from contextlib import suppress
from typing import BinaryIO

from curewatch.durations import duration
from curewatch.errors import PhotographError

MOST_MEMORY, MOST_S = 150 * 1024 * 1024, 120.0


def scaled_apart(source: BinaryIO) -> tuple[int, int, bytes, bytes]:
    """Width and height [px] of a picture as it is kept, and its large and small JPEG.

    Raises PhotographError where it cannot be taken, OSError where the disk does not hold it.
    """
    with tempfile.TemporaryFile() as file:
        shutil.copyfileobj(source, file, 1_000_000)
        file.seek(0)
        output = _run(file)
    head, _, data = output.partition(b"\n")
    try:
        answer = json.loads(head)
    except ValueError:
        answer = {"what": "that picture takes too much memory, or is damaged"}
        answer["fix"] = "scale it down first, or send it as JPEG"
    if "what" in answer:
        raise PhotographError(answer["what"], fix=answer["fix"])
    large = answer["large"]
    return answer["width"], answer["height"], data[:large], data[large:]


def _run(file: BinaryIO) -> bytes:
    command = [sys.executable, "-P", "-m", "curewatch.logbook.picture_child"]
    try:
        return subprocess.run(
            command,
            stdin=file,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            timeout=MOST_S,
            check=False,
        ).stdout
    except subprocess.TimeoutExpired:
        raise PhotographError(
            f"the photograph was not read within {duration(MOST_S / 60)}",
            fix="scale it down first",
        ) from None


def _bound_memory() -> None:
    """Nothing is allocated beyond MOST_MEMORY [bytes], where the system can hold us to it."""
    with suppress(OSError, ValueError):
        resource.setrlimit(resource.RLIMIT_DATA, (MOST_MEMORY, MOST_MEMORY))


def main() -> None:
    """Scale the picture at standard input; write what came of it to standard output."""
    _bound_memory()
    from curewatch.logbook.picture import scaled

    out = sys.stdout.buffer
    try:
        with open(sys.stdin.fileno(), "rb", closefd=False) as source:
            picture = scaled(source)
    except PhotographError as error:
        out.write(json.dumps({"what": error.what, "fix": error.fix}).encode())
        return
    head = {"width": picture.width, "height": picture.height, "large": len(picture.large)}
    out.write(json.dumps(head).encode() + b"\n" + picture.large + picture.small)


if __name__ == "__main__":
    main()
