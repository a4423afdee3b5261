//! The practice trainer, ridden through the seam by nothing but bytes.

#![allow(clippy::unwrap_used)]

use stillroad::device::practice::{
    BrakeParameters, Following, HEART, METER, Practice, PracticeConfig, Script, TRAINER,
    TrainerParameters,
};
use stillroad::device::{Adapter, Backend, DeviceId, Event, Failure, Request};
use stillroad::gatt::control_point::{Request as Ask, Response, Simulation};
use stillroad::gatt::revolutions::Cadence;
use stillroad::gatt::uuid16::{
    CONTROL_POINT, CYCLING_POWER, CYCLING_POWER_FEATURE, CYCLING_POWER_MEASUREMENT,
    FITNESS_MACHINE, FITNESS_MACHINE_FEATURE, FITNESS_MACHINE_STATUS, HEART_RATE,
    HEART_RATE_MEASUREMENT, INDOOR_BIKE_DATA, POWER_RANGE, RESISTANCE_RANGE, TRAINING_STATUS,
};
use stillroad::gatt::{
    CyclingPowerFeature, CyclingPowerMeasurement, FitnessMachineFeature, HeartRateMeasurement,
    IndoorBikeData, PowerRange, Resistance, ResistanceRange, Status, Uuid16,
};
use stillroad::time::{Instant, Span};
use stillroad::units::{Joules, Level, Watts};

/// One program with one practice ride, in a time of its own.
struct Rig {
    practice: Practice,
    now: Instant,
    events: Vec<(Instant, Event)>,
}

/// One decoded record of the trainer.
#[derive(Clone, Copy, Debug)]
struct Ridden {
    second: f64,
    kmh: f64,
    rpm: f64,
    watts: f64,
}

impl Rig {
    /// Nothing connected.
    fn new(config: PracticeConfig) -> Self {
        Self {
            practice: Practice::new(config),
            now: Instant::ZERO,
            events: Vec::new(),
        }
    }

    /// All three devices connected and listened to, and control of the brake granted, within the first second.
    fn riding(config: PracticeConfig) -> Self {
        let mut rig = Self::new(config);
        for (device, characteristics) in [
            (
                TRAINER,
                &[INDOOR_BIKE_DATA, CONTROL_POINT, FITNESS_MACHINE_STATUS][..],
            ),
            (HEART, &[HEART_RATE_MEASUREMENT]),
            (METER, &[CYCLING_POWER_MEASUREMENT]),
        ] {
            rig.ask(Request::Connect(DeviceId::new(device)));
            for &characteristic in characteristics {
                rig.ask(Request::Subscribe(DeviceId::new(device), characteristic));
            }
        }
        rig.write(&Ask::RequestControl);
        rig.run_to(1.0);
        rig
    }

    fn ask(&mut self, request: Request) {
        self.practice.request(self.now, request);
    }

    fn write(&mut self, ask: &Ask) {
        self.ask(Request::Write(
            DeviceId::new(TRAINER),
            CONTROL_POINT,
            ask.encode(),
        ));
    }

    /// On to a moment, woken only when the backend asks to be.
    fn run_to(&mut self, second: f64) {
        let end = Instant(Span::from_seconds_f64(second).0);
        while let Some(due) = self.practice.poll_timeout().filter(|due| *due <= end) {
            self.now = self.now.max(due);
            while let Some(event) = self.practice.poll_event(self.now) {
                self.events.push(event);
            }
        }
        self.now = end;
        while let Some(event) = self.practice.poll_event(self.now) {
            self.events.push(event);
        }
    }

    fn seconds(&self) -> f64 {
        self.now.seconds()
    }

    /// The values that one characteristic notified or indicated.
    fn notified(&self, characteristic: Uuid16) -> impl Iterator<Item = (Instant, &[u8])> {
        self.events
            .iter()
            .filter_map(move |(at, event)| match event {
                Event::Notified(_, uuid, bytes) if *uuid == characteristic => {
                    Some((*at, bytes.as_slice()))
                }
                _ => None,
            })
    }

    fn ridden(&self) -> Vec<Ridden> {
        self.notified(INDOOR_BIKE_DATA)
            .map(|(at, bytes)| {
                let record = IndoorBikeData::decode(bytes).unwrap();
                Ridden {
                    second: at.seconds(),
                    kmh: record.speed().unwrap().kmh(),
                    rpm: record.cadence().unwrap().0,
                    watts: record.power().unwrap().0,
                }
            })
            .collect()
    }

