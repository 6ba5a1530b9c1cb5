// SPDX-License-Identifier: MIT
#pragma once

#include <string_view>

namespace report {

/// The one script of a page. It makes buttons for what is shown one at a time, and shows all values of a cell that is
/// pointed at, tapped or reached with the arrow keys. It reads the page and sends nothing.
inline constexpr std::string_view page_script = R"(
'use strict';
const make = (tag, text, kind) => {
  const made = document.createElement(tag);
  made.textContent = text || '';
  if (kind) made.className = kind;
  return made;
};
const buttons = (label, names, choose) => {
  const bar = make('div', '', 'bar');
  bar.setAttribute('role', 'group');
  bar.setAttribute('aria-label', label);
  bar.append(make('span', label));
  const press = n => {
    bar.querySelectorAll('button').forEach((button, i) => button.setAttribute('aria-pressed', i === n));
    choose(n);
  };
  names.forEach((name, n) => {
    const button = make('button', name);
    button.type = 'button';
    button.addEventListener('click', () => press(n));
    bar.append(button);
  });
  press(0);
  return bar;
};
for (const choice of document.querySelectorAll('.choice')) {
  const options = [...choice.children];
  if (options.length < 2) continue;
  choice.prepend(buttons(choice.dataset.label, options.map(option => option.dataset.name),
                         n => options.forEach((option, i) => { option.hidden = i !== n; })));
}
for (const maps of document.querySelectorAll('.maps')) {
  const tables = [...maps.querySelectorAll('table.cells')];
  const cellsOf = table => [...table.tBodies[0].querySelectorAll('td')];
  const all = tables.map(cellsOf), count = all[0].length;
  const marked = tables.findIndex(table => table.querySelector('td[data-mark]'));
  const legend = marked < 0 ? [] : [...tables[marked].closest('.map').querySelectorAll('.legend [data-mark]')];
  const meaning = mark => (legend.find(entry => entry.dataset.mark === mark) || make('i')).textContent
      .replace(/^(no letter:|\S) /, '');
  const card = make('div', '', 'card');
  card.setAttribute('aria-live', 'polite');
  card.append(make('p', 'Point at a cell, or tap it, to see all that is known of it.'));
  const show = n => {
    const td = all[0][n], row = td.parentElement, head = tables[0].tHead.rows;
    const column = head[head.length - 1].cells[td.cellIndex].textContent;
    const axes = [head[head.length - 1].cells[0].textContent + ' ' + row.cells[0].textContent];
    if (head.length > 1) axes.push(head[0].cells[1].textContent + ' ' + column);
    const state = marked < 0 ? '' : ': ' + meaning(all[marked][n].dataset.mark);
    const list = make('dl');
    tables.forEach((table, t) => {
      const pair = make('div'), unit = table.dataset.unit;
      pair.append(make('dt', table.closest('.option').dataset.name),
                  make('dd', all[t][n].firstChild.nodeValue + (all[t][n].style.length ? ' ' + unit : '')));
      list.append(pair);
    });
    card.replaceChildren(make('p', axes.join(', ') + state), list);
    all.forEach(cells => cells.forEach((cell, i) => {
      cell.classList.toggle('picked', i === n);
      cell.tabIndex = i === n ? 0 : -1;
    }));
  };
  all.forEach(cells => cells.forEach((cell, n) => {
    cell.tabIndex = n === 0 ? 0 : -1;
    cell.addEventListener('click', () => show(n));
    cell.addEventListener('focus', () => show(n));
    cell.addEventListener('pointerenter', event => { if (event.pointerType === 'mouse') show(n); });
    cell.addEventListener('keydown', event => {
      const wide = cell.parentElement.cells.length - 1;
      const to = n + ({ArrowLeft: -1, ArrowRight: 1, ArrowUp: -wide, ArrowDown: wide}[event.key] || 0);
      if (to === n || to < 0 || to >= count) return;
      event.preventDefault();
      cells[to].focus();
    });
  }));
  const bar = maps.querySelector('.bar');
  if (legend.length) {
    const marks = legend.map(entry => entry.dataset.mark)
        .filter(mark => all[marked].some(td => td.dataset.mark === mark));
    const names = marks.map(mark => {
      const number = all[marked].filter(td => td.dataset.mark === mark).length;
      return meaning(mark).split(':')[0] + ' (' + number + ')';
    });
    bar.after(buttons('Only', ['all cells', ...names], n => all.forEach(cells => cells.forEach((cell, i) =>
        cell.classList.toggle('dim', n > 0 && all[marked][i].dataset.mark !== marks[n - 1])))));
  }
  maps.append(card);
}
addEventListener('beforeprint', () => document.querySelectorAll('details').forEach(part => { part.open = true; }));
)";

/// Of the script above, for the page's security policy. A test names the right one when the script changes.
inline constexpr std::string_view page_script_hash = "sha256-aYhkAbN4JEeJZ8C2Nq5cshlq/BHt9tiXxAi4/Ez6tUk=";

}  // namespace report
