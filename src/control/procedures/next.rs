//! What is written next, and when.

use super::super::abilities::Sort;
use super::{
    ANSWER_WITHIN, Control, ControlEvent, MOST_EVENTS, Phase, Procedures, Purpose, RELEASE_WITHIN,
    Refusal, Release, Running, Width, WriteFailure,
};
use crate::gatt::control_point::{Halt, Request};
use crate::time::Instant;
use crate::units::{BrakeTarget, Grade, Level, Watts};

impl Procedures {
    /// Whether there is a link on which control procedures may run.
    pub(super) fn is_up(&self) -> bool {
        matches!(self.control, Control::Without { .. } | Control::Held)
    }

    pub(super) fn say(&mut self, event: ControlEvent) {
        if self.events.len() >= MOST_EVENTS {
            self.events.pop_front();
        }
        self.events.push_back(event);
    }

    pub(super) fn refuse(&mut self, target: BrakeTarget, why: Refusal) {
        self.say(ControlEvent::TargetRefused { target, why });
    }

    /// A command that a busy or forgetful trainer turned back waits to be written again. Nothing was started, so it is
    /// dropped where control is gone since, and a target or a stop also where a release waits.
    pub(super) fn drop_what_is_not_to_be_written_again(&mut self) {
        let Some(running) = &self.running else {
            return;
        };
        if !matches!(running.phase, Phase::Busy(_) | Phase::Subscribing(_)) {
            return;
        }
        let stands = match running.purpose {
            Purpose::Ask => true,
            // Where less is wanted by now, what was turned back is not insisted on.
            Purpose::Target(target)
                if self.pace.wanted().is_some_and(|wanted| {
                    wanted.same_sort(target) && wanted.value() < target.value()
                }) =>
            {
                false
            }
            Purpose::Target(_) | Purpose::Stop | Purpose::SpinDown(_) => {
                self.granted() && !self.release_is_first()
            }
            Purpose::Start | Purpose::Release(_) => self.granted(),
        };
        if !stands {
            self.stop_wanted |= running.purpose == Purpose::Stop;
            self.running = None;
        }
    }

    /// Whether a release is to go before any target: asked for since one was last written, or half tried.
    fn release_is_first(&self) -> bool {
        matches!(self.release, Release::Pending { tried, insisted, .. } if insisted || tried.is_some())
    }

    /// Deals with deadlines that are past at `now`, and begins nothing: for a caller that is about to say anew what it
    /// wants, so that what it wanted a moment ago is not sent in its stead. [`handle_timeout`](Self::handle_timeout) is
    /// to follow.
    pub fn expire(&mut self, now: Instant) {
        if self.release_due.is_some_and(|due| due <= now) {
            self.release_due = None;
            self.say(ControlEvent::ReleaseUnanswered);
        }
        if let Some(running) = &self.running {
            let purpose = running.purpose;
            match running.phase {
                Phase::Writing(since) | Phase::Waiting(since) | Phase::Answered(since)
                    if since + ANSWER_WITHIN <= now =>
                {
                    self.time_out();
                }
                Phase::Subscribing(by) if by <= now => {
                    self.running = None;
                    self.failed(now, purpose, Refusal::Write(WriteFailure::Att(0xFD)));
                }
                _ => {}
            }
        }
    }

    /// Begins whatever is due, if nothing is in flight.
    pub(super) fn pump(&mut self, now: Instant) {
        if let Some(running) = &mut self.running {
            if let Phase::Busy(at) = running.phase
                && at <= now
            {
                running.phase = Phase::Writing(now);
                self.outgoing = Some(running.bytes.clone());
                if let Purpose::Target(_) | Purpose::Release(_) = running.purpose {
                    self.pace.sent(now);
                }
            }
            return;
        }
        if let Some((purpose, at)) = self.next()
            && at <= now
        {
            self.begin(now, purpose);
        }
    }

    /// When the next procedure begins of itself.
    pub(super) fn next_at(&self) -> Option<Instant> {
        self.next().map(|(_, at)| at)
    }

    /// The next procedure and the earliest time for it. The order: control; a first start, since without it a release
    /// may not act; the release; a start that was asked for; targets; the stop; a spin-down, which is asked for
    /// outside a ride only.
    fn next(&self) -> Option<(Purpose, Instant)> {
        match self.control {
            Control::Down | Control::TimedOut => return None,
            Control::Without { ask_at } => return ask_at.map(|at| (Purpose::Ask, at)),
            Control::Held => {}
        }
        if self.start_wanted && !self.has_started {
            return Some((Purpose::Start, Instant::ZERO));
        }
        let target = || {
            let sort = Sort::of(self.pace.wanted()?);
            self.pace.due(self.abilities.range(sort))
        };
        if let Release::Pending {
            tried, not_before, ..
        } = self.release
            && (self.release_is_first() || self.pace.wanted().is_none())
            && let Some(target) = self.release_target(tried)
        {
            return Some((Purpose::Release(target), not_before));
        }
        if self.start_wanted {
            return Some((Purpose::Start, Instant::ZERO));
        }
        if self.stop_wanted {
            return Some((Purpose::Stop, Instant::ZERO));
        }
        if let Some(how) = self.spin_down_wanted {
            return Some((Purpose::SpinDown(how), Instant::ZERO));
        }
        let (target, due) = target()?;
        if self.start_first {
            return Some((Purpose::Start, due));
        }
        Some((Purpose::Target(target), due))
    }

