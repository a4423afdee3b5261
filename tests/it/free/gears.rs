//! The gear of the last hold, told from a practice rider's reports and held against the gears that were truly ridden.

use stillroad::device::practice::{PracticeConfig, Script, SpeedFrom};
use stillroad::ride::RideMode;
use stillroad::units::{Joules, Watts};

use super::Trial;
use crate::world::{rider, session};

const HOLDS: usize = 4;
/// The warm-up, a hold and a recovery, seconds.
const WARM_UP: f64 = 120.0;
const HOLD: f64 = 45.0;
const RECOVERY: f64 = 30.0;

/// Fixed before anything was measured: of all looks at which the last hold's gear is said to be ridden, so many at most
/// may be wrong; and of all at which it is ridden for five seconds and more, so many at most may be missed.
const MOST_FALSE: f64 = 0.005;
const MOST_MISSED: f64 = 0.10;

/// A few numbers from a seed (the multiplier of Knuth's MMIX generator).
struct Dice(u64);

impl Dice {
    fn below(&mut self, sides: u64) -> u64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % sides
    }
}

/// Gears by chance for each hold, now and then a coast, and a shift under load in the middle of a hold.
fn config(seed: u64) -> PracticeConfig {
    let mut dice = Dice(seed);
    let mut script = Script::ride(88.0);
    let begin = 5.0 + WARM_UP;
    let mut extra = 0;
    for hold in 0..HOLDS {
        let at = begin + hold as f64 * (HOLD + RECOVERY);
        let harder = 1 + dice.below(2) as i32;
        // Some shift before the beat and some after it, in one go or one by one.
        script = script.shift(at - 3.0 + dice.below(6) as f64, harder - extra);
        if dice.below(3) == 0 {
            script = script.shift(at + 20.0, 1).shift(at + 27.0, -1);
        }
        if dice.below(3) == 0 {
            script = script.coast(at + 10.0, 2.0, 88.0);
        }
        extra = dice.below(2) as i32;
        script = script.shift(at + HOLD + 2.0, extra - harder);
        // Another cadence in some recoveries.
        script = script
            .pedal(at + HOLD + 5.0, 78.0 + dice.below(20) as f64)
            .pedal(at + HOLD + 20.0, 88.0);
    }
    // Legs that can turn every gear of the script.
    PracticeConfig::for_rider(Watts(320.0), Joules(25_000.0))
        .seeded(seed)
        .scripted(script)
}

struct Counted {
    said: usize,
    wrong: usize,
    ridden: usize,
    missed: usize,
    words: usize,
}

fn ride(config: PracticeConfig) -> Counted {
    let mut blocks = "[[block]]\nkind = \"warm-up\"\ntime = \"2:00\"\neffort = [2, 5]\n".to_owned();
    for _ in 0..HOLDS {
        blocks += "[[block]]\nkind = \"hold\"\ntime = \"0:45\"\neffort = 7\n\
                   [[block]]\nkind = \"recovery\"\ntime = \"0:30\"\neffort = 4\n";
    }
    let mut trial = Trial::new(config, &session(&blocks), &rider(), RideMode::EffortOnly);
    let mut counted = Counted {
        said: 0,
        wrong: 0,
        ridden: 0,
        missed: 0,
        words: 0,
    };
    let mut last: Option<f64> = None;
    for hold in 0..HOLDS {
        let begin = 5.0 + WARM_UP + hold as f64 * (HOLD + RECOVERY);
        trial.to(begin);
        let mut steady = 0.0;
        let mut now = begin;
        while now < begin + HOLD - 0.5 {
            now += 0.25;
            trial.to(now);
            let words = trial.ride.snapshot().gear.clone();
            counted.words += usize::from(!words.now.is_empty() || !words.next.is_empty());
            let Some(last) = last else { continue };
            let truths: Vec<f64> = trial
                .truths
                .iter()
                .rev()
                .take(100)
                .map(|t| t.development)
                .collect();
            let same = |d: f64| (d / last - 1.0).abs() < 0.005;
            steady = truths.iter().take_while(|d| same(**d)).count() as f64 * 0.05;
            let says = words.now == "This is the last hold's gear.";
            if says {
                counted.said += 1;
                counted.wrong += usize::from(!same(truths[0]));
            }
            // Five seconds in the gear, with legs that drive it.
            let driving = trial.seen.0.lock().unwrap().bike().legs().torque() > 5.0;
            if steady >= 5.0 && driving {
                counted.ridden += 1;
                counted.missed += usize::from(!says);
            }
        }
        let _ = steady;
        // The gear that was ridden longest in the hold.
        let within: Vec<f64> = trial
            .truths
            .iter()
            .filter(|t| t.second > begin)
            .map(|t| t.development)
            .collect();
        let longest = within
            .iter()
            .max_by_key(|d| within.iter().filter(|e| (**e - **d).abs() < 1e-9).count());
        last = longest.copied();
    }
    counted
}

#[test]
fn the_gear_of_the_last_hold_is_told_and_seldom_wrong() {
    let (mut said, mut wrong, mut ridden, mut missed) = (0, 0, 0, 0);
    for seed in 1..=24 {
        let counted = ride(config(seed));
        said += counted.said;
        wrong += counted.wrong;
        ridden += counted.ridden;
        missed += counted.missed;
    }
    let false_rate = wrong as f64 / said as f64;
    let miss_rate = missed as f64 / ridden as f64;
    println!(
        "24 rides: said {said}, wrong {wrong} ({:.2} %); ridden {ridden}, missed {missed} ({:.1} %)",
        false_rate * 100.0,
        miss_rate * 100.0
    );
    assert!(said > 500 && ridden > 500, "{said} {ridden}");
    assert!(false_rate <= MOST_FALSE, "{false_rate}");
    assert!(miss_rate <= MOST_MISSED, "{miss_rate}");
}

#[test]
fn a_speed_that_follows_power_is_met_with_silence() {
    for seed in 1..=24 {
        let mut config = config(seed);
        config.trainer.speed_from = SpeedFrom::Power;
        assert_eq!(ride(config).words, 0, "seed {seed}");
    }
}
