// SPDX-License-Identifier: MIT
import { button, choice, readings, slider, summary } from "../parts/controls.js";
import { cells, change } from "../parts/cells.js";
import { amber, teal } from "../parts/colours.js";
import { html, legend, shown } from "../parts/element.js";
import { trace } from "../parts/trace.js";

const most = 8;

export const passes = {
  id: "passes",
  title: "Pass after pass",
  source: "passes.hpp",
  drives: true,
  teaches: [
    "Drive, correct, load, drive again: each pass may change a cell only by its authority, so a wrong log does limited harm, and a large error takes several passes.",
    "After the first pass the plan says where to drive next: steady points and slow sweeps that lower the uncertainty of the map most, weighted by how much the car is used there.",
  ],
  questions: [
    "Let a pass take away 2 % at most. How many passes until the map is as good as with 10 %, and what is the difference worth if one log is wrong?",
    "Compare five ordinary drives with five by the plan. Which lowers the uncertainty, which the error, and why are these not the same?",
  ],
  async open(stage, library) {
    const restart = () => ask(0);
    const richer = slider({ name: "richer_pct", label: "A pass may add", unit: "%", from: 1, to: 25, step: 1, value: 15, moved: restart });
    const leaner = slider({ name: "leaner_pct", label: "A pass may take away", unit: "%", from: 1, to: 15, step: 1, value: 5, moved: restart });
    const drive = choice({ name: "drive", label: "After the first drive", value: "plan", moved: restart, options: [["plan", "drive the plan"], ["stage", "drive as usual"]] });
    const map = cells({ name: "left", title: "What each cell still needs with the map that is loaded, %: the truth" });
    const chart = trace({ name: "passes", title: "Pass by pass", x: "passes", y: "%", height: 220, counted: most, range: (_, low, high) => [0, Math.ceil(high)], series: [
      { label: "lambda error where the first drive went, rms", colour: teal, width: 3, has_points: true }, { label: "standard error, weighted by use", colour: amber, dash: [7, 4], has_points: true }] });
    const numbers = readings([
      { name: "passes", label: "Passes driven", digits: 0 }, { name: "rms_pct", label: "Lambda error left, rms", unit: "%" },
      { name: "lean_pct", label: "Points over 3 % lean", unit: "%" }, { name: "error_pct", label: "Standard error, by use", unit: "%" }]);
    const plan = html("tbody"), says = summary();
    const planned = html("div", { class: "scroll", tabindex: 0, role: "region", "aria-label": "The plan" }, html("table", {}, html("caption", {}, "The plan of the next drive: its first legs"),
      html("thead", {}, html("tr", {}, ...["rpm", "throttle, %", "uncertain now, %", "after, %"].map((words) => html("th", { scope: "col" }, words)))), plan));
    let done = 0, busy = false, wanted = null;
    const next = button("Drive and correct", () => ask(done + 1), { class: "main" });
    const again = button("Start again", restart);

    async function ask(passes) {
      wanted = passes;
      if (busy) return;
      busy = true;
      stage.setAttribute("aria-busy", "true");
      next.disabled = true;
      try {
        while (wanted !== null) {
          const now = wanted;
          wanted = null;
          const answer = await library.ask("passes", { seed: 1, passes: now, richer_pct: richer.value, leaner_pct: leaner.value, follows_plan: drive.value === "plan" });
          done = now;
          draw(answer);
        }
      } finally {
        busy = false;
        stage.removeAttribute("aria-busy");
        next.disabled = done >= most;
      }
    }

    function draw(answer) {
      const last = answer.passes.at(-1), first = answer.passes[0];
      map.set({ axes: answer.axes, cell: (k) => change(answer.left_pct[k], 12) });
      chart.set([answer.passes.map((_, i) => i), answer.passes.map((pass) => pass.rms_pct), answer.passes.map((pass) => pass.error_pct ?? null)]);
      numbers.set({ passes: done, rms_pct: last.rms_pct, lean_pct: last.lean_pct, error_pct: last.error_pct ?? null });
      const range = (from, to) => (from === to ? `${from}` : `${from} to ${to}`);
      planned.hidden = answer.plan.length === 0;
      plan.replaceChildren(...answer.plan.slice(0, 8).map(({ from, to, error_now_pct, error_after_pct }) =>
        html("tr", {}, html("td", {}, range(from[0], to[0])), html("td", {}, range(from[1], to[1])), html("td", {}, shown(error_now_pct, 1)), html("td", {}, shown(error_after_pct, 1)))));
      const words = done === 0 ? `The map as it came: ${shown(first.rms_pct, 1)} % off where the car is driven, ${shown(first.lean_pct, 0)} % of the points over 3 % lean.` :
        `After ${done} pass${done > 1 ? "es" : ""} of three minutes lambda is ${shown(last.rms_pct, 2)} % off where it was ${shown(first.rms_pct, 1)} %; ${shown(last.lean_pct, 2)} % of the points are over 3 % lean.`;
      says.set(words);
      map.describe(words);
      chart.describe(words);
    }

    stage.append(html("div", {}, map.node, legend([["rgb(176 88 20)", "needs 12 % more fuel: lean"], ["rgb(40 86 160)", "needs 12 % less: rich"]]), says.node, chart.node, planned),
      html("div", { class: "controls" }, html("div", { class: "row" }, next, again), richer.node, leaner.node, drive.node, numbers.node));
    await ask(0);
  },
};
