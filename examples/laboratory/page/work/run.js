// SPDX-License-Identifier: MIT
import { compiled_gnuplot, compiled_programs, new_worker } from "../library.js";

let warned_by = 0;

const warn = (event) => {
  event.preventDefault();
  event.returnValue = true; // what browsers before 2024 go by
};

/** A tab that is closed asks first while this is not released. */
export function hold_page() {
  if (warned_by++ === 0) addEventListener("beforeunload", warn);
  let is_held = true;
  return function release() {
    if (is_held && --warned_by === 0) removeEventListener("beforeunload", warn);
    is_held = false;
  };
}

/** The modules that a run needs; without gnuplot it goes too. */
const unpacked = () => Promise.all([compiled_programs(), compiled_gnuplot().catch(() => null)]);

/** Unpacks while files are still being chosen; what fails now is tried again by the run. */
export const unpack_programs = () => unpacked().catch(() => {});

/**
 * Runs a program of fettle on files of the page.
 *
 * @param files     [{path, blob}], paths relative to the folder that the program runs in.
 * @param progress  ({stage, fraction}) => nothing.
 * @return  {ended, cancel}: `ended` resolves to {code, printed, failures, written: [{path, bytes}]}, null if cancelled.
 */
export function run_program(program, words, files, progress) {
  const release = hold_page();
  let worker = null, cancel, has_ended = false;
  const cancelled = new Promise((resolve) => (cancel = () => resolve(null)));
  const failure = ({ message }) => ({ code: 2, printed: "", failures: `${program}: ${message}`, written: [] });
  const work = async () => {
    const [compiled, gnuplot] = await unpacked();
    if (has_ended) return null; // cancelled while the programs were unpacked
    worker = new_worker("programs-worker");
    return new Promise((resolve) => {
      worker.onmessage = ({ data }) => ("code" in data ? resolve(data) : progress(data));
      worker.onerror = (event) => resolve(failure(event));
      worker.postMessage({ compiled, gnuplot, program, words, files });
    });
  };
  const ended = Promise.race([work().catch(failure), cancelled]).finally(() => {
    has_ended = true;
    worker?.terminate();
    release();
  });
  return { ended, cancel };
}
