//! What the loads round the beats say.

use crate::ride::{HOLD, LOOK, LOW, Look, Ridden, SPRINT};

/// A hold builds up over this, seconds.
const BUILD_UP: f64 = 10.0;
/// So much is looked at before a beat and after it, seconds.
const BEFORE: f64 = 4.0;
const AFTER: f64 = 18.0;

/// How a brake did.
pub struct Measured {
    /// The largest distance of the load from the planned ramp, as a share of the step, late and early apart.
    pub ramp_late: f64,
    pub ramp_early: f64,
    /// When half of the step stood, seconds after its beat.
    pub half: f64,
    /// The greatest load over the target of the step, as a share of the step.
    pub overshoot: f64,
    /// Work over the plan before the beat of a step, joules: done, and asked for.
    pub work_before: f64,
    pub asked_before: f64,
}

/// The load round a beat, a mean over all the beats, so that the unevenness of the legs falls out.
pub fn mean(looks: &[Look], beats: &[f64]) -> Vec<(f64, f64)> {
    mean_of(looks, beats, |look| look.load)
}

fn mean_of(looks: &[Look], beats: &[f64], of: impl Fn(&Look) -> f64) -> Vec<(f64, f64)> {
    let step = LOOK.seconds();
    let count = ((BEFORE + AFTER) / step) as usize;
    let mut sum = vec![0.0; count];
    for beat in beats {
        let first = looks
            .iter()
            .position(|look| look.second >= beat - BEFORE - step / 2.0)
            .unwrap();
        for (sum, look) in sum.iter_mut().zip(&looks[first..]) {
            *sum += of(look) / beats.len() as f64;
        }
    }
    let at = |index: usize| index as f64 * step - BEFORE;
    sum.into_iter()
        .enumerate()
        .map(|(index, load)| (at(index), load))
        .collect()
}

impl Measured {
    pub fn of(ridden: &Ridden) -> Self {
        let ramp = mean(&ridden.looks, &ridden.holds);
        let step = mean(&ridden.looks, &ridden.sprints);
        let planned = |at: f64| LOW + (HOLD - LOW) * (at / BUILD_UP).clamp(0.0, 1.0);
        let errors = ramp
            .iter()
            .map(|(at, load)| (load - planned(*at)) / (HOLD - LOW));
        let (mut early, mut late) = (0.0_f64, 0.0_f64);
        for error in errors {
            early = early.max(error);
            late = late.max(-error);
        }
        let middle = (LOW + SPRINT) / 2.0;
        let half = step.iter().find(|(_, load)| *load >= middle);
        let sprint = step.iter().filter(|(at, _)| (0.0..11.0).contains(at));
        let most = sprint.map(|(_, load)| *load).fold(0.0, f64::max);
        let told = mean_of(&ridden.looks, &ridden.sprints, |look| look.told);
        let work = |loads: &[(f64, f64)]| {
            let before = loads.iter().filter(|(at, _)| *at < 0.0);
            before.map(|(_, load)| (load - LOW) * LOOK.seconds()).sum()
        };
        Self {
            ramp_late: late,
            ramp_early: early,
            half: half.map_or(f64::NAN, |(at, _)| *at),
            overshoot: (most - SPRINT).max(0.0) / (SPRINT - LOW),
            work_before: work(&step),
            asked_before: work(&told),
        }
    }
}

/// The head of the table.
pub const HEAD: &str = "| brake | lead: ramp, step s | ramp late % | early % | floor % | half of step s | overshoot % | work before J, asked J | without: late % | half s | over % | before J |\n|---|---|---|---|---|---|---|---|---|---|---|---|";

/// One line of the table.
pub fn line(
    name: &str,
    dead: f64,
    lag: f64,
    before: &Measured,
    after: &Measured,
    ridden: &Ridden,
) -> String {
    // A first-order brake at the end of a ramp that was sent ahead by its whole delay, or by two seconds: rate × lag ×
    // e^(−(lead − dead) / lag).
    let lead = (dead + lag).min(2.0);
    let steady = (dead + lag - lead) / BUILD_UP;
    let floor = (lag / BUILD_UP * (-(lead - dead) / lag).exp()).max(steady);
    format!(
        "| {name} | {:.2}, {:.2} | {:.1} | {:.1} | {:.1} | {:+.2} | {:.1} | {:.0}, {:.0} | {:.1} | {:+.2} | {:.1} | {:.0} |",
        ridden.lead.0,
        ridden.lead.1,
        after.ramp_late * 100.0,
        after.ramp_early * 100.0,
        floor * 100.0,
        after.half,
        after.overshoot * 100.0,
        after.work_before,
        after.asked_before,
        before.ramp_late * 100.0,
        before.half,
        before.overshoot * 100.0,
        before.work_before,
    )
}
