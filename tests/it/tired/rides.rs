//! Whole rides of riders who tire, in virtual time: they are kept riding.

use stillroad::device::practice::Device;
use stillroad::engine::{Command, Role};
use stillroad::ride::{Mode, RideMode};
use stillroad::units::Bpm;

use super::{Watched, legs, uncapped};
use crate::world::{Fake, Knobs, Ride, rider, session, tap};

/// A session of two long holds with a recovery between them, for a rider of this critical power.
fn blocks(watts: f64, cadence: f64) -> std::sync::Arc<stillroad::plan::Plan> {
    let (low, high) = (cadence - 5.0, cadence + 5.0);
    session(&format!(
        "[[block]]\nkind = \"warm-up\"\ntime = \"2:00\"\nwatts = 90\n\
         [[block]]\nkind = \"hold\"\ntime = \"8:00\"\nwatts = {watts:.0}\ncadence = [{low}, {high}]\n\
         [[block]]\nkind = \"recovery\"\ntime = \"3:00\"\nwatts = 80\n\
         [[block]]\nkind = \"hold\"\ntime = \"8:00\"\nwatts = {watts:.0}\ncadence = [{low}, {high}]\n"
    ))
}

#[test]
fn riders_who_are_asked_for_too_much_are_kept_riding_to_the_end() {
    println!(
        "  CP   W' kJ  asked   rpm | stalls  eased  mean W of the holds  longest stand s  over"
    );
    for (critical_power, w_prime) in [(140.0, 6.0), (200.0, 10.0), (280.0, 20.0)] {
        for asked in [1.08, 1.25, 1.6] {
            for cadence in [72.0, 90.0] {
                let mut config = legs(critical_power, w_prime * 1e3, cadence);
                config.heart.drift = 1.0;
                let watched = Watched::new(config);
                let mut ride = Ride::new(vec![tap(watched.clone())]);
                let plan = blocks(critical_power * asked, cadence);
                ride.choose(&plan, &uncapped(critical_power), RideMode::TargetPower);
                ride.command(Command::Use(Role::Trainer, Some(Device::Trainer.id())));
                ride.start();
                let (mut stands, mut longest) = (0.0, 0.0_f64);
                let mut second = 15.0;
                while second < 5.0 + 21.0 * 60.0 {
                    second += 0.25;
                    ride.to(second);
                    stands = if watched.cadence() < 20.0 {
                        stands + 0.25
                    } else {
                        0.0
                    };
                    longest = longest.max(stands);
                }
                ride.to_the_end(1_400.0);
                let count = |what| ride.events().iter().filter(|e| e.what == what).count();
                let rows = ride.rows();
                let held: Vec<f64> = rows
                    .iter()
                    .filter(|row| matches!(row.block, 2 | 4))
                    .filter_map(|row| row.power.map(|power| power.0))
                    .collect();
                let mean = held.iter().sum::<f64>() / held.len() as f64;
                println!(
                    "{critical_power:4.0} {w_prime:7.0} {asked:6.2} {cadence:5.0} | {:6} {:6} {mean:20.0} {longest:16.1}  {:?}",
                    count("guard"),
                    count("ease-down"),
                    ride.mode()
                );
                assert_eq!(rows.len(), 21 * 60, "the clock never stood");
                assert!(longest < 2.0, "the feet stood for {longest} s");
                assert!(count("guard") <= 8, "four stalls a block at most");
                // Legs that recover in an easier hold give no less than three quarters of critical power.
                assert!(mean > critical_power * 0.7, "{mean} W");
            }
        }
    }
}

