//! The picture for the screen.

use std::sync::Arc;

use super::Core;
use crate::engine::command::Role;
use crate::engine::snapshot::Snapshot;
use crate::plan::{CuePlace, Figures, fill};
use crate::ride::{Mode, Runner};
use crate::time::{Instant, Span};
use crate::units::Effort;

/// A cue stands this long on the screen, unless the next one comes first (common practice, no source).
const CUE_STANDS: Span = Span::from_seconds(8);

impl Core {
    /// The whole picture at `now`.
    pub fn snapshot(&self, now: Instant) -> Snapshot {
        let ride = self.ride.as_ref();
        let runner = ride.map(|ride| &ride.runner);
        let place = runner.and_then(|runner| runner.place(now));
        let plan = self.choice.as_ref().map(|choice| choice.plan.clone());
        let laps = match (runner, &plan) {
            (Some(runner), _) => runner.timeline().laps().into(),
            (None, Some(plan)) => crate::ride::Timeline::new(plan).laps().into(),
            (None, None) => Arc::from([]),
        };
        let laps: Arc<[crate::ride::Lap]> = laps;
        let last = laps.len().saturating_sub(1);
        let under_way = self.mode.under_way();
        let planned = self.choice.as_ref();
        let session_length = runner.map(|runner| runner.timeline().length());
        let session = runner.map_or(Span::ZERO, |runner| runner.session(now));
        let brake_in_hand = self.control.granted() && self.offer().any();
        let (trim_work, trim_recovery) = runner.map_or((0, 0), Runner::trims);
        Snapshot {
            at: now,
            mode: self.mode,
            waits_for_pedals: self.start_with_pedals,
            ride_mode: runner.map_or_else(
                || planned.map(|c| c.mode).unwrap_or_default(),
                Runner::ride_mode,
            ),
            rider: planned.map(|choice| choice.rider.clone()),
            lap: place.map_or(
                if matches!(self.mode, Mode::Finished(_)) {
                    last
                } else {
                    0
                },
                |place| place.lap,
            ),
            session: session.min(session_length.unwrap_or(Span::ZERO)),
            session_length: session_length
                .or(plan.as_ref().map(|plan| plan.length()))
                .unwrap_or(Span::ZERO),
            ridden: runner.map_or(Span::ZERO, |runner| runner.ridden(now)),
            taken_up: self.taken_up(),
            group: self.group_view(now),
            power: self.links.power(now).reading(now),
            cadence: self.links.cadence(now).reading(now),
            heart_rate: self.links.heart_rate(now).reading(now),
            speed: self.links.speed(now).reading(now),
            lane: runner.and_then(|runner| runner.lane(now)),
            effort: runner.and_then(|runner| runner.effort(now)),
            going: runner
                .filter(|_| under_way)
                .and_then(|runner| runner.going(now, &self.facts(now))),
            brake: self.brake,
            released: if under_way && brake_in_hand {
                runner.map_or("", Runner::released)
            } else {
                ""
            },
            brake_in_hand,
            gear: runner
                .filter(|_| under_way)
                .map(|runner| runner.gear_words(now))
                .unwrap_or_default(),
            ledger: self.ledger.clone(),
            split: runner.and_then(|runner| self.split(now, runner.lane(now))),
            brake_answer: self.identification.answer().words(),
            meter_led: runner.and_then(|runner| runner.meter().words()),
            flywheel: self.flywheel(),
            trim_work,
            trim_recovery,
            ink: ride.map_or_else(|| Arc::from([]), |ride| ride.ink.iter().copied().collect()),
            cue: self.cue(now),
            notice: self.notices.shown(),
            question: self.question(now),
            armed: ride.and_then(|ride| ride.armed.map(|(armed, _)| armed)),
            can_undo: ride.is_some_and(|ride| ride.undo_until.is_some()),
            adapter: self.adapter.clone(),
            devices: self.device_rows(now).into(),
            changed: self.changed.clone(),
            let_go_first: self.let_go_first(),
            missing: self.missing(now),
            record: self.record.clone(),
            w_balance: ride
                .and_then(|ride| ride.rows.w_balance())
                .map(|left| left.0),
            work: ride.map_or(0.0, |ride| ride.rows.work()),
            summary: self.summary(),
            test: self.test_outcome(),
            spin_down: self.spin_downs(&self.facts(now)),
            cautions_seen_today: self.cautions_are_seen(now),
            last_recoveries: planned
                .map(|choice| self.memory.last_recoveries(&choice.plan.name))
                .unwrap_or_default(),
            plan,
            laps,
        }
    }

    /// The cue that stands now: the newest one that is due in this block and not older than some seconds.
    fn cue(&self, now: Instant) -> Option<Arc<str>> {
        let (ride, choice) = self.ride.as_ref().zip(self.choice.as_ref())?;
        if !self.mode.under_way() {
            return None;
        }
        let place = ride.runner.place(now)?;
        let timeline = ride.runner.timeline();
        let lap = timeline.laps()[place.lap];
        let block = &choice.plan.blocks[lap.block];
        let due = |cue: &&crate::plan::Cue| match cue.place {
            CuePlace::FromStart(after) => {
                after <= place.into && place.into.less(after) < CUE_STANDS
            }
            CuePlace::FromEnd(before) => {
                before >= place.left && before.less(place.left) < CUE_STANDS
            }
        };
        let since = |cue: &crate::plan::Cue| match cue.place {
            CuePlace::FromStart(after) => place.into.less(after),
            CuePlace::FromEnd(before) => before.less(place.left),
        };
        let cue = block.cues.iter().filter(due).min_by_key(|cue| since(cue))?;
        let next = timeline.next(place.lap).map(|next| {
            let lap = timeline.laps()[next];
            (choice.plan.blocks[lap.block].target, lap.length)
        });
        // Figures are those of the moment at which the cue fell due, so that its words stand still.
        let figures = Figures {
            left: place.left + since(cue),
            repeat: block.repeat,
            next,
            total_left: timeline.length().less(ride.runner.session(now)) + since(cue),
        };
        Some(Arc::from(fill(&cue.text, &figures, choice.plan.language)))
    }

    /// What is missing before a start, a sentence each.
    fn missing(&self, now: Instant) -> Vec<String> {
        let mut missing = Vec::new();
        if self.mode.under_way() {
            return missing;
        }
        if self.choice.is_none() {
            missing.push(entry!("Choose a session and a rider.").to_owned());
        }
        missing.extend(self.missing_for_test());
        for role in Role::ALL {
            let Some(id) = self.links.used_for(role) else {
                continue;
            };
            let name = self.links.name(id);
            if self.links.is_unusable(id) {
                missing.push(kept!(
                    "{name} cannot be used as {role}.",
                    role = role.words()
                ));
            } else if !self.links.is_up(id) {
                missing.push(kept!("{name} is not connected yet."));
            } else if role.kind() == Role::Heart
                && self.links.heart_rate(now).reading(now).fresh().is_none()
            {
                missing.push(kept!("{name} shows no heart rate yet: wet its contacts."));
            }
        }
        missing
    }

    /// The effort that the plan asks for now.
    pub fn effort(&self, now: Instant) -> Option<Effort> {
        self.ride.as_ref().and_then(|ride| ride.runner.effort(now))
    }
}
