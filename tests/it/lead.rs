//! Rises sent ahead of their beat: how far, and what never is.
//!
//! Each law is a check of what was sent against what the same ride sends without lead, and each check is also shown a
//! doctored ride in which its law is broken.

use proptest::prelude::*;
use stillroad::engine::Command;
use stillroad::ride::RideMode;
use stillroad::units::BrakeLag;

use crate::world::{Fake, Knobs, Ride, remembering, rider, session};

/// What earlier rides found of the trainer: ramps are led by 1.125 s and steps by 0.8 s.
const LAG: BrakeLag = BrakeLag {
    dead_time: 0.3,
    rise: 0.8,
    fall: 0.6,
    least: 1.0,
    least_half: 0.8,
    cadence_prompt: true,
};
const RAMP: f64 = 1.125;
const STEP: f64 = 0.8;
/// Targets go out four times a second, and not for less than two watts.
const PACE: f64 = 0.27;
const WATTS: f64 = 2.0;

type Sent = Vec<(f64, f64)>;

/// The ride of a session on a trainer of which that is known; second 5 is the start.
fn riding(blocks: &str, lag: Option<BrakeLag>) -> (Fake, Ride) {
    let fake = Fake::new(Knobs::default());
    let mut ride = Ride::on(&fake, &session(blocks), &rider(), RideMode::TargetPower);
    ride.input(remembering(&fake.id(), lag));
    ride.start();
    (fake, ride)
}

fn sent(ride: &Ride) -> Sent {
    let watts = ride.watts_in(0.0, f64::INFINITY);
    watts
        .into_iter()
        .map(|(at, watts)| (at, f64::from(watts)))
        .collect()
}

fn stands(sent: &Sent, at: f64) -> f64 {
    let before = sent.iter().take_while(|(when, _)| *when <= at);
    before.last().map_or(0.0, |(_, watts)| *watts)
}

/// Never less than without lead, so that no fall is led; never more than what is sent without lead by so much later.
fn upward_only_and_no_further_than(lead: f64, led: &Sent, plain: &Sent) -> Result<(), String> {
    for tick in 0..(led.last().map_or(0.0, |last| last.0) * 10.0) as u32 {
        let at = f64::from(tick) / 10.0;
        let load = stands(led, at);
        // One step of the pace to either side, since the two rides send at other moments.
        let least = (0..=6).map(|n| stands(plain, at + PACE * (f64::from(n) / 3.0 - 1.0)));
        let least = least.fold(f64::INFINITY, f64::min);
        let window =
            (0..=20).map(|n| stands(plain, at - PACE + (lead + 2.0 * PACE) * f64::from(n) / 20.0));
        let most = window.fold(0.0, f64::max);
        if load < least - 2.0 * WATTS {
            return Err(format!(
                "{load} W at {at} s where {least} W stand without lead"
            ));
        }
        if load > most + 2.0 * WATTS {
            return Err(format!(
                "{load} W at {at} s, and {most} W is the most until {lead} s later"
            ));
        }
    }
    Ok(())
}

const RISE_AND_FALL: &str = "[[block]]\nkind = \"hold\"\ntime = \"0:30\"\nwatts = 100\n\
     [[block]]\nkind = \"hold\"\ntime = \"0:30\"\nwatts = 200\nstretch = true\n\
     [[block]]\nkind = \"recovery\"\ntime = \"0:30\"\nwatts = 100\nstretch = true\n\
     [[block]]\nkind = \"sprint\"\ntime = \"0:10\"\nwatts = 240\nbrake = \"held\"\n\
     [[block]]\nkind = \"recovery\"\ntime = \"0:30\"\nwatts = 100\n";

