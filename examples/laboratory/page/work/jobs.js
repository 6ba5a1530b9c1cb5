// SPDX-License-Identifier: MIT
// The programs that the page runs, and which of their options it offers.
import { choice, tick } from "../parts/controls.js";

const path_option = () => choice({ name: "path", label: "Exhaust path and wall film", value: "found", moved() {},
  options: [["found", "identify them from the logs"], ["given", "take the session's"]] });
const anyway = () => tick({ name: "write_anyway", label: "Write the result even where it must not be loaded", moved() {} });
const words_of = (path, flags) => [...(path.value === "given" ? ["--path", "given"] : []),
  ...flags.filter(([control]) => control.value).map(([, word]) => word)];

export const jobs = [
  {
    id: "correct_map",
    title: "Correct the fuel map",
    needs: "A session, its map, and logs with lambda after the collector.",
    folder: "corrected",
    demo: ["--drive", "stage", "--minutes", "15"],
    demo_words: "15 minutes on a stage, 90,000 rows",
    options() {
      const path = path_option(), undriven = tick({ name: "leave_undriven", label: "Leave cells alone that were not driven", moved() {} }), write = anyway();
      return { nodes: [path.node, undriven.node, write.node],
        words: () => words_of(path, [[undriven, "--leave-undriven"], [write, "--write-anyway"]]) };
    },
  },
  {
    id: "trim_cylinders",
    title: "Trim the cylinders",
    needs: "The same with lambda sensors in the pipes, moved between runs.",
    folder: "trims",
    demo: ["--drive", "stage", "--minutes", "3", "--rotated-runs", "5"],
    demo_words: "five runs of 3 minutes, five sensors that move on by one pipe between them",
    options() {
      const path = path_option();
      return { nodes: [path.node], words: () => words_of(path, []) };
    },
  },
  {
    id: "stage_banks",
    title: "Bring in the second bank",
    needs: "A session with two banks, its map and what it says of staging.",
    folder: "staging",
    demo: ["--drive", "stage", "--minutes", "1"],
    demo_words: "a session with two banks and its map",
    options() {
      const write = anyway();
      return { nodes: [write.node], words: () => words_of({ value: "found" }, [[write, "--write-anyway"]]) };
    },
  },
];
