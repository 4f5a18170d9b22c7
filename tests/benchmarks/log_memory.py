"""Peak memory of ``scaleup record`` on a log of many minutes at 100 kHz.

``python tests/benchmarks/log_memory.py 60`` writes an hour (360 million samples, some 5 GB) to a
temporary folder, measures it in a process of its own and prints how much memory that took.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

RATE, ROWS = 100_000, 1 << 20


def write_log(path: Path, minutes: float) -> int:
    """Write a rotary press with precompression, main, noise and a slow wave of the zero."""
    rng = np.random.default_rng(0)
    schema = pa.schema({"time [s]": pa.float64(), "force [N]": pa.float32()})
    left, done = int(minutes * 60 * RATE), 0
    with pq.ParquetWriter(path, schema) as writer:
        while left > 0:
            count = min(ROWS, left)
            time = (done + np.arange(count)) / RATE
            phase = np.mod(time, 0.083)
            force = np.where(phase < 0.012, 15e3 * np.sin(np.pi * phase / 0.012), 0.0)
            late = (phase > 0.04) & (phase < 0.05)
            force += np.where(late, 3e3 * np.sin(np.pi * (phase - 0.04) / 0.01), 0.0)
            force += 400.0 * np.sin(2.0 * np.pi * time / 90.0) + rng.normal(0.0, 20.0, count)
            table = pa.table({"time [s]": time, "force [N]": force.astype(np.float32)}, schema)
            writer.write_table(table)
            left, done = left - count, done + count
    return done


def main() -> None:
    """Print samples, and the peak memory of the command that measures them."""
    minutes = float(sys.argv[1]) if len(sys.argv) > 1 else 60.0
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log.parquet"
        samples = write_log(path, minutes)
        command = [sys.executable, "-m", "scaleup", "record", str(path)]
        done = subprocess.run(command, capture_output=True, text=True, check=True)
        peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
        print("\n".join(done.stdout.splitlines()[:4]))
        print(f"{samples:,} samples: peak memory {peak:.0f} MB")


if __name__ == "__main__":
    main()
