// SPDX-License-Identifier: MIT
#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>
#include <sys/stat.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <limits>
#include <numeric>
#include <optional>
#include <regex>
#include <set>
#include <string>
#include <vector>

#include "common/report/cautions.hpp"
#include "common/report/histogram.hpp"
#include "common/report/inline_svg.hpp"
#include "common/report/interval_chart.hpp"
#include "common/report/line_chart.hpp"
#include "common/report/page.hpp"
#include "common/report/progress.hpp"
#include "common/report/surface_chart.hpp"
#include "fettle/io/log_csv.hpp"

namespace report_test {

using namespace report;
namespace fs = std::filesystem;
constexpr double nan = std::numeric_limits<double>::quiet_NaN();
constexpr double infinity = std::numeric_limits<double>::infinity();

bool contains(std::string_view text, std::string_view part) {
  return text.find(part) != std::string_view::npos;
}

std::size_t count(std::string_view text, std::string_view part) {
  std::size_t occurrences = 0;
  for (std::size_t at = text.find(part); at != std::string_view::npos; at = text.find(part, at + part.size()))
    ++occurrences;
  return occurrences;
}

std::vector<std::string> matches(const std::string& text, const std::string& expression) {
  const std::regex pattern(expression);
  std::vector<std::string> result;
  for (std::sregex_iterator i(text.begin(), text.end(), pattern), end; i != end; ++i) result.push_back((*i)[1]);
  return result;
}

/// PATH as given (none: unset) while it lives.
class path_variable {
 public:
  explicit path_variable(const char* value) {
    if (const char* present = std::getenv("PATH")) before_ = present;
    value ? setenv("PATH", value, 1) : unsetenv("PATH");
  }
  path_variable(const path_variable&) = delete;
  path_variable& operator=(const path_variable&) = delete;
  ~path_variable() { before_ ? setenv("PATH", before_->c_str(), 1) : unsetenv("PATH"); }

 private:
  std::optional<std::string> before_;
};

/// A folder with a program called gnuplot that runs these shell commands.
class stand_in {
 public:
  explicit stand_in(std::string_view commands) {
    std::string name = (fs::temp_directory_path() / "report_test_XXXXXX").string();
    if (!mkdtemp(name.data())) throw std::runtime_error("no temporary folder");
    folder = name;
    std::ofstream(folder / "gnuplot") << "#!/bin/sh\n" << commands << "\n";
    fs::permissions(folder / "gnuplot", fs::perms::owner_all);
  }
  stand_in(const stand_in&) = delete;
  stand_in& operator=(const stand_in&) = delete;
  ~stand_in() { fs::remove_all(folder); }

