//! What a threshold test comes to: a proposed value with its method and its uncertainty in words, or why there is none.
//!
//! The law behind both tests is that of critical power, t = W′/(P − CP) (Monod & Scherrer 1965; Hill 1993): work above
//! critical power empties a reserve, W′, and where it is empty the rider can go on at critical power alone. The step
//! test empties the reserve by rising watts and takes W′ from the rider's file; the three-minute test reads critical
//! power from its last thirty seconds (Vanhatalo, Doust & Burnley 2007, *memory*) and W′ from the work above it.

use crate::plan::{CadenceBand, ThresholdTest};
use crate::units::{Joules, Watts, legal};

/// Critical power lies several per cent above threshold power (*memory*); five are taken, and it is said.
pub const CRITICAL_OVER_THRESHOLD: f64 = 1.05;
/// Power may be missing for so many seconds together, as in a window of best means.
const MOST_GAP: usize = 3;
/// Below this the pedals stand, W and rpm (rules of the ride).
const TURNING: f64 = 20.0;
/// A step test shorter than this says little: its load was above threshold from the first steps on. Our own choice.
const LEAST_STEPS_S: usize = 360;
/// The brake may be on its way for so long at the start, and fail for a moment, seconds. Our own choice.
const MOST_NOT_HELD_S: usize = 15;
/// A load that fell short of the plan by more than this near the end was capped, W.
const CAPPED_BY: f64 = 3.0;
/// The last part of the steps that is looked at for it, seconds.
const NEAR_END_S: usize = 120;
/// Seconds of a three-minute test, and of its end.
const ALL_OUT_S: usize = 180;
const END_S: usize = 30;
/// All out means that the first thirty seconds lie well above the last. Our own choice.
const OPENS_ABOVE: f64 = 1.15;
/// And that no thirty seconds before the last are weaker than they by more than this share: else it was paced.
const PACED_BY: f64 = 0.05;
/// How far W′ of a rider may lie from a file that somebody has checked, as a share; and where nobody has, from where to
/// where it lies in most people, J. Common practice, no source.
const W_PRIME_SLACK: f64 = 0.25;
const W_PRIME_USUAL: (f64, f64) = (8_000.0, 25_000.0);
/// No result is surer than this share of it, the error of a good trainer aside. Our own choice.
const LEAST_DOUBT: f64 = 0.04;

/// One ridden second of a test's own blocks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TestSecond {
    /// Wall-clock time at its end, ms: a clock that stood shows in it.
    pub utc_ms: i64,
    /// The block's index in the plan.
    pub block: usize,
    /// Mean power, W.
    pub power: Option<f64>,
    /// Mean cadence, rpm.
    pub cadence: Option<f64>,
    /// What the plan asks for, W.
    pub lane: Option<f64>,
    /// The watts that the brake holds; none where it holds none.
    pub held: Option<f64>,
    /// The level or slope that stands; none where none does.
    pub stands: Option<f64>,
}

/// What else is needed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Known {
    /// W′ in the rider's file.
    pub w_prime: Joules,
    /// Whether somebody has checked it.
    pub w_prime_checked: bool,
    /// Whether the rider could not go on: the legs fell out of their band or stalled, or the rider ended the test.
    pub exhausted: bool,
    /// The cadence that the test asks for.
    pub band: Option<CadenceBand>,
}

/// What a test found.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// Threshold power, whole watts.
    pub threshold: Watts,
    /// It may as well lie so much higher or lower, whole watts.
    pub give: Watts,
    /// Critical power.
    pub critical_power: Watts,
    /// W′, where the test measures it.
    pub w_prime: Option<Joules>,
    /// How it was found, a sentence.
    pub method: String,
    /// How sure it is, a sentence or two.
    pub doubt: String,
}

