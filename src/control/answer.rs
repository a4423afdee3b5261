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
    /// The least of the whole delay, that of the reports included.
    pub least_total: f64,
    /// The most of the whole delay.
    pub most_total: f64,
    /// The standard deviation of what is left unexplained in one report, watts.
    pub error: f64,
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
}

/// What is known about rises, as a case.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Known {
    /// Too few rises were seen.
    NotYet,
    /// The load is seen late, but brake and reports cannot be told apart.
    CannotTell,
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

impl Answer {
    /// What is known about rises: by this ride, else by earlier ones.
    pub fn known(&self) -> Known {
        let (behind, half, total) = match (self.rise, self.remembered) {
            (Some(seen), _) => (seen.least_behind, seen.least_half, seen.likely.total()),
            (None, Some(lag)) if lag.least > 0.0 => (lag.least, lag.least_half, lag.least),
            (None, _) => return Known::NotYet,
        };
        if behind >= WORTH {
            Known::Late { behind, half }
        } else if total < 2.0 * WORTH {
            Known::Prompt
        } else {
            Known::CannotTell
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
        let late = matches!(self.known(), Known::Late { .. });
        Some(BrakeLag {
            dead_time: rise.likely.dead_time,
            rise: rise.likely.lag,
            fall: self.fall.map_or(
                self.remembered.map_or(rise.likely.lag, |lag| lag.fall),
                |fall| fall.likely.lag,
            ),
            least: if late { rise.least_behind } else { 0.0 },
            least_half: if late { rise.least_half } else { 0.0 },
        })
    }

    /// In a sentence for the rider.
    pub fn words(&self) -> String {
        match (self.known(), self.rise) {
            (Known::NotYet, _) => {
                "How fast the brake answers is not known yet: no command is sent ahead.".to_owned()
            }
            (Known::Prompt, _) => {
                "The brake answers at once, as far as can be seen: no command is sent ahead."
                    .to_owned()
            }
            (Known::CannotTell, seen) => format!(
                "The load shows {:.1} s after its command, but whether the brake is slow or only its reports cannot be \
                 told: no command is sent ahead.",
                seen.map_or(0.0, |seen| seen.likely.total())
            ),
            (Known::Late { behind, .. }, seen) => format!(
                "The brake answers a rise after {:.1} s or more{}: rises are sent up to {:.1} s ahead.",
                behind,
                if seen.is_some() {
                    ""
                } else {
                    ", as on earlier rides"
                },
                self.lead().ramp.seconds()
            ),
        }
    }
}
