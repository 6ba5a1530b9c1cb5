// SPDX-License-Identifier: MIT
import { columns_of, map_of } from "../files.js";
import { run_to_end, text_of } from "../program.js";
import { button, readings, slider, summary, tick } from "../parts/controls.js";
import { amber, plum, slate, teal } from "../parts/colours.js";
import { html, shown } from "../parts/element.js";
import { trace } from "../parts/trace.js";

const methods = { base: "the map as it was", nearest: "nearest cell", fixed_delay: "fixed delay, fitted", identified: "delays and films identified" };

/** A log of the virtual engine, its maps, and what correct_map makes of it. */
async function driven(state, compiled, minutes, seed, told) {
  const made = await run_to_end(state, compiled, ["virtual_engine", "--out", "/out", "--drive", "stage", "--minutes", String(minutes), "--seed", String(seed)], [], told);
  const done = await run_to_end(state, compiled, ["correct_map", "/in/session.json", "--out", "/out"], made.filter(({ name }) => !name.startsWith("truth/")), told);
  const log = columns_of(text_of(made, "stage.csv")), map = (results, name) => map_of(text_of(results, name));
  const base = map(made, "fuel_map.csv");
  return {
    log: { time_s: log.time_s, rpm: log.rpm, throttle_pct: log.throttle_pct, lambda: log.lambda_collector.map((lambda) => lambda ?? 0), target: log.lambda_target, fuel_cut: log.fuel_cut },
    rpm: base.rows, throttle_pct: base.columns, base_mg: base.cells, identified_mg: map(done, "estimated_map.csv").cells,
    truth_mg: map(made, "truth/fuel_map.csv").cells, seconds: map(done, "seconds.csv").cells,
  };
}

export const same_log = {
  id: "same-log",
  title: "One log, three methods",
  source: "same_log.hpp",
  teaches: [
    "A reading belongs to a cell that was left long ago. Averaged into the nearest cell one fixed delay back, errors smear from cell to cell; fitted through the interpolation weights they smear less; with delays and [[wall film]]s identified from the same log they go away.",
    "No log shows which method is right: all of them give smooth maps. Only the truth does, and here it is known.",
  ],
  questions: [
    "With the truth hidden: by the shape of the three lines alone, which would you trust?",
    "Which delay makes the fixed one best? Is there one that is right at low and at high speed?",
  ],
  async open(stage, library, compiled) {
    const state = { run: null, drive: null, answer: null };
    const minutes = slider({ name: "minutes", label: "Minutes of driving", from: 1, to: 15, step: 1, value: 3, moved() {} });
    const engine = slider({ name: "engine", label: "Which invented engine", from: 1, to: 20, step: 1, value: 2, moved() {} });
    const delay = slider({ name: "delay_s", label: "The fixed delay", unit: "s", from: 0, to: 0.5, step: 0.01, digits: 2, value: 0.12, moved: () => compare() });
    const row = slider({ name: "row", label: "Speed shown, number of its breakpoint", from: 1, to: 16, step: 1, value: 7, moved: () => show() });
    const truth = tick({ name: "truth", label: "Show the truth", moved: () => show() });
    const bar = html("progress", { max: 1, value: 0, "aria-label": "How far the work is" });
    const chart = trace({ name: "maps", title: "Fuel over throttle at one speed, by each method", x: "throttle, %", y: "mg", height: 320, series: [
      { label: methods.base, colour: slate, dash: [3, 4] }, { label: methods.nearest, colour: amber }, { label: methods.fixed_delay, colour: plum },
      { label: methods.identified, colour: teal, width: 3 }, { label: "truth", colour: "#000", dash: [8, 5] }] });
    const numbers = readings(Object.entries(methods).flatMap(([name, label]) => [
      { name: `${name}_rms`, label: `Error, rms: ${label}`, unit: "%" }]));
    const says = summary();
    function show() {
      const { drive, answer } = state;
      if (!answer) return;
      const r = Math.min(drive.rpm.length, row.value) - 1, n = drive.throttle_pct.length, line = (cells) => cells.slice(r * n, (r + 1) * n);
      chart.set([drive.throttle_pct, line(drive.base_mg), line(answer.nearest_mg), line(answer.fixed_delay_mg), line(drive.identified_mg),
        line(drive.truth_mg).map((fuel) => (truth.value ? fuel : null))]);
      const of = (name) => (truth.value ? answer.errors[name].rms_pct : null);
      numbers.set(Object.fromEntries(Object.keys(methods).map((name) => [`${name}_rms`, of(name)])));
      says.set(`At ${drive.rpm[r]} rpm. ` + (truth.value ? `Against the truth, over what was driven: ${Object.entries(methods).map(([name, words]) => `${words} ${shown(of(name), 2)} %`).join(", ")}.` :
        "The truth is hidden. Choose the method you trust, then show it."));
    }
    async function compare() {
      if (!state.drive) return;
      state.answer = await library.ask("same_log", { ...state.drive, delay_s: delay.value });
      stage.dataset.delay = String(delay.value);
      show();
    }
    async function drive() {
      go.disabled = true;
      try {
        state.drive = await driven(state, compiled, minutes.value, engine.value, (part, words) => ((bar.value = part), says.set(words)));
        bar.value = 1;
        await compare();
      } catch (failed) {
        says.set(failed.message);
      } finally {
        go.disabled = false;
      }
    }
    const go = button("Drive", drive, { "data-action": "drive" });
    stage.append(html("div", {}, chart.node, bar, says.node),
      html("div", { class: "controls" }, minutes.node, engine.node, html("div", { class: "row" }, go), delay.node, row.node, truth.node, numbers.node));
    return { close: () => state.run?.cancel() };
  },
};
