// SPDX-License-Identifier: MIT
#include "common/report/inline_svg.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cstddef>

namespace report {
namespace {

void replace_all(std::string& text, std::string_view from, std::string_view to) {
  for (std::size_t at = 0; (at = text.find(from, at)) != std::string::npos; at += to.size())
    text.replace(at, from.size(), to);
}

/// `name="value"` or `name='value'` of a tag; empty when it has none.
[[nodiscard]] std::string_view attribute(std::string_view tag, std::string_view name) {
  const std::size_t at = tag.find(fmt::format(" {}=", name));
  if (at == std::string_view::npos) return {};
  const std::size_t quote = at + name.size() + 2;
  const std::size_t end = tag.find(tag[quote], quote + 1);
  return end == std::string_view::npos ? std::string_view() : tag.substr(quote + 1, end - quote - 1);
}

/// Text between two tags: white space alone, which drawing programs use for layout, becomes one character.
void append_text(std::string& svg, std::string_view text) {
  if (text.find_first_not_of(" \t\r\n") == std::string_view::npos)
    svg += text.empty() ? "" : text.find('\n') == std::string_view::npos ? " " : "\n";
  else
    svg += text;
}

/// Drops a group that has nothing in it, as drawing programs leave them by the hundred; true if there was one.
[[nodiscard]] bool drop_empty_group(std::string& svg) {
  const std::size_t last = svg.find_last_not_of(" \n");
  if (last == std::string::npos || svg[last] != '>') return false;
  const std::size_t open = svg.rfind('<', last);
  const std::string_view tag = std::string_view(svg).substr(open, last - open + 1);
  if (!(tag.starts_with("<g ") || tag == "<g>") || tag.ends_with("/>") || !attribute(tag, "id").empty()) return false;
  svg.resize(open);
  return true;
}

}  // namespace

std::string inline_svg(std::string_view file, std::string_view prefix, std::string_view description) {
  const std::size_t begin = file.find("<svg"), inside = file.find('>', begin);
  if (inside == std::string_view::npos) return {};
  const std::string_view head = file.substr(begin, inside - begin);
  std::string svg = fmt::format("<svg viewBox=\"{}\" style=\"max-width:{}px\" role=\"img\" aria-label=\"{}\">",
                                attribute(head, "viewBox"), attribute(head, "width"), escaped(description));
  for (std::size_t at = inside + 1; at < file.size();) {
    const std::size_t open = std::min(file.find('<', at), file.size());
    append_text(svg, file.substr(at, open - at));
    if (open == file.size()) break;
    // Titles would show up as tooltips that name the drawing program's parts.
    for (const std::string_view unwanted : {"title", "desc"})
      if (file.substr(open + 1).starts_with(unwanted)) {
        const std::size_t close = file.find("</", open);
        at = file.find('>', close);
      }
    if (at > open) {
      at = at == std::string_view::npos ? file.size() : at + 1;
      continue;
    }
    const std::size_t end = std::min(file.find('>', open), file.size() - 1);
    std::string tag(file.substr(open, end - open + 1));
    at = end + 1;
    if (tag == "</g>" && drop_empty_group(svg)) continue;
    replace_all(tag, "xlink:href", "href");
    for (const std::string_view reference : {" id='", " id=\"", "href='#", "href=\"#", "url(#"})
      replace_all(tag, reference, fmt::format("{}{}", reference, prefix));
    svg += tag;
  }
  return svg;
}

}  // namespace report