/// Works out what a test found from the seconds of its own blocks, in their order.
///
/// # Errors
/// Why there is no value, a sentence each, where a condition of the test was not met.
pub fn find(
    test: ThresholdTest,
    seconds: &[TestSecond],
    known: &Known,
) -> Result<Finding, Vec<String>> {
    let mut against = common(seconds);
    let finding = match test {
        ThresholdTest::Step => {
            against.extend(against_steps(seconds, known));
            from_steps(seconds, known)
        }
        ThresholdTest::ThreeMinutes => {
            against.extend(against_all_out(seconds, known));
            from_all_out(seconds)
        }
    };
    if !against.is_empty() {
        return Err(against);
    }
    finding
        .filter(|found| {
            let sane = |value: f64, range: crate::units::Legal| range.check(value).is_ok();
            sane(found.threshold.0, legal::THRESHOLD)
                && found.w_prime.is_none_or(|w| sane(w.0, legal::W_PRIME))
        })
        .ok_or_else(|| {
            vec![entry!("The figures give no value that a rider can have. Look at the power source, and ride the test again.").to_owned()]
        })
}

/// What stands in the way of either test.
fn common(seconds: &[TestSecond]) -> Vec<String> {
    let mut against = Vec::new();
    if seconds.is_empty() {
        return vec![entry!("The test itself was not ridden.").to_owned()];
    }
    if seconds.iter().all(|second| second.power.is_none()) {
        return vec![
            entry!("No power was measured: the test needs a trainer or a meter that tells it.")
                .to_owned(),
        ];
    }
    let runs = |missing: fn(&TestSecond) -> bool| {
        let mut longest = 0;
        let mut run = 0;
        for second in seconds {
            run = if missing(second) { run + 1 } else { 0 };
            longest = longest.max(run);
        }
        longest
    };
    let gap = runs(|second| second.power.is_none());
    if gap > MOST_GAP {
        against.push(kept!("Power was missing for {gap} s together."));
    }
    let still = runs(|second| {
        second.power.is_some_and(|power| power < TURNING)
            && second.cadence.is_none_or(|cadence| cadence < TURNING)
    });
    if still > MOST_GAP {
        against.push(kept!("The pedals stood still for {still} s."));
    }
    let stood = seconds
        .windows(2)
        .any(|pair| pair[1].utc_ms - pair[0].utc_ms > 3_000);
    if stood {
        against.push(
            entry!("The clock stood during the test, and legs recover in that time.").to_owned(),
        );
    }
    against
}

fn mean(values: impl Iterator<Item = f64>) -> Option<f64> {
    let (count, sum) = values.fold((0.0, 0.0), |(count, sum), value| (count + 1.0, sum + value));
    (count > 0.0).then(|| sum / count)
}

fn powers(seconds: &[TestSecond]) -> impl Iterator<Item = f64> + '_ {
    seconds.iter().filter_map(|second| second.power)
}

fn against_steps(seconds: &[TestSecond], known: &Known) -> Vec<String> {
    let mut against = Vec::new();
    if seconds.is_empty() {
        return against;
    }
    if !known.exhausted {
        against.push(
            entry!("The steps ended before you did: the threshold lies higher than they can tell. Set a higher one and ride the test again when rested.")
                .to_owned(),
        );
    }
    if seconds.len() < LEAST_STEPS_S {
        against.push(
            entry!("The steps were over within six minutes: they began too high, or the test was cut short.")
                .to_owned(),
        );
    }
    let not_held = seconds
        .iter()
        .filter(|second| second.held.is_none())
        .count();
    if not_held > MOST_NOT_HELD_S {
        against.push(kept!(
            "The brake did not hold the watts for {not_held} s: the step test is ridden in target-power mode on a trainer that takes it."
        ));
    }
    let near_end = seconds.iter().rev().take(NEAR_END_S);
    let short = near_end
        .filter(|second| match (second.lane, second.held) {
            (Some(lane), Some(held)) => held < lane - CAPPED_BY,
            _ => false,
        })
        .count();
    // The load may be on its way up for a third of a step.
    if short * 2 > NEAR_END_S {
        against.push(
            entry!("The last steps were held under what they ask for, by your power cap, a trim or an ease.")
                .to_owned(),
        );
    }
    if let Some(band) = known.band {
        let under = seconds
            .iter()
            .filter(|second| second.cadence.is_some_and(|cadence| cadence < band.low.0))
            .count();
        if under * 5 > seconds.len() {
            against.push(
                entry!("The cadence was under its band for more than a fifth of the test.")
                    .to_owned(),
            );
        }
    }
    against
}

