"""How soon `spooldown --help` answers, as a ratio to a Python that does nothing."""

from __future__ import annotations

import statistics
import subprocess
import sys
import time


def seconds(*words: str, times: int = 15) -> float:
    taken = []
    for _ in range(times):
        begin = time.perf_counter()
        subprocess.run([sys.executable, *words], check=True, capture_output=True)
        taken.append(time.perf_counter() - begin)
    return statistics.median(taken)


if __name__ == "__main__":
    bare = seconds("-c", "pass")
    shown = seconds("-m", "spooldown", "--help")
    print(f"python -c pass {bare * 1000:.0f} ms, spooldown --help {shown * 1000:.0f} ms, ratio {shown / bare:.1f}")
