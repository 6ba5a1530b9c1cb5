// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <cstddef>
#include <cstdint>
#include <map>
#include <span>
#include <utility>
#include <vector>

namespace fettle::detail {

/// Solves a x = right for a small full matrix, row-major, by elimination with row exchanges; both are overwritten.
inline void solve_small(std::vector<double>& a, std::vector<double>& right) {
  const std::size_t n = right.size();
  for (std::size_t k = 0; k < n; ++k) {
    std::size_t best = k;
    for (std::size_t i = k + 1; i < n; ++i)
      if (std::abs(a[i * n + k]) > std::abs(a[best * n + k])) best = i;
    if (best != k) {
      for (std::size_t j = k; j < n; ++j) std::swap(a[k * n + j], a[best * n + j]);
      std::swap(right[k], right[best]);
    }
    for (std::size_t i = k + 1; i < n; ++i) {
      const double factor = a[i * n + k] / a[k * n + k];
      if (factor == 0) continue;
      for (std::size_t j = k + 1; j < n; ++j) a[i * n + j] -= factor * a[k * n + j];
      right[i] -= factor * right[k];
    }
  }
  for (std::size_t k = n; k-- > 0;) {
    for (std::size_t j = k + 1; j < n; ++j) right[k] -= a[k * n + j] * right[j];
    right[k] /= a[k * n + k];
  }
}

/// Scores of rows whose errors are correlated, summed cluster by cluster, each corrected for what the cluster has bent
/// the fit its own way.
///
/// Source: the correction (CR3, leave one cluster out) of R. M. Bell, D. F. McCaffrey, Survey Methodology 28 (2002)
///         169-181; A. C. Cameron, D. L. Miller, J. Human Resources 50 (2015) 317-372 (both from memory): score
///         (I - A M)^-1 g, with A the cluster's part of the normal matrix and M the inverse of the whole. Here A counts
///         nine tenths: without the only cluster that knows a cell, the fit there is the prior, whose distance from the
///         data is no error of the data.
class score_clusters {
 public:
  using key = std::pair<std::uint64_t, std::uint64_t>;

  /// @param leverage  share of a cluster's own weight that is taken out of the fit: 1 for leave one cluster out.
  explicit score_clusters(std::size_t unknowns, double leverage = most_leverage)
      : leverage_{leverage}, place_(unknowns, nowhere) {}

  /// Adds one row; cheapest where rows of one cluster follow one another.
  void add(key where, std::span<const std::uint32_t> unknown, std::span<const double> factor, double weight,
           double residual) {
    cluster& here = enter(where, unknown);
    for (std::size_t a = 0; a < local_.size(); ++a) {
      const double weighted = weight * factor[a];
      here.score[local_[a]] += weighted * residual;
      for (std::size_t b = 0; b <= a; ++b) {
        here.square_at(local_[a], local_[b]) += weighted * factor[b];
      }
    }
  }

  /// Adds the rows of another part.
  void merge(const score_clusters& other) {
    for (const auto& [where, from] : other.clusters_) {
      cluster& here = enter(where, from.unknown);
      for (std::size_t a = 0, at = 0; a < from.score.size(); ++a) {
        here.score[local_[a]] += from.score[a];
        for (std::size_t b = 0; b <= a; ++b) here.square_at(local_[a], local_[b]) += from.square[at++];
      }
    }
  }

  [[nodiscard]] std::size_t size() const noexcept { return clusters_.size(); }

  /// Calls use(unknowns, corrected score) for every cluster.
  ///
  /// @param inverse  of the normal matrix with priors: inverse(i, k).
  template <class Inverse, class Use>
  void for_each(const Inverse& inverse, Use&& use) const {
    std::vector<double> left, score;
    for (const auto& [where, members] : clusters_) {
      const std::size_t n = members.unknown.size();
      left.assign(n * n, 0.0);
      for (std::size_t i = 0; i < n; ++i)
        for (std::size_t k = 0; k < n; ++k) {
          const double square = members.square_at(i, k);
          if (square == 0) continue;
          for (std::size_t j = 0; j < n; ++j)
            left[i * n + j] -= leverage_ * square * inverse(members.unknown[k], members.unknown[j]);
        }
      for (std::size_t i = 0; i < n; ++i) left[i * n + i] += 1;
      score = members.score;
      solve_small(left, score);
      use(members.unknown, score);
    }
  }

 private:
  struct cluster {
    std::vector<std::uint32_t> unknown;
    std::vector<double> score, square;  // square: lower triangle, packed

    [[nodiscard]] static std::size_t packed(std::size_t a, std::size_t b) {
      return a >= b ? a * (a + 1) / 2 + b : b * (b + 1) / 2 + a;
    }
    [[nodiscard]] double& square_at(std::size_t a, std::size_t b) { return square[packed(a, b)]; }
    [[nodiscard]] double square_at(std::size_t a, std::size_t b) const { return square[packed(a, b)]; }
  };
  static constexpr std::uint32_t nowhere = static_cast<std::uint32_t>(-1);
  static constexpr double most_leverage = 0.9;

  // The cluster, with room for these unknowns, whose places in it are then in local_.
  cluster& enter(key where, std::span<const std::uint32_t> unknown) {
    if (now_ == nullptr || where != where_) {
      if (now_ != nullptr)
        for (const std::uint32_t k : now_->unknown) place_[k] = nowhere;
      where_ = where;
      now_ = &clusters_[where];
      for (std::size_t i = 0; i < now_->unknown.size(); ++i) place_[now_->unknown[i]] = static_cast<std::uint32_t>(i);
    }
    local_.clear();
    for (const std::uint32_t k : unknown) {
      if (place_[k] == nowhere) {
        place_[k] = static_cast<std::uint32_t>(now_->unknown.size());
        now_->unknown.push_back(k);
        now_->score.push_back(0);
        now_->square.resize(now_->score.size() * (now_->score.size() + 1) / 2, 0.0);
      }
      local_.push_back(place_[k]);
    }
    return *now_;
  }

  double leverage_;
  std::vector<std::uint32_t> place_, local_;
  key where_{};
  cluster* now_ = nullptr;
  std::map<key, cluster> clusters_;
};

}  // namespace fettle::detail
