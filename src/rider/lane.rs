//! What a session's loads mean to a rider, in watts and as effort.

use super::Rider;
use crate::plan::Load;
use crate::units::{Effort, Watts};

/// What a load means in watts for this rider, before trim and caps: an effort by their map, a share by their
/// threshold, watts as they are. Nothing for all out, a level or a slope, which have no figure in watts.
pub fn lane(load: &Load, rider: &Rider) -> Option<Watts> {
    match *load {
        Load::Effort(effort) => rider.effort_map.watts(effort, rider.threshold),
        Load::Threshold(share) => Some(rider.threshold * share.0),
        Load::Power(watts) => Some(watts),
        Load::Level(_) | Load::Slope(_) => None,
    }
}

/// The effort that a load means for this rider: written efforts as they are, watts and shares by the inverse of their
/// map, all out (10) where they lie above it. Nothing for a level or a slope.
pub fn effort_of(load: &Load, rider: &Rider) -> Option<Effort> {
    match *load {
        Load::Effort(effort) => Some(effort),
        Load::Level(_) | Load::Slope(_) => None,
        Load::Threshold(_) | Load::Power(_) => {
            let watts = lane(load, rider)?;
            let effort = rider.effort_map.effort(watts, rider.threshold);
            Some(effort.unwrap_or(Effort(10.0)))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::{Fraction, Grade};

    fn rider() -> Rider {
        Rider {
            threshold: Watts(200.0),
            ..Rider::default()
        }
    }

    #[test]
    fn loads_mean_watts_by_map_and_threshold() {
        // By hand from the default map: effort 8 is 91 %, 7.5 lies half-way between 82 and 91 %.
        for (load, watts) in [
            (Load::Effort(Effort(8.0)), Some(182.0)),
            (Load::Effort(Effort(7.5)), Some(173.0)),
            (Load::Effort(Effort(10.0)), None),
            (Load::Threshold(Fraction(0.88)), Some(176.0)),
            (Load::Power(Watts(250.0)), Some(250.0)),
            (Load::Level(Fraction(0.3)), None),
            (Load::Slope(Grade(4.0)), None),
        ] {
            let found = lane(&load, &rider()).map(Watts::get);
            match (found, watts) {
                (Some(found), Some(watts)) => {
                    assert!((found - watts).abs() < 1e-9, "{load:?}: {found}")
                }
                (found, watts) => assert_eq!(found, watts, "{load:?}"),
            }
        }
    }

    #[test]
    fn loads_mean_effort_by_the_inverse() {
        for (load, effort) in [
            (Load::Effort(Effort(7.5)), Some(7.5)),
            (Load::Threshold(Fraction(0.91)), Some(8.0)),
            (Load::Power(Watts(173.0)), Some(7.5)),
            (Load::Power(Watts(900.0)), Some(10.0)),
            (Load::Power(Watts(0.0)), Some(0.0)),
            (Load::Level(Fraction(0.3)), None),
            (Load::Slope(Grade(4.0)), None),
        ] {
            let found = effort_of(&load, &rider()).map(Effort::get);
            match (found, effort) {
                (Some(found), Some(effort)) => {
                    assert!((found - effort).abs() < 1e-9, "{load:?}: {found}")
                }
                (found, effort) => assert_eq!(found, effort, "{load:?}"),
            }
        }
    }
}
