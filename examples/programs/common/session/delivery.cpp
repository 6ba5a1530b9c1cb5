// SPDX-License-Identifier: MIT
#include "common/session/delivery.hpp"

#include <algorithm>
#include <cstddef>
#include <utility>

namespace session {
namespace {

/// Ordinary fuel cycles of a log: row and logarithm of delivered over asked.
struct delivery_rows {
  std::vector<std::size_t> row;
  std::vector<double> log_ratio;
};

[[nodiscard]] double median_of(std::vector<double> values) {
  if (values.empty()) return std::nan("");
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

[[nodiscard]] delivery_rows ordinary_rows(const log_fuel& fuel) {
  delivery_rows all;
  for (std::size_t i = 0; i < fuel.need_mg.size(); ++i) {
    double delivered = 0;
    for (const auto& bank : fuel.delivered_mg) delivered += bank[i];
    const double log_ratio = std::log(delivered / fuel.asked_mg[i]);
    if (!std::isfinite(log_ratio)) continue;
    all.row.push_back(i);
    all.log_ratio.push_back(log_ratio);
  }
  const double middle = median_of(all.log_ratio);
  std::vector<double> distance;
  for (const double log_ratio : all.log_ratio) distance.push_back(std::abs(log_ratio - middle));
  const double reach = (std::max)(6 * median_of(distance), 0.02);  // beyond: fuel for a quick foot, limits, cuts
  delivery_rows result;
  for (std::size_t k = 0; k < all.row.size(); ++k) {
    if (distance[k] > reach) continue;
    result.row.push_back(all.row[k]);
    result.log_ratio.push_back(all.log_ratio[k]);
  }
  return result;
}

/// A quantity that may explain the ratio, centred on its median over the ordinary rows.
struct explanation {
  std::string name, cause;
  std::vector<double> value{};  ///< per row of the log
  double middle = 0;            ///< the median that was taken off
  double span = 0;              ///< from the 5 % to the 95 % point
  double slope = 0;             ///< of the logarithm of the ratio
  bool is_condition = true;

  /// Does it change as quickly as the throttle? The rest is slow, and followed in time whatever its law.
  [[nodiscard]] bool is_quick() const {
    return name == "nozzle pressure" || name == "open time" || name == "manifold_kPa";
  }
};

[[nodiscard]] std::string cause_of(const std::string& condition) {
  static const std::vector<std::pair<std::string, std::string>> causes{
      {"air_degC",
       "the controller's own air-temperature factor: log it in fuel_factor, or give /map its "
       "temperature_exponent"},
      {"air_kPa",
       "the controller's own air-pressure factor: log it in fuel_factor, or give /map its pressure_exponent"},
      {"manifold_kPa", "how the rail's pressure follows the manifold: check /fuel/rail and the bank's nozzle"},
      {"coolant_degC", "the controller's warm-up factor: log it in fuel_factor"},
      {"battery_v", "the dead time over battery voltage"},
      {"nozzle pressure", "the controller does not allow for the pressure over the nozzle"},
      {"fuel_kPa", "the bank's reference_kPa, or what fuel_kPa is measured against: check /fuel/rail"},
      {"open time", "the dead time, or pulses_per_cycle"}};
  const auto known =
      std::find_if(causes.begin(), causes.end(), [&](const auto& each) { return each.first == condition; });
  return known == causes.end() ? "another map was loaded, banks or pulse columns are swapped, or closed loop was active"
                               : known->second;
}

void add_explanation(std::vector<explanation>& list, std::string name, std::vector<double> value,
                     const delivery_rows& rows, bool is_condition) {
  std::vector<double> seen;
  for (const std::size_t row : rows.row)
    if (std::isfinite(value[row])) seen.push_back(value[row]);
  if (seen.size() < rows.row.size() || seen.size() < 20) return;
  std::sort(seen.begin(), seen.end());
  const double middle = seen[seen.size() / 2];
  for (double& x : value) x -= middle;
  const double span = seen[seen.size() - 1 - seen.size() / 20] - seen[seen.size() / 20];
  if (!(span > 0)) return;
  std::string cause = cause_of(name);
  list.push_back({std::move(name), std::move(cause), std::move(value), middle, span, 0, is_condition});
}

/// Least squares one explanation at a time, always the one that explains most of what is left.
void explain(std::vector<explanation>& list, const delivery_rows& rows, double& level) {
  std::vector<double> left = rows.log_ratio;
  level = median_of(left);
  for (double& residual : left) residual -= level;
  constexpr double negligible = 5e-4;  // of the ratio, over the span
  for (int round = 0; round < 200; ++round) {
    explanation* best = nullptr;
    double best_gain = 0, best_slope = 0, best_mean = 0;
    for (auto& candidate : list) {
      double sx = 0, sy = 0, sxx = 0, sxy = 0;
      const auto n = static_cast<double>(rows.row.size());
      for (std::size_t k = 0; k < rows.row.size(); ++k) {
        const double x = candidate.value[rows.row[k]];
        sx += x;
        sy += left[k];
        sxx += x * x;
        sxy += x * left[k];
      }
      const double spread = sxx - sx * sx / n, slope = spread > 0 ? (sxy - sx * sy / n) / spread : 0;
      const double gain = slope * slope * spread;
      if (!(gain > best_gain)) continue;
      best = &candidate;
      best_gain = gain;
      best_slope = slope;
      best_mean = sy / n - slope * sx / n;
    }
    if (best == nullptr || std::abs(best_slope) * best->span < negligible) return;
    best->slope += best_slope;
    level += best_mean;
    for (std::size_t k = 0; k < left.size(); ++k) left[k] -= best_mean + best_slope * best->value[rows.row[k]];
  }
}

/// Temperatures and pressures act by their ratios, so their logarithms are what a power law is straight in.
[[nodiscard]] std::vector<double> as_power(const std::string& name, std::vector<double> values) {
  const double zero = name.ends_with("degC") ? 273.15 : 0;
  if (name != "battery_v")
    for (double& value : values) value = std::log(value + zero);
  return values;
}

/// Per row of the log: the mean over a few seconds around it of a series over the ordinary rows.
[[nodiscard]] std::vector<double> slow_part(const delivery_rows& rows, const std::vector<double>& series,
                                            const std::vector<double>& time_s) {
  constexpr double reach_s = 5;
  std::vector<double> result(time_s.size());
  std::size_t first = 0, last = 0;  // ordinary rows within reach
  double sum = 0, before = 0;
  for (std::size_t i = 0; i < time_s.size(); ++i) {
    for (; last < series.size() && time_s[rows.row[last]] <= time_s[i] + reach_s; ++last) sum += series[last];
    for (; first < last && time_s[rows.row[first]] < time_s[i] - reach_s; ++first) sum -= series[first];
    if (last > first) before = sum / static_cast<double>(last - first);
    result[i] = before;
  }
  return result;
}

}  // namespace

delivery assess_delivery(const log_fuel& fuel, const log_conditions& now, const fettle::map_file& base,
                         const fettle::log_table& log) {
  delivery result;
  if (!fuel.pulses_are_logged) return result;
  const auto rows = ordinary_rows(fuel);
  result.ratio = std::exp(median_of(rows.log_ratio));
  result.factor.assign(log.rows(), 1.0);
  if (rows.row.empty()) return result;
  std::vector<explanation> list;
  for (const auto& bank_factor : fuel.nozzle_factor)
    add_explanation(list, "nozzle pressure", as_power("", bank_factor), rows, true);
  for (const auto& series : now.logged())
    add_explanation(list, series.name, as_power(series.name, *series.values), rows, true);
  std::vector<double> short_pulse(log.rows());
  for (std::size_t i = 0; i < short_pulse.size(); ++i) short_pulse[i] = 1 / fuel.shortest_open_ms[i];
  add_explanation(list, "open time", std::move(short_pulse), rows, true);
  for (const auto& axis : base.axis_names) add_explanation(list, axis, zero_order_hold(log, axis), rows, false);
  double level = 0;
  explain(list, rows, level);
  for (const auto& term : list)  // what pressure alone explains is no fault of the description
    if (term.name == "nozzle pressure") result.ratio *= std::exp(-term.slope * term.middle);
  const auto quick = [&](std::size_t row) {
    double sum = 0;
    for (const auto& term : list)
      if (term.is_quick() && term.slope != 0 && std::isfinite(term.value[row])) sum += term.slope * term.value[row];
    return sum;
  };
  std::vector<double> rest = rows.log_ratio;
  for (std::size_t k = 0; k < rest.size(); ++k) rest[k] -= quick(rows.row[k]);
  const auto slow = slow_part(rows, rest, *log.find("time_s"));
  for (std::size_t i = 0; i < log.rows(); ++i) result.factor[i] = std::exp(slow[i] + quick(i));
  for (auto& term : list)
    if (term.slope != 0) result.trends.push_back({term.name, term.slope * term.span, term.cause, term.is_condition});
  std::sort(result.trends.begin(), result.trends.end(),
            [](const auto& a, const auto& b) { return std::abs(a.change) > std::abs(b.change); });
  return result;
}

}  // namespace session
