//! Bad weather by many seeds: whatever drops, delays, turns and breaks, the ride goes on recording, nothing above the cap is
//! asked for, control comes before every target of a link, and once the weather is over the load is back and in the end
//! let off.
//!
//! `STILLROAD_SEEDS=1000 cargo test --test it faults_many -- --ignored --nocapture` rides so many.

use stillroad::device::fault::{Faults, Faulty};
use stillroad::device::practice::{Practice, PracticeConfig};
use stillroad::device::{Backend, Request};
use stillroad::engine::snapshot::BrakeLeft;
use stillroad::engine::{Command, Role};
use stillroad::ride::{Mode, RideMode};

use crate::world::{Fake, Knobs, Ride, at, rider, session, tap, watts_of};

/// The bad weather ends here, s.
const UNTIL: f64 = 600.0;
/// What is under way then may go on for so long: an answer is waited for 30 s, a connection 45 s, and the next try comes
/// within 30 s; a break may come twice in a row.
const CLEARS_UP: f64 = 150.0;
/// The cap of the rider of these rides, W.
const CAP: i16 = 250;

fn weather(seed: u64, backend: impl Backend + 'static) -> Faulty<'static> {
    let faults = Faults {
        until: Some(at(UNTIL)),
        ..Faults::of(seed)
    };
    Faulty::new(Box::new(backend), faults)
}

/// A rider who presses on: whatever stopped the ride or the brake, it is asked for again every ten seconds.
fn press_on(ride: &mut Ride, until: f64) {
    while ride.now() < at(until) {
        ride.pass(10.0);
        if !matches!(ride.mode(), Mode::Riding) {
            ride.command(Command::Resume);
        }
    }
}

/// What holds in any weather.
fn check(ride: &Ride, context: &str) {
    let rows = ride.rows();
    let numbers: Vec<u64> = rows.iter().map(|row| row.ridden_s).collect();
    assert!(
        numbers.iter().copied().eq(1..=numbers.len() as u64),
        "{context}: one row a second"
    );
    let ridden = ride.snapshot().ridden.seconds();
    assert!(
        (rows.len() as f64 - ridden).abs() <= 1.0,
        "{context}: {} rows of {ridden} s",
        rows.len()
    );
    let mut asked = false;
    for (when, request) in ride.requests() {
        match request {
            Request::Connect(id) if id.as_str().contains("trainer") => asked = false,
            Request::Write(_, _, bytes) => {
                assert!(
                    asked || bytes[0] == 0x00,
                    "{context}: {bytes:02x?} at {when:?}"
                );
                asked = true;
                if let Some(watts) = watts_of(&bytes) {
                    assert!(
                        (0..=CAP).contains(&watts),
                        "{context}: {watts} W at {when:?}"
                    );
                }
            }
            _ => {}
        }
    }
}

fn on_the_fake(seed: u64) -> usize {
    let context = format!("seed {seed}");
    let fake = Fake::new(Knobs::default());
    let mut ride = Ride::new(vec![tap(weather(seed, fake.clone()))]);
    let plan = session("[[block]]\nkind = \"hold\"\ntime = \"40:00\"\nwatts = 150\n");
    ride.choose(&plan, &rider(), RideMode::TargetPower);
    ride.command(Command::Use(Role::Trainer, Some(fake.id())));
    ride.start();
    press_on(&mut ride, UNTIL + CLEARS_UP);
    check(&ride, &context);
    let snapshot = ride.snapshot();
    assert_eq!(
        ride.mode(),
        Mode::Riding,
        "{context}: {:?}",
        snapshot.notice
    );
    // The load of a block may have been eased on the way, by what seemed a stall.
    let holds = fake.state().holds;
    assert!(
        holds.is_some_and(|watts| (90..=150).contains(&watts)),
        "{context}: {holds:?}"
    );
    let losses = ride
        .events()
        .iter()
        .filter(|event| event.what == "link-lost")
        .count();
    ride.command(Command::End);
    ride.command(Command::End);
    ride.pass(10.0);
    assert_eq!(fake.state().holds, Some(0), "{context}");
    let left = ride.snapshot().summary.clone().unwrap().brake_left;
    assert_eq!(left, BrakeLeft::Released, "{context}");
    ride.command(Command::Close);
    ride.pass(6.0);
    assert!(ride.world.is_done(), "{context}");
    losses
}

/// The practice trainer answers by physics, and its rider may stop, stall and tire.
fn on_the_model(seed: u64) {
    let context = format!("model, seed {seed}");
    let practice = Practice::new(PracticeConfig::default().seeded(seed));
    let mut ride = Ride::new(vec![tap(weather(seed, practice))]);
    let plan = session(
        "[[block]]\nkind = \"warm-up\"\ntime = \"4:00\"\nwatts = 110\n\
         [[block]]\nkind = \"hold\"\ntime = \"6:00\"\nwatts = 160\ncadence = [80, 90]\n\
         [[block]]\nkind = \"sprint\"\ntime = \"0:10\"\nwatts = 240\n\
         [[block]]\nkind = \"cool-down\"\ntime = \"6:00\"\nwatts = 90\n",
    );
    ride.choose(&plan, &rider(), RideMode::TargetPower);
    for (role, device) in [
        (Role::Trainer, "practice:trainer"),
        (Role::Heart, "practice:heart"),
        (Role::Meter, "practice:meter"),
    ] {
        let id = stillroad::device::DeviceId::new(device);
        ride.command(Command::Use(role, Some(id)));
    }
    ride.start();
    press_on(&mut ride, UNTIL + CLEARS_UP);
    check(&ride, &context);
    ride.command(Command::End);
    ride.command(Command::End);
    ride.pass(10.0);
    check(&ride, &context);
    ride.command(Command::Close);
    ride.pass(6.0);
    assert!(ride.world.is_done(), "{context}");
    let last = ride.watts().last().map(|(_, watts)| *watts);
    assert_eq!(last, Some(0), "{context}: the last target is the release");
}

#[test]
fn in_any_weather_the_ride_goes_on_and_the_brake_is_let_off() {
    let losses: usize = (1..=40).map(on_the_fake).sum();
    // A link breaks every 150 s or so for ten minutes: the weather was bad.
    assert!(losses > 80, "{losses} links were lost");
}

#[test]
fn in_any_weather_a_model_of_another_structure_is_ridden_too() {
    (1..=8).for_each(on_the_model);
}

#[test]
#[ignore = "as many seeds as are asked for: see above"]
fn many_seeds() {
    let seeds = std::env::var("STILLROAD_SEEDS").ok();
    let seeds: u64 = seeds.and_then(|text| text.parse().ok()).unwrap_or(1_000);
    let losses: usize = (1..=seeds).map(on_the_fake).sum();
    (1..=seeds / 10).for_each(on_the_model);
    println!(
        "{seeds} seeds on the fake, {} on the model: {losses} links lost, no law broken",
        seeds / 10
    );
}
