//! What the brake is told: pace, caps, ranges, levels that stand.

use stillroad::device::Request;
use stillroad::engine::Command;
use stillroad::gatt::control_point::ResultCode;
use stillroad::ride::{Cause, Mode, RideMode};

use super::{held, riding, riding_on, steady};
use crate::world::{Fake, Knobs, Ride, rider, session};

#[test]
fn at_most_four_targets_a_second_and_none_under_two_watts_but_the_last() {
    let plan = session(
        "[[block]]\nkind = \"warm-up\"\ntime = \"2:00\"\nwatts = [60, 90]\n\
         [[block]]\nkind = \"hold\"\ntime = \"1:00\"\nwatts = 211\n",
    );
    let (fake, mut ride) = riding(&plan);
    ride.to(180.0);
    assert_eq!(held(&fake), Some(211));
    let watts = ride.watts_in(7.0, 180.0);
    for pair in watts.windows(2) {
        assert!(pair[1].0 - pair[0].0 >= 0.249, "{pair:?}");
    }
    // Sixty watts in ten seconds are one and a half each quarter of a second: each is waited for until it is two.
    let build: Vec<i16> = ride.watts_in(5.0, 15.5).iter().map(|(_, w)| *w).collect();
    let (_, all_but_last) = build.split_last().unwrap();
    for pair in all_but_last.windows(2) {
        assert!(pair[1] - pair[0] >= 2, "{build:?}");
    }
}

#[test]
fn a_slow_ramp_goes_out_by_two_watts_and_its_last_one_too() {
    // A quarter of a watt a second: each watt stands for four seconds, and is still no command.
    let plan = session(
        "[[block]]\nkind = \"warm-up\"\ntime = \"0:30\"\nwatts = 60\n\
         [[block]]\nkind = \"hold\"\ntime = \"2:00\"\nwatts = [60, 91]\n\
         [[block]]\nkind = \"hold\"\ntime = \"1:00\"\nwatts = 91\n",
    );
    let (fake, mut ride) = riding(&plan);
    ride.to(170.0);
    let watts: Vec<i16> = ride.watts_in(36.0, 170.0).iter().map(|(_, w)| *w).collect();
    let (_, all_but_last) = watts.split_last().unwrap();
    for pair in all_but_last.windows(2) {
        assert!(pair[1] - pair[0] >= 2, "{watts:?}");
    }
    // Thirty-one watts by two, and the odd one at the end.
    assert!(watts.len() >= 12 && watts.len() <= 16, "{watts:?}");
    assert_eq!(held(&fake), Some(91));
}

#[test]
fn nothing_held_is_above_the_caps() {
    let plan = session(
        "[[block]]\nkind = \"hold\"\ntime = \"1:00\"\nwatts = 900\n\
         [[block]]\nkind = \"sprint\"\ntime = \"0:20\"\nwatts = 900\nbrake = \"held\"\n\
         [[block]]\nkind = \"hold\"\ntime = \"1:00\"\nwatts = 900\nbuild_up = \"0:00\"\n",
    );
    let (fake, mut ride) = riding(&plan);
    for second in [12.0, 40.0, 70.0, 100.0] {
        ride.to(second);
        ride.command(Command::Trim(5));
    }
    ride.to(130.0);
    // Caps of the rider: 250 W, in sprints 400 W. The sprint is from 65 to 85.
    assert_eq!(held(&fake), Some(250));
    let most = |from, to| ride.watts_in(from, to).iter().map(|(_, w)| *w).max();
    assert_eq!(most(5.0, 64.9), Some(250));
    assert_eq!(most(64.9, 85.0), Some(400));
    // It stands on for a second and falls over a second and a half; a target may wait a quarter of a second.
    for (when, watts) in ride.watts_in(85.0, 130.0) {
        let line = 400.0 - 150.0 * ((when - 86.25) / 1.5).clamp(0.0, 1.0);
        assert!(f64::from(watts) <= line + 1.0, "{watts} W at {when}");
    }
}

#[test]
fn the_step_is_rounded_down_and_the_range_is_kept() {
    let coarse = Knobs {
        power_range: Some((50, 400, 5)),
        ..Knobs::default()
    };
    let plan = session("[[block]]\nkind = \"hold\"\ntime = \"2:00\"\nwatts = 148\n");
    let (fake, mut ride) = riding_on(coarse, &plan);
    ride.to(60.0);
    assert_eq!(held(&fake), Some(145));
    for (when, watts) in ride.watts() {
        assert!(watts >= 50 && watts % 5 == 0, "{watts} W at {when:?}");
    }
    ride.command(Command::Pause);
    ride.to(65.0);
    assert_eq!(held(&fake), Some(50), "its lowest is its release");
}

#[test]
fn a_trainer_whose_least_is_above_the_cap_is_released_and_that_is_said() {
    let strong = Knobs {
        power_range: Some((300, 800, 1)),
        offers_levels: false,
        ..Knobs::default()
    };
    let (fake, mut ride) = riding_on(strong, &steady());
    ride.to(30.0);
    assert_eq!(held(&fake), Some(300), "its release");
    assert!(ride.snapshot().brake.is_none(), "no target was taken");
    assert!(
        ride.snapshot().released.contains("above your cap"),
        "{}",
        ride.snapshot().released
    );
    assert!(
        ride.events()
            .iter()
            .any(|event| event.detail.contains("above your cap"))
    );
}

