// SPDX-License-Identifier: MIT
import { kept_current } from "../library.js";
import { choice, readings, slider, summary } from "../parts/controls.js";
import { amber, plum, slate } from "../parts/colours.js";
import { html, shown } from "../parts/element.js";
import { trace } from "../parts/trace.js";

export const integer_cells = {
  id: "integer-cells",
  title: "Integer cells",
  source: "integer_cells.hpp",
  teaches: [
    "A small controller stores cells as whole numbers of 8 or 16 bits: physical value = factor times number plus offset, and the look-up stays in integers throughout.",
    "A span that is too wide wastes steps, one that is too narrow clips cells; what is lost shows most where the fuel is least, at idle.",
  ],
  questions: [
    "With 8 bits, what span gives the smallest error at idle without clipping a cell?",
    "Go from 8 to 16 bits. By what factor does the error fall, and what does it cost in bytes?",
  ],
  async open(stage, library) {
    const moved = () => update();
    const bits = choice({ name: "bits", label: "Cells of", value: "8", options: [["8", "8 bits"], ["16", "16 bits"]], moved });
    const lowest = slider({ name: "lowest_mg", label: "Lowest number means", unit: "mg", from: 0, to: 10, step: 0.1, digits: 1, value: 0, moved });
    const highest = slider({ name: "highest_mg", label: "Highest number means", unit: "mg", from: 20, to: 160, step: 1, value: 64, moved });
    const speed = slider({ name: "speed_rpm", label: "Speed of the sweep", unit: "rpm", from: 1000, to: 8500, step: 50, value: 7000, moved });
    const last = slider({ name: "last_pct", label: "Sweep from 0 to", unit: "%", from: 2, to: 100, step: 1, value: 12, moved });
    const fuel = trace({ name: "fuel", title: "Fuel over throttle at this speed", x: "throttle, %", y: "mg", height: 280,
      series: [{ label: "exact", colour: slate, dash: [6, 4] }, { label: "from integer cells", colour: plum, width: 2, is_stepped: true }] });
    const error = trace({ name: "error", title: "Error of the integer look-up", x: "throttle, %", y: "%", height: 220, series: [{ label: "error", colour: amber }] });
    const numbers = readings([
      { name: "unit_mg", label: "One step", unit: "mg", digits: 4 }, { name: "bytes", label: "Memory of the cells", unit: "bytes", digits: 0 },
      { name: "worst_pct", label: "Largest error in the map", unit: "%", digits: 3 }, { name: "clipped_cells", label: "Cells clipped", digits: 0 }]);
    const says = summary();
    const update = kept_current(library, "integer_cells",
      () => ({ bits: Number(bits.value), lowest_mg: lowest.value, highest_mg: highest.value, speed_rpm: speed.value, last_pct: last.value }),
      (answer) => {
        fuel.set([answer.throttle_pct, answer.exact_mg, answer.integer_mg]);
        error.set([answer.throttle_pct, answer.error_pct]);
        numbers.set({ unit_mg: answer.unit_mg, bytes: answer.bytes, worst_pct: answer.worst_pct, clipped_cells: answer.clipped_cells });
        says.set(`One step is ${shown(answer.unit_mg, 4)} mg. The worst error, ${shown(answer.worst_pct, 2)} %, is at ${shown(answer.worst_rpm, 0)} rpm and ` +
          `${shown(answer.worst_throttle_pct, 1)} % throttle${answer.clipped_cells ? `; ${answer.clipped_cells} cells lie beyond the span and are clipped` : ""}.`);
      });
    stage.append(html("div", {}, fuel.node, says.node, error.node),
      html("div", { class: "controls" }, bits.node, lowest.node, highest.node, speed.node, last.node, numbers.node));
    await update();
  },
};
