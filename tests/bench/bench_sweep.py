"""How long a sweep of millions of full checks takes. Run: python tests/bench/bench_sweep.py [rows]

One table as Parquet (10 million rows by default) by processes on every core, then the same by a
Dask cluster of two local workers of which one is killed a third of the way; both tables must be
equal byte for byte. Wall time and peak memory of the process that writes.
"""

from __future__ import annotations

import os

os.environ["OMP_NUM_THREADS"] = "1"
os.environ["OPENBLAS_NUM_THREADS"] = "1"

import filecmp
import resource
import signal
import sys
import tempfile
import time
from pathlib import Path

from gridshell.define.files.reading import read_design
from gridshell.study.sweep.run import sweep_designs

EXAMPLE = Path(__file__).parent.parent.parent / "examples" / "lake-probe.toml"


def axes(rows: int) -> list[str]:
    """What to vary so that the table has about as many rows."""
    third = max(round((rows / 100) ** 0.5), 2)
    return [f"ribs.height=3mm:7mm:{third}", f"ribs.width=1.5mm:3mm:{third}",
            "skin.thickness=1.2mm:2.5mm:10", "tube.length=700mm:1100mm:10"]


def told(name: str, rows: int, taken: float) -> None:
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024**2  # KiB on Linux
    print(f"{name:44}{rows:12,} rows{taken:8.1f} s{rows / taken:12,.0f}/s   "
          f"peak {peak:.2f} GiB", flush=True)


def main(rows: int) -> None:
    design = read_design(EXAMPLE)
    cores = os.cpu_count() or 1
    with tempfile.TemporaryDirectory() as folder:
        one, two = Path(folder) / "one.parquet", Path(folder) / "two.parquet"
        start = time.perf_counter()
        done = sweep_designs(design, axes(rows), one)
        told(f"Parquet, {cores} processes", done.rows, time.perf_counter() - start)

        from distributed import Client, LocalCluster

        with LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None
                          ) as cluster, Client(cluster) as client:
            victims = [next(iter(client.run(os.getpid).values()))]

            def kill(finished: int, total: int) -> None:
                if victims and finished > total / 3:
                    os.kill(victims.pop(), signal.SIGKILL)

            start = time.perf_counter()
            done = sweep_designs(
                design, axes(rows), two, cluster=cluster.scheduler_address, progress=kill)
            told("Parquet, Dask, 2 workers, one killed", done.rows, time.perf_counter() - start)
        assert not victims
        same = filecmp.cmp(one, two, shallow=False)
        print(f"{one.stat().st_size / 1e9:.2f} GB each; tables {'equal' if same else 'DIFFER'}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 10_000_000)
