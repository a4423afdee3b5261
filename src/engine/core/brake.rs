//! Road B: from the runner's demand to bytes on the control point, and what the trainer says to them.

use super::{Asked, Core, Load};
use crate::control::{Abilities, ControlEvent, Loss, Sort, WriteFailure};
use crate::device::{DeviceId, Failure, Request};
use crate::engine::command::Role;
use crate::engine::links::words;
use crate::engine::notices::Urgency;
use crate::gatt::uuid16;
use crate::ride::{Cause, Demand, Facts, Mode, Offer, PauseCause, RideMode};
use crate::time::Instant;

/// A failed write in the words of the procedure machine.
pub(super) fn write_failure(failure: Failure) -> WriteFailure {
    match failure {
        Failure::Att(code) => WriteFailure::Att(code),
        Failure::TimedOut => WriteFailure::TimedOut,
        // On a link that stands nothing is forbidden but for want of a pairing: Linux words ATT error 05 so.
        Failure::Forbidden(_) => WriteFailure::Att(0x05),
        Failure::NotFound | Failure::LinkLost | Failure::Other(_) => WriteFailure::Other,
    }
}

/// Why a trainer that has a control point is ridden without it.
pub(super) fn no_control(why: &Failure) -> String {
    let pairing = matches!(
        why,
        Failure::Forbidden(_) | Failure::Att(0x05 | 0x08 | 0x0C | 0x0F)
    );
    if pairing {
        entry!(
            "The trainer wants to be paired with this computer before its brake can be set. Ride by feel, or pair it \
             in the system's Bluetooth settings and choose it again."
        )
            .to_owned()
    } else {
        kept!(
            "The trainer does not let this program listen to its control point ({why}), so its brake is not set. Ride by feel, \
             or switch the trainer off and on and choose it again.",
            why = words(why)
        )
    }
}

impl Core {
    /// The trainer's link is set up: its control is asked for.
    pub(super) fn trainer_up(&mut self, now: Instant, id: &DeviceId) {
        let values = self.links.machine_values(id);
        self.asked = Asked::Nothing;
        self.brake = None;
        self.identify(id);
        self.forget_spin_down_request();
        if !values.control {
            let words = match &values.control_failure {
                Some(_) if self.links.control_is_tried_again(id) => {
                    entry!(
                        "The trainer does not yet let this program listen to its control point. The brake is not set \
                         until it does: the program tries again, ride by feel meanwhile."
                    )
                        .to_owned()
                }
                Some(why) => no_control(why),
                None => entry!(
                    "The trainer's brake cannot be set by a program. Ride by feel: the session leads."
                )
                .to_owned(),
            };
            self.event(now, "no-control-point", &words);
            self.say(now, words);
            return;
        }
        let abilities = Abilities::from_bytes(
            values.feature.as_deref(),
            values.power_range.as_deref(),
            values.resistance_range.as_deref(),
        );
        for warning in &abilities.warnings {
            self.event(now, "trainer-unclear", &warning.to_string());
            if !self.mode.under_way() {
                self.say(now, warning.to_string());
            }
        }
        self.control.link_up(now, abilities);
        self.asked_for_control = super::doubt::AskedForControl(Some(now));
        if let Some(known) = self.memory.trainers.get(id.as_str()) {
            self.control.know_width(known.resistance_form.as_deref());
        }
        self.know_trainer(now);
    }

    /// What the trainer takes now: nothing before control was granted.
    pub(super) fn offer(&self) -> Offer {
        if !self.control.granted() {
            return Offer::default();
        }
        let abilities = self.control.abilities();
        let taken = |sort, range| {
            if self.control.takes(sort) {
                range
            } else {
                None
            }
        };
        Offer {
            power: taken(Sort::Power, abilities.power),
            level: taken(Sort::Resistance, abilities.resistance),
            slope: taken(Sort::Slope, abilities.range(Sort::Slope)),
        }
    }

