// SPDX-License-Identifier: MIT
#include "fettle/io/system.hpp"

#include <gtest/gtest.h>

#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>

#include "io/scratch.hpp"

namespace system_test {

namespace fs = std::filesystem;
namespace system = fettle::system;

std::string text_of(const fs::path& file) {
  std::ifstream in(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

TEST(System, KnowsThatItsOwnProcessRuns) {
  EXPECT_GT(system::process_number(), 0);
  EXPECT_FALSE(system::has_ended(system::process_number()));
}

TEST(System, ReplacesAFileAndForcesItToDisk) {
  const scratch::folder folder;
  (void)folder.file("old.csv", "old");
  (void)folder.file("new.csv", "new");
  EXPECT_FALSE(system::flush_to_disk(folder.file("new.csv")));
  EXPECT_FALSE(system::replace(folder.file("new.csv"), folder.file("old.csv")));
  EXPECT_EQ(text_of(folder.file("old.csv")), "new");
  EXPECT_FALSE(fs::exists(folder.file("new.csv")));
  EXPECT_TRUE(system::replace(folder.file("new.csv"), folder.file("old.csv")));  // gone: an error, and nothing is lost
  EXPECT_EQ(text_of(folder.file("old.csv")), "new");
  EXPECT_TRUE(system::flush_to_disk(folder.file("new.csv")));
}

TEST(System, KnowsWhereFilesMayBeMade) {
  const scratch::folder folder;
  EXPECT_TRUE(system::may_write_in(folder.file("").parent_path()));
  EXPECT_FALSE(system::may_write_in(folder.file("nowhere")));
}

TEST(System, RunsAProgramOnFilesWithoutAShell) {
  const auto sort = system::find_program("sort");
  if (!sort) GTEST_SKIP() << "there is no program sort in PATH";
  EXPECT_TRUE(sort->is_absolute());
  const auto in = system::nameless_file(), out = system::nameless_file(), err = system::nameless_file();
  ASSERT_TRUE(in && out && err);
  std::fputs("b; $HOME\na\n", in.get());
  std::rewind(in.get());
  EXPECT_TRUE(system::run(*sort, "-r", {in.get(), out.get(), err.get()}));
  std::rewind(out.get());
  char text[32]{};
  EXPECT_EQ(std::fread(text, 1, sizeof text, out.get()), 11U);
  EXPECT_EQ(std::string(text), "b; $HOME\na\n");
  EXPECT_FALSE(system::run(*sort, "--no-such-option", {in.get(), out.get(), err.get()}));
}

TEST(System, FindsNoProgramInRelativeFolders) {
  const std::string before = std::getenv("PATH") != nullptr ? std::getenv("PATH") : "";
#if !defined(_WIN32)
  setenv("PATH", ".:bin", 1);
  EXPECT_FALSE(system::find_program("sort"));
  setenv("PATH", before.c_str(), 1);
#endif
}

}  // namespace system_test
