//! What a ride came to, and how the brake was left.

use std::sync::Arc;

use super::{Core, Load};
use crate::control::ControlEvent;
use crate::engine::snapshot::{BrakeLeft, Summary};
use crate::ride::Mode;

impl Core {
    /// What the trainer says of its load. Only its own confirmation counts as let off.
    pub(super) fn note_load(&mut self, event: &ControlEvent) {
        match event {
            ControlEvent::Taken(_) | ControlEvent::ChangedElsewhere(_) => self.load = Load::On,
            ControlEvent::Released => {
                self.load = Load::Off;
                self.gave_up_hung = false;
            }
            ControlEvent::ReleaseUnanswered
            | ControlEvent::ReleaseRefused
            | ControlEvent::TimedOut
            | ControlEvent::Unacknowledged => self.doubt_load(),
            _ => {}
        }
    }

    /// The trainer was lost, or does not answer: what stood may stand still.
    pub(super) fn doubt_load(&mut self) {
        if self.load == Load::On {
            self.load = Load::Doubtful;
        }
    }

    fn brake_left(&self) -> BrakeLeft {
        let in_hand = self.ride.as_ref().map_or(0, |ride| ride.tally.in_hand());
        match self.load {
            Load::Off if in_hand == 0 => BrakeLeft::Never,
            Load::Off => BrakeLeft::Released,
            Load::On if self.control.granted() => BrakeLeft::LettingOff,
            Load::On | Load::Doubtful => BrakeLeft::MayHold,
        }
    }

    /// What the ride came to; none before it is over.
    pub(super) fn summary(&self) -> Option<Arc<Summary>> {
        let ride = self.ride.as_ref()?;
        let over = matches!(self.mode, Mode::Finished(_));
        over.then(|| Arc::new(ride.tally.summary(self.brake_left())))
    }
}