    /// Control of the brake is lost while a ride is under way.
    pub(super) fn lose_brake(&mut self, now: Instant, cause: Cause) {
        self.asked = Asked::Nothing;
        self.brake = None;
        self.doubt_load();
        self.brake_interrupted();
        if let Some(ride) = &mut self.ride {
            ride.runner.brake_unknown();
        }
        let paused = match self.mode {
            Mode::Riding => None,
            Mode::Paused(cause) => Some(cause),
            Mode::Degraded { paused, .. } => paused,
            _ => return,
        };
        if let Mode::Degraded { cause: before, .. } = self.mode
            && before == cause
        {
            return;
        }
        self.mode = Mode::Degraded {
            cause,
            since: now,
            paused,
        };
        self.event(now, cause.key(), &cause.to_string());
        self.say_first(now, cause.to_string(), Urgency::Danger);
    }

    /// The brake is to be let off and the trainer has not confirmed that within a second: until it does, the screen says
    /// that the load may stand. What waits to be sent is as it was.
    fn stay_unreleased(&mut self, now: Instant) {
        let paused = match self.mode {
            Mode::Riding => None,
            Mode::Paused(cause) => Some(cause),
            _ => return,
        };
        self.doubt_load();
        let cause = Cause::ReleaseUnanswered;
        self.mode = Mode::Degraded {
            cause,
            since: now,
            paused,
        };
    }

    /// Whether the ride is still degraded for want of a confirmed release. Where the tries are over they begin again: a
    /// load that stands under still pedals is not to be forgotten.
    pub(super) fn still_unreleased(&mut self, now: Instant) -> bool {
        let unanswered = matches!(
            self.mode,
            Mode::Degraded {
                cause: Cause::ReleaseUnanswered,
                ..
            }
        );
        if !unanswered || self.control.released() {
            return false;
        }
        if !self.control.releasing() && self.asked == Asked::Release {
            self.control.release(now);
        }
        self.control.releasing() || self.asked == Asked::Release
    }

    /// Passes what the procedure machine has to tell.
    pub(super) fn control_events(&mut self, now: Instant) {
        while let Some(event) = self.control.poll_event() {
            self.control_event(now, &event);
        }
    }

