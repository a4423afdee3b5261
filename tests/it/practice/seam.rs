//! What the practice devices do as devices: scanning, links, requests, refusals, determinism.

use stillroad::device::practice::{HEART, METER, Practice, PracticeConfig, TRAINER};
use stillroad::device::{Adapter, Backend, DeviceId, Event, Failure, Request};
use stillroad::gatt::control_point::{Request as Ask, Response};
use stillroad::gatt::uuid16::{
    CONTROL_POINT, CYCLING_POWER, CYCLING_POWER_FEATURE, CYCLING_POWER_MEASUREMENT,
    FITNESS_MACHINE, FITNESS_MACHINE_FEATURE, FITNESS_MACHINE_STATUS, HEART_RATE,
    HEART_RATE_MEASUREMENT, INDOOR_BIKE_DATA, POWER_RANGE, RESISTANCE_RANGE, TRAINING_STATUS,
};
use stillroad::gatt::{
    CyclingPowerFeature, CyclingPowerMeasurement, FitnessMachineFeature, HeartRateMeasurement,
    IndoorBikeData, Resistance, ResistanceRange, Status, Uuid16,
};
use stillroad::time::{Instant, Span};
use stillroad::units::Level;

use super::{Rig, quiet};

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
    // targets resistance 2, power 3, simulation 13, spin-down 15.
    assert_eq!(bytes, [0x86, 0x40, 0, 0, 0x0C, 0xA0, 0, 0]);
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

#[test]
fn a_lost_link_is_the_answer_to_all_that_was_under_way() {
    let mut rig = Rig::riding(quiet());
    rig.run_to(5.0);
    rig.events.clear();
    rig.write(&Ask::Power(150));
    rig.ask(Request::Read(DeviceId::new(TRAINER), POWER_RANGE));
    rig.ask(Request::Disconnect(DeviceId::new(TRAINER)));
    rig.run_to(8.0);
    let of_trainer: Vec<_> = rig
        .events
        .iter()
        .map(|(_, event)| event)
        .filter(|event| {
            matches!(
                event,
                Event::Disconnected(_) | Event::Read(..) | Event::Written(..)
            ) || matches!(event, Event::Notified(device, ..) if device.as_str() == TRAINER)
        })
        .collect();
    assert_eq!(of_trainer, [&Event::Disconnected(DeviceId::new(TRAINER))]);
}

#[test]
fn the_world_stands_still_while_nothing_is_connected() {
    let mut rig = Rig::riding(quiet());
    rig.run_to(20.0);
    for device in [TRAINER, HEART, METER] {
        rig.ask(Request::Disconnect(DeviceId::new(device)));
    }
    let before = rig.practice.bike().distance();
    rig.run_to(500.0);
    rig.ask(Request::Connect(DeviceId::new(TRAINER)));
    assert!(before > 50.0, "{before}");
    assert_eq!(rig.practice.bike().distance(), before);
    rig.ask(Request::Subscribe(DeviceId::new(TRAINER), INDOOR_BIKE_DATA));
    rig.run_to(510.0);
    // Ten seconds at 29 km/h on from where it stood.
    assert!((rig.practice.bike().distance() - before - 81.0).abs() < 2.0);
}
