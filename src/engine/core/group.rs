//! The group's clock: a start at a shared time of day, a session joined on its way, and the way back to the group after
//! a pause. No network: everybody's clock on the wall is the same.

use super::{Core, INK_POINTS, Ride};
use crate::engine::command::GroupClock;
use crate::engine::snapshot::{GroupView, InkPoint};
use crate::plan::Plan;
use crate::ride::Mode;
use crate::time::{Instant, Span};

/// Milliseconds of a day.
const DAY_MS: i64 = 86_400_000;

/// A rider who is this far behind is with the group: nobody hears the difference (common practice, no source).
const WITH_THE_GROUP: Span = Span::from_seconds(2);

/// What is known of a group's clock.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Group {
    /// What the rider asked for before the ride.
    wish: Option<Wish>,
    /// Whether the rider is ready and the ride begins by the clock alone.
    waits: bool,
    /// The wall-clock time of the session's beginning in the ride under way, milliseconds since 1970.
    began_ms: Option<i64>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Wish {
    /// A beginning by the wall clock, milliseconds since 1970, and as the rider reads it, seconds of their day.
    At { ms: i64, clock: u32 },
    /// So far into the session when the ride begins.
    Join(Span),
}

impl Core {
    /// The rider chooses whose clock the ride follows.
    pub(super) fn choose_clock(&mut self, now: Instant, clock: GroupClock) {
        if self.mode.under_way() {
            return;
        }
        let plan = self.choice.as_ref().map(|choice| choice.plan.clone());
        if clock != GroupClock::Own && plan.as_deref().is_some_and(is_test) {
            self.say(
                now,
                entry!("A threshold test is ridden by its own clock, so it was not joined to a group's.")
                    .to_owned(),
            );
            return;
        }
        let length = plan.map_or(Span::ZERO, |plan| plan.length());
        self.group.wish = match clock {
            GroupClock::Own => None,
            GroupClock::Join(into) => Some(Wish::Join(into)),
            GroupClock::At(clock) => {
                let clock = clock % 86_400;
                let ms = self.nearest(now, clock, length);
                Some(Wish::At { ms, clock })
            }
        };
        self.group.waits &= self.group_is_ahead(now);
        if self.start_with_pedals && self.group_is_ahead(now) {
            self.group.waits = true;
        }
    }

    /// The moment that a time of the rider's day means: the last one, where a session of this length is still under way
    /// since then, else the next.
    fn nearest(&self, now: Instant, clock: u32, length: Span) -> i64 {
        let ahead = i64::from(self.zone_s) * 1_000;
        let local = self.utc_ms(now).saturating_add(ahead);
        let today = local
            .saturating_sub(local.rem_euclid(DAY_MS))
            .saturating_add(i64::from(clock) * 1_000);
        let last = if today > local {
            today.saturating_sub(DAY_MS)
        } else {
            today
        };
        let since = Span::from_millis(u64::try_from(local.saturating_sub(last)).unwrap_or(0));
        let meant = if since < length {
            last
        } else {
            last.saturating_add(DAY_MS)
        };
        meant.saturating_sub(ahead)
    }

    /// The rider is ready. True where the group has not begun yet: then the ride begins by the clock, whether the pedals
    /// turn or not, and turning pedals start nothing before.
    pub(super) fn wait_for_the_group(&mut self, now: Instant) -> bool {
        let before = matches!(self.mode, Mode::Idle | Mode::Connecting | Mode::Ready);
        self.group.waits = before && self.choice.is_some() && self.group_is_ahead(now);
        self.start_with_pedals |= self.group.waits;
        self.group.waits
    }

    /// Nothing waits for the group any more; what the rider chose stands.
    pub(super) const fn leave_waiting(&mut self) {
        self.group.waits = false;
    }

    /// Another ride: its clock is the rider's own until a group's is chosen again.
    pub(super) fn forget_group(&mut self) {
        self.group = Group::default();
    }

    /// Whether the group's beginning is still to come.
    pub(super) fn group_is_ahead(&self, now: Instant) -> bool {
        matches!(self.group.wish, Some(Wish::At { ms, .. }) if ms > self.utc_ms(now))
    }

    /// Whether the clock alone begins the ride at this moment.
    pub(super) fn group_begins(&self, now: Instant) -> bool {
        self.group.waits && self.start_with_pedals && !self.group_is_ahead(now)
    }

    /// When the clock alone begins the ride.
    pub(super) fn group_due(&self) -> Option<Instant> {
        let Some(Wish::At { ms, .. }) = self.group.wish else {
            return None;
        };
        // Nothing is due where nothing would begin, or the loop would turn for ever.
        let may_begin = matches!(self.mode, Mode::Connecting | Mode::Ready);
        (self.group.waits && self.start_with_pedals && may_begin)
            .then(|| Instant(self.zero_us(ms).max(0).unsigned_abs()))
    }

