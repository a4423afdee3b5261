//! What a trainer can be told, from its features and ranges (Fitness Machine Profile 1.0, 4.4.1 and 4.4.9 to 13).

use stillroad::control::{Abilities, ResistanceForm, Sort, Warning};
use stillroad::units::{BrakeRange, BrakeTarget, Grade};

use super::{abilities, level, usual, watts};

const fn range(least: f64, most: f64, step: f64) -> Option<BrakeRange> {
    Some(BrakeRange { least, most, step })
}

#[test]
fn c10_what_the_features_name_is_offered() {
    let power_only = abilities("0240000008000000", "0000e8030100", "0ac801");
    assert_eq!(power_only.power, range(0.0, 1000.0, 1.0));
    assert_eq!(
        (power_only.resistance, power_only.simulation),
        (None, false)
    );
    assert!(power_only.any());
    let nothing = abilities("0240000000000000", "0000e8030100", "0ac801");
    assert!(!nothing.any());
    let slopes = abilities("0240000000a00000", "", "");
    assert!(slopes.simulation && slopes.spin_down);
    assert_eq!(slopes.range(Sort::Slope).unwrap().most, 20.0);
    assert_eq!(usual().warnings, []);
}

#[test]
fn c11_reserved_target_bits_offer_nothing() {
    assert!(!abilities("024000000000feff", "0000e8030100", "0ac801").any());
}

#[test]
fn c14_a_missing_range_costs_only_its_own_target() {
    let found = abilities("024000000c200000", "", "");
    assert_eq!(found.power, range(0.0, 4000.0, 1.0));
    assert_eq!(found.resistance, None);
    assert!(found.simulation);
    assert_eq!(
        found.warnings,
        [Warning::PowerRangeMissing, Warning::ResistanceRangeMissing]
    );
    // Cut short and empty ranges count as missing.
    for power in ["0000e803", "e803e8030100", "e80300000100"] {
        assert_eq!(
            abilities("0240000008000000", power, "").power,
            range(0.0, 4000.0, 1.0),
            "{power}"
        );
    }
}

#[test]
fn without_features_what_has_a_range_is_used() {
    let found = abilities("", "320090010500", "");
    assert_eq!(found.power, range(50.0, 400.0, 5.0));
    assert_eq!((found.resistance, found.simulation), (None, false));
    assert_eq!(found.warnings, [Warning::FeatureMissing]);
    assert!(!Abilities::from_bytes(None, None, None).any());
    assert_eq!(
        abilities("0240", "", "0ac801").warnings,
        [Warning::FeatureMissing]
    );
}

#[test]
fn a_level_is_a_word_where_the_raw_maximum_is_over_255() {
    let form = |hex: &str| abilities("0240000004000000", "", hex).resistance_form;
    assert_eq!(form("0a0040010a00"), ResistanceForm::Word);
    assert_eq!(form("0000ff000a00"), ResistanceForm::Octet);
    assert_eq!(form("000000010a00"), ResistanceForm::Word);
    assert_eq!(form("0ac801"), ResistanceForm::Octet);
}

#[test]
fn ranges_are_made_usable() {
    // −100 to 1000 W in steps of 30: the least step that does not push is 20 W (−100 + 4 × 30).
    let pushing = abilities("0240000008000000", "9cffe8031e00", "");
    assert_eq!(pushing.power, range(20.0, 1000.0, 30.0));
    // A step of 0 is the finest that can be written.
    assert_eq!(
        abilities("0240000008000000", "0000e8030000", "").power,
        range(0.0, 1000.0, 1.0)
    );
    assert_eq!(
        abilities("0240000004000000", "", "0ac800").resistance,
        range(1.0, 20.0, 0.1)
    );
}

#[test]
fn only_what_lies_inside_the_range_and_on_its_step_is_accepted() {
    let found = abilities("024000000c200000", "320090010500", "0ac805");
    for (target, accepted) in [
        (watts(50.0), true),
        (watts(205.0), true),
        (watts(400.0), true),
        (watts(45.0), false),
        (watts(405.0), false),
        (watts(203.0), false),
        (watts(f64::NAN), false),
        (level(1.0), true),
        (level(12.5), true),
        (level(12.3), false),
        (level(20.5), false),
        (BrakeTarget::Slope(Grade(-3.25)), true),
        (BrakeTarget::Slope(Grade(20.1)), false),
    ] {
        assert_eq!(found.accepts(target), accepted, "{target:?}");
    }
    // Whatever the range rounds to is accepted: sums of tenths do not get in the way.
    let range = usual().resistance.unwrap();
    for raw in 0..2500 {
        let value = range.round_down(f64::from(raw) / 100.0);
        assert!(usual().accepts(level(value)), "{value}");
    }
}

crate::conformance::trials![
    c10_what_the_features_name_is_offered,
    c11_reserved_target_bits_offer_nothing,
    c14_a_missing_range_costs_only_its_own_target,
];