/// Means and lengths of the steps, in their order.
fn steps(seconds: &[TestSecond]) -> Vec<(f64, f64)> {
    seconds
        .chunk_by(|one, next| one.block == next.block)
        .filter_map(|step| Some((mean(powers(step))?, step.len() as f64)))
        .collect()
}

/// The critical power with which these steps (W, s) just empty W′: Σ max(P − CP, 0)·t = W′. None where all their work
/// together is less than W′.
fn critical_power(steps: &[(f64, f64)], w_prime: f64) -> Option<f64> {
    let spent = |critical: f64| -> f64 {
        steps
            .iter()
            .map(|(power, time)| (power - critical).max(0.0) * time)
            .sum()
    };
    let (mut low, mut high) = (0.0, steps.iter().map(|step| step.0).fold(0.0, f64::max));
    if spent(low) < w_prime {
        return None;
    }
    // Halving 60 times goes far below a thousandth of a watt.
    for _ in 0..60 {
        let middle = (low + high) / 2.0;
        if spent(middle) > w_prime {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some((low + high) / 2.0)
}

fn from_steps(seconds: &[TestSecond], known: &Known) -> Option<Finding> {
    let steps = steps(seconds);
    let w_prime = known.w_prime.0;
    let (least, most) = if known.w_prime_checked {
        (
            w_prime * (1.0 - W_PRIME_SLACK),
            w_prime * (1.0 + W_PRIME_SLACK),
        )
    } else {
        (W_PRIME_USUAL.0.min(w_prime), W_PRIME_USUAL.1.max(w_prime))
    };
    let critical = critical_power(&steps, w_prime)?;
    let high = critical_power(&steps, least)?;
    let low = critical_power(&steps, most).unwrap_or(0.0);
    let give = (high - critical)
        .max(critical - low)
        .max(critical * LEAST_DOUBT);
    let doubt = if known.w_prime_checked {
        entry!(
            "An estimate. It leans on that W′, which somebody has checked, and takes threshold as five per cent under critical power. An error of the trainer's own watts goes into it whole."
        )
    } else {
        entry!(
            "An estimate. It leans on that W′, which nobody has checked yet, and takes threshold as five per cent under critical power. An error of the trainer's own watts goes into it whole."
        )
    };
    Some(Finding {
        threshold: Watts((critical / CRITICAL_OVER_THRESHOLD).round()),
        give: Watts((give / CRITICAL_OVER_THRESHOLD).ceil()),
        critical_power: Watts(critical),
        w_prime: None,
        method: kept!(
            "From the step test: a critical power of {critical:.0} W is what the steps that you rode would just exhaust, with the W′ of {reserve:.1} kJ in your file.",
            reserve = w_prime / 1000.0
        ),
        doubt: doubt.to_owned(),
    })
}

fn against_all_out(seconds: &[TestSecond], known: &Known) -> Vec<String> {
    let mut against = Vec::new();
    if seconds.is_empty() {
        return against;
    }
    if seconds.len() < ALL_OUT_S {
        against.push(kept!(
            "The test was cut short: {ridden} of {whole} s were ridden.",
            ridden = seconds.len(),
            whole = ALL_OUT_S
        ));
        return against;
    }
    if seconds.len() > ALL_OUT_S {
        against.push(entry!("The test was made longer than three minutes.").to_owned());
        return against;
    }
    if seconds.iter().any(|second| second.held.is_some()) {
        against.push(
            entry!("The brake held watts: all out needs a resistance that stands.").to_owned(),
        );
    }
    // In the first seconds the load may still be on its way.
    let stood: Vec<Option<f64>> = seconds[MOST_NOT_HELD_S..]
        .iter()
        .map(|s| s.stands)
        .collect();
    if stood.iter().any(Option::is_none) {
        against.push(entry!("No resistance stood for the whole test.").to_owned());
    } else if stood.windows(2).any(|pair| pair[0] != pair[1]) {
        against.push(entry!("The resistance was changed during the test, by hand or because your sprint cap bounds it.").to_owned());
    }
    let end = &seconds[ALL_OUT_S - END_S..];
    if end.iter().any(|second| second.power.is_none()) {
        against.push(
            entry!("Power was missing within the last thirty seconds, which carry the result.")
                .to_owned(),
        );
    }
    if let (Some(band), Some(cadence)) = (known.band, mean(end.iter().filter_map(|s| s.cadence)))
        && (cadence < band.low.0 || cadence > band.high.0)
    {
        let (low, high) = (band.low.0, band.high.0);
        against.push(if cadence < low {
            kept!(
                "The cadence of the last thirty seconds was {cadence:.0} rpm, outside {low:.0} to {high:.0}: choose an easier gear next time."
            )
        } else {
            kept!(
                "The cadence of the last thirty seconds was {cadence:.0} rpm, outside {low:.0} to {high:.0}: choose a harder gear next time."
            )
        });
    }
    let window = |from: usize| mean(powers(&seconds[from..from + END_S]));
    if let (Some(first), Some(last)) = (window(0), window(ALL_OUT_S - END_S)) {
        let weaker = (0..ALL_OUT_S - END_S)
            .filter_map(window)
            .any(|mean| mean < last * (1.0 - PACED_BY));
        if first < last * OPENS_ABOVE || weaker {
            against.push(
                entry!("It was paced: the power did not begin high and fall all the way. All out holds nothing back, from the first second on.")
                    .to_owned(),
            );
        }
    }
    against
}

fn from_all_out(seconds: &[TestSecond]) -> Option<Finding> {
    if seconds.len() != ALL_OUT_S {
        return None;
    }
    let part = |from: usize| mean(powers(&seconds[from..from + END_S]));
    let critical = part(ALL_OUT_S - END_S)?;
    let whole = mean(powers(seconds))?;
    let before = part(ALL_OUT_S - 2 * END_S)?;
    let w_prime = (whole - critical) * ALL_OUT_S as f64;
    // What was still falling in the last minute had not come to its end.
    let earlier = part(ALL_OUT_S - 3 * END_S)?;
    let (fell, had_fallen) = (before - critical, earlier - before);
    // A fall that shrinks from half-minute to half-minute goes on by the rest of its geometric series; where it hardly
    // shrinks nothing can be told of its end, and three times its last step is as far as is looked.
    let shrinks = (fell / had_fallen).clamp(0.0, 0.75);
    let to_come = if had_fallen > 0.0 {
        fell * shrinks / (1.0 - shrinks)
    } else {
        fell
    };
    let give = fell.max(to_come).max(critical * LEAST_DOUBT);
    Some(Finding {
        threshold: Watts((critical / CRITICAL_OVER_THRESHOLD).round()),
        give: Watts((give / CRITICAL_OVER_THRESHOLD).ceil()),
        critical_power: Watts(critical),
        w_prime: Some(Joules((w_prime / 100.0).round() * 100.0)),
        method: kept!(
            "From the three-minute test: the last thirty seconds gave a critical power of {critical:.0} W, and the work above it a W′ of {reserve:.1} kJ.",
            reserve = w_prime / 1000.0
        ),
        doubt: entry!("An estimate. It holds only if nothing was held back, and takes threshold as five per cent under critical power. An error of the trainer's own watts goes into it whole.").to_owned(),
    })
}

#[cfg(test)]
mod tests;
