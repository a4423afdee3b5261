//! Trainers that take only some sorts of target, ridden to the end in both modes.

use stillroad::device::practice::{PracticeConfig, Takes};
use stillroad::ride::{Mode, RideMode};
use stillroad::units::BrakeTarget;

use super::Trial;
use crate::world::{rider, session};

const SESSION: &str = "[[block]]\nkind = \"warm-up\"\ntime = \"2:00\"\neffort = [2, 5]\n\
    [[block]]\nkind = \"hold\"\ntime = \"1:00\"\neffort = 7\n\
    [[block]]\nkind = \"recovery\"\ntime = \"0:30\"\neffort = 4\n\
    [[block]]\nkind = \"sprint\"\ntime = \"0:10\"\neffort = 10\n\
    [[block]]\nkind = \"recovery\"\ntime = \"0:30\"\neffort = 4\n\
    [[block]]\nkind = \"hold\"\ntime = \"0:40\"\nslope = 3\n\
    [[block]]\nkind = \"hold\"\ntime = \"0:30\"\nlevel = 0.15\n\
    [[block]]\nkind = \"cool-down\"\ntime = \"1:00\"\neffort = [4, 1]\n";
const SECONDS: usize = 380;

const NOTHING: Takes = Takes::NOTHING;

#[test]
fn every_trainer_is_ridden_to_the_end_in_both_modes_and_the_rider_is_told() {
    let plan = session(SESSION);
    let cases = [
        (
            "all",
            Takes::ALL,
            RideMode::TargetPower,
            RideMode::TargetPower,
            "",
        ),
        (
            "all",
            Takes::ALL,
            RideMode::EffortOnly,
            RideMode::EffortOnly,
            "does not limit the watts",
        ),
        (
            "levels",
            Takes {
                levels: true,
                ..NOTHING
            },
            RideMode::TargetPower,
            RideMode::TargetPower,
            "cannot hold watts by itself",
        ),
        (
            "levels",
            Takes {
                levels: true,
                ..NOTHING
            },
            RideMode::EffortOnly,
            RideMode::EffortOnly,
            "does not limit the watts",
        ),
        (
            "slopes",
            Takes {
                slopes: true,
                ..NOTHING
            },
            RideMode::TargetPower,
            RideMode::TargetPower,
            "cannot hold watts by itself",
        ),
        (
            "slopes",
            Takes {
                slopes: true,
                ..NOTHING
            },
            RideMode::EffortOnly,
            RideMode::EffortOnly,
            "does not limit the watts",
        ),
        (
            "power",
            Takes {
                power: true,
                ..NOTHING
            },
            RideMode::TargetPower,
            RideMode::TargetPower,
            "a recovery's watts are held",
        ),
        (
            "power",
            Takes {
                power: true,
                ..NOTHING
            },
            RideMode::EffortOnly,
            RideMode::TargetPower,
            "can only hold watts",
        ),
        (
            "nothing",
            NOTHING,
            RideMode::TargetPower,
            RideMode::TargetPower,
            "",
        ),
        (
            "nothing",
            NOTHING,
            RideMode::EffortOnly,
            RideMode::EffortOnly,
            "",
        ),
    ];
    for (name, takes, chosen, ridden, told) in cases {
        let what = format!("{name} in {}", chosen.key());
        let config = PracticeConfig::default().taking(takes);
        let mut trial = Trial::new(config, &plan, &rider(), chosen);
        let mut notices = Vec::new();
        let mut most = [0.0_f64; 3];
        while trial.ride.mode().under_way() || trial.ride.mode() == Mode::Ready {
            let now = trial.ride.now().0 as f64 / 1e6;
            assert!(now < 420.0, "{what} does not end");
            trial.to(now + 1.0);
            let snapshot = trial.ride.snapshot();
            if let Some(notice) = &snapshot.notice
                && notices.last() != Some(&notice.to_string())
            {
                notices.push(notice.to_string());
            }
            if let Some(brake) = snapshot.brake {
                let (at, value) = match brake {
                    BrakeTarget::Power(watts) => (0, watts.0),
                    BrakeTarget::Resistance(level) => (1, level.0),
                    BrakeTarget::Slope(slope) => (2, slope.0 + 10.0),
                };
                most[at] = most[at].max(value);
            }
            if (60.0..380.0).contains(&now) {
                assert_eq!(snapshot.ride_mode, ridden, "{what}");
            }
        }
        println!("{what}: most {most:?}");
        for notice in &notices {
            println!("    {notice}");
        }
        assert!(matches!(trial.ride.mode(), Mode::Finished(_)), "{what}");
        assert_eq!(trial.ride.rows().len(), SECONDS, "{what}");
        assert!(
            told.is_empty() || notices.iter().any(|notice| notice.contains(told)),
            "{what}: {notices:?}"
        );
        // Whatever it takes carries a load, and nothing else was asked for.
        for (value, takes) in most.iter().zip([takes.power, takes.levels, takes.slopes]) {
            assert!(takes || *value == 0.0, "{what}: {most:?}");
        }
        if takes != NOTHING {
            assert!(most.iter().any(|value| *value > 5.0), "{what}: {most:?}");
            let unset: Vec<_> = trial
                .ride
                .rows()
                .iter()
                .skip(30)
                .take(300)
                .filter(|row| row.released == Some(true))
                .map(|row| row.ridden_s)
                .collect();
            assert!(unset.is_empty(), "{what} was released at {unset:?}");
        }
    }
}

#[test]
fn a_slope_without_a_known_speed_is_never_set_and_what_stands_instead_is_said() {
    use crate::world::{Fake, Knobs, Ride};
    let plan = session(
        "[[block]]\nkind = \"hold\"\ntime = \"0:30\"\nwatts = 120\n\
         [[block]]\nkind = \"hold\"\ntime = \"0:30\"\nslope = 4\n",
    );
    let knobs = Knobs {
        speed: false,
        slopes: true,
        ..Knobs::default()
    };
    let mut ride = Ride::on(&Fake::new(knobs), &plan, &rider(), RideMode::TargetPower);
    ride.start();
    ride.to(40.0);
    assert!(
        ride.notice().contains("No slope is set"),
        "{} {:?} {:?}",
        ride.notice(),
        ride.events(),
        ride.writes()
    );
    ride.to(64.0);
    assert!(ride.writes().iter().all(|(_, bytes)| bytes[0] != 0x11));
    let releases = ride
        .events()
        .iter()
        .filter(|event| event.what == "released")
        .count();
    assert!(releases <= 1, "it is not set and released by turns");
}
