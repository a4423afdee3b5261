//! The codecs against decoders of others, against the standards' rules, and against arbitrary octets.

mod control_point;
mod machine;
mod octets;
mod revolutions;
mod sensors;
mod vectors;

/// Octets from hexadecimal digits.
pub(crate) fn octets(hex: &str) -> Vec<u8> {
    (0..hex.len())
        .step_by(2)
        .map(|at| u8::from_str_radix(&hex[at..at + 2], 16).unwrap())
        .collect()
}

/// The tests here that try rows of the conformance page.
pub const TRIALS: &[&[crate::conformance::Trial]] = &[
    control_point::TRIALS,
    machine::TRIALS,
    revolutions::TRIALS,
    sensors::TRIALS,
];
