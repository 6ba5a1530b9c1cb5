#!/usr/bin/env python3
# SPDX-License-Identifier: MIT
"""How many small mistakes in the headers of map, fuel, vehicle, fit and lambda the tests would notice.

    mutate.py [COUNT [SEED [ONLY]]]

Draws COUNT places among all operators and numbers of these headers (ONLY: of those whose `file:line` holds this text),
changes one at a time in a copy, and builds and runs the layer's tests until one fails: first the header's own, or what
tests/README.md names for it, then all that include it. A mutant that does not compile is none, unless a static_assert
caught it. Those of equivalent.txt, which change no behaviour, are left out. CXX names the compiler.
"""

import os
import random
import re
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
LAYERS = ("map", "fuel", "vehicle", "fit", "lambda")
ALSO = {"lambda": ["programs/identify_test.cpp"]}  # on engines whose truth is known
FAST = ("fit", "lambda")  # products of matrices take too long to run where they are not optimised
UNITS = ("io", "lambda")  # what takes long to compile, once for all tests of a mutant: cmake/<unit>_compiled.cpp
CXX = os.environ.get("CXX", "g++")
FLAGS = ["-std=c++20", "-w", "-DNDEBUG", f'-DFETTLE_REFERENCE_DIR="{ROOT}/tests/reference"', f"-I{ROOT}/tests",
         f"-I{ROOT}/examples/programs", "-isystem/usr/include/eigen3"]
LIBRARIES = ["-lgtest_main", "-lgtest", "-lrapidcheck", "-lfmt", "-lpthread"]
COMMON = "gtest/gtest.h rapidcheck/gtest.h algorithm array cmath limits optional random string vector".split()
GIGABYTE = 1 << 30

SWAPS = [(a, b) for pair in (("+", "-"), ("*", "/"), ("<", "<="), (">", ">="), ("==", "!="), ("&&", "||"))
         for a, b in (pair, pair[::-1])]
RULES = ([(re.compile(rf"(?<= ){re.escape(a)}(?= )"), b) for a, b in SWAPS] +
         [(re.compile(rf"(?<= ){re.escape(a)}=(?= )"), b + "=") for a, b in SWAPS[:4]] +
         [(re.compile(r"\(std::max\)"), "(std::min)"), (re.compile(r"\(std::min\)"), "(std::max)"),
          (re.compile(r"\+\+"), "--"), (re.compile(r"--"), "++"), (re.compile(r"(?<=[( ])!(?=[\w(])"), ""),
          (re.compile(r"(?<=[({=,] )-(?=[\w(])|(?<=[({])-(?=[\w(])|(?<=return )-(?=[\w(])"), "")])
NUMBER = re.compile(r"(?<![\w.'])(\d+)((?:\.\d+)?(?:[eE][-+]?\d+)?[fFuU]?)(?![\w.'])")
FAILED_CHECK = re.compile("static assertion|constant expression|consteval|iteration count|operation count")
NO_CODE = re.compile(r"\s*(#|template\b|static_assert|requires\b|using\b|namespace\b)")


def code_of(line):
    """The line with comment and quoted text blanked out, so that places in it stay the same."""
    line = re.sub(r'"(?:[^"\\]|\\.)*"', lambda quoted: " " * len(quoted[0]), line)
    return re.sub(r"//.*", "", line)


def mutants():
    for layer in LAYERS:
        for header in sorted((ROOT / "include/fettle" / layer).rglob("*.hpp")):
            name = str(header.relative_to(ROOT / "include"))
            for number, line in enumerate(header.read_text().splitlines(), 1):
                code = code_of(line)
                if NO_CODE.match(code):
                    continue
                changes = [(m.start(), m.end(), new) for rule, new in RULES for m in rule.finditer(code)]
                for m in NUMBER.finditer(code):
                    changes.append((m.start(1), m.end(1), str(int(m[1]) + 1)))
                    if m[1] != "0":
                        changes.append((m.start(1), m.end(1), str(int(m[1]) - 1)))
                for begin, end, new in changes:
                    yield name, number, line.strip(), (line[:begin] + new + line[end:]).strip()


def named_tests():
    """Header and test of the rows of tests/README.md."""
    rows = re.findall(r"^\| `(\S+\.hpp)` \| `(\S+_test\.cpp)` \|$", (ROOT / "tests/README.md").read_text(), re.M)
    return {f"fettle/{header}": ROOT / "tests" / test for header, test in rows}


def known_equivalents():
    """Lines `file | code | mutated code | reason`."""
    lines = (Path(__file__).parent / "equivalent.txt").read_text().splitlines()
    return {tuple(part.strip() for part in line.split(" | ")[:3]) for line in lines if line and not line.startswith("#")}


def limit_memory():
    resource.setrlimit(resource.RLIMIT_AS, (4 * GIGABYTE, 4 * GIGABYTE))


def run(*command, **options):
    return subprocess.run([str(word) for word in command], capture_output=True, text=True, errors="replace",
                          preexec_fn=limit_memory, **options)


