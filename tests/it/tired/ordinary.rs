//! Hard but ordinary riding, none of which is a stall: the list is data, and each entry a test.

use std::f64::consts::TAU;

use stillroad::ride::guard::StallGuard;
use stillroad::time::{Instant, Span};
use stillroad::units::{Rpm, Watts};

/// What the legs do at a second: cadence, rpm, and power, W.
type Legs = fn(f64) -> (f64, f64);

/// One situation, all of it with a brake that holds watts unless it says otherwise.
struct Situation {
    name: &'static str,
    /// The lowest cadence that the block asks for.
    low: Option<f64>,
    held: bool,
    /// What a sensor makes of the cadence: its step, rpm, and the spread of its noise, rpm.
    sensor: (f64, f64),
    legs: Legs,
}

const PLAIN: Situation = Situation {
    name: "",
    low: Some(80.0),
    held: true,
    sensor: (0.5, 0.3),
    legs: |_| (88.0, 200.0),
};

/// From one value to another between two seconds.
fn way(t: f64, from: (f64, f64), to: (f64, f64)) -> f64 {
    from.1 + (to.1 - from.1) * ((t - from.0) / (to.0 - from.0)).clamp(0.0, 1.0)
}

macro_rules! ordinary {
    ($($test:ident: $situation:expr;)*) => {
        $(
            #[test]
            fn $test() {
                never_acts(&Situation { name: stringify!($test), ..$situation });
            }
        )*
    };
}

ordinary! {
    a_standing_start: Situation { legs: |t| (way(t, (2.0, 0.0), (10.0, 88.0)), way(t, (2.0, 0.0), (4.0, 180.0))), ..PLAIN };
    a_start_that_is_pushed_and_falters: Situation {
        legs: |t| (if t < 8.0 { way(t, (2.0, 0.0), (8.0, 58.0)) } else { way(t, (8.0, 58.0), (11.0, 46.0)) }, 180.0), ..PLAIN
    };
    a_slow_climb_in_a_free_block: Situation {
        held: false, legs: |t| (way(t, (5.0, 80.0), (15.0, 52.0)), way(t, (5.0, 180.0), (15.0, 260.0))), ..PLAIN
    };
    a_shift_under_load: Situation { legs: |t| (way(t, (10.0, 88.0), (10.5, 76.0)), 220.0), ..PLAIN };
    a_shift_of_two_gears: Situation { legs: |t| (way(t, (10.0, 88.0), (10.6, 68.0)), 220.0), ..PLAIN };
    three_shifts_and_back: Situation {
        legs: |t| (match t { t if t < 10.0 => 88.0, t if t < 12.0 => 78.0, t if t < 14.0 => 70.0, _ => 86.0 }, 220.0), ..PLAIN
    };
    a_coast_of_two_seconds: Situation {
        legs: |t| if (10.0..12.0).contains(&t) { (way(t, (10.0, 88.0), (10.5, 0.0)), 0.0) } else { (88.0, 220.0) }, ..PLAIN
    };
    a_coast_whose_power_fades_late: Situation {
        // The power reported is smoothed over a second and a half.
        legs: |t| match t {
            t if t < 10.0 => (88.0, 220.0),
            t if t < 12.0 => (way(t, (10.0, 88.0), (10.5, 0.0)), 220.0 * (-(t - 10.0) / 1.5).exp()),
            t => (88.0, 220.0 * (1.0 - 0.74 * (-(t - 12.0) / 1.5).exp())),
        }, ..PLAIN
    };
    a_cadence_that_slows_into_a_lower_band: Situation {
        low: Some(50.0), legs: |t| (way(t, (10.0, 90.0), (16.0, 52.0)), 200.0), ..PLAIN
    };
    a_cadence_a_little_under_a_lower_band: Situation {
        low: Some(55.0), legs: |t| (way(t, (10.0, 90.0), (16.0, 53.0)), 200.0), ..PLAIN
    };
    a_hard_start_of_a_hold: Situation {
        // The load doubles in two seconds; the legs give ten revolutions and take them back.
        legs: |t| (if t < 12.0 { way(t, (10.0, 88.0), (12.0, 77.0)) } else { way(t, (12.0, 77.0), (16.0, 88.0)) },
                   way(t, (10.0, 140.0), (12.0, 280.0))), ..PLAIN
    };
    a_held_sprint_begins: Situation {
        legs: |t| (if t < 11.0 { way(t, (10.0, 95.0), (11.0, 78.0)) } else { way(t, (11.0, 78.0), (14.0, 105.0)) },
                   way(t, (10.0, 120.0), (10.8, 450.0))), ..PLAIN
    };
    a_held_sprint_ends: Situation {
        legs: |t| (way(t, (10.0, 115.0), (14.0, 80.0)), way(t, (11.0, 450.0), (12.5, 100.0))), ..PLAIN
    };
    legs_that_slow_to_sixty_two: Situation { legs: |t| (way(t, (10.0, 88.0), (20.0, 62.0)), 220.0), ..PLAIN };
    a_steady_grind_at_fifty_eight: Situation {
        low: None, sensor: (0.5, 0.8), legs: |t| (way(t, (5.0, 75.0), (25.0, 58.0)), 220.0), ..PLAIN
    };
    a_noisy_cadence: Situation { sensor: (1.0, 2.0), legs: |_| (80.0, 220.0), ..PLAIN };
    a_noisy_cadence_at_sixty_six: Situation { sensor: (1.0, 1.5), legs: |_| (66.0, 220.0), ..PLAIN };
    a_sensor_that_knows_steps_of_eight: Situation { sensor: (8.0, 0.5), legs: |t| (way(t, (10.0, 88.0), (20.0, 66.0)), 220.0), ..PLAIN };
    a_sensor_of_steps_of_eight_between_two_of_them: Situation { sensor: (8.0, 1.0), low: None, legs: |_| (60.0, 220.0), ..PLAIN };
    a_sensor_of_steps_of_eight_on_slow_legs: Situation {
        sensor: (8.0, 1.0), low: None, legs: |t| (way(t, (5.0, 72.0), (38.0, 53.0)), 220.0), ..PLAIN
    };
    one_leg_measured_and_doubled: Situation {
        // Power wobbles by a fifth with a rhythm of its own, cadence by two.
        legs: |t| (70.0 + 2.0 * (t * TAU / 2.3).sin(), 220.0 * (1.0 + 0.2 * (t * TAU / 3.1).sin())), ..PLAIN
    };
    a_swaying_cadence: Situation { legs: |t| (80.0 + 6.0 * (t * TAU / 6.0).sin(), 220.0), ..PLAIN };
    standing_up_and_sitting_down: Situation {
        legs: |t| (if (10.0..20.0).contains(&t) { way(t, (10.0, 88.0), (12.0, 68.0)) } else { way(t, (20.0, 68.0), (22.0, 88.0)) }, 240.0), ..PLAIN
    };
    a_single_zero_of_the_sensor: Situation { legs: |t| (if (10.0..10.4).contains(&t) { 0.0 } else { 88.0 }, 220.0), ..PLAIN };
}

