//! How the brake answers, followed from the commands that it took and the reports that came.

use super::Core;
use crate::control::{Identification, Split};
use crate::device::DeviceId;
use crate::engine::command::Role;
use crate::time::Instant;
use crate::units::{BrakeTarget, Watts};

impl Core {
    /// Rides only to see what comes of it: there is no raw log, and how the brake answers, which takes most of the time of
    /// a ride in virtual time, is not looked for. So nothing is sent ahead of its beat either.
    pub const fn as_forecast(&mut self) {
        self.leads = false;
        self.forecasts = true;
    }

    /// The trainer's link is set up: what earlier rides know of this trainer counts until this one knows better.
    pub(super) fn identify(&mut self, id: &DeviceId) {
        if self.identified.as_ref() != Some(id) {
            let known = self.memory.trainers.get(id.as_str());
            self.identification = Identification::of(known.and_then(|known| known.lag));
            self.identified = Some(id.clone());
            self.heed = crate::control::Heed::default();
        }
        self.heed.interrupted();
        self.brake_interrupted();
    }

    /// What stands is no target power, or not known.
    pub(super) fn brake_interrupted(&mut self) {
        self.identification.interrupted();
        self.targets.clear();
    }

    /// The trainer took a target.
    pub(super) fn target_taken(&mut self, now: Instant, target: BrakeTarget) {
        match target {
            BrakeTarget::Power(_) if self.forecasts => {}
            BrakeTarget::Power(watts) => {
                let at = self.control.last_sent().unwrap_or(now);
                self.identification.told(at, watts);
                self.targets.put(at, watts);
            }
            _ => self.brake_interrupted(),
        }
    }

    /// The trainer has just reported.
    pub(super) fn trainer_reported(&mut self, now: Instant) {
        let Some((power, cadence)) = self.links.trainer_report(now) else {
            return;
        };
        self.watch_heed(now);
        if self.forecasts {
            return;
        }
        let before = self.identification.answer().words();
        if !self.identification.reported(now, power, cadence) {
            return;
        }
        let words = self.identification.answer().words();
        if words != before {
            self.event(now, "brake-answer", &words);
        }
        let learned = self.identification.answer().to_remember();
        if let (Some(lag), Some(id)) = (learned, self.links.used_for(Role::Trainer)) {
            let id = id.clone();
            let name = self.links.name(&id);
            let trainer = self.remember().trainer(id.as_str());
            trainer.name = name;
            trainer.lag = Some(lag);
        }
    }

    /// The power that the brake could show at `now`, where its answer is known.
    pub(super) fn could(&self, now: Instant) -> Option<Watts> {
        let expected = self.targets.expected(now, self.identification.answer())?;
        expected.known.then_some(expected.likely)
    }

    /// What is between the lane and the power of this moment, split between brake and legs; none where the brake holds
    /// no power or the power is not known.
    pub(super) fn split(&self, now: Instant, lane: Option<Watts>) -> Option<Split> {
        let expected = self.targets.expected(now, self.identification.answer())?;
        let power = self.links.power(now).reading(now).fresh()?;
        Some(Split::of(lane?, self.targets.newest()?, power, expected))
    }
}
