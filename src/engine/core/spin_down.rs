//! A spin-down, outside a ride: the trainer calibrates itself, and the rider is led through it.

use super::{Asked, Core};
use crate::control::{ControlEvent, SpinDownFailure, SpinDownGuide, SpinDownStage};
use crate::engine::command::Role;
use crate::engine::snapshot::{SpinDownView, SpinDowns};
use crate::gatt::control_point::SpinDown;
use crate::gatt::status::SpinDownStatus;
use crate::ride::Facts;
use crate::ride::pedals::{TURNING_CADENCE, TURNING_POWER};
use crate::time::Instant;

/// What the core keeps of spin-downs.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct SpinDownState {
    /// The one that is under way, or the last one until it is left.
    guide: Option<SpinDownGuide>,
    /// Whether the trainer has asked for one on this link.
    asked_for: bool,
}

impl SpinDownState {
    /// A ride begins: the last guide is not shown any more. What the trainer asks for stands.
    pub(super) const fn clear(&mut self) {
        self.guide = None;
    }

    /// Whether one is under way, or the last one is not left yet.
    pub(super) const fn is_guided(&self) -> bool {
        self.guide.is_some()
    }
}

impl Core {
    /// Whether the trainer can be asked now: it offers it, its control is held, and no ride is under way.
    /// Never with a flywheel that is fixed to the pedals: feet that stop on it are thrown.
    fn can_spin_down(&self) -> bool {
        !self.mode.under_way()
            && self.closing.is_none()
            && self.control.granted()
            && self.control.abilities().spin_down
            && self.flywheel().fixed != Some(true)
    }

    /// The rider asks for one. The brake is let off first; the turning pedals start no ride meanwhile.
    pub(super) fn begin_spin_down(&mut self, now: Instant) {
        let running = self
            .spin_down
            .guide
            .is_some_and(|guide| !guide.stage().is_over());
        if running || !self.can_spin_down() {
            return;
        }
        self.start_with_pedals = false;
        self.leave_waiting();
        self.spin_down.asked_for = false;
        self.spin_down.guide = Some(SpinDownGuide::begin(now));
        self.control.release(now);
        self.control.spin_down(now, SpinDown::Start);
        self.event(
            now,
            "spin-down",
            entry!("The trainer is asked to calibrate itself."),
        );
    }

    /// The rider leaves the guide, or does not want what the trainer asks for.
    pub(super) fn leave_spin_down(&mut self, now: Instant) {
        if self.mode.under_way() {
            return;
        }
        let asked_for = std::mem::take(&mut self.spin_down.asked_for);
        self.end_spin_down(now, SpinDownFailure::Left);
        if self.spin_down.guide.take().is_none() && asked_for {
            self.control.spin_down(now, SpinDown::Ignore);
        }
    }

    /// Whatever is under way comes to nothing: brake off, a lost link, a ride that begins.
    pub(super) fn end_spin_down(&mut self, now: Instant, why: SpinDownFailure) {
        self.control.forget_spin_down();
        let Some(guide) = &mut self.spin_down.guide else {
            return;
        };
        if guide.stage().is_over() {
            return;
        }
        guide.fail(now, why);
        let words = guide.sentence(None, false);
        // Whatever the trainer has set for it, the brake is let off again.
        self.asked = Asked::Nothing;
        self.event(now, "spin-down", &words);
    }

    /// What the trainer or its link has to say of it.
    pub(super) fn spin_down_event(&mut self, now: Instant, event: &ControlEvent) {
        match event {
            ControlEvent::SpinDownAsked => {
                self.spin_down.asked_for = true;
                let words = event.to_string();
                self.event(now, "spin-down", &words);
                if !self.mode.under_way() {
                    self.say(now, words);
                }
            }
            ControlEvent::SpinDownBegun(speeds) => {
                if let Some(guide) = &mut self.spin_down.guide {
                    guide.accepted(now, *speeds);
                }
            }
            ControlEvent::SpinDownRefused(_) => {
                self.end_spin_down(now, SpinDownFailure::Refused);
            }
            ControlEvent::SpinDownSaid(status) => self.spin_down_said(now, *status),
            ControlEvent::TimedOut => self.end_spin_down(now, SpinDownFailure::Unanswered),
            ControlEvent::Lost(_)
            | ControlEvent::Unacknowledged
            | ControlEvent::PairingWanted
            | ControlEvent::Refused => {
                self.end_spin_down(now, SpinDownFailure::Lost);
            }
            _ => {}
        }
    }

    fn spin_down_said(&mut self, now: Instant, status: SpinDownStatus) {
        let Some(guide) = &mut self.spin_down.guide else {
            return;
        };
        let before = guide.stage();
        guide.said(now, status);
        let stage = guide.stage();
        if stage == before {
            return;
        }
        let words = guide.sentence(None, false);
        self.event(now, "spin-down", &words);
        if stage.is_over() {
            self.asked = Asked::Nothing;
        }
        if stage == SpinDownStage::Done {
            self.remember_spin_down(now);
        }
    }

    fn remember_spin_down(&mut self, now: Instant) {
        let Some(id) = self.links.used_for(Role::Trainer).cloned() else {
            return;
        };
        let name = self.links.name(&id);
        let moment = jiff::Timestamp::from_millisecond(self.utc_ms(now));
        let trainer = self.remember().trainer(id.as_str());
        trainer.name = name;
        trainer.spin_down = moment.ok().map(|moment| format!("{moment:.0}"));
    }

    /// When the trainer in use was last calibrated from here, in UTC as `2026-11-24T18:00:00Z`.
    pub(super) fn last_spin_down(&self) -> Option<String> {
        let id = self.links.used_for(Role::Trainer)?;
        self.memory.trainers.get(id.as_str())?.spin_down.clone()
    }

    /// Follows the wheel and the time. A trainer that is not there any more ends it.
    pub(super) fn tend_spin_down(&mut self, now: Instant, facts: &Facts) {
        if self.spin_down.guide.is_some() && !self.control.granted() {
            self.end_spin_down(now, SpinDownFailure::Lost);
        }
        let Some(guide) = &mut self.spin_down.guide else {
            return;
        };
        let before = guide.stage();
        guide.see(now, facts.speed);
        if let SpinDownStage::Failed(_) = guide.stage()
            && !before.is_over()
        {
            let words = guide.sentence(None, false);
            self.asked = Asked::Nothing;
            self.control.forget_spin_down();
            self.event(now, "spin-down", &words);
        }
    }

    /// The trainer's link is new: what it asked for on the last one is forgotten.
    pub(super) const fn forget_spin_down_request(&mut self) {
        self.spin_down.asked_for = false;
    }

    /// When the guide next changes by time alone.
    pub(super) fn spin_down_due(&self) -> Option<Instant> {
        self.spin_down.guide?.poll_timeout()
    }

    /// What the screen is told of it.
    pub(super) fn spin_downs(&self, facts: &Facts) -> SpinDowns {
        let driven = facts
            .most_cadence
            .is_some_and(|cadence| cadence > TURNING_CADENCE)
            || facts.most_power.is_some_and(|power| power > TURNING_POWER);
        let quiet = self.mode.under_way();
        SpinDowns {
            offered: self.can_spin_down(),
            asked_for: self.spin_down.asked_for && !quiet,
            last: self.last_spin_down(),
            guide: self
                .spin_down
                .guide
                .filter(|_| !quiet)
                .map(|guide| SpinDownView {
                    stage: guide.stage(),
                    sentence: guide.sentence(facts.speed, driven),
                    window: guide.window(),
                }),
        }
    }
}
