// SPDX-License-Identifier: MIT
#pragma once

namespace statistics {

/// The probability-p quantile of Student's t.
[[nodiscard]] double student_t(double p, double degrees_of_freedom);

}  // namespace statistics
