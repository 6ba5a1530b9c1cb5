// SPDX-License-Identifier: MIT
#include "compare_pulls/clustered.hpp"

#include <Eigen/Dense>
#include <algorithm>

#include "common/statistics/student_t.hpp"

namespace compare_pulls {

double estimate::half_width(double probability) const {
  if (!(freedom > 0)) return std::nan("");
  return statistics::student_t(0.5 + probability / 2, freedom) * standard_error;
}

clustered_fit::clustered_fit(Eigen::MatrixXd x, Eigen::VectorXd y,
                             std::vector<std::pair<Eigen::Index, Eigen::Index>> cluster, const Eigen::MatrixXd& penalty,
                             adjustment how)
    : x_{std::move(x)}, y_{std::move(y)}, cluster_{std::move(cluster)}, how_{how} {
  gram_ = x_.transpose() * x_;
  const Eigen::MatrixXd information = gram_ + penalty;
  inverse_ = information.ldlt().solve(Eigen::MatrixXd::Identity(information.rows(), information.cols()));
  value_ = inverse_ * (x_.transpose() * y_);
  residual_ = y_ - x_ * value_;
  for (const auto& [first, count] : cluster_) prepare(first, count);
}

Eigen::MatrixXd clustered_fit::solve(const Eigen::MatrixXd& values) const {
  return inverse_ * (x_.transpose() * values);
}

estimate clustered_fit::operator()(const Eigen::VectorXd& weights) const {
  const Eigen::VectorXd m = inverse_ * weights;
  const auto clusters = static_cast<Eigen::Index>(cluster_.size());
  Eigen::MatrixXd adjusted(m.size(), clusters);  // x' a, a the adjusted share of a cluster in the sum
  Eigen::VectorXd squares(clusters);
  double variance = 0;
  for (Eigen::Index c = 0; c < clusters; ++c) {
    const auto [first, count] = cluster_[static_cast<std::size_t>(c)];
    const auto& part = part_[static_cast<std::size_t>(c)];
    const Eigen::VectorXd share = x_.middleRows(first, count) * m;
    const Eigen::VectorXd a = share + part.basis * (part.change * (part.basis.transpose() * share));
    const double score = a.dot(residual_.segment(first, count));
    variance += score * score;
    squares[c] = a.squaredNorm();
    adjusted.col(c) = x_.middleRows(first, count).transpose() * a;
  }
  const Eigen::MatrixXd through = inverse_ * adjusted;
  Eigen::MatrixXd form = through.transpose() * gram_ * through - 2 * adjusted.transpose() * through;
  form.diagonal() += squares;
  const double trace = form.trace(), freedom = trace * trace / form.squaredNorm();
  return {weights.dot(value_), std::sqrt(variance), freedom};
}

void clustered_fit::prepare(Eigen::Index first, Eigen::Index count) {
  const auto rows = x_.middleRows(first, count);
  const Eigen::HouseholderQR<Eigen::MatrixXd> qr(rows);
  const Eigen::Index rank = std::min(count, x_.cols());
  cluster_part part;
  part.basis = qr.householderQ() * Eigen::MatrixXd::Identity(count, rank);
  const Eigen::MatrixXd r = part.basis.transpose() * rows;
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> hat(r * inverse_ * r.transpose());
  Eigen::VectorXd power = Eigen::VectorXd::Zero(rank);
  for (Eigen::Index i = 0; i < rank; ++i) {
    const double left = 1 - hat.eigenvalues()[i];
    if (how_ == adjustment::cr0) continue;
    // A direction that this cluster alone determines has no residual; its part counts for nothing.
    const double raised = left > 1e-9 ? (how_ == adjustment::cr2 ? 1 / std::sqrt(left) : 1 / left) : 0;
    power[i] = raised - 1;
  }
  part.change = hat.eigenvectors() * power.asDiagonal() * hat.eigenvectors().transpose();
  part_.push_back(std::move(part));
}

}  // namespace compare_pulls