    /// A wall-clock time on the core's own clock, microseconds; negative before the program began.
    const fn zero_us(&self, ms: i64) -> i64 {
        ms.saturating_sub(self.epoch_ms).saturating_mul(1_000)
    }

    /// How far into the session a ride begins that begins now. Nothing where the group's session is over by then, which is
    /// said.
    pub(super) fn begin_in_group(&mut self, now: Instant, plan: &Plan) -> Option<Span> {
        self.group.waits = false;
        self.group.began_ms = None;
        let at = self.utc_ms(now);
        let into = match self.group.wish {
            // Whose clock a test goes by was settled before, unless the test was chosen last.
            Some(_) if is_test(plan) => {
                self.group.wish = None;
                None
            }
            None => None,
            Some(Wish::Join(into)) => Some(into),
            Some(Wish::At { ms, .. }) => Some(Span::from_millis(
                u64::try_from(at.saturating_sub(ms)).unwrap_or(0),
            )),
        };
        let Some(into) = into else {
            return Some(Span::ZERO);
        };
        if into >= plan.length() {
            self.group.wish = None;
            self.start_with_pedals = false;
            self.say(
                now,
                entry!(
                    "The group's session is over by then, so the ride did not begin. Choose another time, or your own \
                     clock."
                )
                    .to_owned(),
            );
            return None;
        }
        let ms = i64::try_from(into.0 / 1_000).unwrap_or(i64::MAX);
        self.group.began_ms = Some(at.saturating_sub(ms));
        Some(into)
    }

    /// Whether the ride under way follows a group's clock, which never waits for still pedals.
    pub(super) const fn is_in_group(&self) -> bool {
        self.group.began_ms.is_some()
    }

    /// How far the group is into the session as it was written; nothing where the ride follows no group's clock.
    fn group_is_at(&self, now: Instant) -> Option<Span> {
        let since = self.utc_ms(now).saturating_sub(self.group.began_ms?);
        Some(Span::from_millis(u64::try_from(since).unwrap_or(0)))
    }

    /// On to where the group is: the blocks between are passed over, the rest is as it was written, and a clock that
    /// stands runs on. Brake off by hand stays off.
    pub(super) fn rejoin(&mut self, now: Instant) {
        let Some(at) = self.group_is_at(now).filter(|_| self.mode.under_way()) else {
            return;
        };
        let over = self
            .choice
            .as_ref()
            .is_none_or(|choice| at >= choice.plan.length());
        if over {
            self.say(
                now,
                entry!("The group's session is over. Yours goes on as it stands.").to_owned(),
            );
            return;
        }
        let facts = self.facts(now);
        let Some(ride) = &mut self.ride else { return };
        let from = ride.runner.session(now);
        ride.runner.jump(now, at, &facts);
        ride.undo_until = None;
        ride.armed = None;
        ride.tally.jump(ride.runner.jumped());
        ride.break_ink(from);
        self.event(now, "rejoin", &kept!("from {from} to {at}"));
        self.say(now, entry!("With the group again.").to_owned());
        if !self.mode.runs() {
            self.to_resumed(now);
        }
    }

    /// What the screen is told of the group's clock.
    pub(super) fn group_view(&self, now: Instant) -> Option<GroupView> {
        if self.mode.under_way() {
            let began = self.group.began_ms?;
            let at = self.group_is_at(now)?;
            let behind = at.less(Span::from_seconds_f64(self.plan_seconds(now)));
            return Some(GroupView {
                clock: self.clock_of(),
                join: None,
                waits: false,
                zero_us: Some(self.zero_us(began)),
                behind: (behind > WITH_THE_GROUP)
                    .then(|| Span::from_seconds(behind.whole_seconds())),
            });
        }
        let wish = self.group.wish?;
        Some(GroupView {
            clock: self.clock_of(),
            join: match wish {
                Wish::Join(into) => Some(into),
                Wish::At { .. } => None,
            },
            waits: self.group.waits,
            zero_us: match wish {
                Wish::At { ms, .. } => Some(self.zero_us(ms)),
                Wish::Join(_) => None,
            },
            behind: None,
        })
    }

    const fn clock_of(&self) -> Option<u32> {
        match self.group.wish {
            Some(Wish::At { clock, .. }) => Some(clock),
            _ => None,
        }
    }
}

impl Ride {
    /// The ink does not run on from here to where the session goes on: a point without figures stands between.
    fn break_ink(&mut self, at: Span) {
        if self.ink.len() == INK_POINTS {
            self.ink.pop_front();
        }
        self.ink.push_back(InkPoint {
            at,
            power: None,
            cadence: None,
            lane: None,
        });
    }
}

/// Whether the session is a threshold test, which measures by its own clock.
const fn is_test(plan: &Plan) -> bool {
    plan.test.is_some()
}
