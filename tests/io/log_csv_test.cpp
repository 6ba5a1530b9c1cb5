// SPDX-License-Identifier: MIT
#include "fettle/io/log_csv.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <bit>
#include <cmath>
#include <cstdint>
#include <cstring>
#include <limits>

#include "scratch.hpp"

namespace log_csv_test {

using channels = std::vector<fettle::log_channel>;
using numbers = std::vector<double>;

channels same_names(const std::vector<std::string>& names) {
  channels result;
  for (const auto& name : names) result.push_back({.name = name, .file_name = name});
  return result;
}

fettle::log_table read(std::string_view contents, const channels& wanted) {
  const scratch::folder here;
  return fettle::read_log_csv(here.file("run.csv", contents), wanted);
}

std::string refusal_of(std::string_view contents, const channels& wanted = same_names({"time_s", "lambda_1"})) {
  const scratch::folder here;
  const auto path = here.file("run.csv", contents);
  return scratch::refusal_in(here, [&] { (void)fettle::read_log_csv(path, wanted); });
}

TEST(ReadLogCsv, GivesTheWantedChannelsByOurNamesInTheOrderAskedFor) {
  const auto log = read("Time,Engine Speed,Note,AFR\n0,1000,start,14.7\n0.01,1010,,13.23\n",
                        {{.name = "lambda_1", .file_name = "AFR", .factor = 0.5, .offset = 1},
                         {.name = "time_s", .file_name = "Time", .factor = 100},
                         {.name = "afr", .file_name = "AFR"},
                         {.name = "clt_degc", .file_name = "CLT", .required = false}});
  EXPECT_EQ(log.names, (std::vector<std::string>{"lambda_1", "time_s", "afr"}));
  EXPECT_EQ(log.columns[0], (numbers{14.7 * 0.5 + 1, 13.23 * 0.5 + 1}));
  EXPECT_EQ(log.columns[1], (numbers{0, 1}));
  EXPECT_EQ(log.columns[2], (numbers{14.7, 13.23}));
}

TEST(ReadLogCsv, ReadsAnEmptyCellAsNotSampled) {
  const auto log = read("time_s,lambda_1,rpm\n0,,1\n1,0.9,\n2,\"\", \n", same_names({"time_s", "lambda_1", "rpm"}));
  ASSERT_EQ(log.rows(), 3U);
  EXPECT_TRUE(std::isnan(log.columns[1][0]));
  EXPECT_EQ(log.columns[1][1], 0.9);
  EXPECT_TRUE(std::isnan(log.columns[1][2]));
  EXPECT_TRUE(std::isnan(log.columns[2][1]) && std::isnan(log.columns[2][2]));
}

TEST(ReadLogCsv, AcceptsByteOrderMarkCrlfSemicolonsBlanksAndNoLastLineEnd) {
  for (const auto* text : {"\xEF\xBB\xBFtime_s,lambda_1\r\n0,0.9\r\n1,1.1\r\n", "time_s;lambda_1\n0;0.9\n1;1.1",
                           "time_s, lambda_1\n0, +0.9\n\"1\",\t1.1 \n\n\r\n", "note,time_s,lambda_1\nx,0,.9\n,1,1.1"}) {
    const auto log = read(text, same_names({"time_s", "lambda_1"}));
    EXPECT_EQ(log.columns[0], (numbers{0, 1})) << text;
    EXPECT_EQ(log.columns[1], (numbers{0.9, 1.1})) << text;
  }
}

// Published: RFC 4180, section 2, rules 1 to 7, the examples there; a column of numbers of our own is added behind.
TEST(ReadLogCsv, ReadsTheExamplesOfRfc4180) {
  const auto quoted_name = channels{{.name = "n", .file_name = "b\"bb"}};
  EXPECT_EQ(read("aaa,bbb,ccc,n\r\nzzz,yyy,xxx,1\r\n", same_names({"n"})).columns[0], (numbers{1}));
  EXPECT_EQ(read("aaa,bbb,ccc,n\r\nzzz,yyy,xxx,1", same_names({"n"})).columns[0], (numbers{1}));
  EXPECT_EQ(read("\"aaa\",\"bbb\",\"ccc\",n\r\nzzz,yyy,xxx,1", same_names({"n"})).columns[0], (numbers{1}));
  EXPECT_EQ(read("\"aaa\",\"b\r\nbb\",\"ccc\",n\r\nzzz,yyy,xxx,1", same_names({"n"})).columns[0], (numbers{1}));
  EXPECT_EQ(read("aaa,bbb,ccc,n\r\n\"zzz\",\"y\r\nyy\",\"x,x\",1\r\n", same_names({"n"})).columns[0], (numbers{1}));
  EXPECT_EQ(read("\"aaa\",\"b\"\"bb\",\"ccc\"\r\n1,2,3\r\n", quoted_name).columns[0], (numbers{2}));
}

TEST(ReadLogCsv, LooksOnlyAtWantedColumns) {
  const auto log = read("a,time_s,b,c\nx,0,nan,5\" pipe\n1.2.3,1,,\n", same_names({"time_s"}));
  EXPECT_EQ(log.columns[0], (numbers{0, 1}));
}

TEST(ReadLogCsv, CountsLinesThroughQuotedLineEnds) {
  EXPECT_EQ(refusal_of("time_s,note,lambda_1\n0,\"a\nb\"\"\n\",1\n1,,x\n"),
            "run.csv, line 5, column 3 (lambda_1): found \"x\", expected a number (an empty cell means not sampled)");
}

TEST(ReadLogCsv, ReadsRecordsThatStraddleEveryChunkAndReportsProgress) {
  const scratch::folder here;
  std::string text = "time_s,note,value\n";
  constexpr std::size_t rows = 60000;  // some 3 MiB, so three chunks
  for (std::size_t i = 0; i < rows; ++i)
    text += std::to_string(i) + ",\"" + std::string(i % 71, i % 5 == 0 ? '\n' : 'x') + "\"," + std::to_string(i * 7) +
            ".5\n";
  ASSERT_GT(text.size(), 3U << 20U);
  numbers fractions;
  const auto log = fettle::read_log_csv(here.file("run.csv", text), same_names({"value", "time_s"}),
                                        {.progress = [&](double fraction) { fractions.push_back(fraction); }});
  ASSERT_EQ(log.rows(), rows);
  for (std::size_t i = 0; i < rows; ++i) ASSERT_EQ(log.columns[0][i], static_cast<double>(i * 7) + 0.5);
  EXPECT_GT(fractions.size(), 3U);
  EXPECT_TRUE(std::is_sorted(fractions.begin(), fractions.end()));
  EXPECT_GT(fractions.front(), 0);
  EXPECT_EQ(fractions.back(), 1);
}

TEST(ReadLogCsv, ReadsRecordsOfEveryLengthUpToTheLongest) {
  for (const std::size_t length : {65520UL, 65528UL, 65536UL, 131072UL, 1000000UL})
    for (std::size_t more = 0; more < 16; ++more) {
      const std::string note(length + more, 'x');
      const auto log = read("time_s,note\n1," + note + "\n2,\n3,\"" + note + "\"\n4,", same_names({"time_s"}));
      ASSERT_EQ(log.columns[0], (numbers{1, 2, 3, 4})) << length + more;
    }
}

// A log comes from anywhere, and a terminal obeys control characters: what is quoted from a file must be one plain
// line.
TEST(ForEachLogRow, GivesTheRowsOfTheTableAndNaNForAColumnThatIsNotThere) {
  const scratch::folder here;
  const auto path = here.file("run.csv", "lambda,time_s,note\n0.9,0,start\n,1,\n1.1,2.5,\n");
  const channels wanted{{.name = "time_s", .file_name = "time_s"},
                        {.name = "oil_degc", .file_name = "oil", .required = false},
                        {.name = "phi", .file_name = "lambda", .factor = -1, .offset = 2}};
  std::vector<numbers> rows;
  fettle::for_each_log_row(path, wanted,
                           [&](std::span<const double> row) { rows.emplace_back(row.begin(), row.end()); });
  const auto log = fettle::read_log_csv(path, wanted);
  ASSERT_EQ(rows.size(), 3U);
  for (std::size_t i = 0; i < 3; ++i) {
    EXPECT_EQ(rows[i][0], log.columns[0][i]);
    EXPECT_TRUE(std::isnan(rows[i][1]));
    EXPECT_TRUE(rows[i][2] == log.columns[1][i] || std::isnan(rows[i][2]));
  }
  EXPECT_EQ(rows[0][2], 1.1);
  EXPECT_TRUE(std::isnan(rows[1][2]));
}

TEST(ForEachLogRow, LetsARefusalOfTheCallerThroughAndTellsHowFarItIs) {
  const scratch::folder here;
  std::string text = "x\n";
  for (int i = 0; i < 20000; ++i) text += "1\n";
  const auto path = here.file("run.csv", text);
  std::size_t rows = 0;
  std::vector<double> reported;
  fettle::for_each_log_row(path, same_names({"x"}), [&](auto) { ++rows; },
                           {.progress = [&](double share) { reported.push_back(share); }});
  EXPECT_EQ(rows, 20000U);
  ASSERT_EQ(reported.size(), 3U);
  EXPECT_NEAR(reported[0], 8192.0 / 20000, 1e-4);
  EXPECT_EQ(reported[2], 1);
  EXPECT_THROW(fettle::for_each_log_row(path, same_names({"x"}), [](auto) { throw fettle::error("enough"); }),
               fettle::error);
}

TEST(ReadLogCsvRefuses, InOnePlainLineWhateverTheHeaderHolds) {
  EXPECT_EQ(refusal_of("time_s,\"lambda_1\",\"a\nb\x1B[2J\"\n0.5,1,1\n0,1,1\n", same_names({"time_s", "a\nb\x1B[2J"})),
            "run.csv, line 4, column 1 (time_s): found the time stamp 0 after 0.5, expected times that increase");
  EXPECT_EQ(refusal_of("time_s,\"a\nb\x1B[2J\"\n0,x\n", same_names({"time_s", "a\nb\x1B[2J"})),
            "run.csv, line 3, column 2 (a?b?[2J): found \"x\", expected a number (an empty cell means not sampled)");
}

TEST(ReadLogCsvRefuses, AMissingAndAnEmptyFileAndAHeaderAlone) {
  const scratch::folder here;
  EXPECT_EQ(
      scratch::refusal_in(here, [&] { (void)fettle::read_log_csv(here.file("none.csv"), same_names({"time_s"})); }),
      "none.csv: there is no such file");
  EXPECT_EQ(refusal_of(""), "run.csv: the file is empty, expected a header line");
  EXPECT_EQ(refusal_of("time_s,lambda_1\n"), "run.csv, line 2: found no row under the header, expected at least one");
}

TEST(ReadLogCsvRefuses, MissingColumnsAndListsThoseFound) {
  EXPECT_EQ(refusal_of("Time,\"a,b\"\n0,1\n"),
            "run.csv, line 1: found no column \"time_s\", \"lambda_1\"; the columns are \"Time\", \"a,b\"");
}

TEST(ReadLogCsvRefuses, AWantedColumnThatIsThereTwiceAndAChannelAskedForTwice) {
  EXPECT_EQ(refusal_of("time_s,lambda_1,x,x,lambda_1\n0,1,2,3,4\n"),
            "run.csv, line 1, column 5: found the name \"lambda_1\" again, expected it once; it names column 2 too");
  EXPECT_EQ(refusal_of("time_s\n0\n", same_names({"time_s", "time_s"})),
            "the channel \"time_s\" is asked for twice, expected different names");
}

TEST(ReadLogCsvRefuses, RaggedRows) {
  const auto* header = "time_s,a,lambda_1,b\n";
  for (const auto* row : {"1", "1,2", "1,2,3", "1,2,3,4,", "1,2,3,4,5,6"}) {
    const auto count = std::to_string(1 + std::count(row, row + std::strlen(row), ','));
    EXPECT_EQ(refusal_of(header + std::string("0,1,2,3\n") + row + "\n0,1,2,3\n"),
              "run.csv, line 3: found " + count + " cells, expected 4 as in the header");
  }
  EXPECT_EQ(refusal_of("time_s,lambda_1\n0,1\n\n1,2\n"),
            "run.csv, line 3: the line is blank, expected the next row or the end");
}

TEST(ReadLogCsvRefuses, WhatIsNoFiniteNumber) {
  const auto with = [](const std::string& cell) { return refusal_of("time_s;lambda_1\n0;1.5\n1;" + cell + "\n2;1\n"); };
  const std::string place = "run.csv, line 3, column 2 (lambda_1): found ";
  const std::string end = " (an empty cell means not sampled)";
  for (const std::string text : {"x", "-nan", "inf", "-Infinity", "1.2.3", "4 5", "0x10", "1e", "1.0abc"})
    EXPECT_EQ(with(text), place + '"' + text + "\", expected a number" + end);
  EXPECT_EQ(with("0,98"), place + "\"0,98\", expected a decimal point: 0.98" + end);
  EXPECT_EQ(with("1e400"), place + "\"1e400\", expected a number between 1e-307 and 1e308 in size" + end);
  EXPECT_EQ(with("\"a\"\"b\""), place + "\"a\"b\", expected a number" + end);
}

TEST(ReadLogCsvRefuses, APointAmongDecimalCommas) {
  std::string text = "time_s;lambda_1\n";
  for (int i = 0; i < 300; ++i) text += std::to_string(i) + ",5;1,5\n";
  EXPECT_EQ(refusal_of(text + "301;0.98\n302;1\n"),
            "run.csv, line 302, column 2 (lambda_1): found \"0.98\", expected a number with a decimal comma (an empty "
            "cell means not sampled)");
  EXPECT_EQ(refusal_of("time_s;lambda_1\n0,5;1,5\n1,5;0.9\n"),
            "run.csv, line 2, column 1 (time_s): found \"0,5\", expected a decimal point: 0.5 (an empty cell means not "
            "sampled)");
}

TEST(ReadLogCsvRefuses, TimeThatFallsOrStandsStill) {
  const std::string place = "run.csv, line 3, column 1 (time_s): found ";
  EXPECT_EQ(refusal_of("time_s,lambda_1\n3.25,1\n3.2,1\n"),
            place + "the time stamp 3.2 after 3.25, expected times that increase");
  EXPECT_EQ(refusal_of("time_s,lambda_1\n3.25,1\n,1\n"), place + "no time stamp, expected one in every row");
  EXPECT_EQ(refusal_of("T,lambda_1\n2,1\n1,1\n", {{.name = "time_s", .file_name = "T", .factor = 0.001}}),
            "run.csv, line 3, column 1 (T): found the time stamp 1 after 2, expected times that increase");
  EXPECT_EQ(refusal_of("time_s,lambda_1\n3.25,1\n3.25,1\n"),
            place + "one time stamp in all rows up to here, expected a clock that goes on");
  EXPECT_EQ(
      refusal_of("time_s,lambda_1\n3.25,1\n3.25,1\n1,1\n"),
      "run.csv, line 4, column 1 (time_s): found one time stamp in all rows up to here, expected a clock that goes "
      "on");
  std::string still = "time_s,lambda_1\n0,1\n";
  for (int i = 0; i < 1001; ++i) still += "1,1\n";
  EXPECT_EQ(refusal_of(still + "2,1\n"),
            "run.csv, line 1003, column 1 (time_s): found the same time stamp in 1001 rows, expected a clock that goes "
            "on");
}

TEST(WriteLogCsv, WritesEmptyCellsAndRoundsToTheDecimalsAsked) {
  const scratch::folder here;
  const double none = std::nan("");
  const fettle::log_table log{{"time_s", "lambda_1", "rpm"},
                              {{0, 0.01, 12345.678}, {none, 0.98768, -0.00004}, {999.6, none, 2e17}}};
  fettle::write_log_csv(here.file("full.csv"), log);
  EXPECT_EQ(scratch::contents_of(here.file("full.csv")),
            "time_s,lambda_1,rpm\n0,,999.6\n0.01,0.98768,\n12345.678,-0.00004,2e+17\n");
  const std::vector<int> decimals{2, 4, 0};
  fettle::write_log_csv(here.file("short.csv"), log, decimals);
  EXPECT_EQ(scratch::contents_of(here.file("short.csv")),
            "time_s,lambda_1,rpm\n0,,1000\n0.01,0.9877,\n12345.68,0,2e+17\n");
}

TEST(WriteLogCsv, RefusesWhatWouldNotReadBackAndTouchesNothing) {
  const scratch::folder here;
  const auto path = here.file("out.csv", "old");
  const auto refused = [&](const fettle::log_table& log, const std::vector<int>& decimals = {}) {
    return scratch::refusal_in(here, [&] { fettle::write_log_csv(path, log, decimals); });
  };
  EXPECT_EQ(refused({}), "cannot write out.csv: expected at least one column and one name for each");
  EXPECT_EQ(refused({{"a", "b"}, {{1, 2}, {1}}}), "cannot write out.csv: the column b has 1 rows, expected 2 as in a");
  EXPECT_EQ(refused({{"a"}, {{1, -std::numeric_limits<double>::infinity()}}}),
            "cannot write out.csv: row 2 of the column a is infinite, expected finite values or NaN");
  EXPECT_EQ(refused({{"a"}, {{1}}}, {1, 2}),
            "cannot write out.csv: expected a number of decimals for each of the 1 columns");
  EXPECT_EQ(refused({{"a"}, {{1}}}, {10}), "cannot write out.csv: expected 0 to 9 decimals, not 10");
  EXPECT_EQ(scratch::contents_of(path), "old");
  EXPECT_EQ(here.entries(), 1);
}

rc::Gen<double> any_finite_or_not_sampled() {
  return rc::gen::map(rc::gen::arbitrary<std::uint64_t>(), [](std::uint64_t bits) {
    const auto value = std::bit_cast<double>(bits);
    return bits % 7 != 0 && std::isfinite(value) ? value : std::numeric_limits<double>::quiet_NaN();
  });
}

RC_GTEST_PROP(LogCsv, ReadsBackWhatItWroteBitForBit, ()) {
  const scratch::folder here;
  const auto width = *rc::gen::inRange<std::size_t>(1, 6), rows = *rc::gen::inRange<std::size_t>(1, 40);
  fettle::log_table log;
  for (std::size_t i = 0; i < width; ++i) {
    log.names.push_back(std::to_string(i) +
                        *rc::gen::container<std::string>(rc::gen::elementOf(std::string("a,;\"\n\r. "))));
    log.columns.push_back(*rc::gen::container<numbers>(rows, any_finite_or_not_sampled()));
  }
  fettle::write_log_csv(here.file("log.csv"), log);
  const auto again = fettle::read_log_csv(here.file("log.csv"), same_names(log.names));
  RC_ASSERT(again.names == log.names);
  for (std::size_t i = 0; i < width; ++i)
    for (std::size_t row = 0; row < rows; ++row)
      RC_ASSERT(std::bit_cast<std::uint64_t>(again.columns[i][row]) ==
                std::bit_cast<std::uint64_t>(log.columns[i][row]));
}

RC_GTEST_PROP(LogCsv, RoundingMovesNoValueByMoreThanHalfAStep, ()) {
  const scratch::folder here;
  const int decimals = *rc::gen::inRange(0, 10);
  const double value =
      static_cast<double>(*rc::gen::inRange<std::int64_t>(-1'000'000'000'000, 1'000'000'000'000)) / 999'983.0;
  const std::vector<int> every{decimals};
  fettle::write_log_csv(here.file("log.csv"), {{"a"}, {{value}}}, every);
  const double again = fettle::read_log_csv(here.file("log.csv"), same_names({"a"})).columns[0][0];
  const double step = std::pow(10.0, -decimals);
  RC_ASSERT(std::fabs(again - value) <= step / 2 + 4 * std::numeric_limits<double>::epsilon() * std::fabs(value));
}

}  // namespace log_csv_test
