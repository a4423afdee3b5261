//! The end of everything: the brake's release first, then the links, then done.

use super::{CLOSE_WITHIN, Closing, Core, RELEASE_WITHIN};
use crate::engine::input::Output;
use crate::time::Instant;

impl Core {
    /// After everything is told to end: the release first, then the links, then done.
    pub(super) fn close(&mut self, now: Instant) {
        let Some(closing) = self.closing else { return };
        if closing.done {
            return;
        }
        let gone = now.since(closing.since);
        if !closing.links_closed && (self.at_rest() || gone >= RELEASE_WITHIN) {
            self.links.close_all(now);
            self.closing = Some(Closing {
                links_closed: true,
                ..closing
            });
        } else if closing.links_closed && (!self.links.any_open() || gone >= CLOSE_WITHIN) {
            self.closing = Some(Closing {
                done: true,
                ..closing
            });
            self.put(Output::Done);
        }
    }

    fn at_rest(&self) -> bool {
        let released = self.control.released() || !self.control.granted();
        released && !self.control.in_flight()
    }
}