#[test]
fn a_ramp_and_a_step_are_sent_ahead_and_falls_are_not() {
    let (_, mut ride) = riding(RISE_AND_FALL, Some(LAG));
    ride.to(134.0);
    let sent = sent(&ride);
    // Beats at 35, 65, 95 and 105. The ramp of 100 W in ten seconds is on its line a second and an eighth ahead.
    let first = sent
        .iter()
        .find(|(at, watts)| *at > 20.0 && *watts > 100.0)
        .unwrap()
        .0;
    assert!((first - (35.0 - RAMP)).abs() < PACE + 0.2, "{first}");
    for at in [36.0, 38.0, 40.0, 42.0] {
        let line = 100.0 + 10.0 * (at + RAMP - 35.0);
        assert!(
            (stands(&sent, at) - line).abs() <= 10.0 * PACE + WATTS,
            "{at}: {line}"
        );
        assert!(stands(&sent, at) <= line + 0.01, "{at}: {line}");
    }
    let fall = sent
        .iter()
        .find(|(at, watts)| *at > 50.0 && *watts < 200.0)
        .unwrap()
        .0;
    assert!(fall >= 65.0, "{fall}");
    let step = sent
        .iter()
        .find(|(at, watts)| *at > 80.0 && *watts > 100.0)
        .unwrap();
    assert!(
        (step.0 - (95.0 - STEP)).abs() < 0.03 && step.1 == 240.0,
        "{step:?}"
    );
    let fall = sent
        .iter()
        .find(|(at, watts)| *at > 96.0 && *watts < 240.0)
        .unwrap()
        .0;
    assert!(fall >= 105.0, "{fall}");
}

#[test]
fn what_is_sent_in_a_ramp_is_what_is_wanted_at_that_moment() {
    // A hundred watts in ten seconds from 35 on. The trainer reports every 0.43 s, so that moments at which a target is
    // due, at which it is reckoned and at which something is heard fall apart.
    let (_, mut ride) = riding(RISE_AND_FALL, None);
    ride.to(50.0);
    let ramp: Sent = sent(&ride)
        .into_iter()
        .filter(|(at, _)| (35.2..44.8).contains(at))
        .collect();
    assert!(ramp.len() > 30, "{ramp:?}");
    for (at, watts) in ramp {
        let line = 100.0 + 10.0 * (at - 35.0);
        assert!(
            watts <= line + 1e-6 && watts > line - 1.0 - 1e-6,
            "{watts} W at {at}, where {line} are wanted"
        );
    }
}

#[test]
fn the_lane_stays_the_plans() {
    let (_, mut ride) = riding(RISE_AND_FALL, Some(LAG));
    ride.to(94.6);
    let snapshot = ride.snapshot();
    assert_eq!(snapshot.lane.unwrap().0, 100.0, "the beat is not yet there");
    let ledger = snapshot.ledger.as_ref().unwrap();
    assert_eq!(ledger.target.value(), 240.0);
    assert!((ledger.lead.seconds() - STEP).abs() < 1e-9);
    assert!(
        ledger.entries[0].why.contains("ahead"),
        "{:?}",
        ledger.entries[0]
    );
    ride.to(95.1);
    assert_eq!(ride.snapshot().lane.unwrap().0, 240.0);
    assert!(ride.snapshot().brake_answer.contains("last ride"));
}

#[test]
fn a_sprint_is_sent_ahead_only_up_to_the_cap_of_the_block_that_is_still_ridden() {
    // Caps of the rider: 250 W, in sprints 400 W. The beat is at 35.
    let blocks = "[[block]]\nkind = \"hold\"\ntime = \"0:30\"\nwatts = 100\n\
         [[block]]\nkind = \"sprint\"\ntime = \"0:20\"\nwatts = 900\nbrake = \"held\"\n";
    let (_, mut ride) = riding(blocks, Some(LAG));
    ride.to(50.0);
    let sent = sent(&ride);
    assert_eq!(stands(&sent, 34.9), 250.0);
    assert!((sent.iter().find(|(_, w)| *w == 250.0).unwrap().0 - 34.2).abs() < 0.03);
    let full = sent.iter().find(|(_, watts)| *watts == 400.0).unwrap().0;
    assert!((35.0..35.3).contains(&full), "{full}");
}

#[test]
fn a_beat_that_is_moved_away_takes_the_load_back_as_it_falls_and_not_at_once() {
    let (_, mut ride) = riding(RISE_AND_FALL, Some(LAG));
    ride.to(94.7);
    assert_eq!(stands(&sent(&ride), 94.7), 240.0);
    ride.command(Command::Stretch);
    ride.to(110.0);
    let sent = sent(&ride);
    // From 240 W to 100 W over two seconds.
    for (at, least, most) in [
        (94.8, 225.0, 240.0),
        (95.7, 150.0, 205.0),
        (97.2, 99.0, 110.0),
    ] {
        let load = stands(&sent, at);
        assert!(load >= least && load <= most, "{load} W at {at}");
    }
    assert_eq!(stands(&sent, 109.0), 100.0);
    ride.to(125.0 - STEP + 0.1);
    assert_eq!(
        ride.watts().last().unwrap().1,
        240,
        "at its new beat it is led again"
    );
}

