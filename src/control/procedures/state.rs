//! What the machine remembers: of control, of the procedure in flight and of the release.

use super::super::abilities::Sort;
use super::Procedures;
use super::outcome::MOST_IN_AN_OCTET;
use crate::gatt::control_point::SpinDown;
use crate::time::Instant;
use crate::units::BrakeTarget;

/// How control stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Control {
    /// No link.
    Down,
    /// Not held; asked for at this time, if at all.
    Without { ask_at: Option<Instant> },
    /// Granted on this link.
    Held,
    /// A procedure timed out: nothing more on this link.
    TimedOut,
}

/// What a procedure is for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Purpose {
    Ask,
    Start,
    Target(BrakeTarget),
    Release(BrakeTarget),
    Stop,
    SpinDown(SpinDown),
}

/// Where it stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Phase {
    /// Handed out; the write response is owed since this time.
    Writing(Instant),
    /// Acknowledged at this time; the indication is owed.
    Waiting(Instant),
    /// The indication came first and was dealt with; the write response is still owed since this time.
    Answered(Instant),
    /// The trainer was busy: to be written again at this time.
    Busy(Instant),
    /// The caller is to subscribe again, by this time.
    Subscribing(Instant),
}

/// The procedure in flight.
#[derive(Clone, Debug)]
pub(super) struct Running {
    pub(super) purpose: Purpose,
    pub(super) bytes: Vec<u8>,
    pub(super) phase: Phase,
    /// How often the trainer was busy.
    pub(super) busy: u8,
    /// Whether the subscription was already renewed for it.
    pub(super) subscribed_again: bool,
}

/// How the release stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Release {
    /// Not asked for, or a target was sent since.
    Idle,
    /// Asked for: the sort that was tried last, not before this time, how often all were tried in vain, and whether it
    /// was asked for since one was last written, so that no target goes before the next.
    Pending {
        tried: Option<Sort>,
        not_before: Instant,
        round: u8,
        insisted: bool,
    },
    /// Confirmed, and nothing was sent since.
    Done,
}

/// How a resistance level is written to this trainer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Width {
    /// One octet, as the standard has it.
    Octet,
    /// An octet was refused as invalid, and a word is tried.
    WordTrial,
    /// A word, by the range.
    Word,
    /// A word was refused as invalid though the range asks for one, and an octet is tried.
    OctetTrial,
    /// One octet: it was taken where a word was not, or neither was.
    OctetForGood,
    /// A word: it was taken, or neither was.
    WordForGood,
}

/// The two forms as they are remembered between rides.
const OCTET: &str = "octet";
const WORD: &str = "word";

impl Procedures {
    /// The form in which this trainer was seen to take a level, in a word; none while it was not seen to be other than
    /// the standard has it.
    pub const fn seen_width(&self) -> Option<&'static str> {
        match self.width {
            Width::OctetForGood => Some(OCTET),
            Width::WordForGood => Some(WORD),
            Width::Octet | Width::WordTrial | Width::Word | Width::OctetTrial => None,
        }
    }

    /// What earlier rides saw of this trainer, before anything is written to it: that form is tried first, and the other
    /// one still where it is refused. Another word counts as none.
    pub fn know_width(&mut self, word: Option<&str>) {
        match word {
            Some(WORD) if self.width == Width::Octet => self.width = Width::Word,
            Some(OCTET) if self.width == Width::Word => {
                self.width = Width::OctetTrial;
                // The rest of the range cannot be written.
                if let Some(range) = &mut self.abilities.resistance {
                    range.most = range.most.min(MOST_IN_AN_OCTET);
                }
            }
            _ => {}
        }
    }
}
