// SPDX-License-Identifier: MIT
// A browser compiles a program well only after it has run for a while. So that somebody's first run is as fast as the next,
// half a minute of the invented drive is corrected while files are still being chosen, and what comes of it is dropped.
import { start_program } from "./run.js";

let now = null, is_over = false;

/** Once per page; what fails here is tried again, and shown, by a run. */
export async function rehearse() {
  if (now || is_over) return;
  now = start_program("virtual_engine", ["--out", ".", "--drive", "stage", "--minutes", "0.5"], []);
  const made = await now.ended;
  if (is_over || made.code !== 0) return;
  now = start_program("correct_map", ["session.json", "--out", "corrected"], made.written.map(({ path, bytes }) => ({ path, blob: new Blob([bytes]) })));
}

/** A run begins, which needs all that the machine has. */
export function end_rehearsal() {
  is_over = true;
  now?.cancel();
}
