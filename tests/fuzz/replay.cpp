// SPDX-License-Identifier: MIT
// replay FOLDER: gives a fuzz target every file of a corpus once, for builds without a fuzzer.
#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size);

int main(int count, char** words) {
  std::size_t files = 0;
  if (count == 2)
    for (const auto& entry : std::filesystem::directory_iterator(words[1])) {
      std::ifstream in(entry.path(), std::ios::binary);
      const std::string bytes{std::istreambuf_iterator<char>(in), {}};
      std::printf("%s, %zu bytes\n", entry.path().c_str(), bytes.size());
      std::fflush(stdout);  // the last one named is the one that broke it
      LLVMFuzzerTestOneInput(reinterpret_cast<const std::uint8_t*>(bytes.data()), bytes.size());
      ++files;
    }
  return files > 0 ? 0 : 1;
}