    fn control_event(&mut self, now: Instant, event: &ControlEvent) {
        let words = event.to_string();
        self.note_load(event);
        self.tend_held(now, event);
        self.spin_down_event(now, event);
        match event {
            ControlEvent::Granted => {
                self.event(now, "control-granted", &words);
                // Whatever load the trainer holds from before: the first thing it hears is to let go.
                self.asked = Asked::Release;
                self.control.release(now);
            }
            ControlEvent::Taken(target) => {
                self.brake = Some(*target);
                self.remember_width();
                self.doubt_from(now, *target);
                self.target_taken(now, *target);
                self.event(now, "target", &target.to_string());
            }
            ControlEvent::Released => {
                self.brake = None;
                self.remember_width();
                self.brake_interrupted();
                let why = self.ride.as_ref().map_or("", |ride| ride.runner.released());
                self.event(now, "released", why);
            }
            ControlEvent::Lost(loss) => {
                // The trainer's own reason first: that control is lost stands on the screen until it is back.
                if *loss != Loss::Withdrawn {
                    self.say_first(now, words, Urgency::Danger);
                }
                self.lose_brake(now, Cause::ControlLost);
            }
            ControlEvent::Refused | ControlEvent::PairingWanted => {
                self.event(now, "control-refused", &words);
                self.say(now, words);
                self.lose_brake(now, Cause::ControlRefused);
            }
            ControlEvent::ReleaseUnanswered | ControlEvent::ReleaseRefused => {
                self.event(now, "release-unanswered", &words);
                self.say_first(now, words, Urgency::Danger);
                if self.control.releasing() && self.control.granted() {
                    self.stay_unreleased(now);
                }
            }
            ControlEvent::TimedOut => {
                self.event(now, "silent", &words);
                self.lose_brake(now, Cause::Silent);
                self.remake_trainer(now);
            }
            ControlEvent::Unacknowledged => {
                self.event(now, "silent", &words);
                self.lose_brake(now, Cause::ControlRefused);
                self.say(now, words);
                self.remake_trainer(now);
            }
            ControlEvent::SortUnsupported(_) => {
                self.event(now, "unsupported", &words);
                self.say(now, words);
                self.asked = Asked::Nothing;
            }
            ControlEvent::TargetRefused { .. } => {
                self.event(now, "target-refused", &words);
                self.brake_interrupted();
                self.say(now, words);
            }
            ControlEvent::SubscribeAgain => {
                if let Some(id) = self.links.used_for(Role::Trainer).cloned() {
                    self.links.resubscribe(&id, uuid16::CONTROL_POINT);
                }
            }
            ControlEvent::TrainerStopped
            | ControlEvent::TrainerPaused
            | ControlEvent::SafetyKey => {
                self.event(now, "trainer-stopped", &words);
                if self.mode.runs() {
                    self.to_paused(now, now, PauseCause::Trainer);
                    self.say(now, words);
                }
            }
            ControlEvent::TrainerStarted => {
                self.event(now, "trainer-started", &words);
                if matches!(
                    self.mode,
                    Mode::Paused(PauseCause::Trainer)
                        | Mode::Degraded {
                            paused: Some(PauseCause::Trainer),
                            ..
                        }
                ) {
                    self.to_resumed(now);
                }
            }
            ControlEvent::ChangedElsewhere(_) => {
                self.event(now, "changed-elsewhere", &words);
                self.brake_interrupted();
                // Whatever stands now is not what was asked for: a release is asked for again too.
                self.asked = Asked::Nothing;
                self.say(now, words);
            }
            // Said and kept where spin-downs are.
            ControlEvent::SpinDownAsked => {}
            ControlEvent::Stopped
            | ControlEvent::SpinDownBegun(_)
            | ControlEvent::SpinDownRefused(_)
            | ControlEvent::SpinDownSaid(_)
            | ControlEvent::LateAnswer
            | ControlEvent::BadAnswer => self.event(now, "control", &words),
        }
    }

    /// Nothing more can be said on the trainer's link: it is closed and made again.
    pub(super) fn remake_trainer(&mut self, now: Instant) {
        if let Some(id) = self.links.used_for(Role::Trainer).cloned() {
            self.control.link_down(now);
            self.links.remake(now, &id);
        }
    }

    /// Asks the brake for what the runner demands; outside a ride it stands released.
    pub(super) fn ask_brake(&mut self, now: Instant, facts: &Facts) {
        if !self.control.granted() {
            return;
        }
        let demand = match &mut self.ride {
            Some(ride) if self.mode.under_way() || ride.runner.letting_off(now) => {
                ride.runner.demand(now, facts)
            }
            _ => Demand::Release(entry!("no ride is under way")),
        };
        match demand {
            Demand::Keep => {}
            Demand::Release(_) => {
                if self.asked != Asked::Release {
                    self.let_brake_go(now);
                }
            }
            Demand::Target(ledger)
                if self.letting_off(now) && !self.control.lowers(ledger.target) =>
            {
                // Half of what stands is not known to be less: then only the release is.
                if let Some(ride) = &mut self.ride {
                    ride.runner.forget_half();
                }
                self.let_brake_go(now);
            }
            Demand::Target(ledger) if !self.may_rise() && !self.control.lowers(ledger.target) => {
                // What the trainer confirmed may be lower than what was last demanded.
                self.control.forget_rise();
            }
            Demand::Target(ledger) => {
                self.asked = Asked::Target(ledger.target);
                self.load = Load::On;
                self.mark_held();
                self.control
                    .want_on_the_way(now, ledger.target, ledger.on_its_way);
                self.ledger = Some(std::sync::Arc::new(ledger));
            }
        }
        self.fall_back(now);
    }

