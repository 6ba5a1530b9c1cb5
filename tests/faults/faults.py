#!/usr/bin/env python3
# SPDX-License-Identifier: MIT
"""What a program leaves behind when it is killed, when the disk is full or read-only, and when memory runs out.

    faults.py kill|disk|memory FOLDER_OF_PROGRAMS PROGRAM [COUNT [SEED]]

Every output is the whole file, or what was there before; inputs are untouched; what a killed writer left is gone after
the next run. COUNT: kills, or sizes of the disk; with memory, limits rise by 1/COUNT on average until one is enough.
Ends with 77, skipped, where it may not mount a disk.
"""

import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

SKIPPED = 77
EARLIER = b"what an earlier run wrote\n"
NOBODY = 65534


class Fault(AssertionError):
    pass


def require(holds, text):
    if not holds:
        raise Fault(text)


def files_in(folder):
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def stamps(folder):
    """What shows that something was written, without reading it; a file may vanish meanwhile."""
    result = set()
    for path in folder.rglob("*"):
        try:
            result.add((str(path), path.stat().st_mtime_ns))
        except FileNotFoundError:
            result.add((str(path), 0))
    return result


def is_temporary(name):
    base = Path(name).name
    return base.startswith(".") and base.endswith(".tmp")


class Bench:
    """A program, its inputs and what a run of it writes when nothing goes wrong."""

    def __init__(self, programs, name, scratch):
        self.name, self.scratch = name, scratch
        self.program = shutil.copy(Path(programs) / name, scratch / name)  # nobody may not reach the build
        self.inputs = scratch / "inputs"
        self.inputs.mkdir()
        for drive in self.drives():
            subprocess.run([Path(programs) / "virtual_engine", *drive], check=True, stdout=subprocess.DEVNULL)
        self.before = files_in(self.inputs)

    def drives(self):
        """What virtual_engine is asked for to make the inputs, one after the other."""
        first = ["--out", self.inputs]
        if self.name == "virtual_engine":
            return []
        if self.name in ("compare_pulls", "plan_shifts"):
            return [[*first, "--car"]]
        if self.name == "trim_cylinders":
            return [[*first, "--rotated-runs", "2", "--minutes", "0.4"]]
        if self.name == "compare_passes":
            again = ["--session", self.inputs / "session.json", "--drive", "stage", "--out", self.inputs / "next"]
            return [[*first, "--minutes", "2"], [*again, "--minutes", "2"]]
        return [[*first, "--minutes", "2"]]

    def words(self, out):
        session = self.inputs / "session.json"
        asked = {"virtual_engine": ["--minutes", "8", "--out", out],
                 "compare_pulls": [self.inputs / "road_session.json", "--out", out],
                 "plan_shifts": [self.inputs / "shift_session.json", "--out", out],
                 "compare_passes": [session, self.inputs / "next" / "session.json", "--out", out],
                 "start_session": [self.inputs / "stage.csv", "--map", self.inputs / "fuel_map.csv", "--cylinders", "5",
                                   "--displacement-l", "2.5", "--out", out / "session.json"]}
        return [self.program, *asked.get(self.name, [session, "--out", out])]

    def start(self, out, **options):
        options.setdefault("stdout", subprocess.DEVNULL)
        return subprocess.Popen(self.words(out), stderr=subprocess.PIPE, text=True, **options)

    def run(self, out, **options):
        process = self.start(out, **options)
        said = process.communicate()[1]
        return process.returncode, said

    def complete_run(self, out, **options):
        code, said = self.run(out, **options)
        require(code == 0, f"a run without any fault ended with {code}: {said}")
        return files_in(out)

    @staticmethod
    def same(name, first, second):
        """Equal bytes; a session file names other files as seen from its folder, so there only their last parts."""
        if first == second or name != "session.json":
            return first == second
        parts = lambda text: [line.rsplit("/", 1)[-1].rsplit('"file": "', 1)[-1] for line in text.decode().splitlines()]
        return parts(first) == parts(second)

    def put_earlier(self, out, whole):
        for name in whole:
            (out / name).parent.mkdir(parents=True, exist_ok=True)
            (out / name).write_bytes(EARLIER)

    def check(self, out, whole, earlier, what):
        """Files are whole or as before, none is there that should not be; how many temporary ones are."""
        require(files_in(self.inputs) == self.before, f"{what}: the inputs changed")
        there = files_in(out) if out.exists() else {}
        for name, content in there.items():
            if is_temporary(name):
                continue
            require(name in whole, f"{what}: {name} is no file of this program")
            require(self.same(name, content, whole[name]) or (earlier and content == EARLIER), f"{what}: {name} is not whole")
        for name in whole if earlier else ():
            require(name in there, f"{what}: {name} of an earlier run is gone")
        return sum(map(is_temporary, there))

    def check_refusal(self, code, said, what):
        require(code == 2, f"{what}: ended with {code}, expected 2; it said: {said}")
        require(said.startswith(self.name + ": ") and said.count("\n") == 1,
                f"{what}: expected one line of {self.name}, it said: {said}")