    /// The means of the last `seconds` of the ride.
    fn lately(&self, seconds: f64) -> Ridden {
        let from = self.seconds() - seconds;
        let records: Vec<_> = self
            .ridden()
            .into_iter()
            .filter(|record| record.second > from)
            .collect();
        let mean =
            |of: fn(&Ridden) -> f64| records.iter().map(of).sum::<f64>() / records.len() as f64;
        Ridden {
            second: self.seconds(),
            kmh: mean(|r| r.kmh),
            rpm: mean(|r| r.rpm),
            watts: mean(|r| r.watts),
        }
    }
}

fn quiet() -> PracticeConfig {
    PracticeConfig::for_critical_power(Watts(250.0), Joules(20_000.0)).noiseless()
}

fn road(grade: i16, wind: i16) -> Ask {
    Ask::Simulation(Simulation {
        wind,
        grade,
        rolling: 40,
        drag: 51,
    })
}

#[test]
fn the_road_asks_what_the_published_equation_asks_of_a_rider_who_aims_for_a_power() {
    // Martin et al. 1998, reckoned apart for 85 kg, Crr 0.004, ρCdA 0.51: watts and the speed they are good for.
    for (grade, wind, watts, kmh) in [
        (0, 0, 175.355, 30.0),
        (0, 2000, 254.688, 30.0),
        (500, 0, 293.482, 20.0),
        (0, 0, 200.0, 31.4997),
    ] {
        let mut config = quiet().scripted(Script::still().aim(3.0, watts));
        // A rider who does not tire, so that a steady state exists above critical power too.
        config.legs.w_prime = 1e9;
        let mut rig = Rig::riding(config);
        rig.write(&road(grade, wind));
        rig.run_to(240.0);
        let lately = rig.lately(30.0);
        // The record's own steps are 0.01 km/h and 1 W.
        assert!((lately.kmh - kmh).abs() < 0.02, "{watts} W: {lately:?}");
        assert!((lately.watts - watts).abs() < 0.6, "{watts} W: {lately:?}");
    }
}

#[test]
fn a_descent_is_not_ridden_backwards() {
    // The equation gives −167.94 W at 40 km/h and −6 %: the brake cannot push, so only its friction is left, and a
    // wheel at 0.05·v + 2 N of friction takes 28.4 W at 40 km/h.
    let mut rig = Rig::riding(quiet().scripted(Script::still().aim(3.0, 28.4).shift(2.0, 5)));
    rig.write(&road(-600, 0));
    rig.run_to(400.0);
    let lately = rig.lately(30.0);
    assert!((lately.kmh - 40.0).abs() < 0.3, "{lately:?}");
    assert!((lately.watts - 28.4).abs() < 0.6, "{lately:?}");
}

#[test]
fn a_held_power_is_torque_times_turning() {
    // P = T·ω: 250 W at 90 rpm is 26.526 Nm, 1000 W at 120 rpm 79.577 Nm.
    for (watts, rpm, torque) in [(250_i16, 90.0, 26.526), (1000, 120.0, 79.577)] {
        let mut config = quiet().scripted(Script::ride(rpm));
        config.legs.w_prime = 1e9;
        config.legs.most_power = 2000.0;
        let mut rig = Rig::riding(config);
        rig.run_to(10.0);
        rig.write(&Ask::Power(watts));
        rig.run_to(90.0);
        let lately = rig.lately(10.0);
        assert!((lately.watts - f64::from(watts)).abs() < 1.0, "{lately:?}");
        assert!((lately.rpm - rpm).abs() < 0.6, "{lately:?}");
        let legs = rig.practice.bike().legs();
        assert!((legs.torque() - torque).abs() < 0.1, "{}", legs.torque());
    }
}

#[test]
fn a_held_power_above_critical_lasts_as_long_as_the_hyperbola_says() {
    // t = W′/(P − CP), Monod & Scherrer 1965; Hill 1993. CP 250 W, W′ 20 kJ.
    for (watts, seconds) in [(300, 400.0), (350, 200.0), (450, 100.0), (650, 50.0)] {
        let mut rig = Rig::riding(quiet());
        rig.run_to(15.0);
        rig.write(&Ask::Power(200));
        rig.run_to(60.0);
        rig.write(&Ask::Power(watts));
        rig.run_to(60.0 + seconds * 1.5);
        let failed = rig
            .ridden()
            .iter()
            .find(|r| r.second > 61.0 && r.rpm < 55.0)
            .map(|r| r.second - 60.0)
            .unwrap();
        // Later by the brake's delay and by what the flywheel gives before the cadence is gone (some 250 J).
        let allowed = 2.0 + 300.0 / f64::from(watts - 250);
        assert!(
            failed > seconds - 1.0 && failed < seconds + allowed,
            "{watts} W lasted {failed} s"
        );
    }
}

