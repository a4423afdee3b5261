//! The gear of the last hold, told from a practice rider's reports and held against the gears that were truly ridden.

use stillroad::device::practice::{PracticeConfig, Script, SpeedFrom};
use stillroad::engine::Command;
use stillroad::ride::RideMode;
use stillroad::rider::{Drivetrain, Rider};
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
/// Shifts are counted only once the gears that were ridden leave one answer, so that more may go uncounted.
const MOST_UNCOUNTED: f64 = 0.50;

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

/// The shifts that a line counts, harder where positive.
fn counted_aloud(words: &str) -> Option<i32> {
    const NUMBERS: [&str; 6] = ["One", "Two", "Three", "Four", "Five", "Six"];
    let mut words = words.split(' ');
    let number = words.next()?;
    let shifts = NUMBERS.iter().position(|word| *word == number)? as i32 + 1;
    Some(if words.next()? == "harder" {
        shifts
    } else {
        -shifts
    })
}

struct Counted {
    said: usize,
    wrong: usize,
    ridden: usize,
    missed: usize,
    words: usize,
    /// Looks at which shifts were counted aloud, and those at which they should have been: five seconds in another gear.
    counts: usize,
    wrong_counts: usize,
    other: usize,
    missed_counts: usize,
}

fn ride(config: PracticeConfig) -> Counted {
    ride_as(config, &rider(), |_, _| None)
}

