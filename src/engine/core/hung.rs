//! A write that hangs, with a release behind it. An attribute request goes over a link one at a time (Core Specification,
//! volume 3, part F, 3.3.2), and BlueZ refuses a second write on a characteristic while one runs: nothing can be said past
//! a write that is not acknowledged, whoever tries it, until thirty seconds have ended the link. A new link has a lane of
//! its own. So the old one is closed, and on the new one the release comes before any
//! target: after control was asked for, and a start where the trainer needs one.

use super::Core;
use crate::engine::command::Role;
use crate::engine::notices::Urgency;
use crate::ride::Cause;
use crate::time::{Instant, Span};

/// So long a release waits behind a write that is not acknowledged, or for its own acknowledgement, while a ride is under
/// way (common practice, no source): a link that is only slow has answered by then. A link is given up for it once, and
/// again only after a release was confirmed: one that is slower than this would be given up for ever, and never let off.
const HANGS_AFTER: Span = Span::from_seconds(3);

/// The same at the end of the program, from the command to end it: an overloaded machine was seen to acknowledge a write
/// after one second and more.
const HANGS_AT_THE_END: Span = Span::from_millis(1_500);

impl Core {
    /// When the link is given up, where a release waits on it and nothing is acknowledged. At the end nobody waits as
    /// long.
    pub(super) fn hung_due(&self) -> Option<Instant> {
        if self.gave_up_hung {
            // The new link is as slow: another would be no quicker, and on this one the release comes at last.
            return None;
        }
        let since = self.control.release_hangs_since()?;
        Some(match self.closing {
            Some(closing) if closing.links_closed => return None,
            Some(closing) => since.max(closing.since) + HANGS_AT_THE_END,
            None => since + HANGS_AFTER,
        })
    }

    /// Closes the link on which a release cannot be said, and makes it anew. Not before all that was heard is taken in:
    /// where this program was held up, the acknowledgement may have waited for it.
    pub(super) fn tend_hung(&mut self, now: Instant) {
        if self.hung_due().is_none_or(|due| now < due) {
            return;
        }
        let Some(id) = self.links.used_for(Role::Trainer) else {
            return;
        };
        let words = kept!(
            "{name} does not acknowledge what is written to it, and the release waits behind that: the link is closed and made \
             anew to let the brake off. Until then it may hold its last load: ease off and shift down.",
            name = self.links.name(id)
        );
        self.gave_up_hung = true;
        self.event(now, "write-hangs", &words);
        self.lose_brake(now, Cause::LinkLost);
        self.say_first(now, words, Urgency::Danger);
        if let Some(closing) = &mut self.closing {
            closing.remade = true;
        }
        self.remake_trainer(now);
    }
}
