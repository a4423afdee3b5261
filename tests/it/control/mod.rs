//! The control-point procedures: the profile's rules one by one, and arbitrary orders of events against the invariants.

mod abilities;
mod answers;
mod conformance;
mod lag;
mod losses;
mod refusals;
mod release;
mod safety;
mod split;

use stillroad::control::{Abilities, ControlEvent, Procedures, Refusal, WriteFailure};
use stillroad::gatt::Status;
use stillroad::gatt::control_point::ResultCode;
use stillroad::time::{Instant, Span};
use stillroad::units::{BrakeTarget, Level, Watts};

use super::gatt::octets;

/// A trainer that takes power (0 to 1000 W in steps of 1), levels (1.0 to 20.0 by 0.1) and slopes: target bits 2, 3, 13.
fn usual() -> Abilities {
    abilities("024000000c200000", "0000e8030100", "0ac801")
}

fn abilities(feature: &str, power: &str, resistance: &str) -> Abilities {
    let given = |hex: &str| (!hex.is_empty()).then(|| octets(hex));
    Abilities::from_bytes(
        given(feature).as_deref(),
        given(power).as_deref(),
        given(resistance).as_deref(),
    )
}

const fn watts(watts: f64) -> BrakeTarget {
    BrakeTarget::Power(Watts(watts))
}

const fn level(level: f64) -> BrakeTarget {
    BrakeTarget::Resistance(Level(level))
}

const fn refused(target: BrakeTarget, result: ResultCode) -> ControlEvent {
    ControlEvent::TargetRefused {
        target,
        why: Refusal::Result(result),
    }
}

/// The machine and a clock that only moves when told.
struct Bench {
    machine: Procedures,
    now: Instant,
}

impl Bench {
    /// A link that has just come up; the request for control is not yet polled.
    fn new(abilities: Abilities) -> Self {
        let mut bench = Self {
            machine: Procedures::new(),
            now: Instant::ZERO + Span::from_seconds(100),
        };
        bench.machine.link_up(bench.now, abilities);
        bench
    }

    /// Control granted, and the first start answered.
    fn granted(abilities: Abilities) -> Self {
        let mut bench = Self::new(abilities);
        bench.take("00", 1);
        bench.take("07", 1);
        assert!(bench.machine.granted());
        assert_eq!(bench.events(), [ControlEvent::Granted]);
        bench
    }

    /// Lets time pass, waking the machine whenever it asks.
    fn pass(&mut self, seconds: f64) {
        let end = self.now + Span::from_seconds_f64(seconds);
        while let Some(at) = self.machine.poll_timeout().filter(|&at| at <= end) {
            assert!(at >= self.now, "a wake-up in the past");
            self.now = at;
            self.machine.handle_timeout(at);
            assert_ne!(
                self.machine.poll_timeout(),
                Some(at),
                "it asks for the same moment again"
            );
        }
        self.now = end;
    }

    /// What is written now, as hexadecimal digits; empty where nothing is.
    fn sent(&mut self) -> String {
        let sent = self.machine.poll_write().unwrap_or_default();
        assert_eq!(self.machine.poll_write(), None, "two writes at once");
        sent.iter().map(|octet| format!("{octet:02x}")).collect()
    }

    fn written(&mut self) {
        self.machine.written(self.now, Ok(()));
    }

    fn write_fails(&mut self, code: u8) {
        self.machine.written(self.now, Err(WriteFailure::Att(code)));
    }

    fn indicated(&mut self, hex: &str) {
        self.machine.indicated(self.now, &octets(hex));
    }

    /// Expects this write, acknowledges it and answers it with this result.
    fn take(&mut self, hex: &str, result: u8) {
        assert_eq!(self.sent(), hex);
        self.written();
        self.indicated(&format!("80{}{result:02x}", &hex[..2]));
    }

    fn want(&mut self, target: BrakeTarget) {
        self.machine.want(self.now, target);
    }

    fn release(&mut self) {
        self.machine.release(self.now);
    }

    fn status(&mut self, hex: &str) {
        let status = Status::decode(&octets(hex)).unwrap();
        self.machine.status(self.now, &status);
    }

    fn events(&mut self) -> Vec<ControlEvent> {
        std::iter::from_fn(|| self.machine.poll_event()).collect()
    }
}

/// The tests here that try rows of the conformance page.
pub const TRIALS: &[&[crate::conformance::Trial]] = &[
    abilities::TRIALS,
    conformance::TRIALS,
    losses::TRIALS,
    refusals::TRIALS,
];
