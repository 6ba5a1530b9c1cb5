// SPDX-License-Identifier: MIT
import { kept_current } from "../library.js";
import { choice, readings, slider, summary, tick } from "../parts/controls.js";
import { cells, change } from "../parts/cells.js";
import { html, legend, shown } from "../parts/element.js";

const ways = { at_once: "nearest cell, at once", delayed: "nearest cell, a fixed delay", identified: "identified" };

export const three_ways = {
  id: "three-ways",
  title: "One log, three maps",
  source: "three_ways.hpp",
  drives: true,
  teaches: [
    "The same six minutes make three corrections: every reading averaged into the cell where the engine is now; steady readings averaged into the cell where the engine was a fixed [[transport delay]] before; and map, path and [[wall film]]s identified together.",
    "The gas at the sensor was burnt some time before, and how long before changes with flow; a reading averaged into the wrong cell looks like a measurement of that cell and is none.",
  ],
  questions: [
    "Decide which of the three you would load, then show the truth. Which delay is the best fixed one, and how far does it get?",
    "Set the tuner's assumptions to 0.6 and to 1.5 of the truth. Why does the identified map hardly change?",
  ],
  async open(stage, library) {
    const moved = () => update();
    const delay = slider({ name: "delay_s", label: "Fixed delay", unit: "s", from: 0, to: 0.6, step: 0.01, digits: 2, value: 0.15, moved });
    const factor = slider({ name: "factor", label: "Delays and films assumed, times the truth", from: 0.6, to: 1.5, step: 0.05, digits: 2, value: 1.2, moved });
    const show = choice({ name: "way", label: "Show the correction by", value: "at_once", moved: () => draw(), options: Object.entries(ways) });
    const truth = tick({ name: "truth", label: "Show the truth", moved: () => draw() });
    const map = cells({ name: "estimate", title: "What each cell needs, %, by this way" });
    const real = cells({ name: "truth", title: "What each cell really needs, %" });
    const numbers = readings([
      { name: "nothing", label: "Lambda error of the map as it is", unit: "%" },
      ...Object.entries(ways).map(([name, words]) => ({ name, label: `After: ${words}`, unit: "%" })),
      ...Object.entries(ways).map(([name, words]) => ({ name: `${name}_lean`, label: `Over 3 % lean: ${words}`, unit: "%", digits: 1 }))]);
    const says = summary();
    let answer = null;

    function draw() {
      map.set({ axes: answer.axes, cell: (k) => change(answer[show.value].needs_pct[k], 15) });
      real.node.hidden = !truth.value;
      real.set({ axes: answer.axes, cell: (k) => change(answer.truth_pct[k], 15) });
      const names = Object.keys(ways), hidden = (value) => (truth.value ? value : null);
      numbers.set({ nothing: hidden(answer.nothing.rms_pct),
        ...Object.fromEntries(names.flatMap((name) => [[name, hidden(answer[name].rms_pct)], [`${name}_lean`, hidden(answer[name].lean_pct)]])) });
      const left = (name) => `${shown(answer[name].rms_pct, 2)} %`;
      const words = truth.value ?
        `Steady lambda is ${left("nothing")} off now; it would be ${left("at_once")} off with readings used at once, ${left("delayed")} with the fixed delay, ${left("identified")} identified.` :
        `Three corrections from the same readings. The truth is hidden: here it is known, on a car it is not.`;
      says.set(words);
      map.describe(words);
    }

    const update = kept_current(library, "three_ways", () => ({ seed: 1, delay_s: delay.value, factor: factor.value }), (next) => {
      answer = next;
      draw();
    });
    stage.append(html("div", {}, map.node, legend([["rgb(176 88 20)", "15 % more fuel"], ["rgb(40 86 160)", "15 % less"], ["#e6eaec", "no reading"]]), says.node, real.node),
      html("div", { class: "controls" }, show.node, delay.node, factor.node, truth.node, numbers.node));
    await update();
  },
};
