//! Holding a separate meter's watts: meters that are off, that drift, that are late, that drop out.

use std::collections::VecDeque;
use std::sync::Arc;

use stillroad::device::practice::{Device, Practice, PracticeConfig, Script};
use stillroad::device::{Backend, DeviceId, Event, Request};
use stillroad::engine::{Command, Role};
use stillroad::gatt::CyclingPowerMeasurement;
use stillroad::gatt::uuid16::CYCLING_POWER_MEASUREMENT;
use stillroad::plan::Plan;
use stillroad::ride::{RideMode, Stage};
use stillroad::time::{Instant, Span};
use stillroad::units::{Joules, Watts};

use crate::world::{Ride, rider, session, tap};

/// What a meter makes of a true reading at a second; none where it says nothing.
type Bend = fn(f64, f64) -> Option<f64>;

/// The practice devices, with the meter's reports bent and late.
struct Bent {
    inner: Practice,
    bend: Bend,
    late: Span,
    held: VecDeque<(Instant, Event)>,
}

impl Backend for Bent {
    fn owns(&self, device: &DeviceId) -> bool {
        self.inner.owns(device)
    }

    fn request(&mut self, now: Instant, request: Request) {
        self.inner.request(now, request);
    }

    fn poll_event(&mut self, now: Instant) -> Option<(Instant, Event)> {
        if self.held.front().is_some_and(|(due, _)| *due <= now) {
            return self.held.pop_front();
        }
        loop {
            let (at, event) = self.inner.poll_event(now)?;
            let Event::Notified(id, CYCLING_POWER_MEASUREMENT, bytes) = &event else {
                return Some((at, event));
            };
            let mut record = CyclingPowerMeasurement::decode(bytes).unwrap();
            let true_watts = record.power().0;
            let Some(watts) = (self.bend)(at.seconds(), true_watts) else {
                continue;
            };
            let bent = CyclingPowerMeasurement::of(Watts(watts));
            record = CyclingPowerMeasurement {
                crank: record.crank,
                ..bent
            };
            let event = Event::Notified(id.clone(), CYCLING_POWER_MEASUREMENT, record.encode());
            if self.late == Span::ZERO {
                return Some((at, event));
            }
            self.held.push_back((at + self.late, event));
        }
    }

    fn poll_timeout(&self) -> Option<Instant> {
        let held = self.held.front().map(|(due, _)| *due);
        held.into_iter().chain(self.inner.poll_timeout()).min()
    }
}

/// Two holds, the second at the rider's cap of 250 W, then a held sprint. Blocks begin at ridden seconds 0, 60, 300, 360
/// and 540, 560; ridden second 0 is time 5.
fn plan() -> Arc<Plan> {
    session(
        "[[block]]\nkind = \"warm-up\"\ntime = \"1:00\"\nwatts = 100\n\
         [[block]]\nkind = \"hold\"\ntime = \"4:00\"\nwatts = 180\n\
         [[block]]\nkind = \"recovery\"\ntime = \"1:00\"\nwatts = 100\n\
         [[block]]\nkind = \"hold\"\ntime = \"3:00\"\nwatts = 250\n\
         [[block]]\nkind = \"sprint\"\ntime = \"0:20\"\nwatts = 350\nbrake = \"held\"\n\
         [[block]]\nkind = \"recovery\"\ntime = \"1:30\"\nwatts = 100\n",
    )
}

fn riding(bend: Bend, late: f64, led: bool) -> Ride {
    let mut config =
        PracticeConfig::for_critical_power(Watts(300.0), Joules(1e6)).scripted(Script::ride(88.0));
    config.crank_meter.offset = 0.0;
    let bent = Bent {
        inner: Practice::new(config),
        bend,
        late: Span::from_seconds_f64(late),
        held: VecDeque::new(),
    };
    let mut rider = rider();
    rider.meter_led = led;
    let mut ride = Ride::new(vec![tap(bent)]);
    ride.choose(&plan(), &rider, RideMode::TargetPower);
    ride.command(Command::Use(Role::Trainer, Some(Device::Trainer.id())));
    ride.command(Command::Use(Role::Meter, Some(Device::Meter.id())));
    ride.start();
    ride
}

/// The share by which the ledger's stage of the meter corrects.
fn share(ride: &Ride) -> f64 {
    let Some(ledger) = ride.snapshot().ledger.clone() else {
        return 0.0;
    };
    ledger
        .entries
        .iter()
        .find(|entry| entry.stage == Stage::Meter && entry.input > 0.0)
        .map_or(0.0, |entry| entry.output / entry.input - 1.0)
}

/// The mean of the meter's watts in rows of ridden seconds.
fn mean(ride: &Ride, from: u64, to: u64) -> f64 {
    let rows = ride.rows();
    let watts: Vec<f64> = rows
        .iter()
        .filter(|row| row.ridden_s > from && row.ridden_s <= to)
        .filter_map(|row| row.power.map(|power| power.0))
        .collect();
    watts.iter().sum::<f64>() / watts.len() as f64
}

