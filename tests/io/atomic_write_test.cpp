// SPDX-License-Identifier: MIT
#include "fettle/io/atomic_write.hpp"

#include <gtest/gtest.h>
#include <sys/wait.h>
#include <unistd.h>

#include <stdexcept>

#include "scratch.hpp"

namespace atomic_write_test {

namespace fs = std::filesystem;

TEST(WriteAtomically, MakesANewFileAndReplacesAnOldOne) {
  const scratch::folder here;
  fettle::write_atomically(here.file("a.txt"), "first");
  EXPECT_EQ(scratch::contents_of(here.file("a.txt")), "first");
  fettle::write_atomically(here.file("a.txt"), [](std::ostream& out) { out << "second " << 2; });
  EXPECT_EQ(scratch::contents_of(here.file("a.txt")), "second 2");
  EXPECT_EQ(here.entries(), 1);
}

TEST(WriteAtomically, KeepsTheOldFileAndLeavesNothingWhenTheWriterThrows) {
  const scratch::folder here;
  const auto path = here.file("a.txt", "old");
  EXPECT_THROW(fettle::write_atomically(path,
                                        [](std::ostream& out) {
                                          out << "half";
                                          throw std::out_of_range("halfway");
                                        }),
               std::out_of_range);
  EXPECT_EQ(scratch::contents_of(path), "old");
  EXPECT_EQ(here.entries(), 1);
}

TEST(WriteAtomically, KeepsTheOldFileAndLeavesNothingWhenTheDeviceFails) {
  const scratch::folder here;
  const auto path = here.file("a.txt", "old");
  const auto text = scratch::refusal_in(
      here, [&] { fettle::write_atomically(path, [](std::ostream& out) { out.setstate(std::ios::badbit); }); });
  EXPECT_NE(text.find("cannot write a.txt: "), std::string::npos) << text;
  EXPECT_EQ(scratch::contents_of(path), "old");
  EXPECT_EQ(here.entries(), 1);
}

TEST(WriteAtomically, ClearsWhatAKilledWriterOfThatFileLeft) {
  const scratch::folder here;
  const pid_t gone = fork();
  if (gone == 0) _exit(0);
  ASSERT_GT(gone, 0);
  int status = 0;
  ASSERT_EQ(waitpid(gone, &status, 0), gone);
  const auto left_by = [&](const std::string& name, pid_t writer) {
    return here.file("." + name + "." + std::to_string(writer) + ".12345.tmp", "half");
  };
  const auto dead = left_by("a.txt", gone), living = left_by("a.txt", getppid()), other = left_by("b.txt", gone);
  const auto strangers = here.file(".a.txt.notes.tmp", "mine");
  fettle::write_atomically(here.file("a.txt"), "whole");
  EXPECT_EQ(scratch::contents_of(here.file("a.txt")), "whole");
  EXPECT_FALSE(fs::exists(dead));
  EXPECT_TRUE(fs::exists(living));
  EXPECT_TRUE(fs::exists(other));
  EXPECT_TRUE(fs::exists(strangers));
}

TEST(WriteAtomically, NamesAMissingFolder) {
  const scratch::folder here;
  EXPECT_EQ(scratch::refusal_in(here, [&] { fettle::write_atomically(here.file("none/a.txt"), "x"); }),
            "cannot write none/a.txt: the folder none does not exist");
}

TEST(WriteAtomically, NamesAFileThatStandsWhereTheFolderShould) {
  const scratch::folder here;
  const auto file = here.file("a", "x");
  EXPECT_EQ(scratch::refusal_in(here, [&] { fettle::write_atomically(file / "b.txt", "x"); }),
            "cannot write a/b.txt: a is a file, not a folder");
}

TEST(WriteAtomically, RefusesAFolderADeviceAndAWriteProtectedFile) {
  const scratch::folder here;
  fs::create_directory(here.file("sub"));
  EXPECT_EQ(scratch::refusal_in(here, [&] { fettle::write_atomically(here.file("sub"), "x"); }),
            "cannot write sub: it is a folder; give a file name");
  EXPECT_EQ(scratch::refusal([] { fettle::write_atomically("/dev/null", "x"); }),
            "cannot write /dev/null: it is a device or pipe; give the name of an ordinary file");
  const auto protected_file = here.file("base.csv", "keep");
  fs::permissions(protected_file, fs::perms::owner_read);
  EXPECT_EQ(scratch::refusal_in(here, [&] { fettle::write_atomically(protected_file, "x"); }),
            "cannot write base.csv: it is write-protected; give another name or lift the protection");
  EXPECT_EQ(scratch::contents_of(protected_file), "keep");
}

TEST(WriteAtomically, NamesTheReasonWhenTheFolderTakesNoFile) {
  if (!fs::exists("/proc/self")) GTEST_SKIP() << "no folder here refuses files from every user";
  const auto text = scratch::refusal([] { fettle::write_atomically("/proc/a.txt", "x"); });
  EXPECT_EQ(text.find("cannot write /proc/a.txt: "), 0U) << text;
  EXPECT_EQ(text.find("no reason"), std::string::npos) << text;
}

TEST(WriteAtomically, WritesThroughLinksWhetherOrNotTheirFileIsThere) {
  const scratch::folder here;
  fs::create_directory(here.file("sub"));
  fs::create_symlink("sub/next", here.file("link"));
  fs::create_symlink(here.file("a.txt"), here.file("sub/next"));
  for (const char* text : {"first", "second"}) {
    fettle::write_atomically(here.file("link"), text);
    EXPECT_TRUE(fs::is_symlink(here.file("link")));
    EXPECT_TRUE(fs::is_symlink(here.file("sub/next")));
    EXPECT_EQ(scratch::contents_of(here.file("a.txt")), text);
  }
}

TEST(WriteAtomically, NamesALinkThatLeadsNowhereAndANameTooLong) {
  const scratch::folder here;
  fs::create_symlink("b", here.file("a"));
  fs::create_symlink("a", here.file("b"));
  const std::string name(300, 'n');
  for (const std::string& bad : {std::string("a"), name}) {
    const auto text = scratch::refusal_in(here, [&] { fettle::write_atomically(here.file(bad), "x"); });
    EXPECT_EQ(text.find("cannot write " + bad + ": "), 0U) << text;
  }
  EXPECT_EQ(here.entries(), 2);
}

TEST(WriteAtomically, KeepsWhoMayReadAndWriteAFile) {
  const scratch::folder here;
  const auto path = here.file("a.txt", "old");
  constexpr auto mine = fs::perms::owner_read | fs::perms::owner_write;
  fs::permissions(path, mine);
  fettle::write_atomically(path, "new");
  EXPECT_EQ(fs::status(path).permissions(), mine);
}

}  // namespace atomic_write_test