/// Ridden by this rider; `shifts` tells how many lie between two developments in truth, where that is a number.
fn ride_as(
    config: PracticeConfig,
    rider: &Rider,
    shifts: impl Fn(f64, f64) -> Option<i32>,
) -> Counted {
    let mut blocks = "[[block]]\nkind = \"warm-up\"\ntime = \"2:00\"\neffort = [2, 5]\n".to_owned();
    for _ in 0..HOLDS {
        blocks += "[[block]]\nkind = \"hold\"\ntime = \"0:45\"\neffort = 7\n\
                   [[block]]\nkind = \"recovery\"\ntime = \"0:30\"\neffort = 4\n";
    }
    let mut trial = Trial::new(config, &session(&blocks), rider, RideMode::EffortOnly);
    let mut counted = Counted {
        said: 0,
        wrong: 0,
        ridden: 0,
        missed: 0,
        words: 0,
        counts: 0,
        wrong_counts: 0,
        other: 0,
        missed_counts: 0,
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
            let told = counted_aloud(&words.now);
            if let Some(told) = told {
                counted.counts += 1;
                counted.wrong_counts += usize::from(shifts(truths[0], last) != Some(told));
            }
            let here = |d: &&f64| (**d / truths[0] - 1.0).abs() < 0.005;
            let stands = truths.iter().take_while(here).count() as f64 * 0.05;
            let turns = trial.seen.0.lock().unwrap().bike().legs().torque() > 5.0;
            if !same(truths[0]) && stands >= 5.0 - 1e-9 && turns {
                counted.other += 1;
                counted.missed_counts += usize::from(told.is_none());
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

/// The practice rider's own gears, 50 with 34 to 12, and the shifts between two of them.
fn one_ring() -> (Rider, Vec<f64>) {
    let sprockets = [34, 30, 27, 24, 21, 19, 17, 15, 14, 13, 12];
    let gears = sprockets
        .iter()
        .map(|teeth| 50.0 / f64::from(*teeth))
        .collect();
    let rider = Rider {
        drivetrain: Drivetrain {
            chainrings: vec![50],
            sprockets: sprockets.to_vec(),
        },
        ..rider()
    };
    (rider, gears)
}

#[test]
fn shifts_are_counted_where_the_gears_were_entered_and_seldom_wrong() {
    let (mut counts, mut wrong, mut other, mut missed) = (0, 0, 0, 0);
    let (rider, gears) = one_ring();
    // The trainer may reckon its speed with another wheel than the one that turns.
    for (seed, wheel) in (1..=24).zip([2.1, 1.95, 2.3, 2.07].into_iter().cycle()) {
        let mut config = config(seed);
        config.legs.wheel = wheel;
        let place = |metres: f64| {
            let near = |gear: &f64| (metres / wheel / gear - 1.0).abs() < 0.001;
            gears.iter().position(near).map(|place| place as i32)
        };
        let counted = ride_as(config, &rider, |from, to| Some(place(to)? - place(from)?));
        counts += counted.counts;
        wrong += counted.wrong_counts;
        other += counted.other;
        missed += counted.missed_counts;
    }
    let false_rate = wrong as f64 / counts as f64;
    let miss_rate = missed as f64 / other as f64;
    println!(
        "24 rides: counted {counts}, wrong {wrong} ({:.2} %); another gear {other}, not counted {missed} ({:.1} %)",
        false_rate * 100.0,
        miss_rate * 100.0
    );
    assert!(counts > 200, "{counts}");
    assert!(false_rate <= MOST_FALSE, "{false_rate}");
    assert!(miss_rate <= MOST_UNCOUNTED, "{miss_rate}");
}

/// Two chainrings, ridden through all gears by how far they go: a number is right only where the chain truly stays on its
/// ring, which the program cannot see.
#[test]
fn on_two_chainrings_no_number_is_told_that_a_chainring_could_make_wrong() {
    let rings: [f64; 2] = [34.0, 50.0];
    let sprockets = [
        28.0, 25.0, 23.0, 21.0, 19.0, 17.0, 15.0, 14.0, 13.0, 12.0, 11.0,
    ];
    let mut gears: Vec<(f64, usize, i32)> = Vec::new();
    for (ring, teeth) in rings.iter().enumerate() {
        for (place, sprocket) in (0..).zip(sprockets) {
            gears.push((teeth / sprocket, ring, place));
        }
    }
    gears.sort_by(|a, b| a.0.total_cmp(&b.0));
    let rider = Rider {
        drivetrain: Drivetrain {
            chainrings: vec![34, 50],
            sprockets: sprockets.map(|teeth| teeth as u16).to_vec(),
        },
        ..rider()
    };
    // Every other ride stays on the large ring, where much can be counted.
    let large: Vec<f64> = sprockets.map(|teeth| 50.0 / teeth).to_vec();
    let (mut counts, mut wrong) = (0, 0);
    for seed in 1..=24 {
        let mut config = config(seed);
        config.legs.gears = gears.iter().map(|gear| gear.0).collect();
        config.legs.first_gear = 9 + seed as usize % 5;
        if seed % 2 == 0 {
            config.legs.gears.clone_from(&large);
            config.legs.first_gear = 4 + seed as usize % 3;
        }
        let of = |metres: f64| {
            let near = |gear: &&(f64, usize, i32)| (metres / 2.1 / gear.0 - 1.0).abs() < 0.001;
            let on = |gear: &&(f64, usize, i32)| seed % 2 == 1 || gear.1 == 1;
            gears.iter().filter(on).find(near).copied()
        };
        let counted = ride_as(config, &rider, |from, to| {
            let (from, to) = (of(from)?, of(to)?);
            (from.1 == to.1).then_some(to.2 - from.2)
        });
        counts += counted.counts;
        wrong += counted.wrong_counts;
    }
    println!("two chainrings, 24 rides: counted {counts}, wrong {wrong}");
    assert!(counts > 200, "{counts}");
    assert!(
        wrong as f64 <= MOST_FALSE * counts.max(200) as f64,
        "{wrong} of {counts}"
    );
}

/// Where the speed is no wheel's the rider's own note is what remains: it comes back at the next block of its kind.
#[test]
fn a_note_comes_back_at_the_next_hold_where_nothing_can_be_measured() {
    let mut config = config(3);
    config.trainer.speed_from = SpeedFrom::Power;
    let blocks = "[[block]]\nkind = \"hold\"\ntime = \"0:40\"\neffort = 6\n\
                  [[block]]\nkind = \"recovery\"\ntime = \"0:30\"\neffort = 4\n";
    let plan = session(&blocks.repeat(2));
    let mut trial = Trial::new(config, &plan, &rider(), RideMode::EffortOnly);
    let said = |trial: &Trial| trial.ride.snapshot().gear.clone();
    trial.to(35.0);
    assert_eq!(said(&trial).now, "");
    trial.ride.command(Command::NoteGear);
    trial.to(36.0);
    assert_eq!(said(&trial).now, "The gear you noted.");
    trial.to(60.0);
    assert_eq!(said(&trial).next, "Next hold: the gear you noted.");
    assert_eq!(said(&trial).now, "", "a recovery's gear was not noted");
    trial.to(85.0);
    assert_eq!(said(&trial).now, "The gear you noted.");
}

#[test]
fn a_speed_that_follows_power_is_met_with_silence() {
    for seed in 1..=24 {
        let mut config = config(seed);
        config.trainer.speed_from = SpeedFrom::Power;
        // Gears that were entered do not loosen the tongue.
        let counted = ride_as(config, &one_ring().0, |_, _| None);
        assert_eq!(counted.words, 0, "seed {seed}");
    }
}
