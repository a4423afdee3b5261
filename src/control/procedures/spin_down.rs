//! The procedure that has a trainer calibrate itself (op 13).

use super::{ControlEvent, Procedures, Purpose, Refusal};
use crate::gatt::control_point::{Response, SpinDown};
use crate::gatt::status::SpinDownStatus;
use crate::time::Instant;

impl Procedures {
    /// Asks for a spin-down (op 13), or says that the one which the trainer asks for is not wanted now. Only outside a
    /// ride, on a trainer that offers it and while control is held; anything else is refused by an event. What follows
    /// is told by [`ControlEvent::SpinDownBegun`], [`ControlEvent::SpinDownRefused`] and [`ControlEvent::SpinDownSaid`].
    pub fn spin_down(&mut self, now: Instant, how: SpinDown) {
        if !self.granted() || !self.abilities.spin_down {
            if how == SpinDown::Start {
                self.say(ControlEvent::SpinDownRefused(Refusal::NotOffered));
            }
            return;
        }
        self.spin_down_wanted = Some(how);
        self.pump(now);
    }

    /// A spin-down that was not written yet is not asked for any more.
    pub const fn forget_spin_down(&mut self) {
        self.spin_down_wanted = None;
    }

    /// A spin-down was agreed to: its target speeds stand in the answer.
    pub(super) fn spin_down_begun(&mut self, purpose: Purpose, response: &Response) {
        if purpose == Purpose::SpinDown(SpinDown::Start) {
            self.spins_down = true;
            self.say(ControlEvent::SpinDownBegun(response.spin_down_speeds()));
        }
    }

    /// The trainer says how a spin-down goes; of one that this program did not begin nothing is told.
    pub(super) fn spin_down_said(&mut self, how: SpinDownStatus) {
        if self.spins_down {
            self.spins_down = !matches!(how, SpinDownStatus::Success | SpinDownStatus::Error);
            self.say(ControlEvent::SpinDownSaid(how));
        }
    }
}
