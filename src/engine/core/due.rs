//! When the core next wants to be woken: the earliest of all that waits for a time.

use super::{Core, close};
use crate::time::{Instant, Span};

impl Core {
    /// When [`handle`](Self::handle) next wants a [`Input::Wake`](crate::engine::input::Input::Wake).
    pub fn poll_timeout(&self) -> Option<Instant> {
        let now = self.handled;
        let mut times = vec![self.links.poll_timeout(now), self.control.poll_timeout()];
        if let Some(ride) = &self.ride
            && self.mode.under_way()
        {
            times.push(ride.runner.poll_timeout(now));
            times.push(ride.runner.clock().reaches(ride.rows.due()));
            times.push(self.mode.runs().then_some(ride.ink_due));
            times.push(ride.armed.map(|(_, until)| until));
            times.push(ride.undo_until);
            times.push(self.pause_due());
        } else if let Some(ride) = &self.ride {
            times.push(ride.runner.let_off_due(now));
        }
        times.extend([
            self.spin_down_due(),
            self.test_due(),
            self.asked_due(),
            self.late_due(),
            self.hung_due(),
            self.group_due(),
        ]);
        times.push(self.notices.next_change());
        if let Some(closing) = &self.closing
            && !closing.done
        {
            let next = if closing.links_closed {
                closing.close_within()
            } else if closing.insisted {
                closing.release_within()
            } else {
                close::INSIST_AFTER
            };
            times.push(Some(closing.since + next));
        }
        // A deadline that has passed and is still named would spin the loop: never earlier than a hair from now.
        times
            .into_iter()
            .flatten()
            .min()
            .map(|due| due.max(now + Span(1)))
    }
}