#[test]
fn the_reserve_of_a_ridden_hold_follows_the_published_balance() {
    // Skiba et al. 2015: 60 s at 400 W leave 11 000 J of 20 000, 60 s at 100 W then fill to 14 261.35 J. The brake's
    // delay and the legs' ups and downs at the edges are allowed 400 J, under 3 s at 150 W.
    let mut rig = Rig::riding(quiet());
    rig.run_to(15.0);
    rig.write(&Ask::Power(100));
    rig.run_to(60.0);
    rig.write(&Ask::Power(400));
    rig.run_to(120.0);
    let left = rig.practice.bike().legs().reserve().left();
    assert!((left - 11_000.0).abs() < 400.0, "{left}");
    rig.write(&Ask::Power(100));
    rig.run_to(180.0);
    let left = rig.practice.bike().legs().reserve().left();
    assert!((left - 14_261.35).abs() < 400.0, "{left}");
}

#[test]
fn the_heart_settles_at_its_share_of_the_reserve() {
    // Karvonen 1957: (180, 60, 0.70) gives 144 bpm; 0.70 of 250 W is 175 W.
    let mut config = quiet();
    config.heart.rest = 60.0;
    config.heart.most = 180.0;
    config.heart.drift = 0.0;
    let mut rig = Rig::riding(config);
    rig.run_to(10.0);
    rig.write(&Ask::Power(175));
    rig.run_to(400.0);
    let (_, last) = rig.notified(HEART_RATE_MEASUREMENT).last().unwrap();
    let heart = HeartRateMeasurement::decode(last).unwrap();
    assert_eq!(heart.shown().unwrap().0, 144.0);
    // 60 s / 144 is 416.7 ms.
    for interval in heart.intervals_ms() {
        assert!((interval - 416.7).abs() < 1.5, "{interval}");
    }
}

/// Seconds from the write until the reported power has made this share of its step.
fn crossing(records: &[Ridden], written: f64, from: f64, to: f64, share: f64) -> f64 {
    let after = records.iter().position(|r| r.second > written).unwrap();
    let level = from + share * (to - from);
    let up = to > from;
    let index = (after..records.len())
        .find(|&i| (records[i].watts > level) == up)
        .unwrap();
    let (before, there) = (records[index - 1], records[index]);
    before.second
        + (there.second - before.second) * (level - before.watts) / (there.watts - before.watts)
        - written
}

#[test]
fn a_step_shows_the_brakes_dead_time_and_lag_in_the_reported_power() {
    // A first-order lag has made 63.2 % after one time constant (any control text).
    let mut config = quiet();
    config.trainer.report_period = Span::from_millis(20);
    config.trainer.power_meter.smoothing = 0.0;
    // A wheel so heavy that its speed hardly moves: the step is then the brake's alone.
    config.brake.inertia = 400.0;
    config.script = Script::still().aim(3.0, 200.0);
    let mut rig = Rig::riding(config);
    rig.run_to(10.0);
    rig.write(&Ask::Power(150));
    rig.run_to(300.0);
    rig.write(&Ask::Power(200));
    rig.run_to(320.0);
    rig.write(&Ask::Power(150));
    rig.run_to(340.0);
    let records = rig.ridden();
    for (written, from, to, tau) in [(300.0, 150.0, 200.0, 0.6), (320.0, 200.0, 150.0, 0.4)] {
        let first = crossing(&records, written, from, to, 0.02);
        let most = crossing(&records, written, from, to, 0.632);
        assert!((first - 0.3).abs() < 0.06, "moved after {first} s");
        assert!((most - 0.3 - tau).abs() < 0.06, "63 % after {most} s");
    }
}

#[test]
fn a_brake_of_second_order_and_of_coarse_steps_can_stand_in() {
    let mut config = quiet();
    config.brake = BrakeParameters {
        following: Following::SecondOrder {
            natural: 4.0,
            damping: 0.5,
        },
        ..BrakeParameters::default()
    };
    config.trainer = TrainerParameters {
        power_range: PowerRange {
            least: 50,
            most: 400,
            step: 5,
        },
        ..config.trainer
    };
    let mut rig = Rig::riding(config);
    rig.run_to(10.0);
    rig.write(&Ask::Power(100));
    rig.run_to(40.0);
    // Rounded down to its step: 203 is 200.
    rig.write(&Ask::Power(203));
    rig.run_to(44.0);
    let peak = rig
        .ridden()
        .iter()
        .filter(|r| r.second > 40.0)
        .map(|r| r.watts)
        .fold(0.0, f64::max);
    assert!(peak > 205.0, "no overshoot: {peak}");
    rig.run_to(80.0);
    assert!((rig.lately(10.0).watts - 200.0).abs() < 1.0);
}

