"""Every bench of speed in one run. Run on a quiet machine: python tests/bench/run.py [--quick]

Walls, checks and peers (bench_mechanics), sizing, scatter and sweeps (bench_size), millions as
Parquet with a killed worker (bench_sweep). --quick: a tenth of the designs.
"""

from __future__ import annotations

import platform
import subprocess
import sys
from pathlib import Path

import numpy as np

HERE = Path(__file__).parent


def processor() -> str:
    """Name of the processor, where the system tells."""
    try:
        lines = Path("/proc/cpuinfo").read_text().splitlines()
    except OSError:
        return platform.processor()
    return next((line.split(":")[1].strip() for line in lines if "model name" in line), "unknown")


def main(arguments: list[str]) -> None:
    quick = "--quick" in arguments
    print(f"{processor()}, Python {platform.python_version()}, numpy {np.__version__}", flush=True)
    for name, options in (
        ("bench_mechanics.py", ["--quick"] if quick else []), ("bench_size.py", []),
        ("bench_sweep.py", ["1000000" if quick else "10000000"]),
    ):
        print(f"--- {name}", flush=True)
        subprocess.run([sys.executable, str(HERE / name), *options], check=True)


if __name__ == "__main__":
    main(sys.argv[1:])
