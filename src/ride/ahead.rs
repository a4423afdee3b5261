//! The loads still to come: what the runner will ask of the brake if nothing is done to the ride from now on.

use crate::plan::{Kind, Plan};
use crate::ride::build_up::BuildUp;
use crate::ride::load::{self, Ease};
use crate::ride::timeline::Lap;
use crate::rider::{self, Rider};
use crate::time::{Instant, Span};
use crate::units::BrakeRange;

/// The loads are reckoned this far apart, as the runner does while a load is on its way.
const STEP: Span = Span::from_millis(250);

/// How a ride stands at a moment, as far as the held loads to come follow from it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Going {
    /// The moment.
    pub now: Instant,
    /// Session time at that moment.
    pub session: Span,
    /// The lap that [`build`](Self::build) and [`ease`](Self::ease) belong to.
    pub lap: usize,
    /// The way that the load is on.
    pub build: BuildUp,
    /// How far it has risen, watts; none where no watts are held yet.
    pub risen: Option<f64>,
    /// What eases this lap.
    pub ease: Ease,
    /// Why later laps are held at a recovery's load too: a lost heart rate, which no beat brings back.
    pub to_recovery_on: Option<&'static str>,
    /// Today's trim of work and of recovery, presses.
    pub trims: (i32, i32),
    /// What the trainer takes, watts.
    pub range: BrakeRange,
    /// Until when a sprint's cap still counts for its fall.
    pub sprint_cap_until: Instant,
}

/// The session as it stands today, for this rider.
#[derive(Clone, Copy, Debug)]
pub struct Today<'a> {
    /// The session.
    pub plan: &'a Plan,
    /// Its blocks as they stand today.
    pub laps: &'a [Lap],
    /// The rider.
    pub rider: &'a Rider,
}

/// A held load at a moment to come.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Coming {
    /// Session time.
    pub at: Span,
    /// The lap.
    pub lap: usize,
    /// The load as it will be asked for, before the trainer's step rounds it down, watts; none where the brake holds
    /// none.
    pub watts: Option<f64>,
}

/// The held loads from `going` on until `until`, in the order of time: four a second at most, and both sides of each
/// beat. `until` bounds the work, however long the session is.
pub fn ahead(today: &Today<'_>, going: &Going, until: Span) -> Vec<Coming> {
    let mut coming = Vec::new();
    let Some(first) = today.laps.iter().position(|lap| going.session < lap.end()) else {
        return coming;
    };
    let mut way = Way {
        today,
        going,
        build: going.build,
        ease: going.ease,
        sprint_cap_until: going.sprint_cap_until,
        risen: going.risen.map(|risen| (going.now, risen)),
        stands: going.risen,
    };
    let mut before = None;
    for (index, lap) in today.laps.iter().enumerate().skip(first) {
        if lap.start > until {
            break;
        }
        if lap.length == Span::ZERO {
            continue;
        }
        if index != going.lap {
            way.pass_beat(before.unwrap_or(going.lap), index);
        }
        let mut at = lap.start.max(going.session);
        let last = lap.end().less(Span(1));
        loop {
            let watts = way.load(index, at);
            coming.push(Coming {
                at,
                lap: index,
                watts,
            });
            if at >= last || at > until {
                break;
            }
            at = Span((at.0 / STEP.0 + 1) * STEP.0).min(last);
        }
        before = Some(index);
    }
    coming
}

/// The load on its way through the laps.
struct Way<'a> {
    today: &'a Today<'a>,
    going: &'a Going,
    build: BuildUp,
    ease: Ease,
    sprint_cap_until: Instant,
    /// How far the load had risen before its cap, and when.
    risen: Option<(Instant, f64)>,
    /// The watts that stand; none where the brake holds none.
    stands: Option<f64>,
}

