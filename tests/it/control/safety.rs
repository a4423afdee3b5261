//! Invariant 2 under arbitrary orders of events: one control procedure in flight at most, nothing before control was
//! granted on this link, nothing after a time-out, the release first, and no octets but those that were asked for.
//!
//! The checker reads a trace of what crossed the seam and knows nothing of the machine; planted breaches show that it
//! fails where it must.

use proptest::prelude::*;
use stillroad::control::{Abilities, ControlEvent, Procedures, Sort, WriteFailure};
use stillroad::gatt::Status;
use stillroad::time::{Instant, Span};
use stillroad::units::{BrakeTarget, Grade, Level, Watts};

use super::super::gatt::octets;
use super::{abilities, usual};

/// What crossed the seam.
#[derive(Clone, Debug)]
enum Step {
    Up(Abilities),
    Down,
    Want(BrakeTarget),
    Release,
    Wrote(Vec<u8>),
    Response { ok: bool },
    Indicated(Vec<u8>),
    Status(Vec<u8>),
    TimedOut,
}

/// The ways in which a target may stand in octets, reckoned here from the field tables.
fn forms(target: BrakeTarget) -> Vec<Vec<u8>> {
    match target {
        BrakeTarget::Power(Watts(watts)) => {
            let [low, high] = (watts as i16).to_le_bytes();
            vec![vec![0x05, low, high]]
        }
        BrakeTarget::Resistance(Level(level)) => {
            let raw = (level * 10.0).round() as i16;
            let [low, high] = raw.to_le_bytes();
            vec![vec![0x04, low], vec![0x04, low, high]]
        }
        BrakeTarget::Slope(Grade(grade)) => {
            let [low, high] = ((grade * 100.0).round() as i16).to_le_bytes();
            vec![vec![0x11, 0, 0, low, high, 40, 51]]
        }
    }
}

fn releases(abilities: &Abilities, unsupported: &[u8]) -> Vec<Vec<u8>> {
    let power = abilities
        .power
        .filter(|_| !unsupported.contains(&0x05))
        .map(|range| BrakeTarget::Power(Watts(range.least)));
    let level = abilities
        .resistance
        .filter(|_| !unsupported.contains(&0x04))
        .map(|range| BrakeTarget::Resistance(Level(range.least)));
    // Where slopes alone are left, the steepest descent that a session may ask for: 10 %.
    let slopes_alone = power.is_none() && level.is_none() && abilities.simulation;
    let descent = slopes_alone.then_some(BrakeTarget::Slope(Grade(-10.0)));
    [power, level, descent]
        .into_iter()
        .flatten()
        .flat_map(forms)
        .collect()
}

fn can_release(up: Option<&Abilities>, unsupported: &[u8]) -> bool {
    up.is_some_and(|abilities| {
        releases(abilities, unsupported)
            .iter()
            .any(|bytes| !unsupported.contains(&bytes[0]))
    })
}

