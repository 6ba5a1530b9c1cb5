// SPDX-License-Identifier: MIT
// Logs as loggers write them: each form is read, and said; strict rules refuse it.
#include <gtest/gtest.h>

#include <cmath>
#include <filesystem>
#include <string>
#include <vector>

#include "fettle/io/log_csv.hpp"
#include "fettle/io/text.hpp"
#include "scratch.hpp"

namespace log_forms_test {

using numbers = std::vector<double>;

const std::vector<fettle::log_channel> wanted{{.name = "time_s", .file_name = "time"},
                                              {.name = "lambda_1", .file_name = "lambda"}};

/// What a log says in one form, beside the note on it; strict rules must refuse it with the same words.
struct form {
  const char* name;
  std::string text;
  numbers time_s, lambda;
  std::string note;
  std::string refusal;  ///< of strict rules
};

void expect_read(const form& form) {
  SCOPED_TRACE(form.name);
  const scratch::folder here;
  const auto path = here.file("run.csv", form.text);
  const auto log = fettle::read_log_csv(path, wanted);
  ASSERT_EQ(log.rows(), form.time_s.size());
  for (std::size_t i = 0; i < log.rows(); ++i) {
    EXPECT_NEAR(log.columns[0][i], form.time_s[i], 1e-12) << i;
    EXPECT_TRUE(log.columns[1][i] == form.lambda[i] || (std::isnan(log.columns[1][i]) && std::isnan(form.lambda[i])))
        << i;
  }
  EXPECT_EQ(log.notes.size(), 1U);
  EXPECT_EQ(log.notes.empty() ? "" : log.notes[0], form.note);
  EXPECT_EQ(scratch::refusal_in(here, [&] { (void)fettle::read_log_csv(path, wanted, {.is_strict = true}); }),
            form.refusal);
}

const double none = std::nan("");

TEST(LogForms, OfTheTextAroundTheNumbers) {
  const std::string strict = ", expected plain CSV, because the rules are strict";
  expect_read({.name = "remarks before the header",
               .text = "# hill climb, second run\nDriver: nobody\n\ntime,lambda,x\n0,0.9,1\n1,1.1,2\n",
               .time_s = {0, 1},
               .lambda = {0.9, 1.1},
               .note = "3 lines before the header are skipped",
               .refusal = "run.csv: 3 lines before the header are skipped" + strict});
  expect_read({.name = "pairs before the header",
               .text = "Car,invented\nRun,7\ntime,lambda,x\n0,0.9,1\n1,1.1,2\n2,1,3\n",
               .time_s = {0, 1, 2},
               .lambda = {0.9, 1.1, 1},
               .note = "2 lines before the header are skipped",
               .refusal = "run.csv: 2 lines before the header are skipped" + strict});
  expect_read({.name = "the header a remark itself",
               .text = "# time,lambda\n0,0.9\n1,1.1\n",
               .time_s = {0, 1},
               .lambda = {0.9, 1.1},
               .note = "the first name of the header is marked as a remark",
               .refusal = "run.csv: the first name of the header is marked as a remark" + strict});
  expect_read({.name = "units",
               .text = "time,lambda\ns,-\n0,0.9\n1,1.1\n",
               .time_s = {0, 1},
               .lambda = {0.9, 1.1},
               .note = "line 2, under the header, taken as units and skipped",
               .refusal = "run.csv: line 2, under the header, taken as units and skipped" + strict});
  expect_read({.name = "tabs",
               .text = "time\tlambda\n0\t0.9\n1\t1.1\n",
               .time_s = {0, 1},
               .lambda = {0.9, 1.1},
               .note = "cells are separated by tabs",
               .refusal = "run.csv: cells are separated by tabs" + strict});
  expect_read({.name = "decimal comma",
               .text = "time;lambda\n0,5;0,9\n1,5;1,1\n",
               .time_s = {0.5, 1.5},
               .lambda = {0.9, 1.1},
               .note = "numbers have a decimal comma",
               .refusal = "run.csv: numbers have a decimal comma" + strict});
  expect_read({.name = "Latin-1",
               .text = "time,lambda,water \xB0\x43\n0,0.9,80\n1,1.1,81\n",
               .time_s = {0, 1},
               .lambda = {0.9, 1.1},
               .note = "the header is not UTF-8, taken as Latin-1",
               .refusal = "run.csv: the header is not UTF-8, taken as Latin-1" + strict});
  expect_read({.name = "a separator at the end of rows",
               .text = "time,lambda\n0,0.9,\n1,1.1,\n",
               .time_s = {0, 1},
               .lambda = {0.9, 1.1},
               .note = "rows end in a separator, one more than the header has",
               .refusal = "run.csv: rows end in a separator, one more than the header has" + strict});
}

TEST(LogForms, OfCellsWithoutAValue) {
  expect_read({.name = "words and dashes",
               .text = "time,lambda\n0,NaN\n1,-\n2,1\n3,n/a\n",
               .time_s = {0, 1, 2, 3},
               .lambda = {none, none, 1, none},
               .note = "3 cells hold a word or dash for no value, taken as not sampled",
               .refusal =
                   "run.csv, line 2, column 2 (lambda): found \"NaN\", expected a number (an empty cell means not "
                   "sampled)"});
}

TEST(LogForms, OfALastRowCutShort) {
  expect_read({.name = "a cell missing",
               .text = "time,lambda\n0,0.9\n1,1.1\n2",
               .time_s = {0, 1},
               .lambda = {0.9, 1.1},
               .note = "line 4, the last one, is cut short and left out",
               .refusal = "run.csv, line 4: found 1 cells, expected 2 as in the header"});
  expect_read({.name = "a number cut",
               .text = "time,lambda\n0,0.9\n1,1.1\n2,1e",
               .time_s = {0, 1},
               .lambda = {0.9, 1.1},
               .note = "line 4, the last one, is cut short and left out",
               .refusal =
                   "run.csv, line 4, column 2 (lambda): found \"1e\", expected a number (an empty cell means not "
                   "sampled)"});
}

TEST(LogForms, OfTheClock) {
  expect_read({.name = "a clock that starts again",
               .text = "time,lambda\n5,0.9\n6,1.1\n0,0.8\n1,0.7\n",
               .time_s = {5, 6, 16, 17},
               .lambda = {0.9, 1.1, 0.8, 0.7},
               .note = "the clock starts again in line 4: a new log begins there",
               .refusal = "run.csv, line 4, column 1 (time): found the time stamp 0 after 6, expected times that "
                          "increase"});
  expect_read({.name = "a header repeated, the clock going on",
               .text = "time,lambda\n0,0.9\n1,1.1\ntime,lambda\n1,0.8\n2,0.7\n",
               .time_s = {0, 1, 11, 12},
               .lambda = {0.9, 1.1, 0.8, 0.7},
               .note = "line 4 repeats the header: a new log begins there",
               .refusal =
                   "run.csv, line 4, column 1 (time): found \"time\", expected a number (an empty cell means not "
                   "sampled)"});
  expect_read({.name = "a coarse clock with a gap",
               .text = "time,lambda\n0,1\n0,1\n0.1,1\n0.1,1\n5,1\n5,1\n",
               .time_s = {0, 0.05, 0.1, 0.15, 5, 5.05},
               .lambda = {1, 1, 1, 1, 1, 1},
               .note = "time stamps repeat, up to 2 rows each; these rows are spread evenly until the next stamp",
               .refusal = "run.csv, line 3, column 1 (time): found the time stamp 0 a second time, expected times that "
                          "increase"});
}

TEST(LogForms, OfSeveralRatesInOneFileNeedNoWord) {
  const scratch::folder here;
  const auto log = fettle::read_log_csv(here.file("run.csv", "time,x,lambda\n0,5,\n0.01,,0.9\n0.02,,\n"), wanted);
  EXPECT_EQ(log.rows(), 3U);
  EXPECT_EQ(log.columns[1][1], 0.9);
  EXPECT_TRUE(log.notes.empty());
}

// What could move the cursor over a warning, ring, or turn the direction of writing is shown as a question mark.
TEST(Text, IsShownWithoutWhatRulesTheTerminal) {
  EXPECT_EQ(fettle::printable("\x1B[2A\rSafe:\a yes\n\x7F"), "?[2A?Safe:? yes??");
  EXPECT_EQ(fettle::printable("a\xC2\x9Bz \xE2\x80\xAE \xE2\x81\xA6"), "a?z ? ?");
  EXPECT_EQ(fettle::printable(std::string("a\0b", 3)), "a?b");
  for (const char* plain : {"",
                            "Run 3, 20 \xC2\xB0"
                            "C",
                            "\xC3\xA9t\xC3\xA9", "\xE8\xB5\xB0", "\xF0\x9F\x8F\x81"}) {
    EXPECT_TRUE(fettle::is_printable(plain)) << plain;
    EXPECT_EQ(fettle::printable(plain), plain);
  }
  EXPECT_EQ(fettle::character_count("20 \xC2\xB0"
                                    "C"),
            5U);
}

// The Unicode Standard 15.0, table 3-7 and section 3.9: a lone byte, a tail cut off, an overlong slash, a surrogate, and
// more than U+10FFFF are not UTF-8.
TEST(Text, ThatIsNotUtf8IsShownByteByByte) {
  for (const char* bad : {"\xB0", "\xE2\x82", "\xC0\xAF", "\xE0\x80\xAF", "\xED\xA0\x80", "\xF4\x90\x80\x80", "\xFF"}) {
    EXPECT_FALSE(fettle::detail::is_utf_8(bad));
    EXPECT_EQ(fettle::printable(bad), std::string(std::string(bad).size(), '?'));
  }
  EXPECT_EQ(fettle::path_text(std::string("logs/\xFF run\x1B.csv")), "logs/? run?.csv");
  EXPECT_EQ(fettle::path_named("logs/\xC3\xA9.csv"), std::filesystem::path(u8"logs/\u00E9.csv"));
}

}  // namespace log_forms_test