def kill(bench, count, draw):
    out = bench.scratch / "out"
    out.mkdir()

    def wait_for_a_write(process):
        before = stamps(out)
        while process.poll() is None and stamps(out) == before:
            time.sleep(0.001)

    def remove_files():
        for name in files_in(out):
            if not is_temporary(name):
                (out / name).unlink()

    begin = time.monotonic()
    process = bench.start(out)
    wait_for_a_write(process)
    first_write = time.monotonic()
    require(process.wait() == 0, "a run without any fault failed")
    lasts, writes = time.monotonic() - begin, time.monotonic() - first_write
    whole = files_in(out)

    kills = leftovers = while_writing = 0
    for attempt in range(4 * count):
        if kills == count:
            break
        earlier = attempt % 4 >= 2
        remove_files()
        if earlier:
            bench.put_earlier(out, whole)
        before = stamps(out)
        process = bench.start(out)
        if attempt % 2 == 0:
            time.sleep(draw.uniform(0, lasts))
        else:  # while it writes, which is the smaller part of most runs
            wait_for_a_write(process)
            time.sleep(draw.uniform(0, writes))
        process.send_signal(signal.SIGKILL)
        process.communicate()
        if process.returncode != -signal.SIGKILL:
            continue
        kills += 1
        while_writing += stamps(out) != before
        leftovers = max(leftovers, bench.check(out, whole, earlier, f"kill {kills}"))
    require(kills == count, f"only {kills} of {4 * count} runs were caught before they ended")
    if bench.name == "start_session":  # it writes over no session
        remove_files()
    require(bench.complete_run(out) == whole, "the run after the kills differs or leaves something behind")
    return (f"{kills} kills, {while_writing} of them after the first file was begun; up to {leftovers} temporary files, "
            "none after the next run")


def require_root():
    if os.geteuid() != 0:
        print("skipped: only root can mount a small disk")
        sys.exit(SKIPPED)


class Disk:
    """A disk in memory of so many bytes, as far as this system may mount one."""

    def __init__(self, folder, size):
        require_root()
        self.folder = folder
        folder.mkdir(exist_ok=True)
        if subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", folder],
                          stderr=subprocess.DEVNULL).returncode != 0:
            print("skipped: this system lets nobody mount a tmpfs")
            sys.exit(SKIPPED)

    def __enter__(self):
        return self

    def make_read_only(self):
        subprocess.run(["mount", "-o", "remount,ro", self.folder], check=True)

    def __exit__(self, *_):
        subprocess.run(["umount", self.folder], check=True)


def become_nobody():
    os.setgid(NOBODY)
    os.setuid(NOBODY)


