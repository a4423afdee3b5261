//! What is known of the way in which the brake answers a command, and what follows for commands sent ahead.

use crate::control::lag::Candidate;
use crate::ride::Lead;
use crate::time::Span;
use crate::units::BrakeLag;

/// A lower bound under this is not worth acting on, seconds.
const WORTH: f64 = 0.15;

/// What was seen of changes in one direction, seconds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Seen {
    /// What explains it best. How it is shared between brake and reports may be quite uncertain.
    pub likely: Candidate,
    /// The lower bound of dead time and lag together: how far a ramp is behind at least.
    pub least_behind: f64,
    /// The lower bound of the time until half of a step stands.
    pub least_half: f64,
    /// The most of dead time and lag together.
    pub most_behind: f64,
    /// The least of the whole delay, that of the reports included.
    pub least_total: f64,
    /// The most of the whole delay.
    pub most_total: f64,
    /// The standard deviation of what is left unexplained in one report, watts.
    pub error: f64,
    /// Whether there was cadence to tell brake and reports apart, and some candidate explains what was seen.
    pub told_apart: bool,
}

/// How the brake answers, as far as it is known.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Answer {
    /// Rises; none until enough were seen on this ride.
    pub rise: Option<Seen>,
    /// Falls.
    pub fall: Option<Seen>,
    /// What earlier rides left.
    pub remembered: Option<BrakeLag>,
    /// Whether the trainer's cadence has shown that it is not smoothed much.
    pub cadence_prompt: bool,
}

/// What is known about rises, as a case.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Known {
    /// Too few rises were seen.
    NotYet,
    /// The load is seen late, but brake and reports cannot be told apart.
    CannotTell(Why),
    /// The brake answers at once, as far as can be seen.
    Prompt,
    /// The brake answers no sooner than this: ramps, and half of a step; seconds.
    Late {
        /// Dead time and lag together.
        behind: f64,
        /// Until half of a step stands.
        half: f64,
    },
}

/// Why brake and reports cannot be told apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Why {
    /// The trainer reports no cadence with its power, or what it reports follows no known manner.
    NoWitness,
    /// Whether its cadence is smoothed too is not known: the feet have not stopped yet.
    NotProven,
    /// Everything that was seen may as well be the reports' delay.
    Alike,
}

impl Answer {
    /// What is known about rises: by this ride, and by the last one as long as this one does not speak against it.
    pub fn known(&self) -> Known {
        let before = self.remembered.filter(|lag| lag.least > 0.0);
        let Some(seen) = self.rise else {
            return match before {
                Some(lag) => Known::Late {
                    behind: lag.least,
                    half: lag.least_half,
                },
                None => Known::NotYet,
            };
        };
        if seen.likely.total() < 2.0 * WORTH {
            return Known::Prompt;
        }
        if !seen.told_apart {
            return Known::CannotTell(Why::NoWitness);
        }
        if !self.cadence_prompt {
            return Known::CannotTell(Why::NotProven);
        }
        let (mut behind, mut half) = (seen.least_behind, seen.least_half);
        if let Some(lag) = before.filter(|lag| lag.least <= seen.most_behind) {
            behind = behind.max(lag.least);
            half = half.max(lag.least_half);
        }
        if behind >= WORTH {
            Known::Late { behind, half }
        } else {
            Known::CannotTell(Why::Alike)
        }
    }

    /// How far commands are sent ahead.
    pub fn lead(&self) -> Lead {
        match self.known() {
            Known::Late { behind, half } => {
                Lead::new(Span::from_seconds_f64(behind), Span::from_seconds_f64(half))
            }
            _ => Lead::NONE,
        }
    }

    /// What is to be remembered of it; none where this ride has shown nothing.
    pub fn to_remember(&self) -> Option<BrakeLag> {
        let rise = self.rise?;
        // This ride's own bound, not the greater of two: the greatest of many would be too great at last.
        let sure = matches!(self.known(), Known::Late { .. });
        Some(BrakeLag {
            dead_time: rise.likely.dead_time,
            rise: rise.likely.lag,
            fall: match (self.fall, self.remembered) {
                (Some(fall), _) => fall.likely.lag,
                (None, Some(lag)) => lag.fall,
                (None, None) => rise.likely.lag,
            },
            least: if sure { rise.least_behind } else { 0.0 },
            least_half: if sure { rise.least_half } else { 0.0 },
            cadence_prompt: self.cadence_prompt,
        })
    }

    /// In a sentence for the rider.
    pub fn words(&self) -> String {
        let shows = self.rise.map_or(0.0, |seen| seen.likely.total());
        match self.known() {
            Known::NotYet => {
                entry!("How fast the brake answers is not known yet: no command is sent ahead.")
                    .to_owned()
            }
            Known::Prompt => entry!(
                "The brake answers at once, as far as can be seen: no command is sent ahead."
            )
            .to_owned(),
            Known::CannotTell(Why::NoWitness) => kept!(
                "A load shows {shows:.1} s after its command, but whether the brake is slow or only its reports cannot be told: no command is sent ahead."
            ),
            Known::CannotTell(Why::NotProven) => kept!(
                "A load shows {shows:.1} s after its command, but the trainer may smooth all that it reports: no command is sent ahead. Rest the pedals for a second in an easy stretch, and it may be told."
            ),
            Known::CannotTell(Why::Alike) => kept!(
                "A load shows {shows:.1} s after its command, but all of that may be the reports: no command is sent ahead."
            ),
            Known::Late { behind, .. } => {
                let ahead = self.lead().ramp.seconds();
                if self.rise.is_some() {
                    kept!(
                        "The brake answers a rise after {behind:.1} s or more: rises are sent up to {ahead:.1} s ahead."
                    )
                } else {
                    kept!(
                        "The brake answers a rise after {behind:.1} s or more, as on the last ride: rises are sent up to {ahead:.1} s ahead."
                    )
                }
            }
        }
    }
}
