//! A trainer that takes every target power and does not act on it is noticed; ordinary riding on one that does is not
//! taken for it. The list of ordinary situations is data, and each entry a test.

use stillroad::device::practice::script::Act;
use stillroad::device::practice::{Following, Intent, PracticeConfig, Script};
use stillroad::ride::{Mode, RideMode};
use stillroad::time::Span;

use super::Trial;
use crate::world::{Fake, Knobs, Ride, rider, session};

/// Holds of 220 W and recoveries of 90 W, a minute and a half each, which is half a minute of settled time and more.
fn repeats(times: usize) -> String {
    "[[block]]\nkind = \"hold\"\ntime = \"1:30\"\nwatts = 220\n\
     [[block]]\nkind = \"recovery\"\ntime = \"1:30\"\nwatts = 90\n"
        .repeat(times)
}

const SAID: &str = "ignores its targets: switch to effort only.";

fn ridden(config: PracticeConfig, blocks: &str, seconds: f64) -> Trial {
    let mut trial = Trial::new(config, &session(blocks), &rider(), RideMode::TargetPower);
    trial.to(seconds);
    trial
}

fn times_said(ride: &Ride) -> usize {
    let events = ride.events().into_iter();
    events
        .filter(|event| event.what == "target-unheeded")
        .count()
}

fn heedless() -> PracticeConfig {
    PracticeConfig::default().behaving("heedless").unwrap()
}

#[test]
fn a_heedless_trainer_is_told_once_and_nothing_changes_by_itself() {
    let trial = ridden(heedless(), &repeats(4), 720.0);
    let ride = &trial.ride;
    assert_eq!(times_said(ride), 1, "{:?}", ride.events());
    let event = ride
        .kept()
        .into_iter()
        .find_map(|(now, kept)| match kept {
            stillroad::record::Kept::Event(event) if event.what == "target-unheeded" => {
                Some((now.0 as f64 / 1e6, event.detail))
            }
            _ => None,
        })
        .unwrap();
    assert!(event.1.contains(SAID), "{event:?}");
    // Two holds and two recoveries have been seen by then, and no more: the second recovery begins at 275 s.
    assert!((275.0..=365.0).contains(&event.0), "{event:?}");
    assert_eq!(
        (ride.mode(), ride.snapshot().ride_mode),
        (Mode::Riding, RideMode::TargetPower)
    );
    // It is asked for what the session asks for, as before.
    let after: Vec<i16> = ride
        .watts_in(event.0 + 1.0, 720.0)
        .iter()
        .map(|w| w.1)
        .collect();
    assert!(after.contains(&220) && after.contains(&90), "{after:?}");
}

#[test]
fn it_is_noticed_at_another_cadence_in_every_block_and_in_reports_once_a_second() {
    let mut config = heedless();
    config.trainer.report_period = Span::from_seconds(1);
    config.trainer.power_meter.smoothing = 2.0;
    config.script = Script::ride(88.0)
        .pedal(95.0, 80.0)
        .pedal(185.0, 92.0)
        .pedal(275.0, 84.0);
    let trial = ridden(config, &repeats(4), 720.0);
    assert_eq!(times_said(&trial.ride), 1, "{:?}", trial.ride.events());
}

/// Legs that turn a little faster and slower, so that no record is like the one before.
fn sway(fake: &Fake, ride: &mut Ride, until: f64) {
    let mut up = false;
    while (ride.now().0 as f64 / 1e6) < until {
        up = !up;
        fake.turn(|knobs| knobs.cadence = if up { 86.0 } else { 85.0 });
        ride.pass(2.0);
    }
}

#[test]
fn one_that_acts_again_is_told_to_the_recording_and_may_be_said_anew() {
    // 150 W whatever is held.
    let fake = Fake::new(Knobs {
        gives: Some(0.0),
        least_power: 150.0,
        ..Knobs::default()
    });
    let plan = session(&repeats(8));
    let mut ride = Ride::on(&fake, &plan, &rider(), RideMode::TargetPower);
    ride.start();
    sway(&fake, &mut ride, 370.0);
    assert_eq!(times_said(&ride), 1);
    fake.turn(|knobs| (knobs.gives, knobs.least_power) = (None, 0.0));
    sway(&fake, &mut ride, 640.0);
    assert!(ride.happened("target-heeded"));
    fake.turn(|knobs| (knobs.gives, knobs.least_power) = (Some(0.0), 150.0));
    sway(&fake, &mut ride, 1_200.0);
    assert_eq!(times_said(&ride), 2);
}

/// Ordinary riding on a trainer that acts: its name, the machine and the legs, and the session.
struct Ordinary {
    blocks: String,
    change: fn(&mut PracticeConfig),
}

fn plain(change: fn(&mut PracticeConfig)) -> Ordinary {
    Ordinary {
        blocks: repeats(4),
        change,
    }
}

/// One shift by so many gears before the holds and back after them.
fn shifting(gears: i32, cadence: f64) -> Script {
    (0..4).fold(Script::ride(cadence), |script, round| {
        let begin = 5.0 + 180.0 * f64::from(round);
        script.shift(begin + 3.0, gears).shift(begin + 91.0, -gears)
    })
}

/// Never told, over twelve minutes and three seeds.
fn stays_silent(ordinary: &Ordinary) {
    for seed in 1..=3 {
        let mut config = PracticeConfig::default().seeded(seed);
        (ordinary.change)(&mut config);
        let trial = ridden(config, &ordinary.blocks, 720.0);
        assert_eq!(
            times_said(&trial.ride),
            0,
            "seed {seed}: {:?}",
            trial.ride.events()
        );
        assert!(trial.ride.rows().len() > 120, "it was ridden");
    }
}

