#!/usr/bin/env python3
# SPDX-License-Identifier: MIT
"""make_dialects.py FOLDER: one drive of an invented four-cylinder engine as a log in many dialects, and its map.

Everything is invented: the engine needs 3 to 6 % more fuel than its map gives, which the lambda of the log shows with the
delay and lag of an exhaust. Fixed seed, so that the files come out the same again.
"""
import math
import os
import random
import sys

RPM, THROTTLE = [1500, 4000, 7000], [10, 40, 100]
MAP = [[12.0, 26.0, 33.0], [11.0, 28.0, 38.0], [9.0, 26.0, 40.0]]
ROWS, STEP_S, FLOW_MG_MS, DEAD_MS = 480, 0.1, 4.2, 0.9


def look_up(x, y):
    def place(axis, at):
        i = max(0, min(len(axis) - 2, sum(p <= at for p in axis) - 1))
        return i, min(1, max(0, (at - axis[i]) / (axis[i + 1] - axis[i])))
    (i, f), (j, g) = place(RPM, x), place(THROTTLE, y)
    low, high = MAP[i], MAP[i + 1]
    return (1 - f) * ((1 - g) * low[j] + g * low[j + 1]) + f * ((1 - g) * high[j] + g * high[j + 1])


def drive():
    """Rows of time, rpm, throttle, target, lambda, pulse, battery, air pressure and temperature, coolant."""
    draw = random.Random(7)
    rows, phi = [], []
    read = 1.0
    for k in range(ROWS):
        t = k * STEP_S
        rpm = round(4200 + 2500 * math.sin(0.23 * t), 0)
        throttle = round(55 + 42 * math.sin(0.41 * t + 1), 1)
        target = 0.88 if throttle > 70 else 1.0
        fuel = look_up(rpm, throttle) / target * (98.0 / 100) * (298.15 / 296.15)
        need = 1.03 + 0.03 * throttle / 100
        phi.append(1 / (target * need))
        delayed = phi[max(0, k - 2)]
        read += (delayed - read) * (1 - math.exp(-STEP_S / 0.08))
        noise = 1 + draw.gauss(0, 0.002)
        rows.append([round(t, 1), rpm, throttle, target, round(noise / read, 4), round(fuel / FLOW_MG_MS + DEAD_MS, 4),
                     13.8, 98.0, 23.0, 88.0])
    return rows


NAMES = ["time_s", "rpm", "throttle_pct", "lambda_target", "lambda", "pulse_ms", "battery_v", "air_kPa", "air_degC",
         "coolant_degC"]


def text(value):
    return f"{value:.10g}"


def table(names, rows, separator=",", end="\n", cell=text):
    lines = [separator.join(names)] + [separator.join(cell(v) if not isinstance(v, str) else v for v in r) for r in rows]
    return end.join(lines) + end


def scaled(rows, column, factor, offset=0.0):
    return [[r[i] * factor + offset if i == column else r[i] for i in range(len(r))] for r in rows]


def comma(value):
    return text(value).replace(".", ",")


def sparse(rows, hole):
    """Slow channels are sampled once a second."""
    return [[v if i < 6 or k % 10 == 0 else hole for i, v in enumerate(r)] for k, r in enumerate(rows)]


def dialects(rows):
    plain = table(NAMES, rows)
    words = ["Time", "Engine speed", "Throttle position", "Target lambda", "Lambda", "Injector pulse width",
             "Battery voltage", "Barometric pressure", "Intake air temperature", "Coolant temperature"]
    units = ["s", "rpm", "%", "lambda", "lambda", "ms", "V", "kPa", "degC", "degC"]
    bracketed = [f"{w} [{u}]" for w, u in zip(words, units)]
    afr = scaled(scaled(rows, 4, 14.6), 3, 14.6)
    half = ROWS // 2
    restarted = rows[:half] + [[r[0] - rows[half][0]] + r[1:] for r in rows[half:]]
    coarse = [[math.floor(r[0] * 2 + 1e-9) / 2] + r[1:] for r in rows]
    fahrenheit = scaled(scaled(rows, 8, 1.8, 32), 9, 1.8, 32)
    psi = scaled(rows, 7, 1 / 6.894757)
    yield "01_plain.csv", plain
    yield "02_semicolons.csv", table(NAMES, rows, ";")
    yield "03_decimal_comma.csv", table(NAMES, rows, ";", cell=comma)
    yield "04_tabs.txt", table(NAMES, rows, "\t")
    yield "05_tabs_decimal_comma.txt", table(NAMES, rows, "\t", cell=comma)
    yield "06_remarks.csv", "# hill climb, second run\n# driver: nobody\n\n" + plain
    yield "07_pairs_before.csv", "Car,invented\nRun,2\nDate,2026-01-01\n" + table(words, rows)
    yield "08_units_line.csv", table(words, [units] + rows)
    yield "09_units_in_brackets.csv", table(bracketed, rows)
    yield "10_crlf_mark.csv", "\ufeff" + table(bracketed, rows, end="\r\n")
    yield "11_milliseconds.csv", table(["time [ms]"] + NAMES[1:], scaled(rows, 0, 1000))
    yield "12_milliseconds_unsaid.csv", table(["Time"] + NAMES[1:], scaled(rows, 0, 1000))
    yield "13_words_for_nothing.csv", table(NAMES, sparse(rows, "NaN"))
    yield "14_several_rates.csv", table(NAMES, sparse(rows, ""))
    yield "15_latin_1.csv", table(words[:8] + ["Intake air [\xb0C]", "Coolant [\xb0C]"], rows).encode("latin-1")
    yield "16_cut_short.csv", plain + "48.0,42"
    yield "17_clock_restarts.csv", table(NAMES, restarted)
    yield "18_coarse_clock.csv", table(NAMES, coarse)
    yield "19_air_fuel_ratio.csv", table(NAMES[:3] + ["Target AFR", "Air-fuel ratio", "Pulse width [us]"] + NAMES[6:],
                                          scaled(afr, 5, 1000))
    yield "20_other_units.csv", table(
        ["time_s", "engine_rpm", "Throttle [%]", "Lambda target", "Wideband lambda", "Injection time (ms)",
         "Supply voltage [mV]", "Ambient pressure [psi]", "Air temperature [degF]", "Water temperature [degF]"],
        [
            r[:6] + [r[6] * 1000, p[7], f[8], f[9]] for r, p, f in zip(rows, psi, fahrenheit)])
    # The fuel of the cylinders differs, their mean is that of the other files.
    shares = [1.1, 0.94, 1.04, 0.92]
    yield "21_pulse_per_cylinder.csv", table(
        words[:5] + [f"Injector pulse {i + 1} [ms]" for i in range(4)] + words[6:],
        [r[:5] + [round(s * (r[5] - DEAD_MS) + DEAD_MS, 4) for s in shares] + r[6:] for r in rows])


def main():
    folder = sys.argv[1]
    rows = drive()
    for name, contents in dialects(rows):
        data = contents if isinstance(contents, bytes) else contents.encode()
        with open(os.path.join(folder, name), "wb") as file:
            file.write(data)
    with open(os.path.join(folder, "fuel_map.csv"), "w") as file:
        file.write("rpm/throttle_pct," + ",".join(map(str, THROTTLE)) + "\n")
        for rpm, line in zip(RPM, MAP):
            file.write(f"{rpm}," + ",".join(map(str, line)) + "\n")


main()
