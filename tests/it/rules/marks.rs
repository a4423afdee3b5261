//! A moment that the rider marks: kept under a number, said, and nothing else.

use stillroad::device::Request;
use stillroad::engine::Command;
use stillroad::ride::Mode;
use stillroad::time::Instant;

use super::{riding, steady};
use crate::world::{Fake, Ride, session};

/// The marks that were kept: ridden second and number.
fn marks(ride: &Ride) -> Vec<(f64, String)> {
    let events = ride.events().into_iter();
    events
        .filter(|event| event.what == "mark")
        .map(|event| (event.ridden_s, event.detail))
        .collect()
}

fn mark(ride: &mut Ride, at: f64) {
    ride.to(at);
    ride.command(Command::Mark);
}

#[test]
fn marks_are_numbered_from_one_and_said() {
    let (_, mut ride) = riding(&steady());
    mark(&mut ride, 45.0);
    assert_eq!(ride.notice(), "Mark 1 kept.");
    mark(&mut ride, 65.5);
    assert_eq!(ride.notice(), "Mark 2 kept.");
    // While the clock stands, too: it is the moment that counts.
    ride.to(80.0);
    ride.command(Command::Pause);
    mark(&mut ride, 100.0);
    assert!(matches!(ride.mode(), Mode::Paused(_)), "it stands still");
    assert_eq!(ride.notice(), "Mark 3 kept.");
    ride.to(120.0);
    ride.command(Command::Resume);
    ride.command(Command::BrakeOff);
    mark(&mut ride, 140.0);
    assert!(ride.snapshot().released.contains("by hand"), "it stays off");
    // Rides begin at second five; the clock stood from 80 to 120.
    let expected = [(40.0, "1"), (60.5, "2"), (75.0, "3"), (95.0, "4")];
    let expected: Vec<_> = expected
        .into_iter()
        .map(|(at, number)| (at, number.to_owned()))
        .collect();
    assert_eq!(marks(&ride), expected);
}

#[test]
fn nothing_is_marked_before_a_ride_nor_after_it() {
    let fake = Fake::new(crate::world::Knobs::default());
    let mut ride = Ride::on(
        &fake,
        &session("[[block]]\nkind = \"hold\"\ntime = \"0:30\"\nwatts = 150\n"),
        &crate::world::rider(),
        stillroad::ride::RideMode::TargetPower,
    );
    ride.to(4.0);
    ride.command(Command::Mark);
    assert!(!ride.notice().contains("Mark"));
    ride.start();
    ride.to_the_end(60.0);
    ride.command(Command::Mark);
    assert_eq!(marks(&ride), []);
    assert!(!ride.notice().contains("Mark"));
}

#[test]
fn a_ride_keeps_999_marks_and_says_so() {
    let (_, mut ride) = riding(&steady());
    ride.to(30.0);
    for _ in 0..1_002 {
        ride.command(Command::Mark);
    }
    let numbers: Vec<String> = marks(&ride).into_iter().map(|(_, number)| number).collect();
    let expected: Vec<String> = (1..=999).map(|number: u32| number.to_string()).collect();
    assert_eq!(numbers, expected);
    ride.pass(60.0);
    ride.command(Command::Mark);
    assert!(
        ride.notice().contains("999 moments are marked"),
        "{}",
        ride.notice()
    );
    assert_eq!(marks(&ride).len(), 999);
}

/// Everything that the trainer is asked, and each row, is as in the same ride without a mark: building up, held, changing
/// block, with still pedals and building up again.
#[test]
fn a_mark_changes_nothing_of_the_brake() {
    let plan = session(
        "[[block]]\nkind = \"hold\"\ntime = \"1:00\"\nwatts = 150\n\
         [[block]]\nkind = \"recovery\"\ntime = \"1:00\"\nwatts = 100\n\
         [[block]]\nkind = \"hold\"\ntime = \"1:00\"\nwatts = 180\n",
    );
    let ridden = |marked: bool| -> (Vec<(Instant, Request)>, Vec<stillroad::record::Row>) {
        let (fake, mut ride) = riding(&plan);
        let mut second = 5.0;
        while second < 170.0 {
            second += 0.25;
            ride.to(second);
            if second == 90.0 {
                fake.turn(|knobs| knobs.cadence = 0.0);
            }
            if second == 100.0 {
                fake.turn(|knobs| knobs.cadence = 85.0);
            }
            if marked && second % 2.5 == 0.0 {
                ride.command(Command::Mark);
            }
        }
        assert_eq!(marks(&ride).len(), if marked { 66 } else { 0 });
        (ride.requests(), ride.rows())
    };
    let (asked, rows) = ridden(false);
    let (asked_too, rows_too) = ridden(true);
    assert!(asked.len() > 40, "{}", asked.len());
    assert_eq!(asked, asked_too);
    assert_eq!(rows, rows_too);
}
