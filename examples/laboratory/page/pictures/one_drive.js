// SPDX-License-Identifier: MIT
// Runs the programs virtual_engine and correct_map in the page and paints what correct_map says of every cell.
import { map_of } from "../files.js";
import { run_to_end, text_of } from "../program.js";
import { button, readings, slider, summary, tick } from "../parts/controls.js";
import { ink, soft } from "../parts/colours.js";
import { html, shown, svg } from "../parts/element.js";
import { drawing } from "../parts/plane.js";

const states = {
  still_lean: ["still lean", "#d98a4e", "L"],
  corrected: ["corrected", "#7fbfa6", ""],
  safe_part: ["corrected as far as is safe", "#bcd9a8", "s"],
  left_alone: ["left alone", "#e9e2c9", "a"],
  not_driven: ["not driven", "#eef1f2", "n"],
};

/** Everything about each cell, in the order of the map. */
function cells_of(base, truth, { cells }) {
  const at = new Map();
  for (const [state, list] of Object.entries(cells))
    for (const cell of list) at.set(`${cell.rpm} ${cell.throttle_pct}`, { ...cell, state });
  return base.rows.flatMap((rpm, i) => base.columns.map((pct, k) => {
    const index = i * base.columns.length + k;
    return { rpm, throttle_pct: pct, before_mg: base.cells[index], truth_mg: truth.cells[index], ...at.get(`${rpm} ${pct}`) };
  }));
}

function painted(state, pointed) {
  const grid = drawing({ name: "cells", title: "Every cell of the fuel map, and what this drive says of it: point at one", height: 440, draw(width) {
    const { base, cells } = state;
    if (!cells) return [svg("text", { x: 10, y: 30, class: "quiet" }, "Nothing driven yet.")];
    const wide = (width - 50) / base.rows.length, high = 390 / base.columns.length;
    return [
      ...cells.map((cell, index) => {
        const i = Math.floor(index / base.columns.length), k = index % base.columns.length;
        const x = 46 + i * wide, y = 6 + (base.columns.length - 1 - k) * high;
        const [words, colour, letter] = states[cell.state];
        const node = svg("g", { onpointerenter: () => pointed(index), onpointerdown: () => pointed(index) },
          svg("rect", { x: x + 1, y: y + 1, width: wide - 2, height: high - 2, fill: colour, stroke: index === state.index ? ink : "none", "stroke-width": 3 }),
          svg("title", {}, `${cell.rpm} rpm, ${cell.throttle_pct} %: ${words}`));
        if (wide > 18) node.append(svg("text", { x: x + wide / 2, y: y + high / 2 + 5, "text-anchor": "middle" }, letter));
        return node;
      }),
      ...base.rows.map((rpm, i) => i % Math.ceil(44 / wide) === 0 ? svg("text", { x: 46 + (i + 0.5) * wide, y: 414, "text-anchor": "middle", class: "quiet" }, String(rpm)) : null).filter(Boolean),
      ...base.columns.map((pct, k) => svg("text", { x: 40, y: 6 + (base.columns.length - 0.5 - k) * high + 4, "text-anchor": "end", class: "quiet" }, String(pct))),
      svg("text", { x: width / 2, y: 434, "text-anchor": "middle", class: "quiet" }, "speed, rpm; throttle, % upwards"),
    ];
  } });
  grid.plane.setAttribute("tabindex", "0");
  grid.plane.setAttribute("role", "application");
  grid.plane.setAttribute("aria-label", "Cells of the map. Arrow keys move from cell to cell; what is known of the cell is listed beside the picture.");
  grid.plane.addEventListener("keydown", (event) => {
    const { base, index } = state;
    const step = base && { ArrowRight: base.columns.length, ArrowLeft: -base.columns.length, ArrowUp: 1, ArrowDown: -1 }[event.key];
    if (!step || state.cells[index + step] === undefined) return;
    event.preventDefault();
    pointed(index + step);
  });
  return grid;
}

const legend = () => html("ul", { class: "legend" }, ...Object.values(states).map(([words, colour, letter]) =>
  html("li", {}, html("i", { style: `background:${colour};border:1px solid ${soft};width:1.4rem;height:1.1rem;text-align:center;font-style:normal;line-height:1.1rem` }, letter), words)));