#[test]
fn legs_stall_under_a_power_far_above_them_and_turn_again_after_a_release() {
    let mut rig = Rig::riding(quiet());
    rig.run_to(15.0);
    rig.write(&Ask::Power(1500));
    rig.run_to(30.0);
    assert!(rig.lately(2.0).rpm < 20.0, "{:?}", rig.lately(2.0));
    assert!(rig.lately(2.0).watts < 20.0);
    rig.write(&Ask::Resistance(Resistance::word(Level(0.0))));
    rig.run_to(45.0);
    assert!(
        (rig.lately(3.0).rpm - 88.0).abs() < 2.0,
        "{:?}",
        rig.lately(3.0)
    );
    // Nor does the rider leap: the cadence never goes far over the habit.
    assert!(rig.ridden().iter().all(|r| r.rpm < 100.0));
}

#[test]
fn a_stopped_rider_shows_no_cadence_and_no_power_while_the_wheel_runs_down() {
    let mut rig = Rig::riding(quiet().scripted(Script::ride(88.0).coast(20.0, 10.0, 88.0)));
    rig.run_to(21.0);
    let rolling = rig.lately(0.25);
    rig.run_to(29.0);
    let later = rig.lately(0.25);
    assert!(rolling.kmh > 10.0 && later.kmh < rolling.kmh - 1.0);
    assert!(later.kmh > 0.0, "a released wheel runs on: {later:?}");
    for record in rig.ridden().iter().filter(|r| r.second > 24.0) {
        assert_eq!((record.rpm, record.watts), (0.0, 0.0), "{record:?}");
    }
    rig.run_to(45.0);
    assert!((rig.lately(3.0).rpm - 88.0).abs() < 1.0);
}

#[test]
fn standing_raises_what_legs_can_hold() {
    // 640 W at 60 rpm needs 101.9 Nm; seated legs of 1000 W have 159.15·(1 − 60/240) = 119.4 Nm, of 800 W 95.5 Nm,
    // and standing 1.2 times that, 114.6 Nm.
    for (standing, holds) in [(false, false), (true, true)] {
        let mut config = quiet();
        config.legs.most_power = 800.0;
        config.legs.w_prime = 1e9;
        let script = Script::ride(60.0);
        config.script = if standing {
            script.stand(10.0, 100.0)
        } else {
            script
        };
        let mut rig = Rig::riding(config);
        rig.run_to(15.0);
        for (at, watts) in [(25.0, 300), (35.0, 500), (55.0, 640)] {
            rig.write(&Ask::Power(watts));
            rig.run_to(at);
        }
        assert_eq!(rig.lately(2.0).rpm > 55.0, holds, "{:?}", rig.lately(2.0));
    }
}

#[test]
fn an_aiming_rider_shifts_until_the_cadence_suits() {
    let mut config = quiet().scripted(Script::still().aim(3.0, 240.0));
    config.legs.first_gear = 0;
    let mut rig = Rig::riding(config);
    rig.write(&road(0, 0));
    rig.run_to(120.0);
    assert!(rig.practice.bike().legs().gear() > 3);
    assert!(
        (rig.lately(10.0).rpm - 88.0).abs() < 8.0,
        "{:?}",
        rig.lately(10.0)
    );
}

#[test]
fn pedals_turn_three_seconds_after_somebody_listens() {
    let mut rig = Rig::new(quiet());
    rig.ask(Request::Connect(DeviceId::new(TRAINER)));
    rig.run_to(10.0);
    rig.ask(Request::Subscribe(DeviceId::new(TRAINER), INDOOR_BIKE_DATA));
    rig.run_to(30.0);
    let first = rig.ridden().into_iter().find(|r| r.rpm > 0.0).unwrap();
    assert!((first.second - 13.0).abs() < 0.5, "{first:?}");
    // Four reports a second: 20 s from the first on.
    assert_eq!(rig.ridden().len(), 80);
}

#[test]
fn the_crank_meter_tells_the_same_cadence_and_its_own_power() {
    let mut rig = Rig::riding(quiet());
    rig.run_to(10.0);
    rig.write(&Ask::Power(200));
    rig.run_to(60.0);
    let mut cadence = Cadence::default();
    let mut seen = Vec::new();
    for (at, bytes) in rig.notified(CYCLING_POWER_MEASUREMENT) {
        let measured = CyclingPowerMeasurement::decode(bytes).unwrap();
        let rpm = cadence.put(at, measured.crank.unwrap());
        seen.push((at.seconds(), measured.power().0, rpm));
    }
    // One report a second.
    assert_eq!(seen.len(), 60);
    for &(second, watts, rpm) in seen.iter().filter(|(second, ..)| *second > 40.0) {
        // It reads 1.5 % high: 203 W.
        assert!((watts - 203.0).abs() <= 1.0, "{second}: {watts} W");
        assert!((rpm.unwrap().0 - 88.0).abs() < 0.5, "{second}: {rpm:?}");
    }
}

