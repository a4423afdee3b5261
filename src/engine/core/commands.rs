//! What the rider asks for, and the edges of the mode diagram.

#![expect(
    clippy::wrong_self_convention,
    reason = "to_riding is the edge to riding, not a conversion"
)]

use super::{ARMED_FOR, Closing, Core, Ride, UNDO_FOR};
use crate::control::SpinDownFailure;
use crate::device::{DeviceId, Request};
use crate::engine::command::{Choice, Command, Role};
use crate::engine::rows::Rows;
use crate::engine::snapshot::{Armed, Question, RecordState};
use crate::engine::tally::Tally;
use crate::plan::fit::changes_of;
use crate::record::{FittedFrom, Kept, RideStart};
use crate::ride::{Facts, Finish, Mode, PauseCause};
use crate::time::{Instant, Span};

impl Core {
    /// Takes a command; where it makes no sense in the present mode it does nothing.
    pub(super) fn command(&mut self, now: Instant, command: Command) {
        if self.closing.is_some() {
            return;
        }
        match command {
            Command::Choose(choice) => self.choose(*choice),
            Command::TakeUp(take_up) => self.take_up(*take_up),
            Command::Scan(on) => self.request(Request::Scan(on)),
            Command::Use(role, device) => {
                self.chosen.insert(role);
                self.use_device(now, role, device.as_ref());
            }
            Command::StartWithPedals => {
                self.end_spin_down(now, SpinDownFailure::Left);
                self.start_with_pedals = true;
                self.wait_for_the_group(now);
            }
            Command::Start => {
                if matches!(self.mode, Mode::Ready | Mode::Connecting)
                    && !self.wait_for_the_group(now)
                {
                    self.to_riding(now);
                }
            }
            Command::Clock(clock) => self.choose_clock(now, clock),
            Command::Rejoin => self.rejoin(now),
            Command::Pause => {
                if self.mode.runs() {
                    self.to_paused(now, now, PauseCause::Rider);
                }
            }
            Command::Resume => self.resume(now),
            Command::BrakeOff => self.brake_off(now),
            Command::Close => self.begin_closing(now),
            Command::Rate(rating) => self.rate(now, rating),
            Command::PassRating => {
                if let Some(ride) = &mut self.ride {
                    ride.question = None;
                }
            }
            Command::FixedFlywheel(fixed) => self.flywheel_answered(now, fixed),
            Command::Mark => self.mark(now),
            Command::CautionsSeen => self.cautions_seen(now),
            Command::Forget(device) => self.forget(now, &device),
            Command::TakeThreshold(take) => self.answer_test(now, take),
            Command::SpinDown => self.begin_spin_down(now),
            Command::LeaveSpinDown => self.leave_spin_down(now),
            other => self.ride_command(now, &other),
        }
    }

    /// Uses a device for a role, or none; a trainer's brake is let off first.
    pub(super) fn use_device(&mut self, now: Instant, role: Role, device: Option<&DeviceId>) {
        if let Some(why) = device.and_then(|id| self.links.refuses(role, id)) {
            self.event(now, "unusable", &why);
            self.say(now, why);
            return;
        }
        if role == Role::Trainer && self.links.used_for(role) != device {
            if self.mode.under_way() && self.control.granted() && self.control.in_flight() {
                // Its release could not be written before the link goes, and it would keep its load.
                self.say(
                    now,
                    entry!(
                        "The trainer is answering a command, so it stays. Choose again in a moment."
                    )
                    .to_owned(),
                );
                return;
            }
            self.let_trainer_go(now);
        }
        self.links.use_for(now, role, device);
        self.changed.retain(|(other, _)| *other != role);
    }

    /// Another trainer, or none: this one's brake is let off before its link is closed, and the next is built up from
    /// nothing.
    fn let_trainer_go(&mut self, now: Instant) {
        self.remember_learned();
        if self.control.granted() {
            self.control.release(now);
            self.write_control();
        }
        self.end_spin_down(now, SpinDownFailure::Lost);
        // Without control its release was not said, so what stood may stand.
        self.load = match self.load {
            super::Load::Off => super::Load::Off,
            _ if self.control.granted() => super::Load::Off,
            _ => super::Load::Doubtful,
        };
        self.control.other_trainer(now);
        self.gave_up_hung = false;
        self.asked = super::Asked::Nothing;
        self.brake = None;
        self.brake_interrupted();
        if let Some(ride) = &mut self.ride {
            ride.runner.brake_unknown();
        }
    }

