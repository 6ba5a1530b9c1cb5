// SPDX-License-Identifier: MIT
// The library in a thread of its own, so that the page never waits.
import make_fettle from "fettle-module";

let fettle;
let answer_of;

/** Gathers what a program writes, letter by letter, and hands on each line. A carriage return ends a line too: so ends
 * what a program writes to be written over. */
function lines(take) {
  let bytes = [];
  return (byte) => {
    if (byte !== 10 && byte !== 13) {
      if (byte !== null) bytes.push(byte & 255);
      return;
    }
    take(new TextDecoder().decode(new Uint8Array(bytes)));
    bytes = [];
  };
}

const printed = [], complaints = [];

/** A line of the error stream: how far the program is, or what is wrong. */
function heard(line) {
  const progress = /^\[[= ]*\] +(\d+) % (.*)$/.exec(line);
  if (progress) self.postMessage({ part: Number(progress[1]) / 100, stage: progress[2].trim() });
  else if (line.trim() !== "") complaints.push(line);
}

/** The library from the module that the page has compiled. */
async function start(compiled) {
  fettle = await make_fettle({
    stdout: lines((line) => printed.push(line)),
    stderr: lines(heard),
    instantiateWasm(imports, ready) {
      WebAssembly.instantiate(compiled, imports).then((instance) => ready(instance, compiled));
      return {};
    },
  });
  answer_of = fettle.cwrap("laboratory_answer", "string", ["string", "string"]);
}

/** All files under a folder of the module, by their names in it. */
function files_under(folder, below = "") {
  const { FS } = fettle;
  return FS.readdir(folder).filter((name) => name !== "." && name !== "..").flatMap((name) => {
    const path = `${folder}/${name}`;
    return FS.isDir(FS.stat(path).mode) ? files_under(path, `${below}${name}/`) : [{ name: below + name, bytes: FS.readFile(path) }];
  });
}

/** Runs a program on files, which are read where they lie: only what the program keeps of them takes memory. */
function run({ words, files }) {
  const { FS, WORKERFS } = fettle;
  FS.mkdir("/in");
  FS.mkdir("/out");
  FS.mount(WORKERFS, { blobs: files.map(({ name, data }) => ({ name, data })) }, "/in");
  const code = fettle.cwrap("laboratory_run", "number", ["string"])(words.join("\n"));
  self.postMessage({ code, printed, complaints, results: files_under("/out") });
}

self.onmessage = async ({ data }) => {
  try {
    if (data.compiled) {
      await start(data.compiled);
      self.postMessage({ started: true });
    } else if (data.words) {
      run(data);
    } else {
      self.postMessage({ id: data.id, answer: answer_of(data.picture, JSON.stringify(data.question)) });
    }
  } catch (failed) {
    self.postMessage({ failed: String(failed?.message ?? failed) });
  }
};
