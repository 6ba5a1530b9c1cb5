// SPDX-License-Identifier: MIT
#pragma once

#include <variant>
#include <vector>

namespace fettle {

/// How smoothing strengths are chosen from the data: restricted maximum likelihood, or generalised cross-validation.
enum class criterion { reml, gcv };

/// How strongly to smooth: chosen from the data, or given, one number per axis (`smooth_term` says what it means).
using smoothness = std::variant<criterion, std::vector<double>>;

}  // namespace fettle