    /// Commands that mean something only while a ride is under way.
    fn ride_command(&mut self, now: Instant, command: &Command) {
        let facts = self.facts(now);
        if !self.mode.under_way() {
            return;
        }
        let Some(ride) = &mut self.ride else { return };
        let undo = match command {
            Command::Trim(steps) => {
                ride.runner.trim(*steps, now, &facts);
                return;
            }
            Command::EaseBlock => {
                ride.runner.ease_block();
                return;
            }
            Command::NoteGear => {
                ride.runner.note_gear(now);
                return;
            }
            Command::HoldByMeter(on) => {
                ride.runner.hold_by_meter(*on);
                return;
            }
            Command::SwitchMode => {
                ride.runner.switch_mode(now, &facts);
                return;
            }
            Command::Stretch => ride.runner.stretch(now),
            Command::Cut => ride.runner.cut(now),
            Command::Undo => {
                ride.undo_until = None;
                ride.runner.undo();
                return;
            }
            Command::Skip => {
                if self.second_press(now, Armed::Skip)
                    && !self.end_steps_by_hand(now)
                    && let Some(ride) = &mut self.ride
                {
                    ride.runner.skip(now);
                    ride.undo_until = Some(now + UNDO_FOR);
                }
                return;
            }
            Command::End => {
                if self.second_press(now, Armed::End) {
                    self.end_steps_by_hand(now);
                    self.to_finished(now, Finish::ByRider);
                }
                return;
            }
            _ => return,
        };
        if undo {
            ride.undo_until = Some(now + UNDO_FOR);
        }
    }

    /// Whether this press is the second of its button; else it arms the button.
    fn second_press(&mut self, now: Instant, button: Armed) -> bool {
        let Some(ride) = &mut self.ride else {
            return false;
        };
        let second = ride
            .armed
            .is_some_and(|(armed, until)| armed == button && now < until);
        ride.armed = (!second).then_some((button, now + ARMED_FOR));
        second
    }

    pub(super) fn choose(&mut self, choice: Choice) {
        if self.mode.under_way() {
            return;
        }
        self.take_up = None;
        self.choice = Some(choice);
        self.ride = None;
        self.start_with_pedals = false;
        self.leave_waiting();
        self.record = RecordState::NotYet;
        self.ledger = None;
        if matches!(self.mode, Mode::Finished(_)) {
            self.forget_group();
            self.mode = Mode::Idle;
            self.keep(Kept::Left);
        }
    }

    fn resume(&mut self, now: Instant) {
        if let Some(ride) = &mut self.ride
            && ride.runner.is_off()
        {
            ride.runner.put_on(now);
            self.event(
                now,
                "brake-on",
                entry!("The brake is set again: the load builds up from nothing."),
            );
        }
        if matches!(
            self.mode,
            Mode::Paused(_)
                | Mode::Degraded {
                    paused: Some(_),
                    ..
                }
        ) {
            self.to_resumed(now);
        } else if matches!(self.mode, Mode::Degraded { .. }) {
            // The rider asks for the brake: control may be asked for again.
            self.control.ask_again(now);
        }
    }

    fn brake_off(&mut self, now: Instant) {
        self.end_steps_by_hand(now);
        match &mut self.ride {
            Some(ride) if self.mode.under_way() => {
                ride.runner.brake_off(now);
                self.control.forget_rise();
                self.event(now, "brake-off", entry!("The brake was let off by hand."));
                self.say(
                    now,
                    entry!("Brake off by hand. It stays off until you set it again.").to_owned(),
                );
            }
            _ => {
                self.end_spin_down(now, SpinDownFailure::Left);
                // Where it is being let off already, a second press does not drop who may be standing.
                if self.control.granted() && !self.letting_off(now) {
                    self.control.release(now);
                }
            }
        }
    }

    fn begin_closing(&mut self, now: Instant) {
        if self.closing.is_some() {
            return;
        }
        self.end_spin_down(now, SpinDownFailure::Left);
        if self.mode.under_way() {
            self.to_finished(now, Finish::Closed);
        } else if self.control.granted() {
            // At once, even where it was being let off in two steps: nobody is there any more to take the second.
            self.control.release(now);
        }
        self.start_with_pedals = false;
        self.request(Request::Scan(false));
        self.closing = Some(Closing {
            since: now,
            insisted: false,
            remade: false,
            links_closed: false,
            done: false,
        });
    }

