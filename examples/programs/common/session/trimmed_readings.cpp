// SPDX-License-Identifier: MIT
#include "common/session/trimmed_readings.hpp"

#include <cstddef>
#include <string>
#include <vector>

namespace session {
namespace {

/// Per row, the mean fuel of these cylinders, 1 .., over the mean of all.
///
/// @param mean  of all trims along the log.
[[nodiscard]] std::vector<double> share_of_mean(const trim_maps& trims, const std::vector<double>& mean,
                                                const std::vector<std::size_t>& cylinders, const fettle::log_table& log,
                                                const std::string& name) {
  if (trims.empty()) return std::vector<double>(log.rows(), 1.0);
  trim_maps passing;
  for (const std::size_t cylinder : cylinders) passing.push_back(trims[cylinder - 1]);
  auto result = mean_along(passing, log, name);
  for (std::size_t i = 0; i < result.size(); ++i) result[i] /= mean[i];
  return result;
}

/// phi that a sensor in a pipe would read if the map were right and its cylinder got a share of the mean fuel.
[[nodiscard]] std::vector<double> phi_in_pipe(fettle::recording recording, const fettle::map_file& base,
                                              const fettle::dynamics& with, std::size_t sensor,
                                              const std::vector<double>& share) {
  for (auto& bank : recording.fuel_mg)
    for (std::size_t i = 0; i < bank.size(); ++i) bank[i] *= share[i];
  const fettle::reading_model model(recording, base.table);
  return model.arrived(model.uncorrected_phi(with),
                       model.injected(sensor, std::vector<double>(recording.rows(), 1.0), with),
                       with.sensors[sensor].lag_s.value);
}

}  // namespace

void refer_to_trims(const log_maps& maps, const fettle::map_file& base, const fettle::log_table& log,
                    const fettle::dynamics& with, fettle::recording& recording) {
  const auto mean = mean_along(maps.trims, log, recording.name),
             loaded_mean = mean_along(maps.loaded_trims, log, recording.name);
  for (std::size_t s = 0; s < recording.sensors.size(); ++s) {
    fettle::sensor_trace& trace = recording.sensors[s];
    if (trace.cylinders.empty()) continue;
    const auto phi = [&](const trim_maps& trims, const std::vector<double>& mean_of_all) {
      return phi_in_pipe(recording, base, with, s,
                         share_of_mean(trims, mean_of_all, trace.cylinders, log, recording.name));
    };
    const auto loaded = phi(maps.loaded_trims, loaded_mean), referred = phi(maps.trims, mean);
    for (std::size_t i = 0; i < trace.lambda.size(); ++i)
      if (trace.lambda[i] > trace.lowest && trace.lambda[i] < trace.highest && referred[i] > 0)
        trace.lambda[i] *= loaded[i] / referred[i];
  }
}

}  // namespace session
