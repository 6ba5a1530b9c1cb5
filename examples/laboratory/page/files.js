// SPDX-License-Identifier: MIT
// Reading what the programs write.

/** The map of a CSV file: breakpoints of rows and columns, cells row by row. */
export function map_of(text) {
  const [head, ...rows] = text.trim().split(/\r?\n/).map((row) => row.split(/[,;]/));
  return { columns: head.slice(1).map(Number), rows: rows.map((row) => Number(row[0])), cells: rows.flatMap((row) => row.slice(1).map(Number)) };
}

/** The columns of a log by their names; an empty cell is no number. */
export function columns_of(text) {
  const [head, ...rows] = text.trim().split(/\r?\n/);
  const names = head.split(","), columns = Object.fromEntries(names.map((name) => [name, []]));
  for (const row of rows) row.split(",").forEach((cell, i) => columns[names[i]].push(cell === "" ? null : Number(cell)));
  return columns;
}
