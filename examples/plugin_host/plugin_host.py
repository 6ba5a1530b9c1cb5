#!/usr/bin/env python3
# SPDX-License-Identifier: MIT
"""A host in Python, standard library only: loads each plugin named, checks it and runs it on the rows below."""
import ctypes as c
import pathlib
import sys

MAJOR = 1
TEXT, COUNT = c.c_char_p, c.c_uint64
COLUMN = c.POINTER(c.c_double)


class Axis(c.Structure):
    _fields_ = [("name", TEXT), ("points", COLUMN), ("count", COUNT)]


class Map(c.Structure):
    _fields_ = [("name", TEXT), ("axes", c.POINTER(Axis)), ("rank", COUNT), ("values", COLUMN), ("value_count", COUNT)]


class Number(c.Structure):
    _fields_ = [("name", TEXT), ("value", c.c_double)]


class Settings(c.Structure):
    _fields_ = [("size", COUNT), ("maps", c.POINTER(Map)), ("map_count", COUNT),
                ("numbers", c.POINTER(Number)), ("number_count", COUNT)]


STATUS, INSTANCE = c.c_int32, c.c_void_p


class Table(c.Structure):
    """Version 1.1; `has` says whether a plugin's table reaches as far as a member."""
    _fields_ = [("size", COUNT), ("abi_major", c.c_uint32), ("abi_minor", c.c_uint32),
                ("name", TEXT), ("version", TEXT), ("purpose", TEXT), ("usage", TEXT),
                ("status_text", c.CFUNCTYPE(TEXT, STATUS)),
                ("create", c.CFUNCTYPE(STATUS, c.POINTER(Settings), c.c_char_p, COUNT, c.POINTER(INSTANCE))),
                ("input_name", c.CFUNCTYPE(TEXT, INSTANCE, COUNT)),
                ("output_name", c.CFUNCTYPE(TEXT, INSTANCE, COUNT)),
                ("run", c.CFUNCTYPE(STATUS, INSTANCE, c.POINTER(COLUMN), COUNT, c.POINTER(COLUMN), COUNT, COUNT)),
                ("destroy", c.CFUNCTYPE(None, INSTANCE)),
                ("reset", c.CFUNCTYPE(STATUS, INSTANCE))]

    def has(self, member):
        field = getattr(Table, member)
        return self.size >= field.offset + field.size


class Refusal(Exception):
    """What keeps a plugin from being used."""


def doubles(values):
    return (c.c_double * len(values))(*values)


def make_map(name, axes, values):
    views = (Axis * len(axes))(*[Axis(n.encode(), doubles(points), len(points)) for n, points in axes])
    return Map(name.encode(), views, len(axes), doubles(values), len(values))


def make_settings(maps, numbers):
    """Maps as (name, [(axis name, breakpoints)], values), numbers as a dictionary."""
    map_views = (Map * len(maps))(*[make_map(*description) for description in maps])
    number_views = (Number * len(numbers))(*[Number(name.encode(), value) for name, value in numbers.items()])
    return Settings(c.sizeof(Settings), map_views, len(maps), number_views, len(numbers))


class Plugin:
    """A plugin that was loaded and checked."""

    def __init__(self, path):
        if not pathlib.Path(path).is_file():
            raise Refusal("is not a file")
        try:
            self.library = c.CDLL(str(pathlib.Path(path).resolve()))
        except OSError as problem:
            raise Refusal(f"cannot be loaded: {problem}")
        try:
            entry = self.library.fettle_plugin
        except AttributeError:
            raise Refusal("has no symbol fettle_plugin")
        entry.restype = c.POINTER(Table)
        table = entry()
        if not table:
            raise Refusal("gives no table of functions")
        size = c.cast(table, c.POINTER(COUNT))[0]
        if size < Table.name.offset:
            raise Refusal("has a truncated table")
        # Of an older plugin only what it has is read; the rest stays zero, which a function pointer shows as false.
        self.table = Table()
        c.memmove(c.byref(self.table), table, min(size, c.sizeof(Table)))
        if self.table.abi_major != MAJOR:
            raise Refusal("speaks another version of the interface")
        if not self.table.has("destroy"):
            raise Refusal("has a truncated table")
        if self.table.abi_minor >= 1 and not self.table.has("reset"):
            raise Refusal("has a wrong size for its version")
        if None in (self.table.name, self.table.version, self.table.purpose, self.table.usage):
            raise Refusal("has no name, version, purpose or usage")
        for function in ("status_text", "create", "input_name", "output_name", "run", "destroy"):
            if not getattr(self.table, function):
                raise Refusal("lacks a function in its table")

    def require(self, status, action, message=b""):
        if status != 0:
            text = message or self.table.status_text(status) or b"no reason given"
            raise Refusal(f"cannot {action}: {text.decode()} (status {status})")


