//! The text that a trainer may send with its training status: shown as it is, made safe, and read anew where the
//! notification was too short for it (Fitness Machine Profile 1.0, 4.4.8; Service 1.0, 4.10.1.1).

use super::Core;
use crate::device::name::safe_text;
use crate::device::{DeviceId, Event, Request};
use crate::engine::command::Role;
use crate::gatt::{TrainingStatus, uuid16};
use crate::time::Instant;

/// So much of a text is shown, in characters: it is a stranger's, and a line or two of the screen.
const LONGEST: usize = 200;

/// So many texts of one link are shown. A trainer with more to say is passed over: it would cover what matters.
const MOST: usize = 20;

/// What a trainer said on its link.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct TrainerText {
    last: String,
    count: usize,
}

impl Core {
    /// A training status came, or all of it was read.
    pub(super) fn tend_training(&mut self, now: Instant, event: &Event) {
        let used = |id: &DeviceId| self.links.used_for(Role::Trainer) == Some(id);
        let (id, bytes, whole) = match event {
            Event::Connected(id, _) if used(id) => {
                self.trainer_text = TrainerText::default();
                return;
            }
            Event::Notified(id, uuid16::TRAINING_STATUS, bytes) if used(id) => (id, bytes, false),
            Event::Read(id, uuid16::TRAINING_STATUS, Ok(bytes)) if used(id) => (id, bytes, true),
            _ => return,
        };
        let Ok(status) = TrainingStatus::decode(bytes) else {
            return;
        };
        if self.trainer_text.count >= MOST {
            return;
        }
        if status.text_goes_on && !whole {
            // The stack reads on until it has all of it. Counted, so that who always announces more is not asked for ever.
            self.trainer_text.count += 1;
            self.request(Request::Read(id.clone(), uuid16::TRAINING_STATUS));
            return;
        }
        let text = status.text.unwrap_or_default();
        let text = safe_text(&String::from_utf8_lossy(&text), LONGEST);
        if text.is_empty() || text == self.trainer_text.last {
            return;
        }
        self.trainer_text.count += 1;
        let words = kept!("{name} says: “{text}”", name = self.links.name(id));
        self.trainer_text.last = text;
        self.event(now, "trainer-says", &words);
        self.say(now, words);
    }
}
