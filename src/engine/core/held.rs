//! The mark of a held brake: written to the memory when a load is asked for, taken away when the trainer confirms that it
//! is let off. Where the program was killed meanwhile, the next start finds it and lets that trainer go first.

use super::Core;
use crate::control::ControlEvent;
use crate::device::DeviceId;
use crate::engine::command::Role;
use crate::engine::notices::Urgency;
use crate::memory::Memory;
use crate::time::Instant;

impl Core {
    /// What earlier runs of the program left.
    pub(super) fn remembered_at_start(&mut self, now: Instant, memory: Memory) {
        self.memory = memory;
        self.left_held = self.memory.control_held.as_deref().map(DeviceId::new);
        if self.left_held.is_some() {
            self.say_first(
                now,
                "The last ride ended before its brake was let off. The trainer may hold its last load: ease off. As soon as \
                 it is connected it is let go, before anything else."
                    .to_owned(),
                Urgency::Danger,
            );
        }
    }

    /// A load is asked for on the trainer in use.
    pub(super) fn mark_held(&mut self) {
        let Some(id) = self.links.used_for(Role::Trainer) else {
            return;
        };
        let marked = self.memory.control_held.as_deref() == Some(id.as_str());
        if !marked && !self.links.is_simulated(id) {
            let id = id.to_string();
            self.remember().control_held = Some(id);
        }
    }

    /// The trainer confirms that it is let off: the mark is taken away, and where it was of an earlier run, that is said.
    pub(super) fn tend_held(&mut self, now: Instant, event: &ControlEvent) {
        let Some(id) = self.links.used_for(Role::Trainer) else {
            return;
        };
        let marked = self.memory.control_held.as_deref() == Some(id.as_str());
        if *event != ControlEvent::Released || !marked {
            return;
        }
        let id = id.clone();
        self.remember().control_held = None;
        if self.left_held.as_ref() == Some(&id) {
            self.left_held = None;
            let words = format!(
                "{} held its load since the last ride, which ended at once. It has now let it go; nothing to do.",
                self.links.name(&id)
            );
            self.event(now, "let-go-at-start", &words);
            self.say(now, words);
        }
    }

    /// The trainer that an earlier run left held is taken first when it is heard, unless the rider chose for its role.
    pub(super) fn take_left_held(&mut self, now: Instant) {
        let Some(id) = self.left_held.clone() else {
            return;
        };
        if self.chosen.contains(&Role::Trainer)
            || self.links.used_for(Role::Trainer).is_some()
            || self.links.is_simulated(&id)
            || !self.links.can_be_had(&id)
            || !self.links.can(&id).contains(&Role::Trainer)
        {
            return;
        }
        self.use_device(now, Role::Trainer, Some(&id));
    }

    /// The form in which the trainer took a level is remembered, where that says something.
    pub(super) fn remember_width(&mut self) {
        let (Some(word), Some(id)) = (
            self.control.seen_width(),
            self.links.used_for(Role::Trainer),
        ) else {
            return;
        };
        let known = self.memory.trainers.get(id.as_str());
        if known.and_then(|known| known.resistance_form.as_deref()) == Some(word) {
            return;
        }
        let (id, name) = (id.to_string(), self.links.name(id));
        let trainer = self.remember().trainer(&id);
        trainer.name = name;
        trainer.resistance_form = Some(word.to_owned());
    }
}
