//! Devices that tell nothing on a link that stands, and a trainer that repeats itself: each is said once.

use super::{Asked, Core};
use crate::engine::command::Role;
use crate::engine::notices::Urgency;
use crate::time::{Instant, Span};
use crate::units::{BrakeTarget, Watts};

/// A trainer reports once a second (Fitness Machine Service 1.0, 4.9.1) and a strap with every beat or so: ten seconds
/// without a word are none of their manners.
const SILENT: Span = Span::from_seconds(10);

/// The same record for so long after its load was changed is no report of it: the slowest brake has answered by then
/// (common practice, no source). Steady watts at a load that stands are no fault.
const FROZEN: Span = Span::from_seconds(15);

/// A request for control that is not answered within this is said to be: the system takes ten seconds and more to give up
/// on a trainer that wants to be paired, since it tries to pair it meanwhile (seen on the bench).
const ASKED: Span = Span::from_seconds(3);

/// A rider who is to get less load waits so long for the trainer's answer before the screen says that it is late: ordinary
/// answers take a tenth of a second, slow ones a second and a half (common practice, no source).
const LATE: Span = Span::from_seconds(2);

/// Less than this is no load that a rider has to be warned of: watts, a share of the range of levels, per cent of slope.
const MUCH: Watts = Watts(10.0);
const MUCH_OF_THE_LEVELS: f64 = 0.05;
const MUCH_SLOPE: f64 = 0.5;

/// A change of load that no trainer could answer with the same figures.
const CHANGED: Watts = Watts(25.0);

/// What was said, and what is watched.
#[derive(Clone, Debug, Default)]
pub(super) struct Doubts {
    /// The roles whose device is silent, and said to be: as many as there are roles.
    silent: Vec<Role>,
    /// The target that stood, W, and since when a very other one stands.
    stood: Option<Watts>,
    changed: Option<Instant>,
    frozen: bool,
    /// The command that is late was said to be.
    late: Option<Instant>,
}

/// When control was asked for on this link, until it is answered or said not to be.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct AskedForControl(pub(super) Option<Instant>);

impl Core {
    /// The trainer took a target: what it reports has to follow a large change.
    pub(super) fn doubt_from(&mut self, now: Instant, target: BrakeTarget) {
        let BrakeTarget::Power(watts) = target else {
            self.doubts.stood = None;
            self.doubts.changed = None;
            return;
        };
        let far = |stood: Watts| (watts.0 - stood.0).abs() >= CHANGED.0;
        match self.doubts.stood {
            Some(stood) if far(stood) => {
                self.doubts.changed = Some(now);
                self.doubts.stood = Some(watts);
            }
            Some(_) => {}
            None => self.doubts.stood = Some(watts),
        }
    }

    /// When a request for control has waited long enough to be said.
    pub(super) fn asked_due(&self) -> Option<Instant> {
        self.asked_for_control.0.map(|at| at + ASKED)
    }

    /// When the command in flight has waited long enough to be said, if less load waits behind it or in it.
    pub(super) fn late_due(&self) -> Option<Instant> {
        // After the ride a release that waits is said by itself.
        if !self.mode.under_way() {
            return None;
        }
        let since = self.control.unanswered_since()?;
        let (Some(stands), Asked::Target(wanted)) = (self.brake, self.asked) else {
            return None;
        };
        let less = stands.value() - wanted.value();
        let much = stands.same_sort(wanted)
            && match wanted {
                BrakeTarget::Power(_) => less >= MUCH.0,
                BrakeTarget::Resistance(_) => {
                    let range = self.control.abilities().resistance?;
                    less >= MUCH_OF_THE_LEVELS * (range.most - range.least)
                }
                BrakeTarget::Slope(_) => less >= MUCH_SLOPE,
            };
        (much && self.doubts.late != Some(since)).then_some(since + LATE)
    }

    /// A load that should fall and does not, since the trainer does not answer: the rider is told before thirty seconds
    /// are over and the link is given up.
    fn tend_fall(&mut self, now: Instant) {
        if self.late_due().is_none_or(|due| now < due) {
            return;
        }
        self.doubts.late = self.control.unanswered_since();
        let words = entry!(
            "The trainer does not answer and may hold its last load: ease off and shift down. It is told less as soon \
             as it answers."
        );
        self.event(now, "answer-late", words);
        self.say_first(now, words.to_owned(), Urgency::Danger);
    }

    fn tend_request(&mut self, now: Instant) {
        if self.control.granted() || !self.control.in_flight() {
            self.asked_for_control = AskedForControl::default();
        } else if self.asked_due().is_some_and(|due| now >= due) {
            self.asked_for_control = AskedForControl::default();
            let words = entry!(
                "The trainer has not answered the request for control of its brake yet: it may want to be paired \
                 first. Ride by feel; if it stays so, pair it in the system's Bluetooth settings."
            );
            self.event(now, "told-nothing", words);
            self.say(now, words.to_owned());
        }
    }

    /// Looks for a request for control without an answer, and while a ride is under way for silence and repetition.
    pub(super) fn tend_doubts(&mut self, now: Instant) {
        self.tend_request(now);
        if !self.mode.under_way() {
            self.doubts = Doubts::default();
            return;
        }
        for role in [Role::Trainer, Role::Heart, Role::SecondHeart] {
            self.tend_silence(now, role);
        }
        self.tend_repetition(now);
        self.tend_fall(now);
    }

    fn tend_silence(&mut self, now: Instant, role: Role) {
        let silent = self
            .links
            .untold_for(role, now)
            .is_some_and(|span| span >= SILENT);
        let said = self.doubts.silent.contains(&role);
        if silent == said {
            return;
        }
        self.doubts.silent.retain(|other| *other != role);
        let Some(id) = self.links.used_for(role).cloned() else {
            return;
        };
        let name = self.links.name(&id);
        if !silent {
            self.event(now, "told-again", &name);
            return;
        }
        self.doubts.silent.push(role);
        // Some forget who listens; asking again does no harm.
        self.links.listen_again(&id);
        let words = kept!(
            "{name} is connected but has told nothing for ten seconds. Its figures stay empty until it does: the program \
             asks it again; wake it, or switch it off and on."
        );
        self.event(now, "told-nothing", &words);
        self.say(now, words);
    }

    fn tend_repetition(&mut self, now: Instant) {
        let since = self.links.trainer_repeats_since();
        let frozen = match (since, self.doubts.changed) {
            (Some(since), Some(changed)) => since < changed && now.since(changed) >= FROZEN,
            _ => false,
        };
        if frozen == self.doubts.frozen {
            return;
        }
        self.doubts.frozen = frozen;
        let Some(id) = self.links.used_for(Role::Trainer).cloned() else {
            return;
        };
        let name = self.links.name(&id);
        if !frozen {
            self.event(now, "told-again", &name);
            return;
        }
        let words = kept!(
            "{name} tells the very same figures although its load was changed: they are not to be trusted. Ride by feel; \
             switch the trainer off and on if that does not end it."
        );
        self.event(now, "repeats-itself", &words);
        self.say(now, words);
    }
}
