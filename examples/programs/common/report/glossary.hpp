// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <string_view>

namespace report {

/// A word of the field and what it means here.
struct word {
  std::string_view term, meaning;
};

/// The words that pages, reports and documents share, in order of the alphabet. `examples/GLOSSARY.md` is this list.
inline constexpr std::array<word, 20> glossary{{
    {"alpha-N", "Fuel looked up over throttle angle and engine speed, then scaled by the density of the air."},
    {"breakpoint", "A value of an axis at which a map holds a cell; between breakpoints a look-up interpolates."},
    {"cell", "One number of a map, at the crossing of one breakpoint of each axis."},
    {"dead time", "The part of an injector's pulse in which no fuel flows; longer at low battery voltage."},
    {"duty", "The share of the time for which an injector is held open."},
    {"GCV",
     "Generalised cross-validation: smoothing chosen so that each measurement is predicted well by all the others."},
    {"hysteresis", "A band within which a switch stays as it is, so that noise at the threshold does not toggle it."},
    {"lambda", "Air divided by the air that would burn the fuel exactly: above 1 is lean, below 1 is rich."},
    {"phi", "1 / lambda, the fuel-air equivalence ratio. Where gases mix, phi averages with the air; lambda does not."},
    {"prior", "What is assumed of a number before any log, with its uncertainty."},
    {"REML",
     "Restricted maximum likelihood: smoothing chosen so that the measurements are as likely as possible, with what "
     "the fitted trend takes up accounted for."},
    {"robust weight",
     "How much a reading counts, from 1 down to 0 when it is so far from all others that it must be wrong."},
    {"smoothing", "A price on the curvature of a map: the higher, the straighter the surface between measurements."},
    {"standard error",
     "How far an estimate may be off: the truth lies within two of them about 95 times of 100, if the model holds."},
    {"stoichiometric",
     "Of a mixture with exactly the air that burns its fuel: lambda 1, about 14.7 kg of air per kg of "
     "petrol."},
    {"target", "The lambda that a cell should give."},
    {"tip-in", "Opening the throttle quickly; tip-out is closing it."},
    {"transport delay", "The time from injection until the burnt gas is at the sensor: revolutions, then gas to push."},
    {"VE",
     "Volumetric efficiency: air drawn in, divided by the air that would fill the cylinder at intake conditions."},
    {"wall film", "Fuel on the wall of the port: part of each injection lands there and evaporates later."},
}};

}  // namespace report