#[test]
fn a_free_sprints_level_stands_before_its_beat() {
    let plan = session(
        "[[block]]\nkind = \"recovery\"\ntime = \"1:00\"\nwatts = 80\n\
         [[block]]\nkind = \"sprint\"\ntime = \"0:15\"\neffort = 10\nbrake = \"free\"\n\
         [[block]]\nkind = \"recovery\"\ntime = \"1:00\"\nwatts = 80\n",
    );
    let (fake, mut ride) = riding(&plan);
    ride.to(58.0);
    assert_eq!(held(&fake), Some(80));
    // The beat is at 65.
    ride.to(64.0);
    assert_eq!(held(&fake), None, "a level stands");
    let mut level = ride.writes().into_iter().filter(|(_, bytes)| bytes[0] == 4);
    assert!(level.next_back().unwrap().0.0 < 64_000_000);
    // The held watts fall for two seconds, from the fifth before the beat on.
    assert!(
        ride.watts_in(62.1, 80.0).is_empty(),
        "no watts in the sprint"
    );
    ride.to(100.0);
    assert_eq!(held(&fake), Some(80));
}

#[test]
fn a_trainer_that_does_not_know_target_power_is_steered_by_its_levels() {
    for refused_later in [false, true] {
        let knobs = Knobs {
            offers_power: refused_later,
            target_power: ResultCode::NotSupported,
            ..Knobs::default()
        };
        let (_, mut ride) = riding_on(knobs, &steady());
        ride.to(9.0);
        assert_eq!(ride.snapshot().ride_mode, RideMode::TargetPower);
        let said = ride.notice();
        assert!(said.contains("cannot hold watts by itself"), "{said}");
        ride.to(30.0);
        assert_eq!(ride.mode(), Mode::Riding);
        // Op 05 once at most, where the trainer says that it knows it; then op 04.
        assert!(ride.watts().len() <= 1);
        assert!(ride.writes().iter().any(|(_, bytes)| bytes[0] == 0x04));
    }
}

#[test]
fn a_trainer_that_takes_nothing_of_use_leaves_the_ride_to_the_legs() {
    let knobs = Knobs {
        offers_levels: false,
        target_power: ResultCode::NotSupported,
        ..Knobs::default()
    };
    let (_, mut ride) = riding_on(knobs, &steady());
    ride.to(20.0);
    let Mode::Degraded { cause, paused, .. } = ride.mode() else {
        panic!("{:?}", ride.mode());
    };
    assert_eq!((cause, paused), (Cause::NoUsableTarget, None));
    ride.to(60.0);
    assert_eq!(ride.rows().len(), 55, "it is recorded all the same");
}

#[test]
fn a_trainer_without_a_control_point_is_ridden_by_feel() {
    let knobs = Knobs {
        control_point: false,
        ..Knobs::default()
    };
    let (_, mut ride) = riding_on(knobs, &steady());
    assert!(ride.notice().contains("cannot be set"), "{}", ride.notice());
    ride.to(60.0);
    assert_eq!(ride.mode(), Mode::Riding);
    assert!(ride.writes().is_empty());
    assert!(ride.rows().iter().skip(1).all(|row| row.power.is_some()));
}

#[test]
fn a_trainer_without_a_range_and_one_that_wants_a_start_are_ridden() {
    let plain = Knobs {
        power_range: None,
        ..Knobs::default()
    };
    let wants_start = Knobs {
        needs_start: true,
        ..Knobs::default()
    };
    let late = Knobs {
        answers_after: stillroad::time::Span::from_millis(900),
        ..Knobs::default()
    };
    for knobs in [plain, wants_start, late] {
        let (fake, mut ride) = riding_on(knobs, &steady());
        ride.to(40.0);
        assert_eq!(held(&fake), Some(150));
    }
}

#[test]
fn a_late_trainer_never_hears_a_second_command_before_it_has_answered_the_first() {
    let late = Knobs {
        answers_after: stillroad::time::Span::from_millis(1_700),
        ..Knobs::default()
    };
    let (_, mut ride) = riding_on(late, &steady());
    ride.to(40.0);
    let writes = ride.writes();
    for pair in writes.windows(2) {
        let between = pair[1].0.since(pair[0].0).seconds();
        assert!(between >= 1.7, "{between}");
    }
    assert!(writes.len() > 5);
}

#[test]
fn another_trainer_in_the_middle_of_a_ride_starts_from_nothing_and_the_old_one_is_let_go() {
    use crate::world::tap;
    use stillroad::engine::Role;
    let old = Fake::named("fake:old", Knobs::default());
    let new = Fake::named("fake:new", Knobs::default());
    let mut ride = Ride::new(vec![tap(old.clone()), tap(new.clone())]);
    ride.choose(&steady(), &rider(), RideMode::TargetPower);
    ride.command(Command::Use(Role::Trainer, Some(old.id())));
    ride.start();
    ride.to(30.0);
    assert_eq!(held(&old), Some(150));
    ride.command(Command::Use(Role::Trainer, Some(new.id())));
    ride.to(31.0);
    assert_eq!(held(&old), Some(0), "the old one does not keep its load");
    let gone = |(_, request): &(_, Request)| *request == Request::Disconnect(old.id());
    assert!(ride.requests().iter().any(gone));
    ride.to(34.0);
    assert!(held(&new).unwrap() < 100, "{:?}", held(&new));
    ride.to(40.0);
    assert_eq!(held(&new), Some(150));
}
