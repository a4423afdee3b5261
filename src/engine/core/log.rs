//! What the log gets of the core: its head, each input before it is handled, each request as it is made.

use super::Core;
use crate::device::Request;
use crate::engine::input::{Input, request_to_raw};
use crate::record::Kept;
use crate::record::log::Head;
use crate::time::Instant;

impl Core {
    /// Logs an input, the first one behind what the core began with.
    pub(super) fn log_input(&mut self, now: Instant, input: &Input) {
        if self.forecasts {
            return;
        }
        if !self.headed {
            self.headed = true;
            let head = Head::new(self.epoch_ms, self.leads);
            self.keep(Kept::Raw(head.to_raw(now.0)));
        }
        self.keep(Kept::Raw(input.to_raw(now)));
    }

    /// Logs a request to a device, so that a replay has something to compare its own with.
    pub(super) fn log_request(&mut self, request: &Request) {
        if !self.forecasts {
            self.keep(Kept::Raw(request_to_raw(request, self.handled)));
        }
    }
}
