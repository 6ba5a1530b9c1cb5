#!/usr/bin/env python3
# SPDX-License-Identifier: MIT
"""peers.py FOLDER: runs the benches built in FOLDER and prints fettle beside general-purpose libraries, medians of five.

A peer that is not installed is left out. SciPy is measured here, where python3 has it.
"""
import json
import pathlib
import subprocess
import sys
import tempfile
import time

LOOK_UP, SAMPLE, MS, READ = ("ns a look-up", 1e9), ("ns a sample", 1e9), ("ms", 1e3), ("ms for 1,000,000 rows", 1e3)
PAIRS = [  # what, unit, bench, ours, peer, its name
    ("rank 2, scattered points", LOOK_UP, "map_bench_native", "rank2_scattered<double>", "gsl_rank2/scattered", "GSL"),
    ("", LOOK_UP, "map_bench_native", "rank2_scattered<double>", "alglib_rank2/scattered", "ALGLIB"),
    ("rank 2, points move slowly", LOOK_UP, "map_bench_native", "rank2_slow_with_hint<double>",
     "gsl_rank2/slow_with_accelerator", "GSL"),
    ("rank 3, scattered points", LOOK_UP, "map_bench_native", "rank3_scattered<double>", "alglib_rank3_scattered",
     "ALGLIB"),
    ("rank 1, scattered points", LOOK_UP, "map_bench_native", "rank1_scattered<double>",
     "boost_pchip_rank1_scattered", "Boost, a cubic"),
    ("rank 2, a list of points", LOOK_UP, "map_bench_native", "rank2_list<double>", "scipy_list", "SciPy"),
    ("sum a log over 20 x 20 cells", SAMPLE, "fit_bench", "accumulate_slow_drive", "accumulate_by_eigen", "Eigen"),
    ("solve 20 x 20 cells, with errors", MS, "fit_bench", "fit_with_given_strengths/20", "solve_by_eigen/20", "Eigen"),
    ("read 15 columns of CSV, row by row", READ, "io_bench", "each_row", "bare_from_chars", "bare std::from_chars"),
    ("read 15 columns of CSV into memory", READ, "io_bench", "read_log/1", "bare_from_chars", "bare std::from_chars"),
    ("", READ, "io_bench", "read_log/1", "columns_filled", "columns filled, nothing read"),
]
POINTS = 32768


def medians(folder, bench):
    """Seconds per item, or per iteration where a bench counts none, by name."""
    wanted = "|".join(sorted({f"^{name}$" for pair in PAIRS if pair[2] == bench for name in pair[3:5]}))
    with tempfile.TemporaryDirectory() as scratch:
        out = pathlib.Path(scratch) / "out.json"
        subprocess.run(
            [folder / bench, f"--benchmark_filter={wanted}", "--benchmark_repetitions=5", f"--benchmark_out={out}",
             "--benchmark_out_format=json", "--benchmark_enable_random_interleaving=true"],
            check=True, capture_output=True)
        runs = json.loads(out.read_text())["benchmarks"]
    seconds = {"ns": 1e-9, "us": 1e-6, "ms": 1e-3, "s": 1.0}
    seconds_per_item = {}
    for run in runs:
        if run.get("aggregate_name") == "median":
            whole = bench == "io_bench" or "items_per_second" not in run
            seconds_per_item[run["run_name"]] = (
                run["cpu_time"] * seconds[run["time_unit"]] if whole else 1 / run["items_per_second"])
    return seconds_per_item


def scipy_list():
    """Seconds a look-up, or nothing without SciPy."""
    try:
        import numpy
        from scipy.interpolate import RegularGridInterpolator
    except ImportError:
        return None
    random = numpy.random.default_rng(1)
    axis = numpy.cumsum(random.uniform(0.25, 1.75, 16))
    read = RegularGridInterpolator((axis, axis), random.uniform(1, 100, (16, 16)))
    points = random.uniform(axis[0], axis[-1], (POINTS, 2))
    taken = []
    for _ in range(5):
        before = time.process_time()
        read(points)
        taken.append(time.process_time() - before)
    return sorted(taken)[2] / POINTS


def main():
    if len(sys.argv) != 2:
        sys.exit("usage: peers.py FOLDER with map_bench_native, fit_bench and io_bench")
    folder = pathlib.Path(sys.argv[1])
    measured = {}
    for bench in ("map_bench_native", "fit_bench", "io_bench"):
        if not (folder / bench).exists():
            sys.exit(f"{folder / bench} is not there: configure with -DFETTLE_BUILD_BENCH=ON and build it")
        measured.update(medians(folder, bench))
    measured["scipy_list"] = scipy_list()
    print(f"{'':34}{'fettle':>8}{'peer':>8}  times  peer, unit")
    for what, (unit, scale), _, ours, peer, name in PAIRS:
        if measured.get(peer) is not None:
            a, b = measured[ours] * scale, measured[peer] * scale
            print(f"{what:34}{a:8.3g}{b:8.3g}{b / a:7.2g}  {name}, {unit}")


main()