#[test]
fn a_heart_that_drifts_is_kept_at_its_ceiling() {
    let mut config = legs(240.0, 20_000.0, 88.0);
    config.heart.drift = 4.0;
    let mut rider = uncapped(230.0);
    rider.heart_rate_ceiling = Some(Bpm(165.0));
    let plan = session(
        "[[block]]\nkind = \"warm-up\"\ntime = \"2:00\"\nwatts = 100\n[[block]]\nkind = \"hold\"\ntime = \"30:00\"\n\
         watts = 205\ncadence = [80, 95]\n[[block]]\nkind = \"recovery\"\ntime = \"2:00\"\nwatts = 90\n",
    );
    let mut ride = Ride::practice(config, &plan, &rider, RideMode::TargetPower);
    ride.start();
    ride.to_the_end(2_200.0);
    let rows = ride.rows();
    let heart = |from: u64, to: u64| {
        let rates: Vec<f64> = rows
            .iter()
            .filter(|row| row.ridden_s > from && row.ridden_s <= to)
            .filter_map(|row| row.heart_rate.map(|bpm| bpm.0))
            .collect();
        rates.iter().sum::<f64>() / rates.len() as f64
    };
    let steps: Vec<f64> = ride
        .events()
        .iter()
        .filter(|event| event.what == "ease-down")
        .map(|event| event.ridden_s)
        .collect();
    println!(
        "eased at {steps:?}, heart rate {:.0} in the last five minutes",
        heart(1_620, 1_920)
    );
    assert!(steps.len() >= 2, "{steps:?}");
    for pair in steps.windows(2) {
        assert!(pair[1] - pair[0] >= 29.99, "{steps:?}");
    }
    assert!(heart(1_620, 1_920) < 168.0);
    assert!(matches!(ride.mode(), Mode::Finished(_)));
}

/// Under way in ten minutes of 200 W with a band of 80 to 90 rpm, on a trainer with knobs; the recovery load is effort 4.
fn steady() -> (Fake, Ride) {
    let fake = Fake::new(Knobs::default());
    let plan = session(
        "[[block]]\nkind = \"hold\"\ntime = \"10:00\"\nwatts = 200\ncadence = [80, 90]\n\
         [[block]]\nkind = \"hold\"\ntime = \"5:00\"\nwatts = 150\ncadence = [80, 90]\n",
    );
    let mut ride = Ride::on(&fake, &plan, &rider(), RideMode::TargetPower);
    ride.start();
    ride.to(60.0);
    assert_eq!(fake.state().holds, Some(200));
    (fake, ride)
}

#[test]
fn ten_seconds_under_the_band_ease_by_four_per_cent_and_no_sooner() {
    // Nine seconds, and back in the band, again and again.
    let (fake, mut ride) = steady();
    for second in 0..12 {
        ride.to(60.0 + 11.0 * f64::from(second));
        fake.turn(|knobs| knobs.cadence = 79.0);
        ride.to(69.0 + 11.0 * f64::from(second));
        fake.turn(|knobs| knobs.cadence = 80.0);
    }
    assert_eq!(fake.state().holds, Some(200));
    assert!(!ride.happened("ease-down"));
    let (fake, mut ride) = steady();
    fake.turn(|knobs| knobs.cadence = 79.0);
    ride.to(69.9);
    assert_eq!(fake.state().holds, Some(200));
    ride.to(71.0);
    assert_eq!(fake.state().holds, Some(192));
    ride.to(595.0);
    let steps = ride.watts_in(60.0, 595.0);
    for (index, pair) in steps.windows(2).enumerate() {
        assert!(pair[1].0 - pair[0].0 >= 29.5, "step {index}: {steps:?}");
        assert!(pair[0].1 - pair[1].1 <= 8, "{steps:?}");
    }
    // Never below the recovery load: effort 4 of this rider is 0.55 of 200 W in the common map, 110 W.
    let least = steps.iter().map(|(_, watts)| *watts).min().unwrap();
    let floor = rider()
        .effort_map
        .watts(stillroad::units::Effort(4.0), rider().threshold)
        .unwrap()
        .0;
    assert_eq!(f64::from(least), floor.floor(), "{steps:?}");
    // Said once: of the notices only the first step's.
    let said = ride
        .events()
        .iter()
        .filter(|e| e.what == "ease-down")
        .count();
    assert!(said > 8 && ride.notice().is_empty(), "{}", ride.notice());
    // And given back at the next block.
    fake.turn(|knobs| knobs.cadence = 85.0);
    ride.to(620.0);
    assert_eq!(fake.state().holds, Some(150));
}