/// What is wrong with a trace, if anything.
fn check(trace: &[(Instant, Step)]) -> Result<(), String> {
    let mut up = None;
    let mut granted = false;
    let mut dead = false;
    let mut open: Option<u8> = None;
    let mut response_owed = false;
    let mut must_release = false;
    // The last target written was a release, and it was not refused.
    let mut let_off = false;
    let mut last_target: Option<Instant> = None;
    let mut wanted: Vec<Vec<u8>> = Vec::new();
    let mut unsupported: Vec<u8> = Vec::new();
    for (at, step) in trace {
        match step {
            Step::Up(abilities) => {
                up = Some(abilities.clone());
                (granted, dead, open, response_owed) = (false, false, None, false);
                (must_release, let_off, last_target) = (false, false, None);
                unsupported.clear();
            }
            Step::Down => (up, granted, open, response_owed) = (None, false, None, false),
            Step::Want(target) => wanted.extend(forms(*target)),
            Step::Release => {
                must_release = can_release(up.as_ref(), &unsupported) && !let_off && !dead;
            }
            Step::Wrote(bytes) => {
                let Some(abilities) = &up else {
                    return Err(format!("{bytes:02x?} without a link"));
                };
                if dead {
                    return Err(format!("{bytes:02x?} after a time-out"));
                }
                if open.is_some() || response_owed {
                    return Err(format!("{bytes:02x?} while another procedure runs"));
                }
                if bytes != &[0x00] && !granted {
                    return Err(format!("{bytes:02x?} before control"));
                }
                let is_release = releases(abilities, &[]).contains(bytes)
                    || releases(abilities, &unsupported).contains(bytes);
                match bytes[..] {
                    [0x00] | [0x07] | [0x08, 0x01] => {}
                    [0x04 | 0x05 | 0x11, ..] => {
                        if must_release && !is_release {
                            return Err(format!("{bytes:02x?} before the release"));
                        }
                        if !is_release && !wanted.contains(bytes) {
                            return Err(format!("{bytes:02x?} was never asked for"));
                        }
                        if unsupported.contains(&bytes[0]) {
                            return Err(format!("{bytes:02x?} is not supported"));
                        }
                        let soon =
                            last_target.is_some_and(|last| at.since(last) < Span::from_millis(200));
                        if soon && !is_release {
                            return Err(format!("{bytes:02x?} too soon"));
                        }
                        last_target = Some(*at);
                        must_release = false;
                        let_off = is_release;
                    }
                    _ => return Err(format!("{bytes:02x?} is no octets of ours")),
                }
                if bytes == &[0x08, 0x01] && must_release {
                    return Err("stop before the release".to_owned());
                }
                open = Some(bytes[0]);
                response_owed = true;
            }
            Step::Response { ok } => {
                // A response that nobody waits for means nothing, nor does an error after the answer.
                if response_owed
                    && let Some(op) = open
                    && !ok
                {
                    open = None;
                    let_off &= !matches!(op, 0x04 | 0x05);
                }
                response_owed = false;
            }
            Step::Indicated(bytes) => {
                if let [0x80, op, result, ..] = bytes[..]
                    && open == Some(op)
                {
                    open = None;
                    match (op, result) {
                        (0x00, 1) => granted = true,
                        (0x04 | 0x05 | 0x11, 2) => {
                            unsupported.push(op);
                            must_release &= can_release(up.as_ref(), &unsupported);
                        }
                        (_, 5) => granted = false,
                        _ => {}
                    }
                    let_off &= result == 1 || !matches!(op, 0x04 | 0x05);
                }
            }
            Step::Status(bytes) => {
                if matches!(bytes.first(), Some(0xFF | 0x01)) {
                    granted = false;
                }
            }
            Step::TimedOut => dead = true,
        }
    }
    Ok(())
}

/// What a world may do to the machine.
#[derive(Clone, Debug)]
enum Act {
    Want(BrakeTarget),
    Release,
    Stop,
    Start,
    AskAgain,
    Write(Result<(), WriteFailure>),
    /// An answer to what is in flight.
    Answer(u8),
    Indicate(Vec<u8>),
    Status(Vec<u8>),
    Subscribed(bool),
    Down,
    Up(usize),
    Nothing,
}

fn kits() -> [Abilities; 5] {
    [
        usual(),
        abilities("0240000008000000", "320090010500", ""),
        abilities("0240000004200000", "", "0a0040010a00"),
        abilities("0240000000200000", "", ""),
        abilities("0240000000000000", "", ""),
    ]
}

fn target() -> impl Strategy<Value = BrakeTarget> {
    prop_oneof![
        4 => (-2_i32..90).prop_map(|fives| BrakeTarget::Power(Watts(f64::from(fives * 5)))),
        1 => (0_i32..40).prop_map(|level| BrakeTarget::Resistance(Level(f64::from(level)))),
        1 => (-12_i32..25).prop_map(|grade| BrakeTarget::Slope(Grade(f64::from(grade)))),
    ]
}