    /// Ready → Riding: the clock and the recording begin.
    pub(super) fn to_riding(&mut self, now: Instant) {
        let Some(choice) = self.choice.clone() else {
            return;
        };
        if self.take_up.is_some() {
            // It goes on from where it stood, by its own clock.
            self.forget_group();
        }
        let Some(into) = self.begin_in_group(now, &choice.plan) else {
            return;
        };
        self.end_spin_down(now, SpinDownFailure::Left);
        self.spin_down.clear();
        self.changed.clear();
        self.heed = crate::control::Heed::default();
        let Some(mut runner) = self.begin_recording(now) else {
            return;
        };
        let mut tally = Tally::default();
        if into > Span::ZERO {
            runner.jump(now, into, &Facts::default());
            tally.jump(into);
        }
        self.ride = Some(Ride {
            runner,
            rows: Rows::new(&choice.rider),
            ink: std::collections::VecDeque::new(),
            last_like: crate::ride::last_like::LastLike::default(),
            ink_due: now,
            armed: None,
            undo_until: None,
            question: None,
            lap: None,
            trainer: None,
            learned_lap: None,
            tally,
            marks: 0,
            sources: crate::engine::links::Sources::default(),
            test: super::threshold_test::TestWatch::of(&choice.plan),
        });
        self.know_trainer(now);
        self.start_with_pedals = false;
        // Nothing more is looked for while riding: what is heard costs time that the brake may need.
        self.request(Request::Scan(false));
        self.mode = Mode::Riding;
        if self.take_up.is_some() {
            self.go_on(now);
        } else {
            self.event(now, "start", &choice.plan.name);
        }
        if self.is_in_group() {
            self.event(now, "group", &kept!("the group is {into} into the session"));
        }
        self.caution_of_the_flywheel(now);
        if !self.control.granted() {
            // What was refused before the ride is asked for anew; another refusal is then the ride's, and is said.
            self.control.ask_again(now);
        }
        let facts = self.facts(now);
        if let Some(ride) = &mut self.ride {
            ride.runner.see(now, &facts);
        }
    }

    pub(super) fn ride_start(&self, now: Instant, choice: &Choice) -> RideStart {
        let devices = Role::ALL
            .into_iter()
            .filter_map(|role| {
                let id = self.links.used_for(role)?;
                let simulated = self.links.is_simulated(id);
                Some((
                    role.key().to_owned(),
                    self.links.name(id),
                    id.to_string(),
                    simulated,
                ))
            })
            .collect();
        RideStart {
            utc_ms: self.utc_ms(now),
            session: choice.plan.name.clone(),
            session_text: choice.plan.source.clone(),
            fitted: choice.plan.fitted.clone().map(|fitting| FittedFrom {
                fitting,
                // Its own text tells them, which an export has taken the names out of.
                changes: changes_of(&choice.plan.source),
            }),
            rider: choice.rider.name.clone(),
            rider_text: std::sync::Arc::from(crate::rider::to_toml(&choice.rider)),
            mode: choice.mode,
            threshold: choice.rider.threshold,
            power_cap: choice.rider.power_cap,
            sprint_cap: choice.rider.sprint_cap,
            spin_down: self.last_spin_down(),
            devices,
        }
    }

    /// Riding → Paused, or the same within Degraded: the clock stands from `at` on and the brake is let off gently.
    pub(super) fn to_paused(&mut self, now: Instant, at: Instant, cause: PauseCause) {
        // A rise that a busy trainer turned back is not written again while the load goes.
        self.control.forget_rise();
        if let Some(ride) = &mut self.ride {
            ride.runner.pause(now, at);
            ride.tally.pause(at, cause);
        }
        self.mode = match self.mode {
            Mode::Degraded {
                cause: why, since, ..
            } => Mode::Degraded {
                cause: why,
                since,
                paused: Some(cause),
            },
            _ => Mode::Paused(cause),
        };
        self.event(at, "pause", cause.key());
    }

    /// Paused → Riding, or the same within Degraded: the clock runs on and the load builds up again.
    pub(super) fn to_resumed(&mut self, now: Instant) {
        let by_trainer = matches!(
            self.mode,
            Mode::Paused(PauseCause::Trainer)
                | Mode::Degraded {
                    paused: Some(PauseCause::Trainer),
                    ..
                }
        );
        if by_trainer && self.control.granted() {
            // A trainer that was stopped at its own button may want to be started before it takes a target.
            self.control.start(now);
        }
        if let Some(ride) = &mut self.ride {
            ride.runner.resume(now);
            ride.tally.resume(now);
        }
        self.mode = match self.mode {
            Mode::Degraded { cause, since, .. } => Mode::Degraded {
                cause,
                since,
                paused: None,
            },
            _ => Mode::Riding,
        };
        self.event(now, "resume", "");
    }

    /// Any mode of a ride → Finished: the brake is released, then the trainer is told that the session stops.
    pub(super) fn to_finished(&mut self, now: Instant, how: Finish) {
        self.event(now, "end", how.key());
        self.remember_learned();
        self.remember_recoveries(now);
        self.control.forget_rise();
        if let Some(ride) = &mut self.ride {
            ride.runner.pause(now, now);
            ride.tally.resume(now);
            // What lasted less than a second leaves no row and nothing to be rated.
            ride.question = (ride.rows.written() > 0).then_some(Question::RateSession);
            ride.armed = None;
        }
        self.judge_test();
        self.mode = Mode::Finished(how);
        self.stop_due = self.control.granted();
        let low = self
            .ride
            .as_ref()
            .is_none_or(|ride| !ride.runner.stands_high());
        if (how == Finish::Closed || low) && self.control.granted() {
            // An easy load goes at once, and a program that goes has no time for two steps.
            self.let_brake_go(now);
        }
        self.keep(Kept::End(how));
    }
}