    /// Whether the ride's end still lets the load off in its two steps.
    pub(super) fn letting_off(&self, now: Instant) -> bool {
        self.ride
            .as_ref()
            .is_some_and(|ride| ride.runner.letting_off(now))
    }

    /// The release, and after a ride the word that the session stops.
    pub(super) fn let_brake_go(&mut self, now: Instant) {
        self.asked = Asked::Release;
        self.control.release(now);
        if let Some(ride) = &mut self.ride
            && !self.mode.under_way()
        {
            ride.runner.released_at_once();
        }
        if std::mem::take(&mut self.stop_due) {
            self.control.stop(now);
        }
    }

    fn may_rise(&self) -> bool {
        self.ride
            .as_ref()
            .is_some_and(|ride| ride.runner.may_rise())
    }

    /// Looks at the pedals before anything that waits can be sent: a rise that was wanted while they turned is not sent
    /// once nothing shows them turning.
    pub(super) fn hold_rises(&mut self, now: Instant, facts: &Facts) {
        if let Some(ride) = &mut self.ride
            && self.mode.under_way()
        {
            let heart_was_lost = ride.runner.heart_is_lost();
            ride.runner.see(now, facts);
            let heart_goes = ride.runner.heart_is_lost() && !heart_was_lost;
            if heart_goes || !self.may_rise() {
                self.control.forget_rise();
            }
        }
    }

    /// A trainer that takes no target power holds watts by the slow loop, as long as power is seen; else it is ridden by
    /// effort. One that takes nothing is ridden by feel. The rider is told.
    fn fall_back(&mut self, now: Instant) {
        let offer = self.offer();
        let facts = self.facts(now);
        let Some(ride) = &mut self.ride else { return };
        if self.mode.under_way() && !offer.any() {
            self.lose_brake(now, Cause::NoUsableTarget);
            return;
        }
        if self.mode.under_way()
            && ride.runner.ride_mode() == RideMode::EffortOnly
            && offer.power.is_some()
            && offer.level.is_none()
            && offer.slope.is_none()
        {
            ride.runner.switch_mode(now, &facts);
            self.tell_happenings(now);
            self.say(
                now,
                entry!(
                    "This trainer can only hold watts: it takes no level and no slope. The ride goes on with held \
                     watts."
                )
                    .to_owned(),
            );
            return;
        }
        if self.mode.under_way()
            && ride.runner.ride_mode() == RideMode::TargetPower
            && offer.power.is_none()
            && offer.any()
            && ride.runner.is_blind(now)
        {
            // Nobody has asked for more than what stands.
            ride.runner.keep_level_low(&facts);
            ride.runner.switch_mode(now, &facts);
            // Only the sentence with the reason is said.
            for happening in ride.runner.take_happenings() {
                self.event(now, happening.what, &happening.detail);
            }
            self.say_first(
                now,
                entry!(
                    "This trainer takes no target power, and nothing shows your watts, so they cannot be held. The \
                     ride goes on by effort: shift gears to match the lane."
                )
                    .to_owned(),
                Urgency::Acting,
            );
        }
    }

    /// The write that lets the brake off, for a loop that can trust nothing else of the core any more.
    pub fn last_resort(&self) -> Option<(DeviceId, Request)> {
        let bytes = self.control.last_resort()?;
        let id = self.links.used_for(Role::Trainer)?.clone();
        let write = Request::Write(id.clone(), uuid16::CONTROL_POINT, bytes);
        Some((id, write))
    }

    /// Sends what the procedure machine wants written.
    pub(super) fn write_control(&mut self) {
        while let Some(bytes) = self.control.poll_write() {
            let Some(id) = self.links.used_for(Role::Trainer).cloned() else {
                return;
            };
            self.request(Request::Write(id, uuid16::CONTROL_POINT, bytes));
        }
    }
}
