// SPDX-License-Identifier: MIT
#pragma once

#include <Eigen/Dense>
#include <algorithm>
#include <cstddef>
#include <string>
#include <utility>
#include <vector>

#include "fettle/compiled.hpp"
#include "fettle/error.hpp"
#include "fettle/lambda/rotation.hpp"

namespace fettle {

namespace detail {

/// Sensors and cylinders joined by stays fall into groups; gains and trims can only trade places within a group.
class stay_groups {
 public:
  explicit stay_groups(const rotation& plan) : plan_{plan} {
    for (std::size_t k = 0; k < plan.cylinders + plan.sensors.size(); ++k) parent_.push_back(k);
    for (const auto& stay : plan.stays)
      for (const std::size_t cylinder : stay.cylinders)
        parent_[root(cylinder - 1)] = root(plan.cylinders + stay.sensor);
  }
  [[nodiscard]] std::string remark_on(std::size_t cylinder) const {
    std::vector<std::string> cylinders, sensors;
    const std::size_t group = root(cylinder);
    for (std::size_t i = 0; i < plan_.cylinders; ++i)
      if (root(i) == group) cylinders.push_back(std::to_string(i + 1));
    for (std::size_t j = 0; j < plan_.sensors.size(); ++j)
      if (root(plan_.cylinders + j) == group) sensors.push_back(plan_.sensors[j].name);
    for (const auto& stay : plan_.stays)
      if (stay.cylinders.size() > 1 && root(stay.cylinders.front() - 1) == group)
        return "trims of cylinders " + joined(cylinders) + " cannot be distinguished: sensor " +
               plan_.sensors[stay.sensor].name + " reads the mean of several of them";
    if (sensors.empty())
      return "the trim of cylinder " + cylinders[0] + " cannot be distinguished: no sensor was in its pipe";
    if (cylinders.size() == 1 && sensors.size() == 1)
      return "gain of sensor " + sensors[0] + " and trim of cylinder " + cylinders[0] +
             " cannot be distinguished: it was never moved to another cylinder";
    if (cylinders.size() == plan_.cylinders)
      return "trims of the cylinders and differences between the runs cannot be distinguished: too few "
             "runs, or no sensor that stayed in place as a reference";
    return "trims of cylinders " + joined(cylinders) + " and gains of sensors " + joined(sensors) +
           " cannot be distinguished from the rest: they were moved among themselves only";
  }