#[test]
fn a_trim_is_two_per_cent_a_press_and_easing_the_block_ten_once() {
    let (fake, mut ride) = steady();
    for (press, watts) in [(1, 204), (1, 208), (-1, 204), (-2, 196)] {
        ride.command(Command::Trim(press));
        ride.pass(2.0);
        assert_eq!(fake.state().holds, Some(watts));
    }
    ride.command(Command::EaseBlock);
    ride.pass(3.0);
    // 196 less a tenth: 176.4, rounded down.
    assert_eq!(fake.state().holds, Some(176));
    ride.command(Command::EaseBlock);
    ride.pass(3.0);
    assert_eq!(fake.state().holds, Some(176), "once a block");
    ride.to(640.0);
    // The next block has its ten per cent back, and the trim stays: 150 less 2 %.
    assert_eq!(fake.state().holds, Some(147));
    let kept: Vec<_> = ride.events().iter().map(|event| event.what).collect();
    assert_eq!(kept.iter().filter(|what| **what == "trim").count(), 4);
}

#[test]
fn a_held_sprints_load_stands_on_for_a_second_or_until_power_drops_and_falls_over_a_second_and_a_half()
 {
    let plan = session(
        "[[block]]\nkind = \"recovery\"\ntime = \"1:00\"\nwatts = 100\n\
         [[block]]\nkind = \"sprint\"\ntime = \"0:15\"\nwatts = 900\nbrake = \"held\"\n\
         [[block]]\nkind = \"recovery\"\ntime = \"1:00\"\nwatts = 100\n",
    );
    // Where the next block wants more than its cap, the load falls as gently to the cap.
    let hard = session(
        "[[block]]\nkind = \"sprint\"\ntime = \"0:15\"\nwatts = 900\nbrake = \"held\"\n\
         [[block]]\nkind = \"hold\"\ntime = \"1:00\"\nwatts = 900\nbuild_up = \"0:00\"\n",
    );
    let fake = Fake::new(Knobs::default());
    let mut ride = Ride::on(&fake, &hard, &rider(), RideMode::TargetPower);
    ride.start();
    ride.to(40.0);
    let falls = ride.watts_in(20.0, 40.0);
    assert!(falls.len() >= 4 && falls[0].0 >= 21.0, "{falls:?}");
    assert_eq!(falls.last().unwrap().1, 250);
    // The sprint is from 65 to 80, held at the rider's sprint cap of 400 W.
    for drops in [false, true] {
        let fake = Fake::new(Knobs::default());
        let mut ride = Ride::on(&fake, &plan, &rider(), RideMode::TargetPower);
        ride.start();
        ride.to(79.9);
        assert_eq!(fake.state().holds, Some(400));
        ride.to(80.1);
        assert_eq!(
            fake.state().holds,
            Some(400),
            "no fall before its beat, none at it"
        );
        if drops {
            // The rider sits down and lets go: power under seven tenths of the target.
            fake.turn(|knobs| knobs.gives = Some(0.6));
        }
        ride.to(90.0);
        let falls = ride.watts_in(80.0, 90.0);
        let (first, last) = (falls[0], *falls.last().unwrap());
        assert_eq!(last.1, 100);
        if drops {
            // A report comes within 0.43 s.
            assert!(first.0 < 81.0 && last.0 < 82.6, "{falls:?}");
        } else {
            assert!((81.0..81.6).contains(&first.0), "{falls:?}");
        }
        let over = last.0 - first.0;
        assert!((1.0..=2.0).contains(&over), "over {over} s");
        for pair in falls.windows(2) {
            assert!(pair[0].1 - pair[1].1 <= 120, "no drop at once: {falls:?}");
        }
    }
}
