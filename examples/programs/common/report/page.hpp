// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/format.h>

#include <concepts>
#include <optional>
#include <ranges>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "common/report/map_table.hpp"
#include "common/report/text.hpp"
#include "common/report/verdict.hpp"

namespace report {

/// One column of a plain table.
struct column {
  std::string name;
  bool is_number = false;  ///< right-aligned
};

/// Rows of text under named columns.
struct table {
  std::string caption;
  std::vector<column> columns;
  std::vector<std::vector<std::string>> rows;
};

/// One self-contained HTML file, nothing loaded from elsewhere; reads on a telephone and on paper. One script of our
/// own, allowed by its hash, shows maps one at a time and a cell's values when it is pointed at; without it everything
/// stands one below the other.
///
/// Everything handed over is text and is escaped. Write `html()` with `fettle::write_atomically`.
/// Errors: `fettle::error` for a table whose rows do not fit its columns; nothing is added then.
class page {
 public:
  page(std::string title, std::string subtitle) : title_(std::move(title)), subtitle_(std::move(subtitle)) {}

  /// Begins a section, listed in the contents.
  void section(std::string_view heading);

  void subheading(std::string_view text);
  void paragraph(std::string_view text);

  /// A box that must not be overlooked.
  template <std::ranges::input_range Sentences>
  requires std::convertible_to<std::ranges::range_reference_t<Sentences>, std::string_view>
  void notice(std::string_view heading, const Sentences& sentences) {
    write("<aside><h3>{}</h3><ul>\n", escaped(heading));
    for (const std::string_view sentence : sentences) write("<li>{}</li>\n", escaped(sentence));
    write("</ul></aside>\n");
  }

  /// The three answers, before all else, and what has to be said beside every result: two cautions in sight, the rest to
  /// be unfolded, and open on paper.
  void answers(const verdict& v);

  /// Begins parts of which one is shown at a time; each begins with `option`.
  ///
  /// @param label  stands before the buttons: "Cylinder".
  void begin_choice(std::string_view label);
  /// Begins the next part of a choice.
  void begin_option(std::string_view name);
  void end_option();
  void end_choice();

  void add(const map_set& set);

  /// Names and values, one pair a line.
  void facts(const std::vector<std::pair<std::string, std::string>>& lines);

  void add(const table& t);

  void add(const map_table& map);

  /// A picture, or a sentence in its place.
  ///
  /// @param svg      an SVG file's text, as `draw` returns it.
  /// @param caption  what it shows, a sentence or phrase without a full stop.
  void picture(const std::optional<std::string>& svg, std::string_view caption);

  [[nodiscard]] std::string html() const;

 private:
  template <class... Arg>
  void write(fmt::format_string<Arg...> format, Arg&&... args) {
    body_ += fmt::format(format, std::forward<Arg>(args)...);
  }

  std::string title_, subtitle_, top_, contents_, body_;
  int sections_ = 0, pictures_ = 0;
};

}  // namespace report
