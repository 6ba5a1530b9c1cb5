// SPDX-License-Identifier: MIT
import { new_worker } from "./library.js";

/** One run of a program in a worker of its own. `cancel` ends it; `finished` gives code, printed, complaints, results. */
export class ProgramRun {
  #worker;
  #settle;

  /**
   * @param words     the program's name and its words; /in holds the files, /out takes the results.
   * @param files     each with name and data (a Blob).
   * @param progress  called with (part, stage).
   */
  constructor(compiled, words, files, progress) {
    this.#worker = new_worker();
    this.finished = new Promise((resolve, reject) => (this.#settle = { resolve, reject }));
    this.#worker.onerror = (event) => this.#end("reject", new Error(event.message));
    this.#worker.onmessage = ({ data }) => {
      if (data.started) this.#worker.postMessage({ words, files });
      else if (data.stage !== undefined) progress(data.part, data.stage);
      else if (data.failed) this.#end("reject", new Error(data.failed));
      else this.#end("resolve", data);
    };
    this.#worker.postMessage({ compiled });
  }

  cancel() {
    this.#end("resolve", null);
  }

  #end(how, what) {
    this.#worker.terminate();
    this.#settle[how](what);
  }
}

/** A result as text. */
export function text_of(results, name) {
  const found = results.find((result) => result.name === name);
  if (!found) throw new Error(`${name} was not written`);
  return new TextDecoder().decode(found.bytes);
}

/**
 * Runs a program to its end and gives its results.
 *
 * @param owner    keeps the run in `owner.run`, so that it can be cancelled.
 * @param results  of a program before, as its files.
 * Errors: the program's own sentence.
 */
export async function run_to_end(owner, compiled, words, results, progress) {
  const files = results.map(({ name, bytes }) => ({ name, data: new Blob([bytes]) }));
  owner.run = new ProgramRun(compiled, words, files, progress);
  const done = await owner.run.finished;
  if (done === null) throw new Error("Cancelled.");
  if (done.complaints.length > 0) throw new Error(done.complaints.join(" "));
  return done.results;
}