export const one_drive = {
  id: "one-drive",
  title: "A drive corrects a map",
  source: null,
  programs: ["virtual_engine", "correct_map"],
  teaches: [
    "Every reading speaks of the few cells that were interpolated when its fuel was injected; a drive paints the map with evidence, and cells turn from not driven to corrected.",
    "A lean cell gets what it needs; fuel is taken away only as far as the [[standard error]] leaves no doubt, and never more than the [[authority]] of one pass.",
  ],
  questions: [
    "Drive for 1 minute, then for 10. Which cells change their state, and which never do on this hill?",
    "Find a cell that needs less fuel and did not lose all of it. Is its standard error or the authority the reason?",
  ],
  async open(stage, _, compiled) {
    const state = { base: null, cells: null, index: 0, run: null };
    const minutes = slider({ name: "minutes", label: "Minutes of driving", from: 1, to: 15, step: 1, value: 4, moved() {} });
    const engine = slider({ name: "engine", label: "Which invented engine", from: 1, to: 20, step: 1, value: 1, moved() {} });
    const truth = tick({ name: "truth", label: "Show the truth", moved: () => point(state.index) });
    const bar = html("progress", { max: 1, value: 0, "aria-label": "How far the work is" });
    const numbers = readings([
      { name: "cell", label: "Cell" }, { name: "before_mg", label: "Fuel before", unit: "mg", digits: 3 },
      { name: "needs_pct", label: "Needs", unit: "%" }, { name: "standard_error_pct", label: "Standard error", unit: "%" }, { name: "gets_pct", label: "Gets", unit: "%" },
      { name: "left_pct", label: "Left to need", unit: "%" }, { name: "seconds", label: "Driven", unit: "s", digits: 1 }, { name: "truth_mg", label: "Fuel, truth", unit: "mg", digits: 3 }]);
    const says = summary();
    const grid = painted(state, point);
    function point(index) {
      if (!state.cells) return;
      state.index = index;
      const cell = state.cells[index];
      const of = (name) => cell[name] ?? null;
      numbers.set({ cell: `${cell.rpm} rpm, ${cell.throttle_pct} %, ${states[cell.state][0]}`, ...Object.fromEntries(
        ["before_mg", "needs_pct", "standard_error_pct", "gets_pct", "left_pct", "seconds"].map((name) => [name, of(name)])), truth_mg: truth.value ? cell.truth_mg : null });
      grid.again();
    }
    async function drive() {
      go.disabled = true;
      try {
        const told = (part, words) => ((bar.value = part), says.set(words));
        const made = await run_to_end(state, compiled, ["virtual_engine", "--out", "/out", "--drive", "stage", "--minutes", String(minutes.value), "--seed", String(engine.value)], [], told);
        const done = await run_to_end(state, compiled, ["correct_map", "/in/session.json", "--out", "/out"], made.filter(({ name }) => !name.startsWith("truth/")), told);
        const report = JSON.parse(text_of(done, "summary.json"));
        state.base = map_of(text_of(made, "fuel_map.csv"));
        state.cells = cells_of(state.base, map_of(text_of(made, "truth/fuel_map.csv")), report);
        const most = state.cells.reduce((best, cell, index) => (cell.seconds > state.cells[best].seconds ? index : best), 0);
        bar.value = 1;
        point(most);
        says.set(`${report.rows} rows. ${Object.entries(report.cells).map(([key, list]) => `${list.length} ${states[key][0]}`).join(", ")}. Load: ${report.load} Safe: ${report.safe}`);
        stage.dataset.driven = String(minutes.value);
      } catch (failed) {
        says.set(failed.message);
      } finally {
        go.disabled = false;
      }
    }
    const go = button("Drive and correct", drive, { "data-action": "drive" });
    stage.append(html("div", {}, grid.node, legend(), bar, says.node),
      html("div", { class: "controls" }, minutes.node, engine.node, html("div", { class: "row" }, go), truth.node, numbers.node));
    grid.again();
    return { close: () => state.run?.cancel() };
  },
};
