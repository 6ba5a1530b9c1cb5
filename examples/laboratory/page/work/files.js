// SPDX-License-Identifier: MIT
// Files that were dropped or chosen, and where a session looks for them.

async function of_entry(entry, folder) {
  if (entry.isFile) {
    const blob = await new Promise((read, failed) => entry.file(read, failed));
    return [{ path: folder + entry.name, blob }];
  }
  const reader = entry.createReader(), children = [];
  for (;;) { // a browser gives a hundred entries at a time
    const some = await new Promise((read, failed) => reader.readEntries(read, failed));
    if (some.length === 0) break;
    children.push(...some);
  }
  return (await Promise.all(children.map((child) => of_entry(child, `${folder}${entry.name}/`)))).flat();
}

/** Files and folders of a drop, [{path, blob}]. */
export async function dropped(transfer) {
  const entries = [...transfer.items].map((item) => item.webkitGetAsEntry?.()).filter(Boolean);
  const files = (await Promise.all(entries.map((entry) => of_entry(entry, "")))).flat();
  return without_common_folder(files.length > 0 ? files : chosen(transfer.files));
}

/** Files of an input element. */
export const chosen = (list) =>
  without_common_folder([...list].map((file) => ({ path: file.webkitRelativePath || file.name, blob: file })));

/** One folder around everything is left out of the paths. */
function without_common_folder(files) {
  const first = files[0]?.path.split("/")[0];
  const is_common = files.length > 0 && files.every(({ path }) => path.startsWith(`${first}/`));
  return is_common ? files.map(({ path, blob }) => ({ path: path.slice(first.length + 1), blob })) : files;
}

const folder_of = (path) => path.slice(0, path.lastIndexOf("/") + 1);
const name_of = (path) => path.slice(path.lastIndexOf("/") + 1);

/** The paths below every "file" of a session and its like, as they stand there. */
function named_files(part) {
  if (part === null || typeof part !== "object") return [];
  return Object.entries(part).flatMap(([key, value]) =>
    key === "file" && typeof value === "string" ? [value] : typeof value === "string" && Array.isArray(part) ? [value] : named_files(value));
}

function normal(path) {
  const parts = [];
  for (const part of path.split("/"))
    if (part === ".." && parts.length > 0 && parts.at(-1) !== "..") parts.pop();
    else if (part && part !== ".") parts.push(part);
  return parts.join("/");
}

/**
 * The files, and once more those that the session names at a place where none lies but that are here under the same
 * name: somebody who drops files one by one need not build the folders again.
 */
export async function placed(files, session_path) {
  const session = files.find(({ path }) => path === session_path);
  let content;
  try {
    content = JSON.parse(await session.blob.text());
  } catch {
    return files; // the program says what is wrong with it
  }
  const paths = new Set(files.map(({ path }) => path)), result = [...files];
  for (const named of named_files(content)) {
    const path = normal(folder_of(session_path) + named.replaceAll("\\", "/"));
    if (paths.has(path)) continue;
    const alike = files.filter((file) => name_of(file.path) === name_of(path));
    if (alike.length !== 1) continue;
    paths.add(path);
    result.push({ path, blob: alike[0].blob });
  }
  return result;
}

/** Paths of files that may be sessions, the likeliest first. */
export function sessions(files) {
  const likely = ({ path }) => (name_of(path) === "session.json" ? 0 : 2) + path.split("/").length / 100;
  return files.filter(({ path }) => path.endsWith(".json") && !/(^|\/)(summary|truth)\.json$/.test(path))
    .sort((a, b) => likely(a) - likely(b)).map(({ path }) => path);
}

export function in_words(bytes) {
  for (const [unit, size] of [["GB", 1e9], ["MB", 1e6], ["kB", 1e3]])
    if (bytes >= size) return `${(bytes / size).toFixed(bytes < 10 * size ? 1 : 0)}\u00a0${unit}`;
  return `${bytes}\u00a0bytes`;
}