class Laboratory:
    def __init__(self, folder):
        self.folder, self.include = folder, folder / "include"
        shutil.copytree(ROOT / "include", self.include)
        self.named = named_tests()
        self.tests = {layer: [*sorted((ROOT / "tests" / layer).glob("*_test.cpp")),
                              *(ROOT / "tests" / also for also in ALSO.get(layer, []))] for layer in LAYERS}
        self.includes, self.seconds, self.units = {}, {}, {}
        programs = ROOT / "examples/programs"  # the virtual engine and what it needs, as one unit
        self.engine = folder / "virtual_engine.cpp"
        self.engine.write_text("".join(
            f'#include "{source}"\n' for part in ("common/session", "virtual_engine")
            for source in sorted((programs / part).glob("*.cpp")) if source.name != "virtual_engine.cpp"))

    @staticmethod
    def must(done):
        if done.returncode != 0:
            sys.exit(f"{' '.join(done.args)}\n{done.stdout}{done.stderr}")

    def includes_of(self, source):
        if source not in self.includes:
            self.includes[source] = run(CXX, *FLAGS, f"-I{self.include}", "-MM", source).stdout
        return self.includes[source]

    def concerned(self, name):
        """The header's own test first, then the others that include it, short ones first."""
        layer, stem = Path(name).parts[1], Path(name).stem
        own = self.named.get(name, ROOT / "tests" / layer / f"{stem}_test.cpp")
        tests = [test for test in self.tests[layer] if f"include/{name}" in self.includes_of(test)]
        return sorted(tests, key=lambda test: (test != own, test.stat().st_size))

    def compile(self, layer, *words):
        """With the common headers compiled once for each level of optimisation."""
        level = "-O1" if layer in FAST else "-O0"
        common = self.folder / level / "common.hpp"
        if not common.exists():
            common.parent.mkdir()
            common.write_text("".join(f"#include <{header}>\n" for header in COMMON))
            self.must(run(CXX, *FLAGS, level, "-x", "c++-header", common, "-o", f"{common}.gch"))
        return run(CXX, *FLAGS, "-DFETTLE_COMPILED", level, f"-I{self.include}", "-include", common, *words)

    def build(self, test, layer, mutant=None):
        """The test and the units it needs; a unit that does not include the mutant's header is compiled only once."""
        objects, included = [], self.includes_of(test)
        sources = {unit: ROOT / f"cmake/{unit}_compiled.cpp" for unit in UNITS}
        if "/virtual_engine/" in included:
            included += self.includes_of(self.engine)
            sources["virtual_engine"] = self.engine
        for unit, source in sources.items():
            if unit in UNITS and not re.search(rf"fettle/{unit}/detail/\w+_definition\.hpp", included):
                continue
            state = mutant if mutant and f"include/{mutant[0]}" in self.includes_of(source) else None
            objects.append(self.folder / f"{unit}{'_mutant' if state else ''}.o")
            if self.units.get(objects[-1]) != (layer, state):
                built = self.compile(layer, "-c", source, "-o", objects[-1])
                if built.returncode != 0:
                    return built
                self.units[objects[-1]] = layer, state
        return self.compile(layer, test, *objects, "-o", self.folder / "test", *LIBRARIES)

    def run_test(self, seconds):
        return run("timeout", f"{seconds:.0f}", self.folder / "test", "--gtest_brief=1", "--gtest_fail_fast",
                   env={**os.environ, "RC_PARAMS": "seed=1"})

    def measure(self, test, layer):
        """How long the test takes as it is; it must pass."""
        if test not in self.seconds:
            self.must(self.build(test, layer))
            begin = time.monotonic()
            self.must(self.run_test(600))
            self.seconds[test] = time.monotonic() - begin

    def fate(self, name, number, mutated):
        """Killed by what, survived or not compiling."""
        header = self.include / name
        original = header.read_text()
        lines = original.split("\n")
        lines[number - 1] = mutated
        layer = Path(name).parts[1]
        try:
            for test in self.concerned(name):
                header.write_text(original)
                self.measure(test, layer)
                header.write_text("\n".join(lines))
                built = self.build(test, layer, (name, number, mutated))
                if built.returncode != 0:
                    caught = FAILED_CHECK.search(built.stderr.partition("error: ")[2].partition("\n")[0])
                    return f"killed by {test.stem} while it compiles" if caught else "does not compile"
                ended = self.run_test(10 + 5 * self.seconds[test]).returncode
                if ended != 0:
                    return f"killed by {test.stem}{' (it hangs)' if ended == 124 else ''}"
            return "SURVIVED"
        finally:
            header.write_text(original)


def main(words):
    count = int(words[0]) if words else 60
    seed = int(words[1]) if len(words) > 1 else 1
    only = words[2] if len(words) > 2 else ""
    equivalents = known_equivalents()
    everything = [mutant for mutant in mutants() if only in f"{mutant[0]}:{mutant[1]}"]
    candidates = [mutant for mutant in everything if (mutant[0], mutant[2], mutant[3]) not in equivalents]
    random.Random(seed).shuffle(candidates)
    print(f"{len(everything)} places, {len(everything) - len(candidates)} of them known to change nothing", flush=True)
    killed = survived = 0
    with tempfile.TemporaryDirectory(prefix="fettle_mutation_") as folder:
        laboratory = Laboratory(Path(folder))
        for name, number, line, mutated in candidates:
            if killed + survived == count:
                break
            fate = laboratory.fate(name, number, mutated)
            killed += fate.startswith("killed")
            survived += fate == "SURVIVED"
            print(f"{fate}: {name}:{number} | {line} | {mutated}", flush=True)
    if killed + survived:
        print(f"{killed} of {killed + survived} mutants killed: {100 * killed / (killed + survived):.0f} %, seed {seed}")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