class Instance:
    """A plugin set up; `run` takes and gives lists of doubles by name of column."""

    def __init__(self, plugin, settings):
        self.plugin, self.handle = plugin, INSTANCE()
        message = c.create_string_buffer(512)
        status = plugin.table.create(c.byref(settings), message, len(message), c.byref(self.handle))
        plugin.require(status, "be set up", message.value)
        if not self.handle:
            raise Refusal("says that it is set up but gives no instance")
        self.inputs = self.names(plugin.table.input_name)
        self.outputs = self.names(plugin.table.output_name)

    def names(self, name_of):
        result = []
        while (name := name_of(self.handle, len(result))) is not None:
            result.append(name.decode())
        return result

    def run(self, columns):
        """One call for all rows: the plugin reads and writes arrays of doubles, no loop in Python."""
        missing = [name for name in self.inputs if name not in columns]
        if missing:
            raise Refusal("needs a column that this host does not have")
        given = [doubles(columns[name]) for name in self.inputs]
        rows = len(given[0])
        taken = [(c.c_double * rows)() for _ in self.outputs]
        inputs = (COLUMN * len(given))(*[c.cast(column, COLUMN) for column in given])
        outputs = (COLUMN * len(taken))(*[c.cast(column, COLUMN) for column in taken])
        status = self.plugin.table.run(self.handle, inputs, len(given), outputs, len(taken), rows)
        self.plugin.require(status, "run")
        return {name: list(values) for name, values in zip(self.outputs, taken)}

    def can_reset(self):
        return self.plugin.table.has("reset") and bool(self.plugin.table.reset)

    def close(self):
        if self.handle:
            self.plugin.table.destroy(self.handle)
            self.handle = INSTANCE()


# The engine and the moments of plugin_host.c.
COLUMNS = {"rpm": [1500, 3250, 5250, 9500], "throttle_pct": [5, 27.5, 60, 100],
           "battery_v": [12.2, 13.5, 13.9, 14.1], "mass_mg": [6, 14.5, 31, 44]}
SURFACE = [("rpm", [1000, 4000, 8000]), ("throttle_pct", [0, 20, 100])]
CURVE = [("battery_v", [8, 12, 16])]
MAPS = [("map", SURFACE, [5, 14, 22, 6, 18, 34, 4, 16, 41]),
        ("correction", SURFACE, [1, 1.02, 1, 0.98, 1, 1.05, 1, 1, 1.03]),
        ("secondary_share", SURFACE, [0, 0, 0, 0, 0, 0.4, 0, 0.25, 0.5]),
        ("primary_dead_time_ms", CURVE, [1.9, 1.1, 0.8]),
        ("secondary_dead_time_ms", CURVE, [2.1, 1.2, 0.9]),
        ("trim_1", SURFACE, [1, 1, 1.01, 1, 1, 1.02, 1, 1, 1]),
        ("trim_2", SURFACE, [1, 1, 1, 1, 1, 0.99, 1, 1, 0.98]),
        ("trim_3", SURFACE, [1, 0.99, 0.98, 1, 1, 1, 1, 1, 1]),
        ("trim_4", SURFACE, [1, 1, 1, 1, 1.01, 1, 1, 1, 1.02]),
        ("trim_5", SURFACE, [1, 1.01, 1.01, 1, 0.99, 0.99, 1, 1, 1])]
NUMBERS = {"primary_flow_mg_per_ms": 3.2, "secondary_flow_mg_per_ms": 4.1, "primary_smallest_open_ms": 0.4,
           "secondary_smallest_open_ms": 0.5, "largest_duty": 0.85}


def try_plugin(path):
    plugin = Plugin(path)
    table = plugin.table
    print(f"{table.name.decode()} {table.version.decode()}: {table.purpose.decode()}", flush=True)
    # [use]
    instance = Instance(plugin, make_settings(MAPS, NUMBERS))
    try:
        for name, values in instance.run(COLUMNS).items():
            print(name, *[f"{value:.17g}" for value in values])
        # [/use]
        forgets = instance.can_reset() and table.reset(instance.handle) == 0
        print("forgets on request" if forgets else "cannot forget", flush=True)
    finally:
        instance.close()


def main(paths):
    if not paths:
        print("usage: plugin_host.py PLUGIN...", file=sys.stderr)
        return 2
    failed = 0
    for path in paths:
        try:
            try_plugin(path)
        except Refusal as problem:
            print(f"plugin_host.py: plugin {path} {problem}", file=sys.stderr)
            failed = 1
    return failed


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
