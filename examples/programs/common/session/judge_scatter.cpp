// SPDX-License-Identifier: MIT
#include "common/session/judge_scatter.hpp"

#include <fmt/format.h>

#include <cstddef>

namespace session {

scatter_verdict judge_scatter(const session& session, const fettle::identification& identified) {
  constexpr double unusual = 0.025, many = 0.1;  // four times a good sensor's noise; ten times a good log's misfits
  scatter_verdict result;
  const auto judge = [&](const std::string& whose, double noise, double misfits) {
    if (!(noise > unusual || misfits > many)) return;
    const std::string what = fmt::format(
        "{} scatter by {:.1f} % about the best that map, film and path can explain, and {:.0f} % of "
        "them lie far outside even that: a wrong column, swapped banks, a misfire or a bad sensor",
        whose, 100 * noise, 100 * misfits);
    if (noise > 2 * unusual || misfits > 2 * many)
      result.objections.push_back(what + " is likely");
    else
      result.remarks.push_back(what + " is possible");
  };
  judge("the readings", identified.noise, identified.misfits);
  if (identified.scatter.size() > 1)
    for (std::size_t s = 0; s < identified.scatter.size(); ++s)
      judge("the readings of sensor " + session.sensors[s].name, identified.scatter[s].noise,
            identified.scatter[s].misfits);
  return result;
}

}  // namespace session