/// A busy ride whose requests come at fixed moments, polled by some habit.
fn busy_ride(config: PracticeConfig, poll_every: Option<Span>) -> Vec<(Instant, Event)> {
    let id = DeviceId::new;
    let write = |ask: Ask| Request::Write(id(TRAINER), CONTROL_POINT, ask.encode());
    let requests = [
        (0, Request::Scan(true)),
        (1_503_001, Request::Connect(id(TRAINER))),
        (1_503_001, Request::Connect(id(HEART))),
        (1_777_777, Request::Connect(id(METER))),
        (2_004_999, Request::Scan(false)),
        (2_100_000, Request::Subscribe(id(TRAINER), INDOOR_BIKE_DATA)),
        (2_100_123, Request::Subscribe(id(TRAINER), CONTROL_POINT)),
        (
            2_110_456,
            Request::Subscribe(id(HEART), HEART_RATE_MEASUREMENT),
        ),
        (
            2_110_789,
            Request::Subscribe(id(METER), CYCLING_POWER_MEASUREMENT),
        ),
        (2_200_000, write(Ask::RequestControl)),
        (9_123_456, write(Ask::Power(180))),
        (9_130_000, write(Ask::Power(190))),
        (25_000_001, write(Ask::Power(420))),
        (
            40_010_000,
            write(Ask::Resistance(Resistance::word(Level(60.0)))),
        ),
        (55_555_555, Request::Read(id(TRAINER), POWER_RANGE)),
        (60_000_000, Request::Disconnect(id(TRAINER))),
        (62_000_000, Request::Connect(id(TRAINER))),
        (
            63_000_000,
            Request::Subscribe(id(TRAINER), INDOOR_BIKE_DATA),
        ),
        (90_000_000, Request::Disconnect(id(HEART))),
    ];
    let mut practice = Practice::new(config);
    let mut events = Vec::new();
    let mut now = Instant::ZERO;
    let mut requests = requests
        .into_iter()
        .map(|(at, request)| (Instant(at), request))
        .chain([(Instant(120_000_000), Request::Scan(false))])
        .peekable();
    while let Some((at, _)) = requests.peek() {
        let at = *at;
        let wake = match poll_every {
            Some(every) => Some(now + every),
            None => practice.poll_timeout(),
        };
        now = wake.unwrap_or(at).max(now).min(at);
        while let Some(event) = practice.poll_event(now) {
            assert!(event.0 <= now, "an event of the future");
            events.push(event);
        }
        if now == at
            && let Some((_, request)) = requests.next()
        {
            practice.request(now, request);
        }
    }
    events
}

#[test]
fn the_stream_of_events_does_not_depend_on_how_often_it_is_polled() {
    let woken = busy_ride(PracticeConfig::default(), None);
    for every in [3, 10, 250, 7_000] {
        let polled = busy_ride(PracticeConfig::default(), Some(Span::from_millis(every)));
        assert_eq!(polled.len(), woken.len(), "polled every {every} ms");
        for (polled, woken) in polled.iter().zip(&woken) {
            assert_eq!(polled, woken, "polled every {every} ms");
        }
    }
    assert!(woken.is_sorted_by_key(|(at, _)| *at));
    // 118 s of four reports a second less the gap of the lost link, and two sensors at one a second.
    assert!(woken.len() > 600, "{}", woken.len());
}

#[test]
fn a_seed_makes_the_same_bytes_and_another_seed_makes_others() {
    let ride = |seed| busy_ride(PracticeConfig::default().seeded(seed), None);
    assert_eq!(ride(5), ride(5));
    assert_ne!(ride(5), ride(6));
}

#[test]
fn every_byte_of_a_noisy_ride_decodes() {
    let mut rig = Rig::riding(PracticeConfig::default());
    rig.run_to(12.0);
    for minute in 0..25_u8 {
        let watts = 100 + 8 * i16::from(minute);
        rig.write(&Ask::Power(watts));
        rig.run_to(12.0 + 60.0 * f64::from(minute + 1));
    }
    let (mut bike, mut heart, mut meter, mut answers) = (0, 0, 0, 0);
    let mut beats = 0.0;
    for (_, event) in &rig.events {
        let Event::Notified(_, uuid, bytes) = event else {
            continue;
        };
        match *uuid {
            INDOOR_BIKE_DATA => {
                let record = IndoorBikeData::decode(bytes).unwrap();
                assert_eq!(&record.encode(), bytes);
                bike += 1;
            }
            HEART_RATE_MEASUREMENT => {
                let record = HeartRateMeasurement::decode(bytes).unwrap();
                assert_eq!(&record.encode(), bytes);
                assert!((50..=190).contains(&record.rate));
                beats += record.intervals_ms().sum::<f64>() / 1000.0;
                heart += 1;
            }
            CYCLING_POWER_MEASUREMENT => {
                let record = CyclingPowerMeasurement::decode(bytes).unwrap();
                assert_eq!(&record.encode(), bytes);
                meter += 1;
            }
            CONTROL_POINT => {
                assert_eq!(Response::decode(bytes).unwrap().result.code(), 1);
                answers += 1;
            }
            other => panic!("{other} notified unasked"),
        }
    }
    assert_eq!((bike, heart, meter, answers), (6048, 1512, 1512, 26));
    // The intervals between beats fill the ride.
    assert!((beats - 1511.0).abs() < 3.0, "{beats}");
}

