// SPDX-License-Identifier: MIT
// One run of a program: files in, what it prints and the files that it writes out; a new worker for each run. Or the
// answers to pictures that need what the programs are made of.
import make_programs from "programs-module";
import { answering } from "../answering.js";
import { started } from "../started.js";
import { drawing_gnuplot } from "./gnuplot.js";

const here = "/car"; // where the files lie; the program runs in this folder, so its sentences name them as the page does

/** A path of the file system for a path that was given relative to the folder, parts like `..` resolved. */
function resolved(path) {
  const parts = [];
  for (const part of `${here}/${path}`.split("/"))
    if (part === "..") parts.pop();
    else if (part && part !== ".") parts.push(part);
  return `/${parts.join("/")}`;
}

const block_bytes = 1 << 20;

/** Reads a file of the page from a block in memory: programs read by the kilobyte, and to ask the browser takes longer. */
function read_by_blocks({ node }, buffer, offset, length, position) {
  if (position >= node.size) return 0;
  const begin = position - (position % block_bytes);
  if (node.block?.begin !== begin) {
    const bytes = new FileReaderSync().readAsArrayBuffer(node.contents.slice(begin, begin + block_bytes));
    node.block = { begin, bytes: new Uint8Array(bytes) };
  }
  const part = node.block.bytes.subarray(position - begin, position - begin + length);
  buffer.set(part, offset);
  return part.length;
}

/** The files of the page, read where they are: a log is never copied into memory as a whole. */
function put({ FS, WORKERFS }, files) {
  WORKERFS.stream_ops.read = read_by_blocks;
  delete WORKERFS.node_ops.readlink; // none of them is a link
  FS.mkdir(here);
  FS.chdir(here);
  for (const { path, blob } of files) {
    const whole = resolved(path), end = whole.lastIndexOf("/"), folder = whole.slice(0, end) || "/";
    FS.mkdirTree(folder);
    WORKERFS.createNode(FS.lookupPath(folder).node, whole.slice(end + 1), WORKERFS.FILE_MODE, 0, blob);
  }
}

/** What the program wrote, below its folder: all files but those that were put there. */
function written({ FS, WORKERFS }, folder = here) {
  return FS.readdir(folder).filter((name) => name !== "." && name !== "..").flatMap((name) => {
    const path = `${folder}/${name}`, { node } = FS.lookupPath(path);
    if (FS.isDir(node.mode)) return written({ FS, WORKERFS }, path);
    return node.node_ops === WORKERFS.node_ops ? [] : [{ path: path.slice(here.length + 1), bytes: FS.readFile(path) }];
  });
}

/** Standard error is a terminal to the program: what it erases again is its line of progress. */
function listen(FS, failures) {
  let bytes = [];
  const progress = /^\[=* *\] +(\d+) % (.*)$/;
  const taken = () => {
    const text = new TextDecoder().decode(new Uint8Array(bytes));
    bytes = [];
    const match = progress.exec(text);
    if (match) self.postMessage({ fraction: Number(match[1]) / 100, stage: match[2] });
    else if (text.trim()) failures.push(text);
  };
  const ops = {
    put_char(_, byte) {
      if (byte === 10 || byte === 13) taken();
      else if (byte !== null) bytes.push(byte);
    },
    fsync: () => {},
    flush: taken,
  };
  FS.getStream(2).tty.ops = ops;
  return taken;
}

async function run({ compiled, gnuplot, program, words, files }) {
  const printed = [], failures = [];
  try {
    const draw = gnuplot ? await drawing_gnuplot(gnuplot).catch(() => null) : null;
    const [fettle] = await started(make_programs, compiled, {
      print: (line) => printed.push(line),
      gnuplot: (script) => draw?.(script) ?? null, // without it the report says what is missing
    });
    put(fettle, files);
    const end_of_line = listen(fettle.FS, failures);
    const code = fettle.cwrap("laboratory_run", "number", ["string", "string"])(program, JSON.stringify(words));
    end_of_line();
    self.postMessage({ code, printed: printed.join("\n"), failures: failures.join("\n"), written: written(fettle),
      memory_bytes: fettle.HEAPU8.byteLength });
  } catch (failed) {
    self.postMessage({ code: 2, printed: printed.join("\n"), written: [],
      failures: `${program}: the browser ended it: ${failed.message ?? failed}; a page has at most 4 GB, give shorter logs or fewer of them` });
  }
}

const answer = answering(make_programs);
self.onmessage = (event) => (event.data.program ? run(event.data) : answer(event));