fn act() -> impl Strategy<Value = Act> {
    let error = prop_oneof![
        2 => Just(WriteFailure::Att(0xFE)),
        2 => Just(WriteFailure::Att(0xFD)),
        1 => any::<u8>().prop_map(WriteFailure::Att),
        1 => Just(WriteFailure::Other),
        1 => Just(WriteFailure::TimedOut),
    ];
    let status = prop_oneof![
        Just(vec![0xFF]),
        Just(vec![0x01]),
        Just(vec![0x02, 0x01]),
        Just(vec![0x08, 0xC8, 0x00]),
        Just(vec![0x07, 0x0A, 0x00]),
        proptest::collection::vec(any::<u8>(), 1..8),
    ];
    prop_oneof![
        12 => target().prop_map(Act::Want),
        3 => Just(Act::Release),
        1 => Just(Act::Stop),
        1 => Just(Act::Start),
        1 => Just(Act::AskAgain),
        16 => Just(Act::Write(Ok(()))),
        2 => error.prop_map(|error| Act::Write(Err(error))),
        16 => Just(Act::Answer(1)),
        3 => (0_u8..8).prop_map(Act::Answer),
        2 => proptest::collection::vec(any::<u8>(), 0..6).prop_map(Act::Indicate),
        1 => Just(Act::Indicate(vec![0x80, 0x05, 0x01])),
        2 => status.prop_map(Act::Status),
        1 => any::<bool>().prop_map(Act::Subscribed),
        1 => Just(Act::Down),
        1 => (0_usize..7).prop_map(Act::Up),
        6 => Just(Act::Nothing),
    ]
}

/// The machine in a world, with a trace of what crosses between them.
struct World {
    machine: Procedures,
    now: Instant,
    trace: Vec<(Instant, Step)>,
    in_flight: u8,
    writes: usize,
}

impl World {
    fn new() -> Self {
        let mut world = Self {
            machine: Procedures::new(),
            now: Instant::ZERO,
            trace: Vec::new(),
            in_flight: 0,
            writes: 0,
        };
        world.note(Step::Up(usual()));
        world.machine.link_up(world.now, usual());
        world.collect();
        world
    }

    fn note(&mut self, step: Step) {
        self.trace.push((self.now, step));
    }

    fn collect(&mut self) {
        while let Some(event) = self.machine.poll_event() {
            assert!(!event.to_string().is_empty());
            if matches!(event, ControlEvent::TimedOut | ControlEvent::Unacknowledged) {
                self.note(Step::TimedOut);
            }
        }
        while let Some(bytes) = self.machine.poll_write() {
            self.in_flight = bytes[0];
            self.writes += 1;
            self.note(Step::Wrote(bytes));
        }
    }

    fn pass(&mut self, span: Span) {
        let end = self.now + span;
        let mut woken = 0;
        while let Some(at) = self.machine.poll_timeout().filter(|&at| at <= end) {
            assert!(at >= self.now, "a wake-up in the past");
            self.now = at;
            self.machine.handle_timeout(at);
            self.collect();
            woken += 1;
            assert!(woken < 2000, "the machine does not rest");
        }
        self.now = end;
    }

    fn act(&mut self, act: &Act) {
        let now = self.now;
        match act {
            Act::Want(target) => {
                self.note(Step::Want(*target));
                self.machine.want(now, *target);
            }
            Act::Release => {
                self.note(Step::Release);
                self.machine.release(now);
            }
            Act::Stop => self.machine.stop(now),
            Act::Start => self.machine.start(now),
            Act::AskAgain => self.machine.ask_again(now),
            Act::Write(outcome) => {
                self.note(Step::Response {
                    ok: outcome.is_ok(),
                });
                self.machine.written(now, *outcome);
            }
            Act::Answer(result) => self.indicate(&[0x80, self.in_flight, *result]),
            Act::Indicate(bytes) => self.indicate(bytes),
            Act::Status(bytes) => {
                if let Ok(status) = Status::decode(bytes) {
                    self.note(Step::Status(bytes.clone()));
                    self.machine.status(now, &status);
                }
            }
            Act::Subscribed(ok) => {
                let outcome = if *ok {
                    Ok(())
                } else {
                    Err(WriteFailure::Other)
                };
                self.machine.subscribed(now, outcome);
            }
            Act::Down => {
                self.note(Step::Down);
                self.machine.link_down(now);
            }
            Act::Up(kit) => {
                let kits = kits();
                let abilities = kits.get(*kit).unwrap_or(&kits[0]).clone();
                self.note(Step::Up(abilities.clone()));
                self.machine.link_up(now, abilities);
            }
            Act::Nothing => {}
        }
        self.collect();
        let _ = Sort::ALL.map(|sort| self.machine.takes(sort));
    }