 private:
  [[nodiscard]] std::size_t root(std::size_t k) const {
    while (parent_[k] != k) k = parent_[k];
    return k;
  }
  [[nodiscard]] static std::string joined(const std::vector<std::string>& names) {
    std::string text;
    for (std::size_t i = 0; i < names.size(); ++i)
      text += (i == 0 ? "" : i + 1 == names.size() ? " and " : ", ") + names[i];
    return text;
  }
  const rotation& plan_;
  std::vector<std::size_t> parent_;
};

}  // namespace detail

FETTLE_INLINE separability separate(const rotation& plan) {
  plan.check();
  const std::size_t first_sensor = 1 + plan.cylinders, first_run = first_sensor + plan.sensors.size();
  const auto columns = static_cast<Eigen::Index>(first_run + plan.runs);
  const auto at = [](std::size_t k) { return static_cast<Eigen::Index>(k); };
  Eigen::MatrixXd design = Eigen::MatrixXd::Zero(at(plan.stays.size() + 2 + plan.sensors.size()), columns);
  Eigen::Index row = 0;
  for (const auto& stay : plan.stays) {
    design(row, 0) = 1;
    for (const std::size_t cylinder : stay.cylinders)
      design(row, at(cylinder)) = 1 / static_cast<double>(stay.cylinders.size());
    design(row, at(first_sensor + stay.sensor)) = 1;
    design(row, at(first_run + stay.run)) = 1;
    ++row;
  }
  design.row(row++).segment(1, at(plan.cylinders)).setOnes();
  design.row(row++).segment(at(first_run), at(plan.runs)).setOnes();
  for (std::size_t j = 0; j < plan.sensors.size(); ++j)
    if (plan.sensors[j].is_calibrated) design(row++, at(first_sensor + j)) = 1;

  const Eigen::JacobiSVD<Eigen::MatrixXd> parts(design, Eigen::ComputeFullV);
  Eigen::Index rank = 0;
  for (const double value : parts.singularValues()) rank += value > 1e-9 * parts.singularValues()[0];
  const auto is_identifiable = [&](std::size_t k) {
    return parts.matrixV().row(at(k)).tail(columns - rank).cwiseAbs().sum() < 1e-9;
  };
  separability result;
  const detail::stay_groups groups(plan);
  for (std::size_t i = 1; i <= plan.cylinders; ++i) {
    result.trim.push_back(is_identifiable(i));
    if (result.trim.back()) continue;
    std::string remark = groups.remark_on(i - 1);
    if (std::find(result.remarks.begin(), result.remarks.end(), remark) == result.remarks.end())
      result.remarks.push_back(std::move(remark));
  }
  bool any_gain_floats = false;
  for (std::size_t j = 0; j < plan.sensors.size(); ++j) {
    result.gain.push_back(is_identifiable(first_sensor + j));
    const bool is_used =
        std::any_of(plan.stays.begin(), plan.stays.end(), [&](const auto& stay) { return stay.sensor == j; });
    any_gain_floats = any_gain_floats || (is_used && !result.gain.back());
  }
  if (any_gain_floats && result.holds_for_every_trim())
    result.remarks.push_back(
        "the mean gain of the sensors and an error of the whole map cannot be distinguished: no sensor is calibrated; "
        "trims are not touched by this");
  return result;
}

FETTLE_INLINE std::vector<std::vector<std::size_t>> plan_rotation(std::size_t sensors, std::size_t cylinders,
                                                                  bool collector) {
  if (sensors < 1 || sensors > cylinders || cylinders > 16)
    throw error("plan_rotation: " + std::to_string(sensors) + " sensors for " + std::to_string(cylinders) +
                " cylinders; give at least one sensor, at most one per cylinder, and up to 16 cylinders");
  rotation plan{.cylinders = cylinders, .runs = 0, .sensors = {}, .stays = {}};
  for (std::size_t j = 0; j < sensors; ++j) plan.sensors.push_back({"sensor " + std::to_string(j + 1), false});
  if (collector) plan.sensors.push_back({"collector", true});
  std::vector<std::size_t> shift;
  const auto is_enough = [&] {
    plan.runs = shift.size();
    plan.stays.clear();
    for (std::size_t r = 0; r < shift.size(); ++r) {
      for (std::size_t j = 0; j < sensors; ++j) plan.stays.push_back({r, j, {1 + (j + shift[r]) % cylinders}});
      if (collector) plan.stays.push_back({r, sensors, {}});
    }
    return separate(plan).holds_for_every_trim();
  };
  // Which rows of the square, in increasing order, the first always among them.
  const auto search = [&](const auto& self, std::size_t runs) -> bool {
    if (shift.size() == runs) return is_enough();
    for (std::size_t next = shift.empty() ? 0 : shift.back() + 1; next <= cylinders - (runs - shift.size()); ++next) {
      if (shift.empty() && next > 0) return false;
      shift.push_back(next);
      if (self(self, runs)) return true;
      shift.pop_back();
    }
    return false;
  };
  for (std::size_t runs = 1; runs <= cylinders; ++runs) {
    // Readings less the run's own level must be at least as many as gains and trims that differ.
    const std::size_t readings = runs * (collector ? sensors : sensors - 1);
    if (readings + (collector ? 0 : 1) < sensors + cylinders - 1) continue;
    shift.clear();
    if (!search(search, runs)) continue;
    std::vector<std::vector<std::size_t>> result;
    for (const std::size_t by : shift) {
      auto& run = result.emplace_back();
      for (std::size_t j = 0; j < sensors; ++j) run.push_back(1 + (j + by) % cylinders);
    }
    return result;
  }
  throw error("plan_rotation: " + std::to_string(sensors) + " sensor" + (sensors == 1 ? "" : "s") +
              " without one after the collector cannot tell trims from differences between runs; add a sensor");
}

}  // namespace fettle