/// A spread of noise from a small generator of the test's own.
struct Noise(u64);

impl Noise {
    fn next(&mut self) -> f64 {
        // Twelve uniform numbers less six: near enough to normal, of spread one.
        (0..12)
            .map(|_| {
                self.0 = self
                    .0
                    .wrapping_mul(6_364_136_223_846_793_005)
                    .wrapping_add(1_442_695_040_888_963_407);
                (self.0 >> 11) as f64 / (1u64 << 53) as f64
            })
            .sum::<f64>()
            - 6.0
    }
}

/// Forty seconds of it, reported at 4, 2 and 1 Hz, with and without a dropped report a second in, many seeds.
fn never_acts(situation: &Situation) {
    for period in [0.25, 0.5, 1.0] {
        for (seed, drops) in (0..24).map(|seed| (seed, seed % 2 == 1)) {
            let mut noise = Noise(seed * 977 + 5);
            let mut guard = StallGuard::default();
            let offset = period * seed as f64 / 24.0;
            let mut shown = None;
            let mut due = offset;
            let mut reports = 0;
            for tenth in 0..400 {
                let t = f64::from(tenth) / 10.0;
                if t >= due {
                    due += period;
                    reports += 1;
                    let (cadence, power) = (situation.legs)(t);
                    let (step, spread) = situation.sensor;
                    let told = if cadence > 0.0 {
                        cadence + spread * noise.next()
                    } else {
                        0.0
                    };
                    let told = (told / step).round() * step;
                    let dropped = drops && reports % 9 == 4;
                    if !dropped {
                        shown = Some((told, power * (1.0 + 0.01 * noise.next())));
                    }
                }
                let Some((cadence, power)) = shown else {
                    continue;
                };
                let now = Instant::ZERO + Span::from_seconds_f64(t);
                let acts = guard.see(
                    now,
                    Some(Rpm(cadence)),
                    Some(Watts(power)),
                    situation.held,
                    situation.low.map(Rpm),
                );
                assert!(
                    !acts,
                    "{}: acts at {t} s, {cadence} rpm; reports each {period} s, seed {seed}",
                    situation.name
                );
            }
        }
    }
}