#[test]
fn a_meter_that_is_off_is_held_without_overshoot_and_never_above_the_cap() {
    println!(
        "meter    late | 180 W: meter  trainer  overshoot W | 250 W at the cap: meter  trainer"
    );
    let bends: [(&str, Bend, f64); 7] = [
        ("-10 %", |_, watts| Some(watts * 0.90), 1.0),
        ("-5 %", |_, watts| Some(watts * 0.95), 0.0),
        ("0 %", |_, watts| Some(watts), 0.0),
        ("+3 %", |_, watts| Some(watts * 1.03), 1.0),
        ("+10 %", |_, watts| Some(watts * 1.10), 0.0),
        ("+10 %", |_, watts| Some(watts * 1.10), 1.0),
        (
            "drifts",
            |at, watts| Some(watts * (1.0 + 0.04 * at / 600.0)),
            1.0,
        ),
    ];
    for (name, bend, late) in bends {
        let mut ride = riding(bend, late, true);
        ride.to(660.0);
        let hold = ride.watts_in(80.0, 305.0);
        let last = f64::from(hold.last().map_or(180, |(_, watts)| *watts));
        // The way of the target on to where it ends: how far beyond its end it went.
        let beyond = |watts: i16| {
            let off = f64::from(watts) - last;
            if last < 180.0 { -off } else { off }
        };
        let overshoot = hold.iter().map(|(_, w)| beyond(*w)).fold(0.0, f64::max);
        let (met, at_cap) = (mean(&ride, 220, 300), mean(&ride, 460, 540));
        let cap_last = ride.watts_in(400.0, 545.0).last().map_or(250, |(_, w)| *w);
        println!(
            "{name:7} {late:5.1} | {met:12.1} {last:8.0} {overshoot:13.1} | {at_cap:23.1} {cap_last:8}"
        );
        assert!((met - 180.0).abs() < 3.6, "{name}: {met} W at the meter");
        assert!(overshoot <= 4.0, "{name}: {overshoot} W beyond its end");
        assert!(at_cap < 253.0, "{name}: {at_cap} W at the meter at the cap");
        for (when, watts) in ride.watts() {
            let second = when.seconds();
            let cap = if (545.0..568.0).contains(&second) {
                400
            } else {
                250
            };
            assert!(watts <= cap, "{name}: {watts} W at {second}");
        }
        let sprint = ride.watts_in(546.0, 565.0);
        assert!(
            sprint.iter().all(|(_, watts)| *watts == 350)
                && ride.watts().iter().any(|(_, w)| *w == 350),
            "{name}: no correction in the sprint: {sprint:?}"
        );
    }
}

#[test]
fn it_is_off_by_default_and_can_be_switched() {
    let mut ride = riding(|_, watts| Some(watts * 1.08), 0.0, false);
    ride.to(250.0);
    assert!((mean(&ride, 200, 240) - 194.4).abs() < 2.0, "not corrected");
    assert_eq!(ride.snapshot().meter_led, None);
    assert_eq!(ride.watts().last().unwrap().1, 180);
    ride.command(Command::HoldByMeter(true));
    assert!(ride.notice().contains("Your meter's watts are held"));
    ride.to(304.0);
    let words = ride.snapshot().meter_led.clone().unwrap();
    assert!(words.contains("less"), "{words}");
    assert!(share(&ride) < -0.04, "{}", share(&ride));
    ride.to(400.0);
    ride.command(Command::HoldByMeter(false));
    ride.to(450.0);
    assert_eq!(share(&ride), 0.0);
    assert_eq!(ride.snapshot().meter_led, None);
    // No step of it was larger than four watts, down or up.
    for pair in ride.watts_in(255.0, 304.0).windows(2) {
        assert!((pair[1].1 - pair[0].1).abs() <= 4, "{pair:?}");
    }
}

#[test]
fn the_first_seconds_of_a_block_change_nothing_of_it() {
    let mut ride = riding(|_, watts| Some(watts * 1.06), 0.0, true);
    ride.to(305.0);
    let held = share(&ride);
    assert!(held < -0.03, "{held}");
    // The recovery falls over two seconds from 305; the next hold builds up over ten from 365. Nothing is compared before
    // five seconds after that.
    for (from, to) in [(305.2, 314.9), (365.2, 379.9)] {
        ride.to(from);
        let begins = share(&ride);
        let mut second = from;
        while second < to {
            second += 0.25;
            ride.to(second);
            assert!((share(&ride) - begins).abs() < 1e-9, "at {second}");
        }
    }
    // And no beat jumps: the first target of the hold is what stood.
    let before = ride.watts_in(350.0, 365.0).last().map(|(_, w)| *w);
    let stood = before.unwrap_or_else(|| ride.watts_in(305.0, 365.0).last().unwrap().1);
    let first = ride.watts_in(365.0, 366.0)[0].1;
    assert!((first - stood).abs() <= 15, "{stood} W, then {first} W");
}

#[test]
fn nothing_happens_when_the_meter_drops_out_or_reads_nought() {
    let silent: Bend = |at, watts| (!(200.0..280.0).contains(&at)).then_some(watts * 1.06);
    let nought: Bend = |at, watts| {
        Some(if (200.0..280.0).contains(&at) {
            0.0
        } else {
            watts * 1.06
        })
    };
    let half: Bend = |at, watts| {
        Some(
            watts
                * if (200.0..280.0).contains(&at) {
                    0.5
                } else {
                    1.06
                },
        )
    };
    for (bend, says) in [
        (silent, "silent"),
        (nought, "silent"),
        (half, "too far off"),
    ] {
        let mut ride = riding(bend, 0.0, true);
        ride.to(199.0);
        let held = share(&ride);
        assert!(held < -0.02, "{held}");
        // A reading is fresh for three seconds.
        ride.to(205.0);
        let stands = share(&ride);
        ride.to(279.0);
        assert!((share(&ride) - stands).abs() < 1e-9);
        assert!((stands - held).abs() < 0.012, "{held} {stands}");
        let words = ride.snapshot().meter_led.clone().unwrap();
        assert!(words.contains(says), "{words}");
        assert!(ride.watts_in(206.0, 279.0).is_empty(), "nothing is sent");
        ride.to(304.0);
        assert!((mean(&ride, 290, 299) - 180.0).abs() < 4.0);
    }
}