#[test]
fn a_scan_hears_each_device_once_a_second_until_it_is_connected() {
    let mut rig = Rig::new(quiet());
    assert_eq!(rig.practice.poll_timeout(), None);
    rig.ask(Request::Scan(true));
    rig.run_to(4.9);
    assert_eq!(rig.events[0].1, Event::Adapter(Adapter::Listening));
    let heard = |rig: &Rig, id: &str| {
        rig.events
            .iter()
            .filter(|(_, event)| {
                matches!(event, Event::Heard(a) if a.device.as_str() == id && a.simulated)
            })
            .count()
    };
    for id in [TRAINER, HEART, METER] {
        assert_eq!(heard(&rig, id), 5);
    }
    let trainer = rig
        .events
        .iter()
        .find_map(|(_, event)| match event {
            Event::Heard(a) if a.device.as_str() == TRAINER => Some(a.clone()),
            _ => None,
        })
        .unwrap();
    assert_eq!(trainer.name.as_deref(), Some("Practice trainer"));
    assert_eq!(trainer.services, [FITNESS_MACHINE]);
    // Fitness Machine Service 1.0, 3.1: available, and bit 5 for an indoor bike.
    assert_eq!(
        trainer.machine_data.as_deref(),
        Some(&[0x01, 0x20, 0x00][..])
    );

    rig.ask(Request::Connect(DeviceId::new(TRAINER)));
    rig.run_to(9.9);
    assert_eq!(heard(&rig, TRAINER), 5);
    assert_eq!(heard(&rig, HEART), 10);
    rig.ask(Request::Scan(false));
    rig.ask(Request::Disconnect(DeviceId::new(TRAINER)));
    rig.run_to(30.0);
    assert_eq!(heard(&rig, HEART), 10);
    assert_eq!(rig.practice.poll_timeout(), None, "idle, and never woken");
}

#[test]
fn what_is_read_says_what_the_trainer_can_do() {
    let mut rig = Rig::riding(quiet());
    let read = |rig: &mut Rig, device: &str, uuid: Uuid16| {
        rig.ask(Request::Read(DeviceId::new(device), uuid));
        rig.run_to(rig.seconds() + 0.1);
        rig.events
            .iter()
            .rev()
            .find_map(|(_, event)| match event {
                Event::Read(_, found, value) if *found == uuid => Some(value.clone()),
                _ => None,
            })
            .unwrap()
    };
    let bytes = read(&mut rig, TRAINER, FITNESS_MACHINE_FEATURE).unwrap();
    // Bits of the Fitness Machine Service 1.0, tables 4.7 and 4.8: cadence 1, distance 2, resistance 7, power 14;
    // targets resistance 2, power 3, simulation 13.
    assert_eq!(bytes, [0x86, 0x40, 0, 0, 0x0C, 0x20, 0, 0]);
    assert!(FitnessMachineFeature::decode(&bytes).is_ok());
    let bytes = read(&mut rig, TRAINER, POWER_RANGE).unwrap();
    assert_eq!(bytes, [0, 0, 0xDC, 0x05, 1, 0]);
    let bytes = read(&mut rig, TRAINER, RESISTANCE_RANGE).unwrap();
    assert_eq!(bytes, [0, 0, 0xE8, 0x03, 10, 0]);
    assert!(ResistanceRange::decode(&bytes).is_ok());
    let bytes = read(&mut rig, METER, CYCLING_POWER_FEATURE).unwrap();
    assert!(
        CyclingPowerFeature::decode(&bytes)
            .unwrap()
            .has(CyclingPowerFeature::CRANK_REVOLUTIONS)
    );
    let refused = read(&mut rig, TRAINER, INDOOR_BIKE_DATA);
    assert_eq!(refused, Err(Failure::Att(0x02)));
    let absent = read(&mut rig, TRAINER, TRAINING_STATUS);
    assert_eq!(absent, Err(Failure::NotFound));
}

