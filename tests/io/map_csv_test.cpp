// SPDX-License-Identifier: MIT
#include "fettle/io/map_csv.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <algorithm>
#include <bit>
#include <cmath>
#include <cstdint>
#include <limits>

#include "scratch.hpp"

namespace map_csv_test {

using points = std::vector<double>;

fettle::map_file read(std::string_view contents) {
  const scratch::folder here;
  return fettle::read_map_csv(here.file("fuel.csv", contents));
}

std::string refusal_of(std::string_view contents) {
  const scratch::folder here;
  const auto path = here.file("fuel.csv", contents);
  return scratch::refusal_in(here, [&] { (void)fettle::read_map_csv(path); });
}

points values_of(const fettle::map_file& map) {
  return {map.table.values().begin(), map.table.values().end()};
}

TEST(ReadMapCsv, ReadsAMapOfTwoAxes) {
  const auto map = read("rpm/throttle_pct,0,50,100\n1000,1,2,3\n6000,4,5.5,-6e-1\n");
  EXPECT_EQ(map.axis_names, (std::vector<std::string>{"rpm", "throttle_pct"}));
  EXPECT_EQ(map.table.axes()[0].points(), (points{1000, 6000}));
  EXPECT_EQ(map.table.axes()[1].points(), (points{0, 50, 100}));
  EXPECT_EQ(values_of(map), (points{1, 2, 3, 4, 5.5, -0.6}));
  EXPECT_EQ(map.descending, (std::vector<bool>{false, false}));
}

TEST(ReadMapCsv, ReadsAMapOfOneAxis) {
  const auto map = read("voltage_v,dead_time_ms\n8,2.1\n12,1.1\n16,0.7\n");
  EXPECT_EQ(map.axis_names, (std::vector<std::string>{"voltage_v"}));
  EXPECT_EQ(map.value_name, "dead_time_ms");
  EXPECT_EQ(map.table.axes()[0].points(), (points{8, 12, 16}));
  EXPECT_EQ(values_of(map), (points{2.1, 1.1, 0.7}));
}

TEST(ReadMapCsv, AcceptsByteOrderMarkCrlfSemicolonsQuotesBlanksAndNoLastLineEnd) {
  const auto plain = read("rpm/throttle_pct,0,50\n1000,1,2\n6000,4,5\n");
  for (const auto* text :
       {"\xEF\xBB\xBFrpm/throttle_pct,0,50\r\n1000,1,2\r\n6000,4,5\r\n", "rpm/throttle_pct;0;50\n1000;1;2\n6000;4;5",
        "\"rpm/throttle_pct\",\"0\",50\n1000,\"1\",2\n6000,4,\"5\"",
        "rpm/throttle_pct, 0, 50\n 1000,\t1 , +2\n6000,4,5\n\n\n"}) {
    const auto map = read(text);
    EXPECT_EQ(map.axis_names, plain.axis_names) << text;
    EXPECT_EQ(map.table, plain.table) << text;
  }
}

TEST(ReadMapCsv, ReadsDecimalCommasAndTabsAndTheWriterKeepsThem) {
  const scratch::folder here;
  const auto plain = read("rpm/throttle_pct,0,12.5\n1000,1.25,2\n6000,-4e-1,5\n");
  for (const auto* text : {"rpm/throttle_pct;0;12,5\n1000;1,25;2\n6000;-0,4;5\n",
                           "rpm/throttle_pct\t0\t12,5\n1000\t1,25\t2\n6000\t-0,4\t5\n",
                           "rpm/throttle_pct\t0\t12.5\n1000\t1.25\t2\n6000\t-0.4\t5\n"}) {
    const auto map = fettle::read_map_csv(here.file("in.csv", text));
    EXPECT_EQ(map.axis_names, plain.axis_names) << text;
    EXPECT_EQ(map.table, plain.table) << text;
    fettle::write_map_csv(here.file("out.csv"), map);
    EXPECT_EQ(scratch::contents_of(here.file("out.csv")), text);
  }
  EXPECT_EQ(values_of(read("rpm\tms\n1000\t1,5\n6000\t4\n")), (points{1.5, 4}));
  EXPECT_EQ(values_of(read("rpm/throttle_pct,\t0,\t50\n1000,\t1,\t2\n6000,\t4,\t5\n")), (points{1, 2, 4, 5}));
}

TEST(ReadMapCsvRefuses, PointsAmongDecimalCommas) {
  EXPECT_EQ(refusal_of("rpm/throttle_pct;0;50\n1000;1,5;2\n6000;4.5;5\n"),
            "fuel.csv, line 2, column 2 (0): found \"1,5\", expected a decimal point: 1.5");
  EXPECT_EQ(refusal_of("rpm/throttle_pct;0;50\n1000;1,5;2\n6000;4.5.1;5\n"),
            "fuel.csv, line 3, column 2 (0): found \"4.5.1\", expected a number with a decimal comma");
}

TEST(ReadMapCsv, TurnsDescendingAxesUpwardsAndTheWriterTurnsThemBack) {
  const scratch::folder here;
  for (const auto* text :
       {"rpm/throttle_pct,0,50,100\n6000,4,5,6\n1000,1,2,3\n", "rpm/throttle_pct,100,50,0\n1000,3,2,1\n6000,6,5,4\n",
        "rpm/throttle_pct,100,50,0\n6000,6,5,4\n1000,3,2,1\n"}) {
    const auto map = fettle::read_map_csv(here.file("in.csv", text));
    EXPECT_EQ(map.table.axes()[0].points(), (points{1000, 6000})) << text;
    EXPECT_EQ(map.table.axes()[1].points(), (points{0, 50, 100})) << text;
    EXPECT_EQ(values_of(map), (points{1, 2, 3, 4, 5, 6})) << text;
    fettle::write_map_csv(here.file("out.csv"), map);
    EXPECT_EQ(scratch::contents_of(here.file("out.csv")), text);
  }
  const auto* curve = "voltage_v;dead_time_ms\n16;0.7\n12;1.1\n8;2.1\n";
  const auto map = fettle::read_map_csv(here.file("in.csv", curve));
  EXPECT_EQ(values_of(map), (points{2.1, 1.1, 0.7}));
  fettle::write_map_csv(here.file("out.csv"), map);
  EXPECT_EQ(scratch::contents_of(here.file("out.csv")), curve);
}

TEST(ReadMapCsv, ReadsEmptyCellsAsHolesOnlyWhenAsked) {
  const scratch::folder here;
  const auto path = here.file("fuel.csv", "rpm/throttle_pct,0,50\n1000,1,\n6000,,4\n");
  EXPECT_EQ(scratch::refusal_in(here, [&] { (void)fettle::read_map_csv(path); }),
            "fuel.csv, line 2, column 3 (50): found an empty cell, expected a number");
  const auto map = fettle::read_map_csv(path, fettle::empty_cells::are_holes);
  EXPECT_TRUE(std::isnan(map.table.values()[1]) && std::isnan(map.table.values()[2]));
  fettle::write_map_csv(here.file("again.csv"), map);
  EXPECT_EQ(scratch::contents_of(here.file("again.csv")), scratch::contents_of(path));
}

TEST(ReadMapCsvRefuses, AMissingFileAndAFolder) {
  const scratch::folder here;
  EXPECT_EQ(scratch::refusal_in(here, [&] { (void)fettle::read_map_csv(here.file("none.csv")); }),
            "none.csv: there is no such file");
  std::filesystem::create_directory(here.file("sub"));
  EXPECT_EQ(scratch::refusal_in(here, [&] { (void)fettle::read_map_csv(here.file("sub")); }),
            "sub: it is a folder, expected a CSV file");
}

TEST(ReadMapCsvRefuses, AnEmptyFile) {
  for (const auto* text : {"", "\n", "\r\n\r\n", "\xEF\xBB\xBF"})
    EXPECT_EQ(refusal_of(text), "fuel.csv: the file is empty, expected a header line");
}

TEST(ReadMapCsvRefuses, AWrongHeader) {
  EXPECT_EQ(refusal_of("1000,1,2\n6000,4,5\n"),
            "fuel.csv, line 1, column 1: found \"1000\", expected the axis names: rpm/throttle_pct, or rpm alone");
  EXPECT_EQ(refusal_of(",0,50\n6000,4,5\n"),
            "fuel.csv, line 1, column 1: found \"\", expected the axis names: rpm/throttle_pct, or rpm alone");
  EXPECT_EQ(
      refusal_of("rpm,0,50\n1000,1,2\n6000,4,5\n"),
      "fuel.csv, line 1: found \"rpm\" and 3 columns, expected rpm/throttle_pct first for a map of two axes, or two "
      "columns (axis, value) for a map of one axis");
  EXPECT_EQ(refusal_of("rpm/a/b,0,50\n1000,1,2\n6000,4,5\n"),
            "fuel.csv, line 1, column 1: found \"rpm/a/b\", expected two axis names and one slash: rpm/throttle_pct");
  EXPECT_EQ(refusal_of("rpm/,0,50\n1000,1,2\n6000,4,5\n"),
            "fuel.csv, line 1, column 1: found \"rpm/\", expected two axis names and one slash: rpm/throttle_pct");
  EXPECT_EQ(refusal_of("rpm,10\n1000,1\n6000,4\n"),
            "fuel.csv, line 1, column 2: found the value name \"10\", expected plain text in UTF-8 without blanks "
            "around it, not a number");
  EXPECT_EQ(refusal_of("rpm/throttle_pct,0,wide\n1000,1,2\n6000,4,5\n"),
            "fuel.csv, line 1, column 3: found \"wide\", expected a number (a breakpoint of throttle_pct)");
}

TEST(ReadMapCsvRefuses, NamesThatTheWriterWouldRefuse) {
  const auto refused = [](const std::string& axis_name) {
    return "found the axis name \"" + axis_name +
           "\", expected plain text in UTF-8 without blanks around it or a slash, not a number";
  };
  EXPECT_EQ(refusal_of("q\"&/0,5,14,22\n4800,6,18,34\n8001,4,16,41\n"), "fuel.csv, line 1, column 1: " + refused("0"));
  EXPECT_EQ(refusal_of("1e3/load,0,50\n1000,1,2\n6000,4,5\n"), "fuel.csv, line 1, column 1: " + refused("1e3"));
  EXPECT_EQ(refusal_of("rpm / load,0,50\n1000,1,2\n6000,4,5\n"), "fuel.csv, line 1, column 1: " + refused("rpm "));
  EXPECT_EQ(refusal_of("\" rpm\",ms\n1000,1\n6000,4\n"), "fuel.csv, line 1, column 1: " + refused(" rpm"));
  EXPECT_EQ(refusal_of("rpm,\"ms \"\n1000,1\n6000,4\n"),
            "fuel.csv, line 1, column 2: found the value name \"ms \", expected plain text in UTF-8 without blanks "
            "around it, not a number");
  // Escape, bell, delete, a control character of Latin-1, a mark that turns the direction of writing, bytes of no UTF-8.
  for (const std::string hidden : {"\x1B", "\a", "\x7F", "\xC2\x9B", "\xE2\x80\xAE", "\xB0"}) {
    EXPECT_EQ(refusal_of("rpm" + hidden + "x/load,0,50\n1000,1,2\n6000,4,5\n"),
              "fuel.csv, line 1, column 1: " + refused("rpm?x"));
    EXPECT_EQ(refusal_of("rpm,m" + hidden + "s\n1000,1\n6000,4\n").find("fuel.csv, line 1, column 2: found the value "),
              0U);
  }
}

TEST(ReadMapCsvRefuses, TooFewBreakpoints) {
  EXPECT_EQ(refusal_of("rpm/throttle_pct,0\n1000,1\n6000,4\n"),
            "fuel.csv, line 1: found 1 breakpoints of throttle_pct, expected at least two");
  EXPECT_EQ(refusal_of("rpm/throttle_pct,0,50\n"),
            "fuel.csv, line 2: found 0 rows under the header, expected at least two");
  EXPECT_EQ(refusal_of("rpm/throttle_pct,0,50\n1000,1,2\n"),
            "fuel.csv, line 3: found 1 rows under the header, expected at least two");
}

TEST(ReadMapCsvRefuses, EqualAndUnsortedBreakpoints) {
  EXPECT_EQ(
      refusal_of("rpm/throttle_pct,0,50\n1000,1,2\n3000,1,2\n3000,4,5\n"),
      "fuel.csv, line 4, column 1 (rpm/throttle_pct): found the breakpoint 3000 of rpm after 3000, expected every "
      "breakpoint above the one before");
  EXPECT_EQ(
      refusal_of("rpm/throttle_pct,0,50,50\n1000,1,2,3\n6000,4,5,6\n"),
      "fuel.csv, line 1, column 4: found the breakpoint 50 of throttle_pct after 50, expected every breakpoint above "
      "the one before");
  EXPECT_EQ(
      refusal_of("rpm/throttle_pct,80,50,60\n1000,1,2,3\n6000,4,5,6\n"),
      "fuel.csv, line 1, column 4: found the breakpoint 60 of throttle_pct after 50, expected every breakpoint below "
      "the one before");
}

TEST(ReadMapCsvRefuses, BreakpointsFurtherApartThanANumberCanSay) {
  const std::string words = " further apart than 1.79e308, expected a span that a number can hold";
  EXPECT_EQ(refusal_of("rpm/throttle_pct,0,50\n-1e308,1,2\n1e308,4,5\n"),
            "fuel.csv, line 3, column 1 (rpm/throttle_pct): found breakpoints of rpm" + words);
  EXPECT_EQ(refusal_of("rpm/throttle_pct,1e308,0,-1e308\n1000,1,2,3\n6000,4,5,6\n"),
            "fuel.csv, line 1, column 4: found breakpoints of throttle_pct" + words);
  EXPECT_EQ(refusal_of("rpm,ve\n1e308,2\n-1e308,1\n"),
            "fuel.csv, line 3, column 1 (rpm): found breakpoints of rpm" + words);
  EXPECT_EQ(read("rpm,ve\n-8e307,1\n8e307,2\n").table.axes()[0].points(), (points{-8e307, 8e307}));
}

TEST(ReadMapCsvRefuses, RowsOfAnotherLength) {
  EXPECT_EQ(refusal_of("rpm/throttle_pct,0,50\n1000,1,2\n6000,4\n"),
            "fuel.csv, line 3: found 2 cells, expected 3 as in the header");
  EXPECT_EQ(refusal_of("rpm/throttle_pct,0,50\n1000,1,2,\n6000,4,5\n"),
            "fuel.csv, line 2: found 4 cells, expected 3 as in the header");
  EXPECT_EQ(refusal_of("rpm/throttle_pct,0,50\n1000,1,2\n\n6000,4,5\n"),
            "fuel.csv, line 3: the line is blank, expected the next row or the end");
}

TEST(ReadMapCsvRefuses, WhatIsNoFiniteNumber) {
  const auto with = [](const std::string& cell) {
    return refusal_of("rpm/throttle_pct;0;50\n1000;1;2\n6000;" + cell + ";5\n");
  };
  const std::string place = "fuel.csv, line 3, column 2 (0): found ";
  for (const std::string text : {"x", "nan", "NaN", "inf", "-infinity", "1.2.3", "4 5", "0x10", "1e", "--1", "+-1"})
    EXPECT_EQ(with(text), place + '"' + text + "\", expected a number");
  EXPECT_EQ(with("1e999"), place + "\"1e999\", expected a number between 1e-307 and 1e308 in size");
  EXPECT_EQ(with("a\tb" + std::string(60, 'c')), place + "\"a?b" + std::string(37, 'c') + "...\", expected a number");
}

TEST(ReadMapCsvRefuses, BrokenQuotesAndOtherEncodings) {
  EXPECT_EQ(refusal_of("rpm/throttle_pct,0,50\n1000,\"1,2\n6000,4,5\n"),
            "fuel.csv, line 2, column 2 (0): found no closing quote for \"1,2?6000,4,5?\", expected one");
  EXPECT_EQ(
      refusal_of("rpm/throttle_pct,0,50\n1000,\"1\"0,2\n6000,4,5\n"),
      "fuel.csv, line 2, column 2 (0): found text behind the closing quote of \"1\", expected a separator; a quote "
      "inside is written twice");
  EXPECT_EQ(refusal_of(std::string_view("\xFF\xFEr\0p\0m\0", 8)),
            "fuel.csv, line 1: the text is UTF-16, expected UTF-8; save it as CSV UTF-8");
  EXPECT_EQ(refusal_of("rpm,ve\n" + std::string(1U << 20U, 'x')),
            "fuel.csv, line 2: the line goes on for more than 1048576 bytes, expected a line end; is a closing quote "
            "missing, "
            "or is this no CSV file?");
}

TEST(WriteMapCsv, WritesShortNumbersWithoutExponents) {
  const scratch::folder here;
  auto map = read("rpm/throttle_pct,0,100000\n1000,0.1,1e5\n250000,0.0001,1e-9\n");
  fettle::write_map_csv(here.file("out.csv"), map);
  EXPECT_EQ(scratch::contents_of(here.file("out.csv")),
            "rpm/throttle_pct,0,100000\n1000,0.1,100000\n250000,0.0001,1e-09\n");
}

TEST(WriteMapCsv, QuotesAFirstNameThatBeginsLikeAByteOrderMark) {
  const scratch::folder here;
  auto map = read("rpm,ms\n1000,1\n2000,2\n");
  map.axis_names = {"\xEF\xBB\xBFrpm"};
  fettle::write_map_csv(here.file("map.csv"), map);
  EXPECT_EQ(fettle::read_map_csv(here.file("map.csv")).axis_names, map.axis_names);
}

TEST(WriteMapCsv, RefusesWhatWouldNotReadBackAndTouchesNothing) {
  const scratch::folder here;
  const auto path = here.file("out.csv", "old");
  const auto sound = read("rpm/throttle_pct,0,50\n1000,1,2\n6000,4,5\n");
  const auto refused = [&](auto change) {
    auto map = sound;
    change(map);
    return scratch::refusal_in(here, [&] { fettle::write_map_csv(path, map); });
  };
  EXPECT_EQ(refused([](auto& map) { map.table.values()[0] = std::numeric_limits<double>::infinity(); }),
            "cannot write out.csv: a value of the map is infinite, expected finite values");
  EXPECT_EQ(refused([](auto& map) { map.axis_names[1] = "mg/cycle"; }),
            "cannot write out.csv: found the axis name \"mg/cycle\", expected plain text in UTF-8 without blanks "
            "around it or a slash, not a number");
  EXPECT_EQ(refused([](auto& map) { map.axis_names.pop_back(); }),
            "cannot write out.csv: expected one axis name and one direction for each of the 2 axes");
  EXPECT_EQ(refused([](auto& map) { map.table = *fettle::dynamic_table<double>::from({}, {1}); }),
            "cannot write out.csv: the map has 0 axes, a map file holds one or two");
  EXPECT_EQ(refused([](auto& map) { map.separator = '|'; }),
            "cannot write out.csv: expected a comma, semicolon or tab as separator");
  EXPECT_EQ(refused([](auto& map) { map.decimal = ','; }),
            "cannot write out.csv: expected a decimal point, or a decimal comma between semicolons or tabs");
  EXPECT_EQ(scratch::contents_of(path), "old");
}

// Any bit pattern that is a finite double.
rc::Gen<double> any_finite() {
  return rc::gen::suchThat(
      rc::gen::map(rc::gen::arbitrary<std::uint64_t>(), [](auto bits) { return std::bit_cast<double>(bits); }),
      [](double value) { return std::isfinite(value); });
}

points any_axis() {
  const auto size = *rc::gen::inRange<std::size_t>(2, 9);
  const auto drawn = *rc::gen::unique<points>(size, any_finite());
  points result(drawn);
  std::sort(result.begin(), result.end());
  return result;
}

std::string any_name() {
  return *rc::gen::nonEmpty(rc::gen::container<std::string>(rc::gen::elementOf(std::string("ab_,;\" .%1"))));
}

RC_GTEST_PROP(MapCsv, ReadsBackWhatItWroteBitForBit, ()) {
  const scratch::folder here;
  const auto rank = *rc::gen::inRange<std::size_t>(1, 3);
  std::vector<fettle::dynamic_axis<double>> axes;
  fettle::map_file map{.axis_names = {}, .table = *fettle::dynamic_table<double>::from({}, {0}), .descending = {}};
  std::size_t size = 1;
  for (std::size_t i = 0; i < rank; ++i) {
    axes.push_back(*fettle::dynamic_axis<double>::from(any_axis()));
    size *= axes.back().size();
    map.axis_names.push_back('n' + any_name() + 'n');
    map.descending.push_back(*rc::gen::arbitrary<bool>());
  }
  if (rank == 1) map.value_name = 'v' + any_name() + 'v';
  map.separator = *rc::gen::element(',', ';', '\t');
  if (map.separator != ',') map.decimal = *rc::gen::element('.', ',');
  map.table = *fettle::dynamic_table<double>::from(axes, *rc::gen::container<points>(size, any_finite()));

  fettle::write_map_csv(here.file("map.csv"), map);
  const auto again = fettle::read_map_csv(here.file("map.csv"));
  RC_ASSERT(again.axis_names == map.axis_names);
  RC_ASSERT(again.descending == map.descending);
  RC_ASSERT(again.value_name == map.value_name);
  RC_ASSERT(again.separator == map.separator);
  RC_ASSERT(again.table.axes() == map.table.axes());
  for (std::size_t i = 0; i < size; ++i)
    RC_ASSERT(std::bit_cast<std::uint64_t>(again.table.values()[i]) ==
              std::bit_cast<std::uint64_t>(map.table.values()[i]));
}

}  // namespace map_csv_test