#[test]
fn a_pause_in_the_lead_lets_the_load_off_in_two_steps() {
    let (fake, mut ride) = riding(RISE_AND_FALL, Some(LAG));
    ride.to(94.7);
    ride.command(Command::Pause);
    ride.to(95.3);
    assert_eq!(held(&fake), Some(120));
    ride.to(97.0);
    assert_eq!(held(&fake), Some(0));
}

#[test]
fn nothing_is_sent_ahead_on_pedals_that_are_not_known_to_turn() {
    let (fake, mut ride) = riding(RISE_AND_FALL, Some(LAG));
    ride.to(30.0);
    fake.turn(|knobs| knobs.mute = true);
    ride.to(37.0);
    assert!(
        sent(&ride)
            .iter()
            .all(|(at, watts)| *at < 20.0 || *watts <= 100.0)
    );
}

#[test]
fn without_anything_known_nothing_is_sent_ahead() {
    for lag in [
        None,
        Some(BrakeLag {
            least: 0.0,
            least_half: 0.0,
            ..LAG
        }),
    ] {
        let (_, mut ride) = riding(RISE_AND_FALL, lag);
        ride.to(100.0);
        let sent = sent(&ride);
        assert!(
            sent.iter()
                .all(|(at, watts)| *at <= 20.0 || *at >= 35.0 || *watts <= 100.0)
        );
        assert_eq!(stands(&sent, 94.99), 100.0);
        assert!(
            ride.snapshot()
                .brake_answer
                .contains("no command is sent ahead")
        );
    }
}

/// What the trainer holds.
pub fn held(fake: &Fake) -> Option<i16> {
    fake.state().holds
}

/// A session of some blocks between 80 and 240 W.
fn blocks() -> impl Strategy<Value = String> {
    let block = (0..3_u8, 12..30_u32, 80..240_u32, 80..240_u32);
    proptest::collection::vec(block, 2..6).prop_map(|blocks| {
        let text = |(kind, seconds, from, to): (u8, u32, u32, u32)| match kind {
            0 => format!("[[block]]\nkind = \"hold\"\ntime = \"0:{seconds}\"\nwatts = {from}\n"),
            1 => format!("[[block]]\nkind = \"hold\"\ntime = \"0:{seconds}\"\nwatts = [{from}, {to}]\n"),
            _ => format!("[[block]]\nkind = \"sprint\"\ntime = \"0:{seconds}\"\nwatts = {from}\nbrake = \"held\"\n"),
        };
        let begin = "[[block]]\nkind = \"warm-up\"\ntime = \"0:20\"\nwatts = 100\n".to_owned();
        blocks.into_iter().map(text).fold(begin, |all, one| all + &one)
    })
}

fn ridden(blocks: &str, lag: Option<BrakeLag>) -> Sent {
    let (_, mut ride) = riding(blocks, lag);
    ride.to(200.0);
    let end = ride
        .events()
        .iter()
        .find(|event| event.what == "end")
        .map_or(195.0, |end| end.ridden_s);
    let mut sent = sent(&ride);
    sent.retain(|(at, _)| *at < end + 5.0);
    sent
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]
    #[test]
    fn upward_only_and_never_further_than_the_lower_bound(blocks in blocks()) {
        let (led, plain) = (ridden(&blocks, Some(LAG)), ridden(&blocks, None));
        upward_only_and_no_further_than(RAMP, &led, &plain).map_err(TestCaseError::fail)?;
    }
}

#[test]
fn a_led_fall_and_a_lead_that_is_too_long_are_noticed() {
    let (led, plain) = (
        ridden(RISE_AND_FALL, Some(LAG)),
        ridden(RISE_AND_FALL, None),
    );
    upward_only_and_no_further_than(RAMP, &led, &plain).unwrap();
    let shifted = |by: f64, falls: bool| -> Sent {
        // Everything by so much earlier, or rises alone.
        let moved = |at: f64| {
            let load = stands(&plain, at + by);
            if falls {
                load
            } else {
                load.max(stands(&plain, at))
            }
        };
        (0..1300)
            .map(|tick| f64::from(tick) / 10.0)
            .map(|at| (at, moved(at)))
            .collect()
    };
    upward_only_and_no_further_than(RAMP, &shifted(1.0, false), &plain).unwrap();
    upward_only_and_no_further_than(RAMP, &shifted(1.0, true), &plain).unwrap_err();
    upward_only_and_no_further_than(RAMP, &shifted(2.0, false), &plain).unwrap_err();
}