macro_rules! ordinary {
    ($($test:ident: $ordinary:expr;)*) => {
        $(
            #[test]
            fn $test() {
                stays_silent(&$ordinary);
            }
        )*
    };
}

ordinary! {
    a_plain_ride: plain(|_| {});
    a_brake_that_lags_three_seconds: plain(|config| {
        config.brake.dead_time = 1.0;
        config.brake.following = Following::FirstOrder { rise: 3.0, fall: 3.0 };
    });
    a_brake_of_the_second_order_in_steps_of_five_watts: plain(|config| {
        config.brake.following = Following::SecondOrder { natural: 1.0, damping: 0.5 };
        config.brake.power_step = 5.0;
    });
    reports_once_a_second_smoothed_over_five: plain(|config| {
        config.trainer.report_period = Span::from_seconds(1);
        config.trainer.power_meter.smoothing = 5.0;
        config.trainer.power_meter.noise = 0.03;
    });
    legs_that_turn_along_in_the_holds: plain(|config| {
        config.script = (0..4).fold(Script::ride(88.0), |script, round| {
            let begin = 5.0 + 180.0 * f64::from(round);
            script.twiddle(begin + 15.0, 80.0).pedal(begin + 91.0, 88.0)
        });
    });
    legs_too_weak_for_the_holds: plain(|config| {
        let weak = PracticeConfig::for_rider(stillroad::units::Watts(130.0), stillroad::units::Joules(4_000.0));
        config.legs = weak.legs;
    });
    a_coast_of_three_seconds_every_twenty: plain(|config| {
        config.script = (1..36).fold(Script::ride(88.0), |script, count| {
            script.coast(20.0 * f64::from(count), 3.0, 88.0)
        });
    });
    feet_that_rest_for_half_a_recovery: plain(|config| {
        config.script = (0..4).fold(Script::ride(88.0), |script, round| {
            script.coast(110.0 + 180.0 * f64::from(round), 15.0, 88.0)
        });
    });
    a_floor_in_a_hard_gear_at_a_high_cadence: plain(|config| {
        config.brake.friction = 8.0;
        config.script = Script::ride(110.0).shift(4.0, 6);
    });
    a_floor_in_the_recoveries_and_a_ceiling_in_the_holds: plain(|config| {
        // 121 W in both: (8 + 0.05 × 13.9) N × 13.9 m/s at the least in 50 × 12 on 2.1 m at 95 rpm, and 14 N × 8.7 m/s at the
        // most in 50 × 19.
        config.brake.friction = 8.0;
        config.brake.most_force = 14.0;
        config.script = shifting(-5, 95.0).shift(4.0, 5);
    });
    a_ceiling_in_an_easy_gear: plain(|config| {
        config.brake.most_force = 25.0;
        config.script = Script::ride(75.0).shift(4.0, -4);
    });
    a_meter_that_reads_eight_per_cent_less: plain(|config| config.trainer.power_meter.offset = -0.08);
    a_meter_that_reads_eight_per_cent_more: plain(|config| config.trainer.power_meter.offset = 0.08);
    a_speed_that_is_reckoned_from_power: plain(|config| {
        config.trainer.speed_from = stillroad::device::practice::SpeedFrom::Power;
        config.script = shifting(2, 85.0);
    });
    shifts_with_the_load: plain(|config| config.script = shifting(3, 85.0));
    standing_in_every_hold: plain(|config| {
        config.script = (0..4).fold(Script::ride(88.0), |script, round| {
            script.act(30.0 + 180.0 * f64::from(round), Act::Intend(Intent::Pedal(68.0)))
                .stand(30.0 + 180.0 * f64::from(round), 40.0)
                .pedal(75.0 + 180.0 * f64::from(round), 88.0)
        });
    });
    ramps: Ordinary {
        blocks: "[[block]]\nkind = \"hold\"\ntime = \"2:00\"\nwatts = [90, 230]\n\
                 [[block]]\nkind = \"recovery\"\ntime = \"2:00\"\nwatts = [140, 80]\n".repeat(3),
        change: |config| config.brake.following = Following::FirstOrder { rise: 3.0, fall: 3.0 },
    };
    sprints: Ordinary {
        blocks: "[[block]]\nkind = \"sprint\"\ntime = \"1:00\"\nwatts = 380\nbrake = \"held\"\n\
                 [[block]]\nkind = \"recovery\"\ntime = \"2:00\"\nwatts = 80\n".repeat(4),
        change: |_| {},
    };
}

#[test]
fn frozen_figures_are_no_evidence() {
    // It freezes in a hold and in a recovery, at the power of an easier hold: too much and too little in turn.
    let fake = Fake::new(Knobs::default());
    let plan = session(&format!(
        "[[block]]\nkind = \"hold\"\ntime = \"1:00\"\nwatts = 150\n{}",
        repeats(4)
    ));
    let mut ride = Ride::on(&fake, &plan, &rider(), RideMode::TargetPower);
    ride.start();
    ride.to(50.0);
    fake.turn(|knobs| knobs.frozen = true);
    ride.to(780.0);
    assert!(ride.happened("repeats-itself"));
    assert_eq!(times_said(&ride), 0, "{:?}", ride.events());
}