impl Way<'_> {
    fn when(&self, at: Span) -> Instant {
        self.going.now + at.less(self.going.session)
    }

    fn pass_beat(&mut self, before: usize, lap: usize) {
        let block = |lap: usize| {
            let lap = self.today.laps.get(lap)?;
            self.today.plan.blocks.get(lap.block)
        };
        let Some(into) = block(lap) else { return };
        let beat = self.when(self.today.laps[lap].start);
        let from_held_sprint = self.stands.is_some()
            && block(before)
                .is_some_and(|block| block.kind == Kind::Sprint && load::is_held(block, 1.0));
        // After a block in which the rider made the watts nobody knows what will stand: drawn as if it were the block's.
        let from = self.stands.unwrap_or(f64::INFINITY);
        let back = self.build.left_from_nothing(beat);
        self.build = load::way_into(into, from, beat, from_held_sprint, back);
        if from.is_infinite() {
            self.build = BuildUp::new(0.0, beat, Span::ZERO);
        }
        if from_held_sprint {
            self.sprint_cap_until = self.build.fall_ends();
        }
        let today = self.today;
        self.ease = Ease {
            floor: load::recovery_load(today.plan, today.laps, lap, today.rider),
            to_recovery: self.going.to_recovery_on,
            ..Ease::NONE
        };
    }

    fn load(&mut self, lap: usize, at: Span) -> Option<f64> {
        let place = self.today.laps[lap];
        let block = self.today.plan.blocks.get(place.block)?;
        let share = at.less(place.start).seconds() / place.length.seconds();
        if !load::is_held(block, share) {
            self.stands = None;
            self.risen = None;
            return None;
        }
        let now = self.when(at);
        let rider = self.today.rider;
        let watts = block
            .target
            .at(share)
            .and_then(|load| rider::lane(&load, rider));
        let (work, recovery) = self.going.trims;
        let trim = load::trim_factor(if block.kind.is_work() { work } else { recovery });
        let cap = load::cap(block, rider);
        let falling = now < self.sprint_cap_until && block.kind != Kind::Sprint;
        let falls_to = load::falls_to(falling, rider);
        let steps = load::steps(watts, cap, trim, self.ease, &self.build, now, falls_to);
        let built = match self.risen {
            Some((since, risen)) if block.kind != Kind::Sprint => {
                load::limit_rise(steps.built, risen, now.since(since))
            }
            _ => steps.built,
        };
        self.risen = Some((now, built));
        let cap = match self.stands {
            Some(stands) if now < self.sprint_cap_until => {
                cap.0.max(stands.min(rider.sprint_cap.0))
            }
            _ => cap.0,
        };
        let range = self.going.range;
        let capped = built.min(cap.min(range.most));
        // A trainer whose least is above the cap is released instead.
        let watts = (range.least <= cap).then(|| capped.max(range.least));
        self.stands = watts;
        watts
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used)]

    use super::*;
    use crate::ride::Timeline;
    use crate::ride::build_up::BUILD_UP;
    use crate::ride::testing::{block, of};
    use crate::units::Watts;

    const RANGE: BrakeRange = BrakeRange {
        least: 0.0,
        most: 1000.0,
        step: 1.0,
    };

    #[test]
    fn holds_build_over_ten_seconds_recoveries_fall_over_two_and_a_sprint_stands_on() {
        let plan = of(vec![
            block(Kind::Recovery, 20, 4.0),
            block(Kind::Hold, 20, 8.0),
            block(Kind::Sprint, 20, 10.0),
            block(Kind::Recovery, 20, 4.0),
        ]);
        let timeline = Timeline::new(&plan);
        let rider = Rider {
            threshold: Watts(200.0),
            power_cap: Watts(250.0),
            sprint_cap: Watts(400.0),
            ..Rider::default()
        };
        let going = Going {
            now: Instant(9_000_000),
            session: Span::from_seconds(10),
            lap: 0,
            build: BuildUp::new(110.0, Instant::ZERO, BUILD_UP),
            risen: Some(110.0),
            ease: Ease::NONE,
            to_recovery_on: None,
            trims: (0, 0),
            range: RANGE,
            sprint_cap_until: Instant::ZERO,
        };
        let today = Today {
            plan: &plan,
            laps: timeline.laps(),
            rider: &rider,
        };
        let coming = ahead(&today, &going, Span::from_seconds(80));
        let at = |seconds: f64| {
            let at = Span::from_seconds_f64(seconds);
            let found = coming.iter().find(|coming| coming.at == at).unwrap();
            found.watts.unwrap()
        };
        // Effort 4 is 55 % and 8 is 91 % of 200 W by the default map; a held sprint is all that its cap allows.
        for (seconds, watts) in [
            (10.0, 110.0),
            (20.0, 110.0),
            (25.0, 146.0),
            (30.0, 182.0),
            (40.0, 400.0),
            (60.0, 400.0),
            (61.0, 400.0),
            (61.75, 255.0),
            (62.5, 110.0),
            (70.0, 110.0),
        ] {
            assert!(
                (at(seconds) - watts).abs() < 1e-6,
                "{seconds}: {}",
                at(seconds)
            );
        }
        let short = ahead(&today, &going, Span::from_seconds(12));
        assert!(short.len() < 12, "no more is reckoned than is asked for");
    }
}
