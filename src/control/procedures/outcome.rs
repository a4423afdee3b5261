//! What follows from an answer, from none, and from what others do.

use super::super::abilities::Sort;
use super::super::pace::Pace;
use super::{
    Control, ControlEvent, Loss, Phase, Procedures, Purpose, Refusal, Release, ResultCode, Width,
    WriteFailure,
};
use crate::gatt::control_point::{Request, Response, SpinDown};
use crate::time::{Instant, Span};
use crate::units::BrakeTarget;

/// Pauses before control is asked for again after a refusal (common practice, no source).
const ASK_PAUSES: [Span; 3] = [
    Span::from_seconds(1),
    Span::from_seconds(5),
    Span::from_seconds(15),
];

/// The pause before control is asked for, once, after it was withdrawn.
const ASK_AFTER_WITHDRAWAL: Span = Span::from_seconds(5);

/// A value that failed, or that someone else replaced, is not sent again for this long.
const HELD_BACK: Span = Span::from_seconds(5);

/// A value whose write failed is not sent again for this long.
const HELD_BACK_WRITE: Span = Span::from_seconds(1);

/// Refused releases are tried again after this, so often.
const RELEASE_PAUSE: Span = Span::from_seconds(2);
const RELEASE_ROUNDS: u8 = 5;

/// The highest level that an octet of tenths holds.
pub(super) const MOST_IN_AN_OCTET: f64 = 25.5;

/// Whether the trainer turned a write back because the link is not paired or not encrypted: ATT errors 05, insufficient
/// authentication, and 0F, insufficient encryption (Core Specification, volume 3, part F, 3.4.1.1).
const fn wants_pairing(why: Refusal) -> bool {
    matches!(why, Refusal::Write(WriteFailure::Att(0x05 | 0x0F)))
}

impl Procedures {
    pub(super) fn succeeded(&mut self, purpose: Purpose, response: &Response) {
        match purpose {
            Purpose::Ask => {
                self.control = Control::Held;
                self.say(ControlEvent::Granted);
            }
            Purpose::Start => self.has_started = true,
            Purpose::Stop => {
                self.start_first = true;
                self.say(ControlEvent::Stopped);
            }
            Purpose::SpinDown(_) => self.spin_down_begun(purpose, response),
            Purpose::Target(target) => {
                self.taken(target);
                self.pace.taken(Sort::of(target));
                self.say(ControlEvent::Taken(target));
            }
            Purpose::Release(target) => {
                self.taken(target);
                // Confirmed after control was lost, it says nothing of what stands when control is back.
                self.release = if self.granted() {
                    Release::Done
                } else {
                    Release::Idle
                };
                self.release_due = None;
                self.say(ControlEvent::Released);
            }
        }
    }

    fn taken(&mut self, target: BrakeTarget) {
        self.refusals = 0;
        self.last_taken = Some(target);
        self.taken_in_doubt = false;
        self.pace.settle(target);
        if let BrakeTarget::Resistance(_) = target {
            self.width_taken();
        }
    }

    pub(super) fn failed(&mut self, now: Instant, purpose: Purpose, why: Refusal) {
        if why == Refusal::Result(ResultCode::NotPermitted) && purpose != Purpose::Ask {
            self.not_permitted(now, purpose);
            return;
        }
        match purpose {
            Purpose::Ask if wants_pairing(why) => {
                self.control = Control::Without { ask_at: None };
                self.say(ControlEvent::PairingWanted);
            }
            Purpose::Ask => self.denied(now),
            // Also the answer to a start when running; a trainer that needs none may not know the op code.
            Purpose::Start => self.has_started = true,
            Purpose::Stop => {
                self.start_first = true;
                if why == Refusal::Result(ResultCode::Failed) {
                    // It was stopped already.
                    self.say(ControlEvent::Stopped);
                }
            }
            Purpose::SpinDown(SpinDown::Start) => self.say(ControlEvent::SpinDownRefused(why)),
            // That it is not wanted now needs nobody's leave.
            Purpose::SpinDown(_) => {}
            Purpose::Target(target) => self.target_failed(now, target, why),
            Purpose::Release(target) => self.release_failed(now, target, why),
        }
    }

