//! Trainers whose flywheel is fixed to the pedals: they advertise themselves like any other, so the rider is asked once.

use super::Core;
use crate::engine::command::Role;
use crate::engine::snapshot::Flywheel;
use crate::time::Instant;
use crate::units::MetresPerSecond;

/// Above this speed a wheel that is fixed to the pedals carries the legs round: 2 km/h, under half a turn of the cranks a
/// second in the easiest of gears. Our own choice.
const TURNS: MetresPerSecond = MetresPerSecond(0.55);

impl Core {
    /// What the rider has answered about the trainer in use.
    fn fixed_flywheel(&self) -> Option<bool> {
        let id = self.links.used_for(Role::Trainer)?;
        self.memory.trainers.get(id.as_str())?.fixed_flywheel
    }

    /// The rider's answer, remembered for this trainer.
    pub(super) fn flywheel_answered(&mut self, now: Instant, fixed: bool) {
        let Some(id) = self.links.used_for(Role::Trainer).cloned() else {
            return;
        };
        if self.fixed_flywheel() == Some(fixed) {
            return;
        }
        let name = self.links.name(&id);
        let trainer = self.remember().trainer(id.as_str());
        trainer.name = name;
        trainer.fixed_flywheel = Some(fixed);
        let word = if fixed {
            entry!("fixed")
        } else {
            entry!("runs on")
        };
        self.event(now, "flywheel", word);
    }

    /// The question and its answer, for the screen.
    pub(super) fn flywheel(&self) -> Flywheel {
        let trainer = self.links.used_for(Role::Trainer);
        let fixed = self.fixed_flywheel();
        Flywheel {
            asks: !self.mode.under_way()
                && fixed.is_none()
                && trainer.is_some_and(|id| self.links.is_up(id)),
            fixed,
        }
    }

    /// Whether a wheel that is fixed to the pedals turns: whatever the sensors say of the pedals, they go round with it.
    pub(super) fn fixed_wheel_turns(&self, now: Instant) -> bool {
        let speed = self.links.speed(now).reading(now).fresh();
        self.fixed_flywheel() == Some(true) && speed.is_some_and(|speed| speed > TURNS)
    }

    /// Says what a fixed flywheel asks of the legs.
    pub(super) fn caution_of_the_flywheel(&mut self, now: Instant) {
        if let Some(caution) = self.flywheel().caution() {
            self.say(now, caution.to_owned());
        }
    }
}