    /// The next sort of release after the one that was tried: the lowest power, then the lowest level; where the trainer
    /// takes neither, the steepest descent. Never level ground: in a hard gear that still asks for over 250 W. A descent of
    /// 10 % asks for nothing below 63 km/h: 85 kg are pulled by 79.6 N, and air resists by 0.255·v² (Martin et al. 1998).
    /// A sort that was given up since it was refused so often is tried all the same where nothing else is left: what it
    /// refused were targets.
    pub(super) fn release_target(&self, tried: Option<Sort>) -> Option<BrakeTarget> {
        let power = self
            .abilities
            .power
            .filter(|_| tried.is_none())
            .map(|range| BrakeTarget::Power(Watts(range.least)));
        let level = self
            .abilities
            .resistance
            .filter(|_| tried != Some(Sort::Resistance))
            .map(|range| BrakeTarget::Resistance(Level(range.least)));
        let slopes_alone = !self.takes(Sort::Power) && !self.takes(Sort::Resistance);
        let descent = self
            .abilities
            .range(Sort::Slope)
            .filter(|_| slopes_alone && tried.is_none())
            .map(|range| BrakeTarget::Slope(Grade(range.least)));
        let sorts = [power, level, descent];
        let known = |target: &BrakeTarget| !self.unsupported.contains(&Sort::of(*target));
        let taken = sorts
            .into_iter()
            .flatten()
            .find(|target| self.takes(Sort::of(*target)));
        taken.or_else(|| sorts.into_iter().flatten().find(known))
    }

    /// The octets that let this trainer's brake off, for when nothing else of the program can be trusted any more.
    pub fn last_resort(&self) -> Option<Vec<u8>> {
        let release = self.release_target(None).filter(|_| self.granted())?;
        Some(Request::target(release, self.is_wide()).encode())
    }

    /// The octets that let the brake off, where a release waits behind a command that the trainer has not answered. For
    /// the end of the program only, where nobody waits for that answer any more.
    pub fn release_out_of_turn(&self) -> Option<Vec<u8>> {
        let running = self.running.as_ref()?;
        let waits = self.releasing() && !matches!(running.purpose, Purpose::Release(_));
        self.last_resort().filter(|_| waits)
    }

    /// Since when a release has waited behind a write that is not acknowledged, or for its own acknowledgement. The request
    /// for control does not count: it waits for whoever pairs the device, and without it no release can be said.
    pub fn release_hangs_since(&self) -> Option<Instant> {
        let running = self.running.as_ref().filter(|_| self.releasing())?;
        match (running.purpose, running.phase) {
            (Purpose::Ask, _) => None,
            // Answered and not acknowledged: the lane is taken all the same.
            (_, Phase::Writing(since) | Phase::Answered(since)) => Some(since),
            _ => None,
        }
    }

    fn is_wide(&self) -> bool {
        matches!(
            self.width,
            Width::Word | Width::WordTrial | Width::WordForGood
        )
    }

    fn begin(&mut self, now: Instant, purpose: Purpose) {
        let wide = self.is_wide();
        let request = match purpose {
            Purpose::Ask => Request::RequestControl,
            Purpose::Start => Request::StartOrResume,
            Purpose::Stop => Request::StopOrPause(Halt::Stop),
            Purpose::SpinDown(how) => Request::SpinDown(how),
            Purpose::Target(target) | Purpose::Release(target) => Request::target(target, wide),
        };
        match purpose {
            Purpose::Ask => self.control = Control::Without { ask_at: None },
            Purpose::Start => {
                self.start_wanted = false;
                self.start_first = false;
            }
            Purpose::Stop => self.stop_wanted = false,
            Purpose::SpinDown(_) => self.spin_down_wanted = None,
            Purpose::Target(_) => {
                self.release = Release::Idle;
                self.release_due = None;
                self.release_on_return = true;
                self.pace.sent(now);
            }
            Purpose::Release(_) => {
                if let Release::Pending { insisted, .. } = &mut self.release {
                    *insisted = false;
                }
                if !self.release_timed {
                    self.release_timed = true;
                    self.release_due = Some(now + RELEASE_WITHIN);
                }
                self.release_on_return = true;
                // Should its answer be lost or a refusal, nobody knows whether what was taken before still stands. It is
                // kept all the same: the trainer may yet echo it.
                self.taken_in_doubt = true;
                self.pace.sent(now);
            }
        }
        let bytes = request.encode();
        self.outgoing = Some(bytes.clone());
        self.running = Some(Running {
            purpose,
            bytes,
            phase: Phase::Writing(now),
            busy: 0,
            subscribed_again: false,
        });
    }
}