    fn target_failed(&mut self, now: Instant, target: BrakeTarget, why: Refusal) {
        let until = match why {
            Refusal::Result(ResultCode::NotSupported) => {
                self.give_up_sort(Sort::of(target));
                if self.releasing() && self.release_target(None).is_none() {
                    // It was the last sort that the brake could be let off with.
                    self.release = Release::Idle;
                    self.release_due = None;
                    self.say(ControlEvent::ReleaseRefused);
                }
                return;
            }
            Refusal::Result(ResultCode::InvalidParameter) => {
                if self.try_other_width(target) {
                    return;
                }
                None
            }
            Refusal::Write(_) => Some(now + HELD_BACK_WRITE),
            _ => Some(now + HELD_BACK),
        };
        if !matches!(
            why,
            Refusal::Result(ResultCode::InvalidParameter) | Refusal::Write(WriteFailure::Att(_))
        ) {
            // Whether the trainer did something with it is not known.
            self.pace.unsettle();
        }
        self.pace.hold(target, until);
        self.refuse(target, why);
        let sort = Sort::of(target);
        if let Refusal::Result(_) = why
            && self.pace.refused_too_often(now, target)
            && self.takes(sort)
        {
            self.given_up.push(sort);
            self.say_given_up(sort);
        }
    }

    fn release_failed(&mut self, now: Instant, target: BrakeTarget, why: Refusal) {
        let Release::Pending {
            round, insisted, ..
        } = self.release
        else {
            return;
        };
        if why == Refusal::Result(ResultCode::InvalidParameter) && self.try_other_width(target) {
            if let Release::Pending { insisted, .. } = &mut self.release {
                *insisted = true;
            }
            return;
        }
        if why == Refusal::Result(ResultCode::NotSupported) {
            self.give_up_sort(Sort::of(target));
        }
        let tried = Some(Sort::of(target));
        self.release = if self.release_target(tried).is_some() {
            Release::Pending {
                tried,
                not_before: now,
                round,
                insisted: true,
            }
        } else {
            if round == 0 {
                self.say(ControlEvent::ReleaseRefused);
            }
            if round < RELEASE_ROUNDS && self.release_target(None).is_some() {
                Release::Pending {
                    tried: None,
                    not_before: now + RELEASE_PAUSE,
                    round: round + 1,
                    insisted,
                }
            } else {
                self.release_due = None;
                Release::Idle
            }
        };
    }

    /// A level was refused as invalid: some trainers expect a word where the standard has an octet, and some an octet
    /// though their range needs a word. Tells whether the other width is now to be tried.
    fn try_other_width(&mut self, target: BrakeTarget) -> bool {
        let BrakeTarget::Resistance(level) = target else {
            return false;
        };
        let (width, again) = match self.width {
            Width::Octet => (Width::WordTrial, true),
            Width::Word if level.0 <= MOST_IN_AN_OCTET => (Width::OctetTrial, true),
            Width::WordTrial => (Width::OctetForGood, false),
            Width::OctetTrial => (Width::WordForGood, false),
            settled => (settled, false),
        };
        self.width = width;
        again
    }

    /// A level was taken in the width in which it was written.
    fn width_taken(&mut self) {
        match self.width {
            Width::Word | Width::WordTrial => self.width = Width::WordForGood,
            Width::OctetTrial => {
                self.width = Width::OctetForGood;
                // The rest of the range cannot be written.
                if let Some(range) = &mut self.abilities.resistance {
                    range.most = range.most.min(MOST_IN_AN_OCTET);
                }
                if self
                    .pace
                    .wanted()
                    .is_some_and(|wanted| !self.abilities.accepts(wanted))
                {
                    self.pace.forget_wanted();
                }
            }
            Width::Octet | Width::OctetForGood | Width::WordForGood => {}
        }
    }

    fn give_up_sort(&mut self, sort: Sort) {
        if !self.unsupported.contains(&sort) {
            self.unsupported.push(sort);
            self.say_given_up(sort);
        }
    }