  fs::path folder;
};

/// The script a chart would hand to gnuplot.
template <class Chart>
std::string script_of(const Chart& chart) {
  const stand_in echo("/bin/cat; echo '</svg>'");
  const path_variable path(echo.folder.c_str());
  return draw(chart).value();
}

colour colour_from(const std::string& hex_digits) {
  const auto part = [&](std::size_t at) { return std::stoi(hex_digits.substr(at, 2), nullptr, 16) / 255.0; };
  return {part(0), part(2), part(4)};
}

struct small_map {
  std::vector<double> rpm{1000, 2000, 3000}, throttle{0, 50}, values{1, 2, 3, 4, 5, 6};
  [[nodiscard]] map_table shown() const {
    return {.caption = "fuel", .rows = {"speed in rpm", rpm}, .columns = {"throttle in %", throttle}, .values = values};
  }
};

constexpr std::string_view hostile = "<script>alert(\"1\" & '2')</script>";

TEST(ReportText, EscapesEveryCharacterHtmlGivesAMeaning) {
  EXPECT_EQ(escaped(hostile), "&lt;script&gt;alert(&quot;1&quot; &amp; &#39;2&#39;)&lt;/script&gt;");
}

TEST(ReportText, NumbersRoundedToZeroHaveNoSign) {
  EXPECT_EQ(number(-0.04, 1), "0.0");
  EXPECT_EQ(number(0.04, 1, sign::always), "0.0");
  EXPECT_EQ(number(2.26, 1, sign::always), "+2.3");
  EXPECT_EQ(number(-2.26, 1, sign::always), "-2.3");
  EXPECT_EQ(number(-0.0, 0), "0");
  EXPECT_EQ(number(nan, 1), "nan");
}

// Source: W3C, "Web Content Accessibility Guidelines 2.1": black on white is 21:1. #767676 on white is the usual
// example of a grey that just passes 4.5 (from memory).
TEST(ReportColour, ContrastIsThatOfTheGuidelines) {
  EXPECT_NEAR(contrast(black, white), 21, 1e-12);
  EXPECT_NEAR(contrast(white, white), 1, 1e-12);
  EXPECT_NEAR(contrast(colour_from("767676"), white), 4.54, 0.005);
}

TEST(ReportColour, TextIsLegibleOnEveryColourOfBothScales) {
  for (int i = 0; i <= 2000; ++i) {
    const double part = i / 2000.0;
    for (const colour c : {sequential_colour(part), diverging_colour(2 * part - 1)}) {
      const colour shown = colour_from(hex(c).substr(1));
      EXPECT_GE(contrast(shown, text_on(shown)), 4.5) << part;
    }
  }
}

TEST(ReportColour, SequentialScaleDarkensAllTheWay) {
  for (int i = 1; i <= 200; ++i)
    EXPECT_LT(luminance(sequential_colour(i / 200.0)), luminance(sequential_colour((i - 1) / 200.0))) << i;
}

TEST(ReportColour, SidesOfTheDivergingScaleDifferInLightnessAndAreOrderedEach) {
  for (int i = 1; i <= 100; ++i) {
    const double part = i / 100.0;
    EXPECT_GT(luminance(diverging_colour(part)), luminance(diverging_colour(-part))) << part;
    for (const double side : {-1.0, 1.0})
      EXPECT_LT(luminance(diverging_colour(side * part)), luminance(diverging_colour(side * (part - 0.01)))) << part;
  }
  EXPECT_GT(contrast(diverging_colour(1), diverging_colour(-1)), 3);  // also on grey paper
  EXPECT_GT(diverging_colour(-1).blue, diverging_colour(-1).red);
  EXPECT_GT(diverging_colour(1).red, diverging_colour(1).blue);
}

TEST(ReportColour, LinesOfChartsAreNeitherBlueNorOrangeWhichMeanLessAndMoreFuel) {
  for (const auto line : report::detail::series_colours) {
    const colour c = colour_from(std::string(line.substr(1)));
    EXPECT_FALSE(c.blue > c.red + 0.25 && c.blue > c.green + 0.15) << line;
    EXPECT_FALSE(c.red > c.blue + 0.35 && c.green > c.blue + 0.1) << line;
  }
}

TEST(ReportColour, OneOutlierDoesNotBleachAllOthers) {
  std::vector<double> values{nan};
  for (int i = 0; i <= 100; ++i) values.push_back(1 + i / 100.0);
  values.push_back(90);
  EXPECT_EQ(range_without_outliers(values)->low, 1);
  EXPECT_EQ(range_without_outliers(values)->high, 2);
  EXPECT_EQ(range_without_outliers(std::vector<double>{3, 3, 3})->high, 3);
  EXPECT_FALSE(range_without_outliers(std::vector<double>{nan}).has_value());
}

TEST(ReportColour, KeyTakesItsEndsFromFiniteValuesOrAsTold) {
  const std::vector<double> values{-1, nan, 3, infinity};
  EXPECT_EQ(colour_key(sequential{}, values).ends().low, -1);
  EXPECT_EQ(colour_key(sequential{}, values).ends().high, 3);
  const colour_key about_one(diverging{.centre = 1.5}, values);
  EXPECT_EQ(about_one.ends().low, -1);
  EXPECT_EQ(about_one.ends().high, 4);
  EXPECT_EQ(hex(about_one.at(1.5)), hex(diverging_colour(0)));
  const colour_key narrow(sequential{.limits = range{0, 2}}, values);
  EXPECT_TRUE(narrow.values_below() && narrow.values_above());
  EXPECT_EQ(hex(narrow.at(3)), hex(sequential_colour(1)));
}

TEST(ReportColour, KeyOfEqualOrOfNoValuesIsNeutral) {
  const std::vector<double> equal{2, 2}, none{nan};
  EXPECT_EQ(hex(colour_key(sequential{}, equal).at(2)), hex(sequential_colour(0)));
  EXPECT_EQ(hex(colour_key(diverging{2, {}}, equal).at(2)), hex(diverging_colour(0)));
  EXPECT_EQ(hex(colour_key(diverging{}, none).at(0)), hex(diverging_colour(0)));
}

TEST(ReportMapTable, CellsStandInTheOrderOfTheAxes) {
  const std::string text = html(small_map().shown());
  EXPECT_EQ(matches(text, "<th scope=\"row\">([^<]*)"), (std::vector<std::string>{"1000", "2000", "3000"}));
  EXPECT_EQ(matches(text, "<th scope=\"col\">([^<]*)"), (std::vector<std::string>{"0", "50"}));
  EXPECT_EQ(matches(text, "<td style=[^>]*>([^<]*)"),
            (std::vector<std::string>{"1.0", "2.0", "3.0", "4.0", "5.0", "6.0"}));
}

TEST(ReportMapTable, DescendingAxesTurnPointsValuesAndMarksTogether) {
  const small_map map;
  const std::vector<char> marks{'L', ' ', ' ', ' ', ' ', ' '};
  map_table shown = map.shown();
  shown.rows.descending = shown.columns.descending = true;
  shown.marks = marks;
  shown.meanings = {{'L', "limited"}};
  const std::string text = html(shown);
  EXPECT_EQ(matches(text, "<th scope=\"row\">([^<]*)"), (std::vector<std::string>{"3000", "2000", "1000"}));
  EXPECT_EQ(matches(text, "<th scope=\"col\">([^<]*)"), (std::vector<std::string>{"50", "0"}));
  EXPECT_EQ(matches(text, "<td style=[^>]*>(.*?)</td>"),
            (std::vector<std::string>{"6.0", "5.0", "4.0", "3.0", "2.0", "1.0<sup>L</sup>"}));
  EXPECT_TRUE(contains(text, "<b>L</b> limited"));
}

TEST(ReportMapTable, ValuesThatAreNotFiniteAreDashesWithoutColourAndExplained) {
  small_map map;
  map.values[1] = nan;
  map.values[4] = -infinity;
  const std::string text = html(map.shown());
  EXPECT_EQ(count(text, "<td class=\"none\">&ndash;</td>"), 2U);
  EXPECT_TRUE(contains(text, "&ndash; no value"));
  EXPECT_FALSE(contains(text, "nan"));
  EXPECT_FALSE(contains(text, "inf"));
  EXPECT_FALSE(contains(html(small_map().shown()), "no value"));
}

TEST(ReportMapTable, MapWithoutAnyValueHasNoColourKey) {
  small_map map;
  map.values.assign(6, nan);
  const std::string text = html(map.shown());
  EXPECT_FALSE(contains(text, "class=\"key\""));
  EXPECT_EQ(count(text, "class=\"none\""), 6U);
}

TEST(ReportMapTable, EveryCellAndEveryStepOfTheKeyIsLegible) {
  const small_map map;
  for (const scale& colours : {scale(sequential{}), scale(diverging{3.5, {}}), scale(diverging{0, 2.0})}) {
    map_table shown = map.shown();
    shown.colours = colours;
    const std::string text = html(shown);
    const auto backgrounds = matches(text, "background:#([0-9a-f]{6})"),
               inks = matches(text, "[;]color:#([0-9a-f]{6})");
    ASSERT_EQ(backgrounds.size(), 6U + 7U);
    ASSERT_EQ(inks.size(), backgrounds.size());
    for (std::size_t i = 0; i < inks.size(); ++i)
      EXPECT_GE(contrast(colour_from(backgrounds[i]), colour_from(inks[i])), 4.5);
  }
}

TEST(ReportMapTable, DifferencesCarryTheirSignAndTheKeySaysWhatLiesBeyond) {
  small_map map;
  map.values = {-3, -1, 0, 1, 2, 3};
  map_table shown = map.shown();
  shown.colours = diverging{0, 2.0};
  const std::string text = html(shown);
  EXPECT_TRUE(contains(text, ">+3.0</td>"));
  EXPECT_TRUE(contains(text, ">0.0</td>"));
  EXPECT_TRUE(contains(text, "&le; -2.0"));
  EXPECT_TRUE(contains(text, "&ge; +2.0"));
}

TEST(ReportMapTable, KeyHasAsManyDecimalsAsItsStepsNeed) {
  small_map map;
  map.values = {1, 1.01, 1.02, 1.03, 1.04, 1.06};
  map_table shown = map.shown();
  shown.decimals = 0;
  const auto steps = matches(html(shown), "<i [^>]*>([^<]*)");
  EXPECT_EQ(std::set<std::string>(steps.begin(), steps.end()).size(), 7U);
}

TEST(ReportMapTable, ACellThatMustNotBeOverlookedIsOutlinedAndSaysMoreBelow) {
  const small_map map;
  const std::vector<char> marks{'L', ' ', ' ', ' ', ' ', ' '};
  const std::vector<std::string> below{"needs +18.0", "", "", "", "", ""};
  map_table shown = map.shown();
  shown.marks = marks;
  shown.meanings = {{'L', "still lean"}};
  shown.unmarked = "corrected";
  shown.outlined = 'L';
  shown.below = below;
  const std::string text = html(shown);
  EXPECT_TRUE(contains(text, " data-mark=\"L\" class=\"outlined\">1.0<sup>L</sup><small>needs +18.0</small></td>"));
  EXPECT_EQ(count(text, "<small>"), 1U);
  EXPECT_TRUE(contains(text, "no letter: corrected"));
  shown.below = std::span(below).first(5);
  EXPECT_THROW((void)html(shown), fettle::error);
}

TEST(ReportMapTable, RankOneHasOneColumnHeadedByTheUnit) {
  const std::vector<double> rpm{1000, 2000}, column{0}, values{1, 2};
  const std::string text = html(map_table{
      .caption = "c", .rows = {"speed in rpm", rpm}, .columns = {"", column}, .values = values, .unit = "mg & g"});
  EXPECT_EQ(matches(text, "<th scope=\"col\">([^<]*)"), (std::vector<std::string>{"mg &amp; g"}));
}

TEST(ReportMapTable, RefusesValuesOrMarksThatDoNotFitAndMarksWithoutMeaning) {
  const small_map map;
  map_table shown = map.shown();
  shown.values = shown.values.first(5);
  EXPECT_THROW((void)html(shown), fettle::error);
  const std::vector<char> few{'L'}, unexplained{' ', ' ', ' ', ' ', ' ', 'Q'};
  shown = map.shown();
  shown.marks = few;
  EXPECT_THROW((void)html(shown), fettle::error);
  shown.marks = unexplained;
  try {
    (void)html(shown);
    FAIL();
  } catch (const fettle::error& e) {
    EXPECT_TRUE(contains(e.what(), "'Q'")) << e.what();
  }
}

/// A page with one of everything, and with hostile text in every place.
page full_page() {
  static const small_map map;
  page p{std::string(hostile), std::string(hostile)};
  p.section(hostile);
  p.subheading(hostile);
  p.paragraph(hostile);
  p.notice(hostile, std::vector<std::string>{std::string(hostile)});
  p.facts({{std::string(hostile), std::string(hostile)}});
  p.add(table{std::string(hostile), {{std::string(hostile), true}}, {{std::string(hostile)}}});
  p.section("maps & pictures");
  map_table shown = map.shown();
  shown.caption = shown.unit = shown.rows.name = shown.columns.name = hostile;
  static const std::vector<char> marks(6, '<');
  shown.marks = marks;
  shown.meanings = {{'<', std::string(hostile)}};
  p.add(shown);
  const std::string label(hostile);
  p.picture(draw(line_chart{label, label, {{label, map.throttle, map.throttle, drawn_as::line_and_points}}}), hostile);
  p.picture(draw(surface_chart{label, label, label, {{label, map.rpm, map.throttle, map.values}}}), hostile);
  return p;
}

TEST(ReportPage, HostileTextStaysText) {
  const std::string text = full_page().html();
  EXPECT_EQ(count(text, "<script"), 1U);  // our own
  EXPECT_GE(count(text, "&lt;script&gt;"), 15U);
}

TEST(ReportPage, RefersToNothingOutsideItself) {
  const std::string text = full_page().html();
  for (const char* outward : {"http:", "https:", "src=", "@import", "<link", "<iframe", "<object", "url(h"})
    EXPECT_FALSE(contains(text, outward)) << outward;
}

TEST(ReportPage, IdsAreUniqueAndEveryReferenceMeetsItsId) {
  const std::string text = full_page().html();
  const auto ids = matches(text, " id=[\"']([^\"']*)");
  const std::set<std::string> distinct(ids.begin(), ids.end());
  EXPECT_EQ(distinct.size(), ids.size());
  const auto references = matches(text, "href=[\"']#([^\"']*)");
  EXPECT_GE(references.size(), 2U);
  for (const auto& reference : references) EXPECT_TRUE(distinct.contains(reference)) << reference;
}

TEST(ReportPage, ListsItsSectionsAndClosesThem) {
  const std::string text = full_page().html();
  EXPECT_TRUE(contains(text, "<a href=\"#section-2\">maps &amp; pictures</a>"));
  EXPECT_EQ(count(text, "<section"), 2U);
  EXPECT_EQ(count(text, "</section>"), 2U);
  EXPECT_FALSE(contains(page("t", "s").html(), "<section"));
}

TEST(ReportPage, NumbersAreAlignedAndRaggedRowsRefused) {
  page p("t", "s");
  p.add(table{"cells", {{"cell"}, {"change", true}}, {{"a", "1.5"}}});
  EXPECT_TRUE(contains(p.html(), "<td>a</td><td class=\"number\">1.5</td>"));
  const std::string before = p.html();
  EXPECT_THROW(p.add(table{"cells", {{"cell"}, {"change", true}}, {{"a", "1.5"}, {"b"}}}), fettle::error);
  EXPECT_EQ(p.html(), before);
}

TEST(ReportPage, AnswersComeBeforeAllElseThenTwoCautionsInSightAndTheRestFolded) {
  page p("t", "s");
  p.section("Result");
  p.answers({.load = "corrected_map.csv", .safe = std::string(hostile), .next = "drive", .is_safe = false});
  const std::string text = p.html();
  EXPECT_LT(text.find("class=\"answers unsafe\""), text.find("<main>"));
  EXPECT_FALSE(contains(text, hostile));
  for (std::size_t i = 0; i < cautions.size(); ++i) {
    ASSERT_TRUE(contains(text, escaped(cautions[i]))) << cautions[i];
    EXPECT_EQ(text.find(escaped(cautions[i])) < text.find("<details>"), i < 2) << cautions[i];
  }
}

TEST(ReportPage, MapsOfOneSetStandOneBelowTheOtherWithoutTheScript) {
  const small_map map;
  page p("t", "s");
  p.add(map_set{.label = "Show", .maps = {{"Before", map.shown()}, {"After", map.shown()}}});
  const std::string text = p.html();
  EXPECT_EQ(count(text, "<table class=\"cells\""), 2U);
  EXPECT_TRUE(contains(text, "data-name=\"After\""));
  EXPECT_FALSE(contains(text.substr(0, text.find("<script")), "hidden>"));
}

TEST(ReportPage, TheFirstLinesOfATerminalAreTheSameAnswers) {
  EXPECT_EQ(lines({.load = "a.csv", .safe = "NO.", .next = "drive.", .is_safe = false}),
            "Load:  a.csv\nSafe:  NO.\nNext:  drive.\n");
}

TEST(ReportInlineSvg, LosesPrologueTitlesAndNamesKeepsDrawing) {
  const std::string file =
      "<?xml version=\"1.0\"?>\n<svg \n width=\"1000\" height=\"420\"\n viewBox=\"0 0 1000 420\"\n "
      "xmlns=\"http://example.org/svg\">\n<title>Drawn by</title><desc>x</desc><g id=\"a\"><title>part</title>"
      "<use xlink:href='#b' fill=\"url(#c)\"/><text>id='b' &lt;</text></g></svg>\n";
  EXPECT_EQ(inline_svg(file, "p-", "a \"b\""),
            "<svg viewBox=\"0 0 1000 420\" style=\"max-width:1000px\" role=\"img\" aria-label=\"a &quot;b&quot;\">\n"
            "<g id=\"p-a\"><use href='#p-b' fill=\"url(#p-c)\"/><text>id='b' &lt;</text></g></svg>\n");
}

TEST(ReportInlineSvg, DropsGroupsThatHoldNothingAndKeepsThoseThatAreReferredTo) {
  EXPECT_EQ(
      inline_svg("<svg><g fill='none'>\n\t</g>\n<g><g stroke=\"red\"></g></g><g id='a'></g><path/></svg>", "p-", "d"),
      "<svg viewBox=\"\" style=\"max-width:px\" role=\"img\" aria-label=\"d\">\n<g id='p-a'></g><path/></svg>");
}

TEST(ReportInlineSvg, TextThatIsNoPictureGivesNothingAndABrokenOneEnds) {
  EXPECT_EQ(inline_svg("", "p-", "d"), "");
  EXPECT_EQ(inline_svg("no picture", "p-", "d"), "");
  for (const char* broken : {"<svg><title>x", "<svg><", "<svg><title", "<svg viewBox=\"0><g"})
    EXPECT_LT(inline_svg(broken, "p-", "d").size(), 200U) << broken;
}

TEST(ReportGnuplot, WithoutItThePageSaysWhatIsMissing) {
  const std::vector<double> x{1, 2};
  for (const char* folders : {"", "/nowhere", static_cast<const char*>(nullptr)}) {
    const path_variable path(folders);
    page p("t", "s");
    p.picture(draw(line_chart{"x", "y", {{"s", x, x}}}), "lambda error <over> time");
    EXPECT_TRUE(contains(p.html(), "gnuplot was not found")) << p.html();
    EXPECT_TRUE(contains(p.html(), "lambda error &lt;over&gt; time"));
    EXPECT_FALSE(contains(p.html(), "<svg"));
  }
}

TEST(ReportGnuplot, ProgramsOfThePresentFolderAreNotRun) {
  const stand_in trap("/bin/cat; echo '</svg>'");
  const fs::path before = fs::current_path();
  fs::current_path(trap.folder);
  for (const char* folders : {"", ".", ":", ":/nowhere:"}) {
    const path_variable path(folders);
    EXPECT_FALSE(run_gnuplot("plot x").has_value()) << folders;
  }
  fs::current_path(before);
}

TEST(ReportGnuplot, AFailureOrHalfAPictureIsNoPicture) {
  for (const char* commands : {"echo '<svg></svg>'; exit 1", "echo '<svg>'", "kill -9 $$"}) {
    const stand_in broken(commands);
    const path_variable path(broken.folder.c_str());
    EXPECT_FALSE(run_gnuplot("plot x").has_value()) << commands;
  }
}

TEST(ReportGnuplot, LabelsAreNeverCommands) {
  const stand_in target("true");
  const fs::path made = target.folder / "made";
  const std::string command = "system(\"/usr/bin/touch " + made.string() + "\")";
  const std::vector<double> x{1, 2};
  for (const std::string& label :
       {"'; " + command + "; '", "'';" + command + ";''", "`/usr/bin/touch " + made.string() + "`",
        "\n" + command + "\n", "a\nEND\n" + command, "\\'; " + command + " #", std::string("ends in \\")}) {
    const auto picture = draw(line_chart{label, label, {{label, x, x}}, {{1.5, label}}, band{label, x, x, x}});
    EXPECT_FALSE(fs::exists(made)) << label;
    EXPECT_EQ(picture.has_value(), fettle::system::find_program("gnuplot").has_value()) << label;
  }
}

TEST(ReportGnuplot, EveryKindOfChartIsDrawnFromFewFromEqualAndFromNoValues) {
  if (!fettle::system::find_program("gnuplot")) GTEST_SKIP() << "gnuplot is not installed";
  const std::vector<double> none, single{1}, zeros{0, 0}, holes{nan, nan}, places{1, 2};
  for (const auto* values : {&none, &single, &zeros, &holes}) {
    const std::vector<double>& v = *values;
    const std::vector<double> x(places.begin(), places.begin() + static_cast<std::ptrdiff_t>(v.size()));
    for (const auto style : {drawn_as::line, drawn_as::dots, drawn_as::line_and_points})
      EXPECT_TRUE(draw(line_chart{"x", "y", {{"s", x, v, style}}, {{1, "limit"}}, band{"b", x, v, v}}).has_value());
    EXPECT_TRUE(draw(histogram{"x", {{"s", v}}}).has_value());
    for (const auto style : {interval_style::points, interval_style::bars})
      EXPECT_TRUE(
          draw(interval_chart{.x_label = "x", .y_label = "y", .x = x, .series = {{"s", v, v, v}}, .style = style})
              .has_value());
    EXPECT_TRUE(draw(surface_chart{"x", "y", "z", {{"s", x, single, v}}}).has_value());
  }
  EXPECT_TRUE(draw(surface_chart{}).has_value());
}

TEST(ReportGnuplot, RefusesSeriesOfUnequalLengths) {
  const std::vector<double> two{1, 2}, three{1, 2, 3};
  EXPECT_THROW((void)draw(line_chart{"x", "y", {{"s", two, three}}}), fettle::error);
  EXPECT_THROW((void)draw(line_chart{"x", "y", {}, {}, band{"b", two, two, three}}), fettle::error);
  EXPECT_THROW((void)draw(surface_chart{"x", "y", "z", {{"s", two, two, three}}}), fettle::error);
  EXPECT_THROW((void)draw(interval_chart{.x_label = "x", .y_label = "y", .x = two, .series = {{"s", two, two, three}}}),
               fettle::error);
}

TEST(ReportLineChart, AMillionPointsReachGnuplotThinnedWithTheSpikeKept) {
  std::vector<double> x(1000000), y(x.size());
  std::iota(x.begin(), x.end(), 0.0);
  for (std::size_t i = 0; i < y.size(); ++i) y[i] = static_cast<double>(i * 7919 % 1009) / 1009;
  y[654321] = 12.5;
  for (const auto style : {drawn_as::line, drawn_as::dots}) {
    const std::string script = script_of(line_chart{"time in s", "lambda", {{"one", x, y, style}}});
    EXPECT_TRUE(contains(script, "\n654321 12.5\n"));
    EXPECT_LT(count(script, "\n"), 4U * 1000U + 100U);
  }
}

TEST(ReportThinning, FewPointsStayAsTheyAre) {
  const std::vector<double> x{0, 1, 2, 3}, y{5, nan, 7, 6};
  const auto kept = thinned_line(x, y, {0, 3}, 1000);
  ASSERT_EQ(kept.size(), 4U);
  EXPECT_TRUE(std::isnan(kept[1].y));
  for (const std::size_t i : {0U, 2U, 3U}) {
    EXPECT_EQ(kept[i].x, x[i]);
    EXPECT_EQ(kept[i].y, y[i]);
  }
  EXPECT_TRUE(thinned_line({}, {}, {0, 1}, 10).empty());
}

RC_GTEST_PROP(ReportThinning, EveryColumnKeepsItsFirstLowestHighestAndLast, ()) {
  constexpr std::size_t columns = 8;
  const auto y = *rc::gen::container<std::vector<double>>(
      rc::gen::map(rc::gen::inRange(-50, 50), [](int v) { return v == 49 ? nan : v / 7.0; }));
  std::vector<double> x(y.size());
  std::iota(x.begin(), x.end(), 0.0);
  const range shown{0, std::max(1.0, static_cast<double>(x.size()))};
  const auto kept = thinned_line(x, y, shown, columns);
  RC_ASSERT(kept.size() <= 4 * columns);
  // The kept points are points of the line, in its order.
  double before = -1;
  for (const point& p : kept) {
    if (std::isnan(p.y)) continue;
    RC_ASSERT(p.x > before);
    RC_ASSERT(y[static_cast<std::size_t>(p.x)] == p.y);
    before = p.x;
  }
  const auto summary = [&](const auto& points, std::size_t column) {
    std::vector<double> inside;
    for (const point& p : points)
      if (std::isfinite(p.y) && report::detail::strip(p.x, shown, columns) == column) inside.push_back(p.y);
    if (inside.empty()) return inside;
    const auto [low, high] = std::minmax_element(inside.begin(), inside.end());
    return std::vector<double>{inside.front(), *low, *high, inside.back()};
  };
  std::vector<point> all;
  for (std::size_t i = 0; i < x.size(); ++i) all.push_back({x[i], y[i]});
  for (std::size_t column = 0; column < columns; ++column) RC_ASSERT(summary(kept, column) == summary(all, column));
}

TEST(ReportThinning, GapNarrowerThanAColumnIsPassedOverAWiderOneBreaksTheLine) {
  std::vector<double> x(100), y(100, 1.0);
  std::iota(x.begin(), x.end(), 0.0);
  const auto gaps = [&] {
    const auto kept = thinned_line(x, y, {0, 100}, 10);
    return std::ranges::count_if(kept, [](const point& p) { return std::isnan(p.y); });
  };
  y[44] = nan;
  EXPECT_EQ(gaps(), 0);
  std::fill(y.begin() + 40, y.begin() + 50, nan);
  EXPECT_EQ(gaps(), 1);
}

TEST(ReportThinning, CloudKeepsOnePointPerCellAndTheExtremes) {
  std::vector<double> x, y;
  for (int i = 0; i < 10000; ++i) {
    x.push_back(i % 100);
    y.push_back(std::sin(i) * 10);
  }
  y[1234] = 30;
  y[4321] = -30;
  y[55] = nan;
  const auto kept = thinned_cloud(x, y, {0, 99}, {-30, 30}, 20, 10);
  EXPECT_LE(kept.size(), 200U);
  std::vector<double> heights;
  for (const point& p : kept) heights.push_back(p.y);
  EXPECT_EQ(range_of(heights)->low, -30);
  EXPECT_EQ(range_of(heights)->high, 30);
}

TEST(ReportHistogram, SharesAreOfTheFiniteValuesAndTheEndsHoldWhatLiesBeyond) {
  const std::vector<double> values{-9, 0.5, 1.5, 1.6, nan, 9, infinity, 3};
  const auto shares = shares_pct(values, {0, 3}, 3);
  ASSERT_EQ(shares.size(), 3U);
  EXPECT_NEAR(shares[0], 100 * 2 / 6.0, 1e-12);
  EXPECT_NEAR(shares[1], 100 * 2 / 6.0, 1e-12);
  EXPECT_NEAR(shares[2], 100 * 2 / 6.0, 1e-12);
  EXPECT_EQ(shares_pct({}, {0, 1}, 2), (std::vector<double>{0, 0}));
  EXPECT_TRUE(
      contains(script_of(histogram{"x", {{"s", values}}, 3, range{0, 3}}), "the end bars hold what lies beyond"));
  EXPECT_FALSE(contains(script_of(histogram{"x", {{"s", values}}, 3}), "beyond"));
}

TEST(ReportSurfaceChart, AxesCarryTheirOwnValuesAndRoundTics) {
  const std::vector<double> rpm{800, 2500, 7300}, throttle{0, 33, 100}, values{1, 2, 3, 4, nan, 6, 7, 8, 9};
  const std::string script = script_of(surface_chart{"speed", "throttle", "fuel", {{"base", rpm, throttle, values}}});
  EXPECT_TRUE(contains(script, "\n2500 33 NaN\n"));
  EXPECT_TRUE(contains(script, "set xrange [800:7300]"));
  EXPECT_TRUE(contains(script, "set xtics 2000 "));
  EXPECT_TRUE(contains(script, "set ytics 20 "));
}

TEST(ReportSurfaceChart, ADifferenceHasTheColoursOfItsTable) {
  const std::vector<double> axis{0, 1}, change{-2, 0, 1, 5};
  const std::string script =
      script_of(surface_chart{"speed", "throttle", "change", {{"change", axis, axis, change}}, diverging{}});
  EXPECT_TRUE(contains(script, "set palette defined (0 '" + hex(diverging_colour(-1)) + "'"));
  EXPECT_TRUE(contains(script, "8 '" + hex(diverging_colour(1)) + "')"));
  EXPECT_TRUE(contains(script, "set cbrange [-5:5]"));
}

/// A progress display on a file, with a clock set by hand.
struct watched_progress {
  explicit watched_progress(bool terminal = true, std::size_t columns = 60)
      : file(std::tmpfile(), &std::fclose),
        shown(std::in_place, file.get(), terminal, columns, [this] { return now_s; }) {}

