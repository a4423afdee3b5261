//! The lane as it is drawn is the load as it is asked for: over whole rides, what the strip showed ahead is compared with
//! the watts that were written to the control point when the moment came, without what a separate meter corrects of them.

use stillroad::device::practice::{Device, PracticeConfig};
use stillroad::engine::{Command, Role, Snapshot};
use stillroad::record::RideEvent;
use stillroad::ride::{RideMode, Stage};
use stillroad::rider::Rider;
use stillroad::ui::keys::Hands;
use stillroad::ui::lane::TOLERANCE_HELD;
use stillroad::ui::rooms::ride::Data;
use stillroad::units::{Effort, Watts};

use crate::world::{Fake, Knobs, Ride, rider, session};

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

/// What was drawn ahead in a ride, and what came.
struct Compared {
    /// When it was seen, for when, and the watts that were drawn.
    shown: Vec<(f64, f64, f64)>,
    /// The watts that were written, with their times.
    written: Vec<(f64, i16)>,
    /// By which factor the target was corrected towards a meter, by the ledger, four times a second.
    corrected: Vec<(f64, f64)>,
    /// When something came between that no plan tells.
    came_between: Vec<f64>,
    end: f64,
}

/// Rides on until the end or until a second, and looks 3, 8, 21 and 60 seconds ahead each second. `act` is called each
/// second and says whether something was done.
fn watch(ride: &mut Ride, until: f64, mut act: impl FnMut(&mut Ride, f64) -> bool) -> Compared {
    let mut shown: Vec<(f64, f64, f64)> = Vec::new();
    let mut corrected = Vec::new();
    let mut came_between = vec![0.0];
    let mut second = 20.0;
    while ride.mode().under_way() && second < until {
        ride.to(second);
        if act(ride, second) {
            came_between.push(second);
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
        for quarter in 0..4 {
            ride.to(second + f64::from(quarter) / 4.0);
            if let Some(ledger) = &ride.snapshot().ledger
                && let Some(meter) = ledger.entries.iter().find(|one| one.stage == Stage::Meter)
            {
                let factor = meter.output / meter.input.max(1.0);
                corrected.push((second + f64::from(quarter) / 4.0, factor));
            }
        }
        second += 1.0;
    }
    let by_itself = |event: &&RideEvent| {
        matches!(
            event.what,
            "ease-down" | "guard" | "guard-over" | "pause" | "heart-lost"
        )
    };
    let events = ride.events();
    came_between.extend(
        events
            .iter()
            .filter(by_itself)
            .map(|event| event.ridden_s + 5.0),
    );
    Compared {
        shown,
        written: ride.watts_in(0.0, second),
        corrected,
        came_between,
        end: second,
    }
}

impl Compared {
    /// The watts that were asked of the legs: those last written at or before a time, without the correction.
    fn asked(&self, at: f64) -> Option<f64> {
        let factor = self.corrected.iter().rev().find(|(when, _)| *when <= at);
        Some(written(&self.written, at)? / factor.map_or(1.0, |(_, factor)| *factor))
    }

    /// How many looks were compared, of those for seconds from `from` on; or the first that did not come.
    fn compare(&self, from: f64) -> Result<usize, String> {
        let mut compared = 0;
        for &(seen, at, drawn) in &self.shown {
            let between = |moment: &f64| (seen - 0.5..=at + 0.5).contains(moment);
            if at < from || self.came_between.iter().any(between) || at > self.end - 2.0 {
                continue;
            }
            // Asked in steps of a quarter of a second and whole watts, changes under 2 W not at all: the drawn load must
            // lie among those that stood within four tenths of a second.
            let near = [-0.4, 0.0, 0.4].map(|off| self.asked(at + off));
            let (low, high) = near
                .iter()
                .flatten()
                .fold((f64::MAX, f64::MIN), |(low, high), w| {
                    (low.min(*w), high.max(*w))
                });
            if drawn < low - 2.6 || drawn > high + 2.6 {
                return Err(format!(
                    "seen at {seen}, {drawn:.1} W were drawn for {at}, and {low:.1} to {high:.1} W asked"
                ));
            }
            compared += 1;
        }
        Ok(compared)
    }
}

/// Rides the session with what the hand does at its seconds, and compares. Gives how many were compared.
fn compare(hand: &[(f64, Command)]) -> usize {
    let plan = session(SESSION);
    let config = PracticeConfig::default();
    let mut ride = Ride::practice(config, &plan, &rider(), RideMode::TargetPower);
    ride.start();
    let mut hand = hand.iter().peekable();
    let ridden = watch(&mut ride, 700.0, |ride, second| {
        let due = hand.next_if(|(at, _)| second >= *at);
        if let Some((_, command)) = due {
            ride.command(command.clone());
        }
        due.is_some()
    });
    ridden.compare(0.0).unwrap()
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
fn a_meter_corrects_what_the_trainer_is_asked_for_and_not_the_lane() {
    let plan = session(SESSION);
    let mut config = PracticeConfig::default();
    // It reads 7 % more than the brake, so that the trainer is asked for less than is drawn.
    config.crank_meter.offset = 0.07;
    let rider = Rider {
        meter_led: true,
        ..rider()
    };
    let mut ride = Ride::practice(config, &plan, &rider, RideMode::TargetPower);
    ride.command(Command::Use(Role::Meter, Some(Device::Meter.id())));
    ride.start();
    let mut ridden = watch(&mut ride, 700.0, |_, _| false);
    let least = ridden
        .corrected
        .iter()
        .fold(1.0_f64, |least, (_, factor)| least.min(*factor));
    assert!(least < 0.96, "it corrects: {least}");
    let compared = ridden.compare(0.0).unwrap();
    assert!(compared > 1000, "only {compared} compared");
    // And the check sees a lane that would follow the correction.
    ridden.corrected.clear();
    ridden.compare(0.0).unwrap_err();
}

#[test]
fn a_guard_that_cannot_see_the_legs_is_drawn_as_the_recoverys_load_that_it_leaves() {
    let blocks = "[[block]]\nkind = \"warm-up\"\ntime = \"1:00\"\nwatts = 100\n\
         [[block]]\nkind = \"hold\"\ntime = \"3:00\"\nwatts = 200\ncadence = [80, 90]\n\
         [[block]]\nkind = \"recovery\"\ntime = \"1:00\"\nwatts = 90\n\
         [[block]]\nkind = \"hold\"\ntime = \"2:00\"\nwatts = 190\ncadence = [80, 90]\n";
    let fake = Fake::new(Knobs::default());
    let mut ride = Ride::on(&fake, &session(blocks), &rider(), RideMode::TargetPower);
    ride.start();
    ride.to(19.0);
    let hand = fake.clone();
    // From second 100 on the legs go down from 85 to 45 rpm; then cadence is lost, and they push on. Trends are seen of
    // reports that come within the second, so the knob is turned in ten steps.
    let mut ridden = watch(&mut ride, 360.0, |ride, second| {
        if second == 100.0 {
            for tenth in 1..=40 {
                hand.turn(|knobs| knobs.cadence = 85.0 - f64::from(tenth));
                ride.pass(0.1);
            }
            hand.turn(|knobs| {
                knobs.no_cadence = true;
                knobs.cadence = 80.0;
                knobs.least_power = 30.0;
            });
        }
        false
    });
    let events = ride.events();
    let over = events
        .iter()
        .find(|event| event.what == "guard-over")
        .unwrap();
    assert!(over.ridden_s > 105.0, "{over:?}");
    // Recovery at 245, the next hold at 305: what was seen of the rest of the hold and beyond, once the guard was over.
    let compared = ridden.compare(over.ridden_s + 12.0).unwrap();
    assert!(compared > 600, "only {compared} compared");
    let blind = |(_, at, watts): &&(f64, f64, f64)| {
        *at > over.ridden_s + 20.0 && *at < 244.0 && (*watts - 90.0).abs() < 1.0
    };
    assert!(ridden.shown.iter().filter(blind).count() > 100);
    // And the check sees a lane that would still be the hold's.
    for (seen, at, watts) in &mut ridden.shown {
        if *seen > over.ridden_s + 20.0 && *at < 244.0 {
            *watts = 192.0;
        }
    }
    ridden.compare(over.ridden_s + 12.0).unwrap_err();
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
