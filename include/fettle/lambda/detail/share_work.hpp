// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <atomic>
#include <concepts>
#include <cstddef>
#include <exception>
#include <thread>
#include <vector>

namespace fettle::detail {

/// Calls work(k) once for every k below count, on so many threads, this one among them; returns when all is done.
///
/// Errors: what a call throws is thrown here, and pieces that have not begun are left out. Threads that the system does
/// not give, or has no memory for, are done without.
template <std::invocable<std::size_t> Work>
void share_work(std::size_t threads, std::size_t count, const Work& work) {
  std::atomic<std::size_t> next{0};
  std::vector<std::exception_ptr> failures((std::max)((std::min)(threads, count), std::size_t{1}));
  const auto take_part = [&](std::exception_ptr& failure) noexcept {
    try {
      for (std::size_t k; (k = next++) < count;) work(k);
    } catch (...) {
      failure = std::current_exception();
      next = count;
    }
  };
  std::vector<std::thread> others;
  others.reserve(failures.size() - 1);
  try {
    for (std::size_t t = 1; t < failures.size(); ++t)
      others.emplace_back([&take_part, &failure = failures[t]] { take_part(failure); });
  } catch (...) {  // those that there are do the work
  }
  take_part(failures[0]);
  for (auto& other : others) other.join();
  for (const auto& failure : failures)
    if (failure) std::rethrow_exception(failure);
}

/// The sum of parts of the work: every piece k below count is added to the part of its group, and the groups are merged in
/// their order, so that the answer is the same to the bit however many threads there are.
///
/// Pieces are gathered into at most sixteen groups, whatever the number of threads, which bounds the memory.
///
/// @param empty  a part to which nothing has been added; has `merge(const Part&)`.
/// @param add    add(part, k).
template <class Part, class Add>
[[nodiscard]] Part reduce(std::size_t threads, std::size_t count, const Part& empty, const Add& add) {
  constexpr std::size_t most_groups = 16;
  const std::size_t groups = (std::min)(count, most_groups);
  std::vector<Part> parts(groups, empty);
  share_work(threads, groups, [&](std::size_t g) {
    for (std::size_t k = g * count / groups; k < (g + 1) * count / groups; ++k) add(parts[g], k);
  });
  Part result = empty;
  for (const Part& part : parts) result.merge(part);
  return result;
}

}  // namespace fettle::detail
