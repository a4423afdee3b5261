//! The end of everything: the brake's release first, then the links, then done.

use super::{CLOSE_WITHIN, Closing, Core, Load, RELEASE_WITHIN};
use crate::device::Request;
use crate::engine::command::Role;
use crate::engine::input::Output;
use crate::gatt::uuid16;
use crate::time::{Instant, Span};

/// A command that is not answered within this is not waited for at the end: the release is written past it. The standard
/// has one procedure at a time, and a trainer that holds to it turns the write back with ATT error FE, which does no harm
/// (Fitness Machine Profile 1.0, 4.7); one that does not, or lost the command, lets go of whoever sits on it.
pub(super) const INSIST_AFTER: Span = Span::from_millis(700);

/// A link that hung is made anew: the system takes two seconds to close the old one, and as long again to find and set up
/// the new.
const REMADE: Span = Span::from_seconds(4);

impl Closing {
    /// The links are closed after this, counted from the command, whether the brake is let off or not.
    pub(super) const fn release_within(&self) -> Span {
        Span(RELEASE_WITHIN.0 + if self.remade { REMADE.0 } else { 0 })
    }

    /// The program ends after this.
    pub(super) const fn close_within(&self) -> Span {
        Span(CLOSE_WITHIN.0 + if self.remade { REMADE.0 } else { 0 })
    }
}

impl Core {
    /// After everything is told to end: the release first, then the links, then done.
    pub(super) fn close(&mut self, now: Instant) {
        let Some(closing) = self.closing else { return };
        if closing.done {
            return;
        }
        let gone = now.since(closing.since);
        if !closing.insisted && !closing.links_closed && gone >= INSIST_AFTER {
            self.insist(now);
            self.closing = Some(Closing {
                insisted: true,
                ..closing
            });
            return;
        }
        if !closing.links_closed && (self.at_rest() || gone >= closing.release_within()) {
            self.links.close_all(now);
            self.closing = Some(Closing {
                links_closed: true,
                ..closing
            });
        } else if closing.links_closed && (!self.links.any_open() || gone >= closing.close_within())
        {
            self.closing = Some(Closing {
                done: true,
                ..closing
            });
            self.put(Output::Done);
        }
    }

    /// Writes the release past a command that is not answered. Its own place in the queue is kept: if the answer comes
    /// after all, the release is written once more in its turn.
    fn insist(&mut self, now: Instant) {
        let trainer = self.links.used_for(Role::Trainer).cloned();
        if let (Some(id), Some(bytes)) = (trainer, self.control.release_out_of_turn()) {
            self.request(Request::Write(id, uuid16::CONTROL_POINT, bytes));
            self.event(
                now,
                "release-insisted",
                entry!("The trainer did not answer a command: the release was written past it."),
            );
        }
    }

    /// Nothing is left to be said to the brake. Where its load may stand and control is not held, the link may yet come
    /// back in time.
    fn at_rest(&self) -> bool {
        let nothing_stands = !self.control.granted() && self.load == Load::Off;
        (self.control.released() || nothing_stands) && !self.control.in_flight()
    }
}
