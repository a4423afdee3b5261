//! The end of a ride where a level stands: half of it goes first, as of held watts, for who may be standing on the pedals.

use stillroad::engine::Command;
use stillroad::ride::{Finish, Mode, RideMode};

use crate::world::{Fake, Knobs, Ride, rider, session};

/// What is written from a moment on.
fn written(ride: &Ride, from: f64) -> Vec<Vec<u8>> {
    ride.writes()
        .into_iter()
        .filter(|(now, _)| now.0 as f64 / 1e6 >= from)
        .map(|(_, bytes)| bytes)
        .collect()
}

fn end(ride: &mut Ride) {
    ride.command(Command::End);
    ride.command(Command::End);
    assert_eq!(ride.mode(), Mode::Finished(Finish::ByRider));
    ride.pass(5.0);
}

// Levels are tenths in one octet after op 04, target power op 05, stop 08 01 (Fitness Machine Service 1.0, 4.16.2).

#[test]
fn the_end_in_a_free_sprint_goes_in_two_steps() {
    let plan = session(
        "[[block]]\nkind = \"recovery\"\ntime = \"1:00\"\nwatts = 80\n\
         [[block]]\nkind = \"sprint\"\ntime = \"0:12\"\neffort = 10\n\
         [[block]]\nkind = \"recovery\"\ntime = \"1:00\"\nwatts = 80\n",
    );
    let fake = Fake::new(Knobs::default());
    let mut ride = Ride::on(&fake, &plan, &rider(), RideMode::TargetPower);
    ride.start();
    ride.to(71.0);
    // A sprint's level on an unknown trainer is a fifth of its range: 2.0.
    assert_eq!(ride.writes().last().unwrap().1[..2], [4, 20]);
    end(&mut ride);
    let writes = written(&ride, 71.0);
    assert_eq!(writes[0][..2], [4, 10], "{writes:?}");
    assert_eq!(writes[1..], [vec![5, 0, 0], vec![8, 1]]);
}

#[test]
fn the_end_of_a_last_block_at_a_level_goes_in_two_steps() {
    let plan = session(
        "[[block]]\nkind = \"hold\"\ntime = \"0:30\"\nwatts = 120\n\
         [[block]]\nkind = \"hold\"\ntime = \"0:30\"\nlevel = 0.16\n",
    );
    let fake = Fake::new(Knobs::default());
    let mut ride = Ride::on(&fake, &plan, &rider(), RideMode::TargetPower);
    ride.start();
    ride.to(64.0);
    assert_eq!(ride.writes().last().unwrap().1[..2], [4, 16]);
    ride.to(70.0);
    assert_eq!(ride.mode(), Mode::Finished(Finish::Completed));
    let writes = written(&ride, 64.0);
    assert_eq!(writes[0][..2], [4, 8], "{writes:?}");
    assert_eq!(writes[1..], [vec![5, 0, 0], vec![8, 1]]);
}

#[test]
fn the_end_by_effort_goes_in_two_steps_and_from_the_lowest_level_at_once() {
    let plan = session("[[block]]\nkind = \"hold\"\ntime = \"5:00\"\nwatts = 120\n");
    for presses in [5_u8, 0] {
        let fake = Fake::new(Knobs {
            offers_power: false,
            power_range: None,
            ..Knobs::default()
        });
        let mut ride = Ride::on(&fake, &plan, &rider(), RideMode::EffortOnly);
        ride.start();
        ride.to(30.0);
        for _ in 0..presses {
            ride.command(Command::Trim(1));
            ride.pass(3.0);
        }
        // A press is a fiftieth of the range.
        assert_eq!(ride.writes().last().unwrap().1[..2], [4, 2 * presses]);
        let before = ride.now().0 as f64 / 1e6;
        end(&mut ride);
        let writes = written(&ride, before);
        if presses > 0 {
            assert_eq!(writes[0][..2], [4, presses], "{writes:?}");
            assert_eq!(writes[1][..2], [4, 0], "{writes:?}");
        } else {
            // Nothing is left to be halved.
            assert!(writes.len() <= 2, "{writes:?}");
        }
        assert_eq!(writes.last().unwrap()[..], [8, 1], "{writes:?}");
    }
}
