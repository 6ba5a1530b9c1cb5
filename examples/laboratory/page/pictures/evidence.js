// SPDX-License-Identifier: MIT
import { kept_current } from "../library.js";
import { button, choice, readings, slider, summary } from "../parts/controls.js";
import { cells, change, state_legend, states, uncertainty } from "../parts/cells.js";
import { html, legend, shown } from "../parts/element.js";

export const evidence = {
  id: "evidence",
  title: "What a drive tells of each cell",
  source: "evidence.hpp",
  drives: true,
  teaches: [
    "Each reading of the sensor says something of the four cells around the operating point at which its gas was burnt; the longer a cell is driven, the better is what it needs known, and once that is known well enough, the cell is corrected.",
    "A cell that needs fuel gets what the estimate says; fuel is taken away only as far as is sure, so leaning follows later and stops short by a margin of [[standard error]]s.",
  ],
  questions: [
    "Let the time pass. Which cells are enriched after half a minute, and which are leaned only after five?",
    "Set the margin to 0 and to 3. What does each gain, and what does it cost, and why does enrichment not change?",
  ],
  async open(stage, library) {
    const moved = () => update();
    const minutes = slider({ name: "minutes", label: "Driven", unit: "min", from: 0.3, to: 6, step: 0.1, digits: 1, value: 1.5, moved: () => (stop(), moved()) });
    const margin = slider({ name: "margin_errors", label: "Leaning stops short by", unit: "standard errors", from: 0, to: 3, step: 0.1, digits: 1, value: 1, moved });
    const show = choice({ name: "show", label: "Show", value: "state", moved: () => draw(),
      options: [["state", "what became of each cell"], ["needs", "what it needs, %"], ["applied", "what it gets, %"], ["error", "how uncertain that is, %"]] });
    const map = cells({ name: "evidence", title: "The map, the way driven and where the car is" });
    const key = html("div");
    const numbers = readings([
      { name: "rows", label: "Readings that count", digits: 0 }, { name: "corrected", label: "Cells corrected", digits: 0 },
      { name: "safe_part", label: "As far as is safe", digits: 0 }, { name: "left_alone", label: "Left alone", digits: 0 },
      { name: "still_lean", label: "Still lean", digits: 0 }, { name: "not_driven", label: "Not driven", digits: 0 }]);
    const says = summary();
    let answer = null, playing = false;
    const play = button("Let time pass", async () => {
      playing = !playing;
      play.textContent = playing ? "Stop" : "Let time pass";
      if (minutes.value >= 6) minutes.value = 0.3;
      while (playing && minutes.value < 6) {
        minutes.value += 0.2;
        await update();
      }
      stop();
    });
    function stop() {
      playing = false;
      play.textContent = "Let time pass";
    }

    function draw() {
      const ways = {
        state: (k) => states[answer.state[k]],
        needs: (k) => change(answer.state[k] === "not_driven" ? null : answer.needs_pct[k], 12),
        applied: (k) => change(answer.applied_pct[k], 12),
        error: (k) => uncertainty(answer.error_pct[k], 8),
      };
      const lately = (list) => list.slice(-300); // half a minute
      map.set({ axes: answer.axes, cell: ways[show.value], driven: { rpm: lately(answer.driven_rpm), throttle_pct: lately(answer.driven_throttle_pct) } });
      key.replaceChildren(legend(show.value === "state" ? state_legend() : show.value === "error" ? [["#fff", "0 %"], ["rgb(98 48 112)", "8 % and more"]] :
        [["rgb(176 88 20)", "12 % more fuel"], ["rgb(40 86 160)", "12 % less"], ...(show.value === "needs" ? [["#e6eaec", "not driven"]] : [])]));
    }

    const update = kept_current(library, "evidence", () => ({ seed: 1, minutes: minutes.value, margin_errors: margin.value }), (next) => {
      answer = next;
      draw();
      numbers.set({ rows: answer.rows, ...answer.cells });
      const { corrected, safe_part, not_driven } = answer.cells;
      const words = `After ${shown(minutes.value, 1)} minutes ${corrected} cells have what they need, ${safe_part} are leaned as far as is sure, and ${not_driven} of ${answer.state.length} have not been driven.`;
      says.set(words);
      map.describe(words);
    });
    stage.append(html("div", {}, map.node, key, says.node),
      html("div", { class: "controls" }, minutes.node, html("div", { class: "row" }, play), margin.node, show.node, numbers.node));
    await update();
    return { close: stop };
  },
};
