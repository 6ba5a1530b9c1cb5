// SPDX-License-Identifier: MIT
#include "common/statistics/student_t.hpp"

#include <boost/math/distributions/students_t.hpp>

namespace statistics {

double student_t(double p, double degrees_of_freedom) {
  return boost::math::quantile(boost::math::students_t(degrees_of_freedom), p);
}

}  // namespace statistics