#[test]
fn requests_that_cannot_be_met_are_answered_with_their_reason() {
    let id = DeviceId::new;
    let nowhere = id("practice:nowhere");
    let mut rig = Rig::new(quiet());
    assert!(rig.practice.owns(&nowhere));
    assert!(!rig.practice.owns(&id("AA:BB:CC:DD:EE:FF")));
    rig.ask(Request::Connect(nowhere.clone()));
    rig.ask(Request::Read(id(TRAINER), POWER_RANGE));
    rig.ask(Request::Connect(id(HEART)));
    rig.ask(Request::Subscribe(id(HEART), INDOOR_BIKE_DATA));
    rig.ask(Request::Connect(id(TRAINER)));
    rig.ask(Request::Subscribe(id(TRAINER), POWER_RANGE));
    rig.ask(Request::Write(id(TRAINER), POWER_RANGE, vec![1]));
    rig.ask(Request::Write(id(TRAINER), CONTROL_POINT, vec![0]));
    rig.run_to(1.0);
    let found = |event: Event| rig.events.iter().filter(|(_, e)| *e == event).count();
    for event in [
        Event::ConnectFailed(nowhere, Failure::NotFound),
        Event::Read(id(TRAINER), POWER_RANGE, Err(Failure::LinkLost)),
        Event::Subscribed(id(HEART), INDOOR_BIKE_DATA, Err(Failure::NotFound)),
        Event::Subscribed(id(TRAINER), POWER_RANGE, Err(Failure::Att(0x0A))),
        Event::Written(id(TRAINER), POWER_RANGE, Err(Failure::Att(0x03))),
        // Nobody has turned indications on.
        Event::Written(id(TRAINER), CONTROL_POINT, Err(Failure::Att(0xFD))),
        Event::Connected(id(HEART), vec![(HEART_RATE, HEART_RATE_MEASUREMENT)]),
    ] {
        assert_eq!(found(event.clone()), 1, "{event:?}");
    }
    assert_eq!(rig.events.len(), 8);
    let services = rig.events.iter().any(|(_, event)| {
        matches!(event, Event::Connected(device, found)
            if device.as_str() == TRAINER && found.contains(&(FITNESS_MACHINE, CONTROL_POINT))
                && !found.iter().any(|(service, _)| *service == CYCLING_POWER))
    });
    assert!(services);
}

#[test]
fn a_write_is_acknowledged_then_answered_after_the_delay() {
    let mut config = quiet();
    config.trainer.answer_delay = Span::from_millis(900);
    let mut rig = Rig::riding(config);
    rig.run_to(5.0);
    rig.write(&Ask::Power(150));
    rig.run_to(5.5);
    // The first still runs: refused at the write, and the brake keeps the first target.
    rig.write(&Ask::Power(350));
    rig.run_to(30.0);
    let since = |rig: &Rig, wanted: fn(&Event) -> bool| -> Vec<f64> {
        rig.events
            .iter()
            .filter(|(at, event)| at.seconds() > 4.9 && wanted(event))
            .map(|(at, _)| at.seconds())
            .collect()
    };
    let acknowledged = since(&rig, |event| matches!(event, Event::Written(_, _, Ok(()))));
    let refused = since(&rig, |event| {
        matches!(event, Event::Written(_, _, Err(Failure::Att(0xFE))))
    });
    let answered = since(
        &rig,
        |event| matches!(event, Event::Notified(_, CONTROL_POINT, bytes) if bytes == &[0x80, 5, 1]),
    );
    assert_eq!(
        (acknowledged.len(), refused.len(), answered.len()),
        (1, 1, 1)
    );
    assert!(acknowledged[0] < answered[0]);
    assert!((answered[0] - 5.9).abs() < 0.001, "{answered:?}");
    assert!((rig.lately(5.0).watts - 150.0).abs() < 1.0);
}

#[test]
fn control_goes_with_the_link_and_when_it_is_taken_and_the_brake_keeps_its_target() {
    let mut rig = Rig::riding(quiet());
    rig.run_to(10.0);
    rig.write(&Ask::Power(150));
    rig.run_to(11.0);
    rig.practice.take_control_away(rig.now);
    rig.run_to(12.0);
    let (_, status) = rig.notified(FITNESS_MACHINE_STATUS).last().unwrap();
    assert_eq!(Status::decode(status), Ok(Status::ControlLost));
    rig.write(&Ask::Power(250));
    rig.run_to(13.0);
    let (_, answer) = rig.notified(CONTROL_POINT).last().unwrap();
    assert_eq!(answer, [0x80, 0x05, 0x05]);
    rig.write(&Ask::RequestControl);
    rig.run_to(14.0);

    rig.ask(Request::Disconnect(DeviceId::new(TRAINER)));
    rig.run_to(16.0);
    rig.ask(Request::Connect(DeviceId::new(TRAINER)));
    for uuid in [INDOOR_BIKE_DATA, CONTROL_POINT] {
        rig.ask(Request::Subscribe(DeviceId::new(TRAINER), uuid));
    }
    rig.write(&Ask::Power(250));
    rig.run_to(40.0);
    let (_, answer) = rig.notified(CONTROL_POINT).last().unwrap();
    assert_eq!(answer, [0x80, 0x05, 0x05]);
    assert!((rig.lately(5.0).watts - 150.0).abs() < 1.0);
}