    fn indicate(&mut self, bytes: &[u8]) {
        self.note(Step::Indicated(bytes.to_vec()));
        self.machine.indicated(self.now, bytes);
    }
}

proptest! {
    // 256 cases here; a campaign sets PROPTEST_CASES.
    #![proptest_config(ProptestConfig::default())]

    #[test]
    fn one_control_procedure_in_flight_and_no_target_before_control(
        acts in proptest::collection::vec((0_u64..600, act()), 1..250),
    ) {
        let mut world = World::new();
        for (millis, act) in &acts {
            world.pass(Span::from_millis(*millis));
            world.act(act);
        }
        world.pass(Span::from_seconds(120));
        if let Err(breach) = check(&world.trace) {
            let trace: Vec<_> = world.trace.iter().map(|(at, step)| format!("{:.3} {step:?}", at.seconds())).collect();
            return Err(TestCaseError::fail(format!("{breach}\n{}", trace.join("\n"))));
        }
    }
}

/// With a trainer that answers everything, arbitrary wishes get through: the property above is not kept by silence.
#[test]
fn the_machine_does_get_things_done() {
    let mut world = World::new();
    for round in 0..200_u32 {
        world.act(&Act::Want(BrakeTarget::Power(Watts(f64::from(
            100 + round % 7 * 20,
        )))));
        for _ in 0..3 {
            world.act(&Act::Write(Ok(())));
            world.act(&Act::Answer(1));
        }
        world.pass(Span::from_millis(300));
    }
    check(&world.trace).unwrap();
    assert!(world.writes > 190, "only {} writes", world.writes);
}

#[test]
fn planted_breaches_are_found() {
    let up = || Step::Up(usual());
    let wrote = |hex: &str| Step::Wrote(octets(hex));
    let done = |op: &str, result: &str| {
        [
            Step::Response { ok: true },
            Step::Indicated(octets(&format!("80{op}{result}"))),
        ]
    };
    let granted = || {
        let mut steps = vec![up(), wrote("00")];
        steps.extend(done("00", "01"));
        steps.push(Step::Want(BrakeTarget::Power(Watts(200.0))));
        steps.push(Step::Want(BrakeTarget::Power(Watts(250.0))));
        steps
    };
    let run = |steps: Vec<Step>| {
        let trace: Vec<_> = steps
            .into_iter()
            .enumerate()
            .map(|(second, step)| (Instant::ZERO + Span::from_seconds(second as u64), step))
            .collect();
        check(&trace)
    };
    // The sound road first.
    let mut sound = granted();
    sound.push(wrote("05c800"));
    sound.extend(done("05", "01"));
    sound.extend([Step::Release, wrote("050000")]);
    sound.extend(done("05", "01"));
    sound.push(wrote("0801"));
    assert_eq!(run(sound), Ok(()));

    let breach = |more: Vec<Step>, words: &str| {
        let mut steps = granted();
        steps.extend(more);
        let found = run(steps).unwrap_err();
        assert!(found.contains(words), "{found}, not {words}");
    };
    breach(vec![wrote("05c800"), wrote("05fa00")], "another procedure");
    breach(
        vec![
            wrote("05c800"),
            Step::Indicated(octets("800501")),
            wrote("05fa00"),
        ],
        "another procedure",
    );
    breach(vec![up(), wrote("05c800")], "before control");
    breach(
        vec![Step::Status(vec![0xFF]), wrote("05c800")],
        "before control",
    );
    breach(vec![Step::Down, wrote("00")], "without a link");
    breach(
        vec![wrote("05c800"), Step::TimedOut, wrote("05fa00")],
        "after a time-out",
    );
    breach(vec![Step::Release, wrote("05c800")], "before the release");
    breach(vec![Step::Release, wrote("0801")], "before the release");
    breach(vec![wrote("052c01")], "never asked for");
    breach(vec![wrote("0803")], "no octets of ours");
    let steps = vec![up(), wrote("05c800")];
    assert!(run(steps).unwrap_err().contains("before control"));
}
