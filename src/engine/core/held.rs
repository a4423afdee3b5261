//! The mark of a held brake: written to the memory when a load is asked for, taken away when the trainer confirms that it
//! is let off. Where the program was killed meanwhile, the next start finds it and lets that trainer go first.

use super::Core;
use crate::control::ControlEvent;
use crate::device::DeviceId;
use crate::engine::command::Role;
use crate::engine::notices::Urgency;
use crate::memory::Memory;
use crate::ride::Mode;
use crate::time::{Instant, Span};

/// A trainer that was left held has so long to come up before the usual one is taken instead. Our own choice: two tries
/// of the radio and some seconds more.
const COMES_UP_WITHIN: Span = Span::from_seconds(30);

impl Core {
    /// What earlier runs of the program left.
    pub(super) fn remembered_at_start(&mut self, now: Instant, memory: Memory) {
        self.memory = memory;
        self.left_held = self.memory.control_held.iter().map(DeviceId::new).collect();
        let usual = self.memory.devices.get(Role::Trainer.key());
        self.usual_trainer = usual.map(DeviceId::new);
        if !self.left_held.is_empty() {
            self.say_first(
                now,
                entry!(
                    "The last ride ended before its brake was let off. The trainer may hold its last load: ease off. \
                     As soon as it is connected it is let go, before anything else."
                )
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
        if !self.memory.holds(id.as_str()) && !self.links.is_simulated(id) {
            let id = id.to_string();
            self.remember().mark_held(&id);
        }
    }

    /// The trainer confirms that it is let off: the mark is taken away, and where it was of an earlier run, that is said.
    pub(super) fn tend_held(&mut self, now: Instant, event: &ControlEvent) {
        let Some(id) = self.links.used_for(Role::Trainer) else {
            return;
        };
        let marked = self.memory.holds(id.as_str());
        if *event != ControlEvent::Released || !marked {
            return;
        }
        let id = id.clone();
        self.remember().unmark_held(id.as_str());
        if self.left_held.contains(&id) {
            self.left_held.retain(|held| *held != id);
            let words = kept!(
                "{name} held its load since the last ride, which ended at once. It has now let it go; nothing to do.",
                name = self.links.name(&id)
            );
            self.event(now, "let-go-at-start", &words);
            self.say(now, words);
            self.take_the_usual_one_again(now, &id);
        }
    }

    /// Those that are taken first, for the screen.
    pub(super) fn let_go_first(&self) -> Vec<DeviceId> {
        if self.chosen.contains(&Role::Trainer) {
            return Vec::new();
        }
        self.left_held.clone()
    }

    /// The trainers that an earlier run left held are taken first, one after the other as they are heard, unless the
    /// rider chose for their role.
    pub(super) fn take_left_held(&mut self, now: Instant) {
        if self.left_held.is_empty() || self.chosen.contains(&Role::Trainer) {
            return;
        }
        let used = self.links.used_for(Role::Trainer).cloned();
        if let Some(used) = used.as_ref().filter(|used| self.left_held.contains(used)) {
            // It is being let go, or does not come up.
            self.give_up_left_held(now, used);
            return;
        }
        self.left_held_tried = None;
        if used.is_some() && (self.start_with_pedals || self.spin_down.is_guided()) {
            // Nobody's trainer is taken from under them.
            return;
        }
        let heard = self.left_held.iter().find(|id| {
            !self.links.is_simulated(id)
                && self.links.can_be_had(id)
                && self.links.can(id).contains(&Role::Trainer)
        });
        if let Some(id) = heard.cloned() {
            self.use_device(now, Role::Trainer, Some(&id));
        }
    }

    /// A trainer that was left held and does not come up makes room for the usual one once that can be had. Its mark stays
    /// for the next start.
    fn give_up_left_held(&mut self, now: Instant, tried: &DeviceId) {
        let since = *self.left_held_tried.get_or_insert(now);
        if self.links.is_up(tried) {
            self.left_held_tried = None;
            return;
        }
        let usual = self.usual_trainer.as_ref();
        let waits = usual.is_some_and(|usual| usual != tried && self.links.can_be_had(usual));
        if now.since(since) < COMES_UP_WITHIN || !waits {
            return;
        }
        let words = kept!(
            "{name} was left with a load and does not connect: your usual trainer is used. Switch the other one off and on before \
             anyone rides it.",
            name = self.links.name(tried)
        );
        self.left_held.retain(|held| held != tried);
        self.event(now, "left-held", &words);
        self.say(now, words);
        self.take_the_usual_one_again(now, tried);
    }

    /// A trainer that was taken only to be let go makes room for the next of its kind, or for the one that is ridden on.
    fn take_the_usual_one_again(&mut self, now: Instant, let_go: &DeviceId) {
        let before = matches!(self.mode, Mode::Idle | Mode::Connecting | Mode::Ready);
        let Some(usual) = self.usual_trainer.clone().filter(|usual| usual != let_go) else {
            return;
        };
        if !before || self.chosen.contains(&Role::Trainer) {
            return;
        }
        self.remember()
            .devices
            .insert(Role::Trainer.key().to_owned(), usual.to_string());
        self.use_device(now, Role::Trainer, None);
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