  /// What the stream got so far.
  [[nodiscard]] std::string text() const {
    std::string written(static_cast<std::size_t>(std::ftell(file.get())), ' ');
    std::rewind(file.get());
    written.resize(std::fread(written.data(), 1, written.size(), file.get()));
    return written;
  }

  double now_s = 100;
  std::unique_ptr<std::FILE, int (*)(std::FILE*)> file;
  std::optional<progress> shown;
};

TEST(ReportProgress, ShortWorkAndStreamsThatAreNoTerminalsSeeNothing) {
  watched_progress brief, piped(false);
  brief.now_s = 100.4;
  brief.shown->show(0.9, "reading");
  piped.now_s = 200;
  piped.shown->show(0.5, "reading");
  brief.shown.reset();
  piped.shown.reset();
  EXPECT_EQ(brief.text(), "");
  EXPECT_EQ(piped.text(), "");
}

TEST(ReportProgress, LongWorkIsShownNowAndThenAndErasedAtTheEnd) {
  watched_progress p;
  p.now_s = 100.6;
  p.shown->show(0.5, "reading run.csv");
  p.now_s = 100.65;
  p.shown->show(0.55, "too soon");
  const std::string line = p.text();
  EXPECT_EQ(line, "[============            ]  50 % reading run.csv");
  p.shown.reset();
  EXPECT_EQ(p.text(), line + "\r" + std::string(line.size(), ' ') + "\r");
}

TEST(ReportProgress, EveryFractionAndLabelFitsOneLine) {
  for (const double fraction : {nan, -1.0, infinity, 0.0, 0.999, 1.0, 2.0})
    for (const char* label : {"", "\x1b[2Jcontrol\n", "äöü äöü äöü äöü äöü äöü äöü äöü äöü äöü äöü äöü äöü äöü"})
      for (const std::size_t columns : {1U, 20U, 60U}) {
        watched_progress p(true, columns);
        p.now_s = 101;
        p.shown->show(fraction, label);
        const std::string line = p.text();
        const auto wide = std::ranges::count_if(line, [](char c) { return (c & 0xC0) != 0x80; });
        EXPECT_LT(static_cast<std::size_t>(wide), columns);
        EXPECT_EQ(line.find_first_of("\x1b\n"), std::string::npos);
      }
}

TEST(ReportProgress, ServesAsTheProgressOfALogReader) {
  watched_progress p;
  const fettle::read_progress report = p.shown->under("reading");
  p.now_s = 101;
  report(1);
  EXPECT_TRUE(contains(p.text(), "100 % reading"));
}

TEST(ReportProgress, AClockThatFailsDoesNotEndTheWork) {
  int calls = 0;
  progress p(stderr, true, 80, [&calls]() -> double { return calls++ ? throw std::runtime_error("no clock") : 0; });
  p.show(0.5, "work");
  EXPECT_EQ(calls, 2);
}

}  // namespace report_test
