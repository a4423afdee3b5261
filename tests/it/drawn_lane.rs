//! The lane as it is drawn is the load as it is asked for: over whole rides, what the strip showed ahead is compared with
//! the watts that were written to the control point when the moment came.

use stillroad::device::practice::PracticeConfig;
use stillroad::engine::{Command, Snapshot};
use stillroad::ride::RideMode;
use stillroad::ui::keys::Hands;
use stillroad::ui::lane::TOLERANCE_HELD;
use stillroad::ui::rooms::ride::Data;
use stillroad::units::{Effort, Watts};

use crate::world::{Ride, rider, session};

const SESSION: &str = "[[block]]\nkind = \"warm-up\"\ntime = \"1:30\"\neffort = [3, 5]\n\
    [[block]]\nkind = \"hold\"\ntime = \"1:30\"\neffort = 8\nstretch = true\n\
    [[block]]\nkind = \"recovery\"\ntime = \"1:00\"\neffort = 4\ncut = true\n\
    [[block]]\nkind = \"hold\"\ntime = \"1:20\"\nwatts = 190\nbuild_up = \"0:02\"\ncut = true\n\
    [[block]]\nkind = \"sprint\"\ntime = \"0:20\"\nwatts = 330\n\
    [[block]]\nkind = \"recovery\"\ntime = \"1:00\"\neffort = 4\n\
    [[block]]\nkind = \"hold\"\ntime = \"1:00\"\neffort = 7\n\
    [[block]]\nkind = \"cool-down\"\ntime = \"1:00\"\neffort = 3\n";

/// The watts drawn so many seconds ahead of now: from the lane's lower edge, back through the effort map.
fn drawn(snapshot: &Snapshot, ahead: f64) -> Option<f64> {
    let data = Data::new(snapshot.at, snapshot, &Hands::default(), true);
    let lane = &data.strip.lane;
    let after = lane.iter().position(|point| point.at >= ahead)?;
    let (from, to) = (lane.get(after.checked_sub(1)?)?, &lane[after]);
    let watts = |edges: Option<(f64, Option<f64>)>| {
        let rider = rider();
        let low = rider.effort_map.watts(Effort(edges?.0), rider.threshold)?;
        Some(low.0 / (1.0 - TOLERANCE_HELD))
    };
    let (low, high) = (watts(from.edges)?, watts(to.edges)?);
    let share = (ahead - from.at) / (to.at - from.at).max(1e-9);
    Some(low + (high - low) * share)
}

/// What was last written at or before a time.
fn written(watts: &[(f64, i16)], at: f64) -> Option<f64> {
    let found = watts.iter().rev().find(|(when, _)| *when <= at)?;
    Some(f64::from(found.1))
}

/// Rides the session with what the hand does at its seconds, and compares what was drawn 3, 8, 21 and 60 seconds ahead
/// with what came, unless the hand came between. Gives how many were compared.
fn compare(hand: &[(f64, Command)]) -> usize {
    let plan = session(SESSION);
    let config = PracticeConfig::default();
    let mut ride = Ride::practice(config, &plan, &rider(), RideMode::TargetPower);
    ride.start();
    let mut hand = hand.iter();
    let mut due = hand.next();
    let mut shown: Vec<(f64, f64, f64)> = Vec::new();
    let mut touched = vec![0.0];
    let mut second = 20.0;
    while ride.mode().under_way() && second < 700.0 {
        ride.to(second);
        if let Some((at, command)) = due
            && second >= *at
        {
            ride.command(command.clone());
            touched.push(second);
            due = hand.next();
        }
        let snapshot = ride.snapshot();
        for ahead in [3.0, 8.0, 21.0, 60.0] {
            // While the brake is off the lane is drawn as not held.
            if snapshot.going.is_some()
                && !Data::new(snapshot.at, &snapshot, &Hands::default(), true)
                    .strip
                    .broken
                && snapshot.mode.runs()
                && let Some(watts) = drawn(&snapshot, ahead)
            {
                shown.push((second, second + ahead, watts));
            }
        }
        second += 1.0;
    }
    let end = second;
    let watts = ride.watts_in(0.0, end);
    let eased: Vec<f64> = ride
        .events()
        .iter()
        .filter(|event| matches!(event.what, "ease-down" | "guard" | "guard-over" | "pause"))
        .map(|event| event.ridden_s + 5.0)
        .collect();
    let mut compared = 0;
    for (seen, at, drawn) in shown {
        let between = |moment: &f64| (seen - 0.5..=at + 0.5).contains(moment);
        if touched.iter().any(between) || eased.iter().any(between) || at > end - 2.0 {
            continue;
        }
        // Asked in steps of a quarter of a second and whole watts, changes under 2 W not at all: the drawn load must lie
        // among those that stood within four tenths of a second.
        let near = [-0.4, 0.0, 0.4].map(|off| written(&watts, at + off));
        let (low, high) = near
            .iter()
            .flatten()
            .fold((f64::MAX, f64::MIN), |(low, high), w| {
                (low.min(*w), high.max(*w))
            });
        assert!(
            drawn >= low - 2.6 && drawn <= high + 2.6,
            "seen at {seen}, {drawn:.1} W were drawn for {at}, and {low} to {high} W asked"
        );
        compared += 1;
    }
    compared
}

#[test]
fn what_is_drawn_is_what_is_asked_for() {
    // Four looks ahead at each of some five hundred seconds, but those that reach past the end.
    let compared = compare(&[]);
    assert!(compared > 1200, "only {compared} compared");
}

#[test]
fn so_it_is_after_the_hand_came_between() {
    let compared = compare(&[
        (100.0, Command::Trim(-3)),
        (120.0, Command::EaseBlock),
        (130.0, Command::Stretch),
        (150.0, Command::Skip),
        (151.0, Command::Skip),
        (170.0, Command::Cut),
        (200.0, Command::Trim(5)),
        (230.0, Command::Pause),
        (240.0, Command::Resume),
        (330.0, Command::BrakeOff),
        (336.0, Command::Resume),
    ]);
    assert!(compared > 500, "only {compared} compared");
}

#[test]
fn the_check_sees_a_lane_that_is_not_asked_for() {
    let plan = session(SESSION);
    let mut ride = Ride::practice(
        PracticeConfig::default(),
        &plan,
        &rider(),
        RideMode::TargetPower,
    );
    ride.start();
    ride.to(98.0);
    // Three seconds into a hold of 182 W from some 126 W: the build-up shows, and not the hold's own load.
    let mut snapshot = (*ride.snapshot()).clone();
    let built = drawn(&snapshot, 1.0).unwrap();
    assert!((130.0..165.0).contains(&built), "{built}");
    // Effort 8 is 91 % of 200 W.
    assert!((drawn(&snapshot, 30.0).unwrap() - 182.0).abs() < 1.0);
    if let Some(going) = &mut snapshot.going {
        going.ease.factor = 0.9;
    }
    assert!((drawn(&snapshot, 30.0).unwrap() - 163.8).abs() < 1.0);
    assert_eq!(snapshot.lane, Some(Watts(182.0)));
}