    fn say_given_up(&mut self, sort: Sort) {
        self.say(ControlEvent::SortUnsupported(sort));
        if self
            .pace
            .wanted()
            .is_some_and(|wanted| Sort::of(wanted) == sort)
        {
            self.pace.forget_wanted();
        }
    }

    /// A command was answered with result 05. A release or a stop is still to be done, once control is back.
    fn not_permitted(&mut self, now: Instant, purpose: Purpose) {
        if self.granted() {
            self.lose(now, Loss::NotPermitted);
        }
        self.stop_wanted |= purpose == Purpose::Stop;
        if let (Purpose::Release(_), Release::Pending { insisted, .. }) =
            (purpose, &mut self.release)
        {
            *insisted = true;
        }
    }

    /// Control is gone while the link stands.
    pub(super) fn lose(&mut self, now: Instant, loss: Loss) {
        self.control = Control::Without { ask_at: None };
        self.start_wanted = true;
        self.has_started = false;
        self.last_taken = None;
        self.taken_in_doubt = false;
        self.pace.unsettle();
        self.pace.forget_wanted();
        if self.release == Release::Done {
            self.release = Release::Idle;
        }
        self.drop_what_is_not_to_be_written_again();
        self.say(ControlEvent::Lost(loss));
        if loss == Loss::Withdrawn && !self.withdrawn {
            self.withdrawn = true;
            self.control = Control::Without {
                ask_at: Some(now + ASK_AFTER_WITHDRAWAL),
            };
        } else {
            self.denied(now);
        }
    }

    /// Control is not to be had now: another try after a growing pause, or none.
    fn denied(&mut self, now: Instant) {
        let pause = ASK_PAUSES.get(self.refusals).filter(|_| !self.withdrawn);
        self.refusals += 1;
        self.control = Control::Without {
            ask_at: pause.map(|&pause| now + pause),
        };
        if pause.is_none() {
            self.say(ControlEvent::Refused);
        }
    }

    /// The target was changed by someone else. This program's own is sent again after a pause, so that two programs
    /// do not fight for the brake.
    pub(super) fn changed_elsewhere(&mut self, now: Instant, target: BrakeTarget) {
        let ours =
            |other: BrakeTarget| Request::target(other, true) == Request::target(target, true);
        let in_flight = self
            .running
            .as_ref()
            .is_some_and(|running| match running.purpose {
                Purpose::Target(sent) | Purpose::Release(sent) => ours(sent),
                _ => false,
            });
        if in_flight || self.last_taken.is_some_and(ours) {
            // Some trainers echo a client's own command to it.
            return;
        }
        self.last_taken = Some(target);
        self.taken_in_doubt = false;
        self.pace.unsettle();
        if let Some(wanted) = self.pace.wanted() {
            self.pace.hold(wanted, Some(now + HELD_BACK));
        }
        if self.release == Release::Done {
            self.release = Release::Idle;
        }
        self.say(ControlEvent::ChangedElsewhere(target));
    }

    /// No control procedure on this link any more.
    pub(super) fn time_out(&mut self) {
        self.unacknowledged = self.running.as_ref().is_some_and(|running| {
            running.purpose == Purpose::Ask && matches!(running.phase, Phase::Writing(_))
        });
        self.forget();
        self.control = Control::TimedOut;
        self.say(if self.unacknowledged {
            ControlEvent::Unacknowledged
        } else {
            ControlEvent::TimedOut
        });
    }

    /// Everything that belongs to a link. A release that is lost with it is said.
    pub(super) fn forget(&mut self) {
        if self.release_due.take().is_some() {
            self.say(ControlEvent::ReleaseUnanswered);
        }
        self.running = None;
        self.outgoing = None;
        self.pace = Pace::default();
        self.release = Release::Idle;
        self.release_timed = false;
        self.last_taken = None;
        self.taken_in_doubt = false;
        self.turned_away = None;
        self.start_wanted = false;
        self.start_first = false;
        self.stop_wanted = false;
        self.spin_down_wanted = None;
        self.spins_down = false;
    }
}
