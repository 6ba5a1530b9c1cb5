// SPDX-License-Identifier: MIT
#include "common/report/map_table.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <utility>

namespace report {
namespace {

/// Writes one map table; it looks no further than its own call.
class map_table_writer {
 public:
  explicit map_table_writer(const map_table& map) : map_(map), key_(map.colours, map.values) { check(); }

  [[nodiscard]] std::string html() {
    add("<div class=\"map\"><div class=\"scroll\"><table class=\"cells\" "
        "data-unit=\"{}\"><caption>{}{}</caption>\n<thead>",
        escaped(map_.unit), escaped(map_.caption), map_.unit.empty() ? "" : ", in " + escaped(map_.unit));
    head();
    add("</thead>\n<tbody>\n");
    for (std::size_t i = 0; i < map_.rows.points.size(); ++i) row(shown(map_.rows, i));
    add("</tbody></table></div>\n");
    legend();
    add("</div>\n");
    return std::move(html_);
  }

 private:
  template <class... Arg>
  void add(fmt::format_string<Arg...> format, Arg&&... args) {
    html_ += fmt::format(format, std::forward<Arg>(args)...);
  }

  void check() const {
    const std::size_t expected = map_.rows.points.size() * map_.columns.points.size();
    if (map_.values.size() != expected)
      throw fettle::error(fmt::format("map table \"{}\": {} values for {} rows and {} columns, {} are needed",
                                      map_.caption, map_.values.size(), map_.rows.points.size(),
                                      map_.columns.points.size(), expected));
    if (!map_.marks.empty() && map_.marks.size() != expected)
      throw fettle::error(fmt::format("map table \"{}\": {} marks for {} cells, give one per cell or none",
                                      map_.caption, map_.marks.size(), expected));
    if (!map_.below.empty() && map_.below.size() != expected)
      throw fettle::error(fmt::format("map table \"{}\": {} second lines for {} cells, give one per cell or none",
                                      map_.caption, map_.below.size(), expected));
    for (const char mark : map_.marks)
      if (mark != ' ' && std::none_of(map_.meanings.begin(), map_.meanings.end(),
                                      [&](const auto& each) { return each.symbol == mark; }))
        throw fettle::error(
            fmt::format("map table \"{}\": the mark '{}' has no meaning, add it to the legend", map_.caption, mark));
  }

  [[nodiscard]] static std::size_t shown(const map_axis& axis, std::size_t i) {
    return axis.descending ? axis.points.size() - 1 - i : i;
  }

  void head() {
    if (!map_.columns.name.empty())
      add("<tr><td></td><th class=\"axis\" colspan=\"{}\">{}</th></tr>\n", map_.columns.points.size(),
          escaped(map_.columns.name));
    add("<tr><th class=\"axis\">{}</th>", escaped(map_.rows.name));
    for (std::size_t j = 0; j < map_.columns.points.size(); ++j) {
      const double point = map_.columns.points[shown(map_.columns, j)];
      add("<th scope=\"col\">{}</th>", map_.columns.name.empty() ? escaped(map_.unit) : short_number(point));
    }
    add("</tr>");
  }

  void row(std::size_t i) {
    add("<tr><th scope=\"row\">{}</th>", short_number(map_.rows.points[i]));
    for (std::size_t j = 0; j < map_.columns.points.size(); ++j)
      cell(i * map_.columns.points.size() + shown(map_.columns, j));
    add("</tr>\n");
  }

  void cell(std::size_t i) {
    const char symbol = map_.marks.empty() ? ' ' : map_.marks[i];
    const std::string mark = symbol == ' ' ? "" : "<sup>" + escaped({&symbol, 1}) + "</sup>";
    const std::string below =
        map_.below.empty() || map_.below[i].empty() ? "" : "<small>" + escaped(map_.below[i]) + "</small>";
    const std::string state = map_.marks.empty() ? "" : fmt::format(" data-mark=\"{}\"", escaped({&symbol, 1}));
    const bool is_outlined = map_.outlined != 0 && symbol == map_.outlined;
    if (std::isfinite(map_.values[i]))
      add("<td style=\"{}\"{}{}>{}{}{}</td>", style(map_.values[i]), state, is_outlined ? " class=\"outlined\"" : "",
          number(map_.values[i], map_.decimals, shown_sign()), mark, below);
    else
      add("<td class=\"none{}\"{}>&ndash;{}{}</td>", is_outlined ? " outlined" : "", state, mark, below);
  }

  [[nodiscard]] std::string style(double value) const {
    const colour background = key_.at(value);
    return fmt::format("background:{};color:{}", hex(background), hex(text_on(background)));
  }

  /// A difference is shown with its sign, so that blue and orange are not the only hint.
  [[nodiscard]] sign shown_sign() const {
    const bool about_zero = key_.diverges() && key_.ends().low == -key_.ends().high;
    return about_zero ? sign::always : sign::minus_only;
  }

  void legend() {
    add("<p class=\"legend\">");
    if (range_of(map_.values)) colours();
    if (!std::all_of(map_.values.begin(), map_.values.end(), [](double v) { return std::isfinite(v); }))
      add("<span>&ndash; no value</span>");
    for (const auto& [symbol, meaning] : map_.meanings)
      add("<span data-mark=\"{0}\"><b{2}>{0}</b> {1}</span>", escaped({&symbol, 1}), escaped(meaning),
          symbol == map_.outlined ? " class=\"outlined\"" : "");
    if (!map_.marks.empty() && !map_.unmarked.empty())
      add("<span data-mark=\" \">no letter: {}</span>", escaped(map_.unmarked));
    add("</p>\n");
  }

  void colours() {
    constexpr int steps = 6;
    const auto [low, high] = key_.ends();
    const double step = (high - low) / steps;
    const int needed = step > 0 ? static_cast<int>(std::ceil(-std::log10(step))) : 0;  // so that no two look the same
    const int decimals = std::clamp(needed, map_.decimals, 9);
    add("<span class=\"key\">");
    for (int i = 0; i <= (step > 0 ? steps : 0); ++i) {
      const double value = std::lerp(low, high, static_cast<double>(i) / steps);
      const bool below = i == 0 && key_.values_below(), above = i == steps && key_.values_above();
      add("<i style=\"{}\">{}{}</i>", style(value),
          below   ? "&le; "
          : above ? "&ge; "
                  : "",
          number(value, decimals, shown_sign()));
    }
    add("</span><span>{}</span>", escaped(map_.unit));
  }

  const map_table& map_;
  colour_key key_;
  std::string html_;
};

}  // namespace

std::string html(const map_table& map) {
  return map_table_writer(map).html();
}

}  // namespace report