def disk(bench, count, draw):
    require_root()
    whole = bench.complete_run(bench.scratch / "whole")
    page = 4096
    pages = sum(-(-len(content) // page) for content in whole.values())
    for i in range(count):
        earlier = i % 2 == 1
        size = draw.randrange(len(whole) + 4 if earlier else 2, pages)  # those of an earlier run must fit
        with Disk(bench.scratch / "disk", size * page) as small:
            out = small.folder / "out"
            if earlier:
                bench.put_earlier(out, whole)
            code, said = bench.run(out)
            what = f"disk of {size} pages, {pages} needed"
            bench.check_refusal(code, said, what)
            require(str(out) in said and "No space left on device" in said, f"{what}: it said: {said}")
            require(bench.check(out, whole, earlier, what) == 0, f"{what}: a temporary file is left")

    with Disk(bench.scratch / "disk", "16m") as small:
        out = small.folder / "out"
        bench.put_earlier(out, whole)
        small.make_read_only()
        for there in (out, small.folder / "new"):
            code, said = bench.run(there)
            bench.check_refusal(code, said, "read-only disk")
            require(str(small.folder) in said and "cannot be written" in said, f"read-only disk: it said: {said}")
        require(files_in(out) == {name: EARLIER for name in whole}, "read-only disk: outputs changed")

    with open("/dev/full", "w") as full:
        code, said = bench.run(bench.scratch / "told", stdout=full)
    bench.check_refusal(code, said, "full standard output")
    told = files_in(bench.scratch / "told")
    require(told.keys() == whole.keys() and all(bench.same(name, told[name], whole[name]) for name in whole),
            "full standard output: files are not whole")

    locked = bench.scratch / "locked"
    bench.put_earlier(locked, whole)
    for folder in (locked, bench.scratch, *(p for p in locked.rglob("*") if p.is_dir())):
        folder.chmod(0o555)
    code, said = bench.run(locked, preexec_fn=become_nobody)
    bench.check_refusal(code, said, "locked folder")
    require(str(locked) in said and "cannot be written" in said, f"locked folder: it said: {said}")
    require(files_in(locked) == {name: EARLIER for name in whole}, "locked folder: outputs changed")
    return f"{count} full disks, 2 read-only ones, a full standard output, a locked folder"


def memory(bench, count, draw):
    megabyte = 1 << 20
    environment = {**os.environ, "PATH": "/nowhere"}  # without gnuplot, which would have the same limit

    def limited_to(size):
        return {"env": environment, "preexec_fn": lambda: resource.setrlimit(resource.RLIMIT_AS, (size, size))}

    whole = bench.complete_run(bench.scratch / "whole", env=environment)
    out = bench.scratch / "out"
    size = megabyte  # the least with which it starts
    while subprocess.run([bench.program, "--help"], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
                         **limited_to(size)).returncode != 0:
        size += megabyte // 4
        require(size < 1024 * megabyte, "it does not start with 1 GiB")
    starts, refused = size, 0
    while True:
        earlier = refused % 2 == 1
        shutil.rmtree(out, ignore_errors=True)
        if earlier:
            bench.put_earlier(out, whole)
        size = int(size * draw.uniform(1, 1 + 2 / count))
        what = f"limit of {size // 1024} KiB, {starts // 1024} to start"
        code, said = bench.run(out, **limited_to(size))
        require(bench.check(out, whole, earlier, what) == 0, f"{what}: a temporary file is left")
        if code == 0:
            break
        bench.check_refusal(code, said, what)
        require("out of memory" in said, f"{what}: it said: {said}")
        refused += 1
    require(refused > 0, f"{what}: enough")
    return f"{refused} limits from {starts / megabyte:.1f} MiB on were too small, {size / megabyte:.1f} MiB were enough"


def main(words):
    if len(words) not in (3, 4, 5) or words[0] not in ("kill", "disk", "memory"):
        print(__doc__, file=sys.stderr)
        return 2
    count = int(words[3]) if len(words) > 3 else 10
    seed = int(words[4]) if len(words) > 4 else random.randrange(1 << 32)
    with tempfile.TemporaryDirectory(prefix="fettle_faults_") as scratch:
        os.chmod(scratch, 0o755)
        try:
            bench = Bench(words[1], words[2], Path(scratch))
            print(f"{words[2]}: {globals()[words[0]](bench, count, random.Random(seed))}")
        except Fault as fault:
            print(f"{words[2]}, {words[0]} {count}, seed {seed}: {fault}")
            return 1
    return 0


sys.exit(main(sys.argv[1:]))
