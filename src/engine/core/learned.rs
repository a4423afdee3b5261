//! What a ride learns of its trainer, from what is remembered to what is to be remembered.

use super::Core;
use crate::engine::command::Role;
use crate::memory::{Memory, TrainerMemory};
use crate::time::Instant;

impl Core {
    /// What is remembered between rides, as it stands now.
    pub const fn memory(&self) -> &Memory {
        &self.memory
    }

    /// The runner is told what earlier rides have shown of the trainer that is used now, once for each trainer.
    pub(super) fn know_trainer(&mut self, now: Instant) {
        let id = self.links.used_for(Role::Trainer).cloned();
        let Some(ride) = &mut self.ride else { return };
        if ride.trainer != id {
            let unknown = TrainerMemory::default();
            let known = id
                .as_ref()
                .and_then(|id| self.memory.trainers.get(id.as_str()))
                .unwrap_or(&unknown);
            ride.runner.know(now, known);
            ride.trainer = id;
        }
    }

    /// With each new block what was learned is put out to be remembered.
    pub(super) fn settle_learned(&mut self, now: Instant) {
        let Some(ride) = &mut self.ride else { return };
        let lap = ride.runner.place(now).map(|place| place.lap);
        if lap != ride.learned_lap {
            ride.learned_lap = lap;
            self.remember_learned();
        }
    }

    /// How the recoveries were ridden is put out to be remembered, once half of the session was: its next ride is offered
    /// the step back towards the full ones.
    pub(super) fn remember_recoveries(&mut self, now: Instant) {
        let Some((ride, choice)) = self.ride.as_ref().zip(self.choice.as_ref()) else {
            return;
        };
        if ride.runner.session(now).0 < choice.plan.length().0 / 2 {
            return;
        }
        let session = choice.plan.name.clone();
        let fitted = choice.plan.fitted.as_ref();
        let recoveries = fitted.map(|from| from.wish.recoveries).unwrap_or_default();
        if self.memory.last_recoveries(&session) != recoveries {
            self.remember().ridden_with(&session, recoveries);
        }
    }

    /// What was learned of the trainer is put out to be remembered, where it is new.
    pub(super) fn remember_learned(&mut self) {
        let offer = self.offer();
        let Some(ride) = &self.ride else { return };
        let Some(id) = ride.trainer.clone() else {
            return;
        };
        let before = self.memory.trainers.get(id.as_str());
        let mut known = before.cloned().unwrap_or_default();
        ride.runner.learned(&offer, &mut known);
        if *before.unwrap_or(&TrainerMemory::default()) != known {
            known.name = self.links.name(&id);
            *self.remember().trainer(id.as_str()) = known;
        }
    }
}
