// SPDX-License-Identifier: MIT
// How fast logs are read and written, beside a bare std::from_chars loop over the same bytes and a plain sum of them.
#include <benchmark/benchmark.h>

#include <charconv>
#include <cmath>
#include <cstdint>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <random>
#include <string>
#include <vector>

#include "fettle/io/log_csv.hpp"

namespace {

constexpr std::size_t columns = 15;

/// A log of the usual digits: one column of time, 14 of five to six digits, fixed seed, removed at the end.
struct sample_log {
  std::filesystem::path path = std::filesystem::temp_directory_path() / "fettle_io_bench.csv";
  fettle::log_table log;
  std::vector<int> decimals = std::vector<int>(columns, 3);
  std::string text;

  explicit sample_log(std::size_t rows) {
    std::mt19937_64 random(1);
    std::uniform_real_distribution<double> draw(0, 200);
    for (std::size_t i = 0; i < columns; ++i) {
      log.names.push_back(i == 0 ? "time_s" : "channel_" + std::to_string(i));
      auto& column = log.columns.emplace_back(rows);
      for (std::size_t row = 0; row < rows; ++row)
        column[row] = i == 0 ? static_cast<double>(row) * 0.01 : draw(random);
    }
    fettle::write_log_csv(path, log, decimals);
    std::ifstream in(path, std::ios::binary);
    text.assign(std::istreambuf_iterator<char>(in), {});
  }
  ~sample_log() { std::filesystem::remove(path); }

  [[nodiscard]] std::vector<fettle::log_channel> channels(std::size_t step) const {
    std::vector<fettle::log_channel> result;
    for (std::size_t i = 0; i < columns; i += step) result.push_back({.name = log.names[i], .file_name = log.names[i]});
    return result;
  }
};

const sample_log& sample() {
  static const sample_log log(1'000'000);
  return log;
}

void count_bytes(benchmark::State& state) {
  state.SetBytesProcessed(state.iterations() * std::ssize(sample().text));
  state.SetItemsProcessed(state.iterations() * static_cast<std::int64_t>(sample().log.rows()));
}

void sum_of_the_bytes(benchmark::State& state) {  // how fast memory can be read
  const auto& text = sample().text;
  for (auto _ : state) {
    std::uint64_t sum = 0, word = 0;
    for (std::size_t i = 0; i + sizeof word <= text.size(); i += sizeof word) {
      std::memcpy(&word, text.data() + i, sizeof word);
      sum += word;
    }
    benchmark::DoNotOptimize(sum);
  }
  count_bytes(state);
}

void bare_from_chars(benchmark::State& state) {  // every number of the text in memory, nothing checked, nothing kept
  const auto& text = sample().text;
  for (auto _ : state) {
    double sum = 0;
    const char* at = text.data() + text.find('\n') + 1;
    for (const char* const last = text.data() + text.size(); at < last; ++at) {
      double value = 0;
      at = std::from_chars(at, last, value).ptr;
      sum += value;
    }
    benchmark::DoNotOptimize(sum);
  }
  count_bytes(state);
}

void columns_filled(benchmark::State& state) {  // what memory for the numbers alone takes, on fresh pages
  for (auto _ : state) {
    std::vector<std::vector<double>> filled(columns);
    for (auto& column : filled) column.reserve(sample().log.rows());
    for (std::size_t row = 0; row < sample().log.rows(); ++row)
      for (auto& column : filled) column.push_back(static_cast<double>(row));
    benchmark::DoNotOptimize(filled);
  }
  count_bytes(state);
}

void read_log(benchmark::State& state) {  // from the file; every state.range(0)-th column is wanted
  const auto wanted = sample().channels(static_cast<std::size_t>(state.range(0)));
  for (auto _ : state) benchmark::DoNotOptimize(fettle::read_log_csv(sample().path, wanted));
  count_bytes(state);
}

void each_row(benchmark::State& state) {  // nothing kept: a log larger than memory
  const auto wanted = sample().channels(1);
  for (auto _ : state) {
    double sum = 0;
    fettle::for_each_log_row(sample().path, wanted, [&](std::span<const double> row) { sum += row[1]; });
    benchmark::DoNotOptimize(sum);
  }
  count_bytes(state);
}

void write_log(benchmark::State& state) {  // range 0: shortest numbers, 1: three decimals
  const auto path = std::filesystem::temp_directory_path() / "fettle_io_bench_out.csv";
  for (auto _ : state)
    fettle::write_log_csv(path, sample().log, state.range(0) == 0 ? std::span<const int>{} : sample().decimals);
  std::filesystem::remove(path);
  state.SetItemsProcessed(state.iterations() * static_cast<std::int64_t>(sample().log.rows()));
}

BENCHMARK(sum_of_the_bytes)->Unit(benchmark::kMillisecond);
BENCHMARK(bare_from_chars)->Unit(benchmark::kMillisecond);
BENCHMARK(columns_filled)->Unit(benchmark::kMillisecond);
BENCHMARK(read_log)->Arg(1)->Arg(5)->Unit(benchmark::kMillisecond);
BENCHMARK(each_row)->Unit(benchmark::kMillisecond);
BENCHMARK(write_log)->Arg(0)->Arg(1)->Unit(benchmark::kMillisecond);

}  // namespace

BENCHMARK_MAIN();