#[test]
fn a_trainer_can_echo_its_own_clients_changes() {
    for (echoes, expected) in [
        (false, vec![]),
        (true, vec![Status::Power(150), Status::StartedOrResumed]),
    ] {
        let mut config = quiet();
        config.trainer.echoes_status = echoes;
        let mut rig = Rig::riding(config);
        rig.write(&Ask::Power(150));
        rig.run_to(2.0);
        rig.write(&Ask::StartOrResume);
        rig.run_to(3.0);
        let seen: Vec<_> = rig
            .notified(FITNESS_MACHINE_STATUS)
            .map(|(_, bytes)| Status::decode(bytes).unwrap())
            .collect();
        assert_eq!(seen, expected);
    }
}

#[test]
fn a_level_costs_what_its_law_says_at_the_cadence_ridden() {
    // The documented law of the model's scale: force = level·(0.1 + 0.05·v) newtons. At 88 rpm in 50 × 19 on a wheel
    // of 2.1 m the rim runs at 88/60·2.1·50/19 = 8.105 m/s, so level 50 is 50·0.50526·8.105 = 204.8 W.
    let mut rig = Rig::riding(quiet());
    rig.run_to(10.0);
    rig.write(&Ask::Resistance(Resistance::word(Level(50.0))));
    rig.run_to(60.0);
    let lately = rig.lately(10.0);
    assert!((lately.watts - 204.8).abs() < 0.6, "{lately:?}");
    assert!((lately.kmh - 29.18).abs() < 0.02, "{lately:?}");
    let (_, bytes) = rig.notified(INDOOR_BIKE_DATA).last().unwrap();
    let record = IndoorBikeData::decode(bytes).unwrap();
    assert_eq!(record.resistance, Some(Resistance::Word(500)));
}

#[test]
fn a_level_too_hard_to_turn_is_met_by_an_easier_gear() {
    // Level 100 at 88 rpm in the first gear asks for 410 W, which this rider has for 50 s at most.
    let config = PracticeConfig::for_critical_power(Watts(200.0), Joules(10_000.0)).noiseless();
    let mut rig = Rig::riding(config);
    rig.run_to(10.0);
    let before = rig.practice.bike().legs().gear();
    rig.write(&Ask::Resistance(Resistance::word(Level(100.0))));
    rig.run_to(240.0);
    assert!(rig.practice.bike().legs().gear() < before);
    let lately = rig.lately(20.0);
    assert!(lately.rpm > 78.0, "{lately:?}");
    assert!(lately.watts < 205.0, "{lately:?}");
}

#[test]
fn feet_can_turn_without_pushing() {
    let mut rig = Rig::riding(quiet().scripted(Script::ride(88.0).twiddle(20.0, 50.0)));
    rig.run_to(24.0);
    let lately = rig.lately(2.0);
    assert_eq!((lately.rpm, lately.watts), (50.0, 0.0));
}

#[test]
fn what_a_full_queue_drops_is_counted() {
    let mut rig = Rig::riding(quiet());
    rig.events.clear();
    // An hour without a poll, ended by a request: 6 notifications a second.
    rig.now = Instant(3_601_000_000);
    rig.ask(Request::Read(DeviceId::new(TRAINER), POWER_RANGE));
    rig.run_to(3_601.1);
    let lost: u32 = rig
        .events
        .iter()
        .map(|(_, event)| match event {
            Event::Lost(count) => *count,
            _ => 0,
        })
        .sum();
    let kept = rig
        .events
        .iter()
        .filter(|(_, event)| matches!(event, Event::Notified(..)))
        .count();
    assert!((4000..=4200).contains(&kept), "{kept}");
    assert!(
        (kept + lost as usize).abs_diff(6 * 3600) <= 6,
        "{kept} and {lost}"
    );
    // The answer is never what is dropped.
    let answered = |(_, event): &(Instant, Event)| matches!(event, Event::Read(_, _, Ok(_)));
    assert_eq!(rig.events.iter().filter(|event| answered(event)).count(), 1);
}
