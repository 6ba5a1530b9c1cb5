// SPDX-License-Identifier: MIT
#include "common/report/page.hpp"

#include <cstddef>

#include "common/report/cautions.hpp"
#include "common/report/inline_svg.hpp"
#include "common/report/page_script.hpp"
#include "common/report/page_style.hpp"
#include "fettle/error.hpp"

namespace report {

void page::section(std::string_view heading) {
  if (sections_ > 0) write("</section>\n");
  ++sections_;
  write("<section id=\"section-{}\"><h2>{}</h2>\n", sections_, escaped(heading));
  contents_ += fmt::format("<li><a href=\"#section-{}\">{}</a></li>\n", sections_, escaped(heading));
}

void page::subheading(std::string_view text) {
  write("<h3>{}</h3>\n", escaped(text));
}

void page::paragraph(std::string_view text) {
  write("<p>{}</p>\n", escaped(text));
}

void page::answers(const verdict& v) {
  const auto put = [&](const std::string& html) { top_ += html; };
  put(fmt::format("<section class=\"answers {}\"><dl>\n", v.is_safe ? "safe" : "unsafe"));
  for (const auto& [name, words] : {std::pair{"Load", &v.load}, {"Safe", &v.safe}, {"Next", &v.next}})
    put(fmt::format("<div><dt>{}</dt><dd>{}</dd></div>\n", name, escaped(*words)));
  put("</dl></section>\n<aside class=\"cautions\"><ul>\n");
  constexpr std::size_t in_sight = 2;
  for (std::size_t i = 0; i < cautions.size(); ++i) {
    if (i == in_sight)
      put(fmt::format("</ul><details><summary>{} more before you start the engine</summary><ul>\n",
                      cautions.size() - i));
    put(fmt::format("<li>{}</li>\n", escaped(cautions[i])));
  }
  put("</ul></details></aside>\n");
}

void page::begin_choice(std::string_view label) {
  write("<div class=\"choice\" data-label=\"{}\">\n", escaped(label));
}

void page::begin_option(std::string_view name) {
  write("<div class=\"option\" data-name=\"{}\">\n", escaped(name));
}

void page::end_option() {
  write("</div>\n");
}

void page::end_choice() {
  write("</div>\n");
}

void page::add(const map_set& set) {
  write("<div class=\"maps\">\n");
  begin_choice(set.label);
  for (const auto& [name, map] : set.maps) {
    begin_option(name);
    add(map);
    end_option();
  }
  end_choice();
  write("</div>\n");
}

void page::facts(const std::vector<std::pair<std::string, std::string>>& lines) {
  write("<dl>\n");
  for (const auto& [name, value] : lines) write("<div><dt>{}</dt><dd>{}</dd></div>\n", escaped(name), escaped(value));
  write("</dl>\n");
}

void page::add(const table& t) {
  for (std::size_t i = 0; i < t.rows.size(); ++i)
    if (t.rows[i].size() != t.columns.size())
      throw fettle::error(fmt::format("table \"{}\": row {} has {} cells, {} are needed", t.caption, i + 1,
                                      t.rows[i].size(), t.columns.size()));
  write("<div class=\"scroll\"><table class=\"plain\"><caption>{}</caption>\n<thead><tr>", escaped(t.caption));
  const auto kind = [&](std::size_t j) { return t.columns[j].is_number ? " class=\"number\"" : ""; };
  for (std::size_t j = 0; j < t.columns.size(); ++j)
    write("<th scope=\"col\"{}>{}</th>", kind(j), escaped(t.columns[j].name));
  write("</tr></thead>\n<tbody>\n");
  for (const auto& row : t.rows) {
    write("<tr>");
    for (std::size_t j = 0; j < row.size(); ++j) write("<td{}>{}</td>", kind(j), escaped(row[j]));
    write("</tr>\n");
  }
  write("</tbody></table></div>\n");
}

void page::add(const map_table& map) {
  body_ += report::html(map);
}

void page::picture(const std::optional<std::string>& svg, std::string_view caption) {
  if (!svg) {
    write(
        "<p class=\"missing\">There would be a picture here, but gnuplot was not found or could not draw it. It "
        "would show: {}.</p>\n",
        escaped(caption));
    return;
  }
  ++pictures_;
  write("<figure><div class=\"scroll\">{}</div><figcaption>{}</figcaption></figure>\n",
        inline_svg(*svg, fmt::format("picture-{}-", pictures_), caption), escaped(caption));
}

std::string page::html() const {
  // The policy makes the browser itself refuse anything from elsewhere.
  return fmt::format(
      "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
      "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'; "
      "script-src '{6}'\">\n"
      "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
      "<title>{0}</title>\n<style>\n{1}</style>\n</head>\n<body>\n"
      "<header><h1>{0}</h1><p>{2}</p></header>\n{8}{3}<main>\n{4}{5}</main>\n<script>{7}</script>\n</body>\n</"
      "html>\n",
      escaped(title_), page_style, escaped(subtitle_),
      sections_ > 1 ? "<nav aria-label=\"Contents\"><ol>\n" + contents_ + "</ol></nav>\n" : "", body_,
      sections_ > 0 ? "</section>\n" : "", page_script_hash, page_script, top_);
}

}  // namespace report
