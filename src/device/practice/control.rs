//! The trainer's side of the Fitness Machine control point: what it accepts, what it refuses and how.

use crate::gatt::control_point::{Halt, Request, Response, ResultCode, SpinDown, op};
use crate::gatt::status::SpinDownStatus;
use crate::gatt::{ResistanceRange, Status};
use crate::time::{Instant, Span};

use super::brake::{Road, Setting};
use super::config::TrainerParameters;
use super::spin_down::{SPEEDS, SpinDownManner, SpinDownRun};

/// ATT error: a procedure already runs (Core Specification Supplement, part B).
pub const PROCEDURE_IN_PROGRESS: u8 = 0xFE;
/// ATT error: indications are not enabled on the control point (Core Specification Supplement, part B).
pub const INDICATIONS_OFF: u8 = 0xFD;
/// ATT error: a value of a length that no request has (Core Specification, ATT).
pub const INVALID_LENGTH: u8 = 0x0D;

/// Where the brake of a trainer stays that does not act on target power: some 165 W in 50 × 19 at 88 rpm.
const HEEDLESS_LEVEL: f64 = 40.0;

/// What the trainer makes of a request.
#[derive(Clone, Debug, PartialEq)]
pub struct Answer {
    /// The indication.
    pub response: Response,
    /// What the brake is set to, where that changes.
    pub setting: Option<Setting>,
    /// What the change is called in the status characteristic.
    pub status: Option<Status>,
}

/// Where the machine's own session stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Session {
    /// Neither started nor stopped: both are then accepted.
    Idle,
    Running,
    Halted(Halt),
}

/// The state of the control point.
#[derive(Clone, Debug)]
pub struct ControlServer {
    parameters: TrainerParameters,
    granted: bool,
    busy_until: Option<Instant>,
    session: Session,
    spin_down: SpinDownRun,
}

impl ControlServer {
    /// Nobody holds control.
    pub fn new(parameters: TrainerParameters) -> Self {
        Self {
            parameters,
            granted: false,
            busy_until: None,
            session: Session::Idle,
            spin_down: SpinDownRun::default(),
        }
    }

    /// Whether a request gets no indication at all.
    pub fn keeps_silent(&self, bytes: &[u8]) -> bool {
        self.parameters.spin_down == SpinDownManner::Unanswered
            && bytes.first() == Some(&op::SPIN_DOWN)
    }

    /// A spin-down goes on: the wheel's speed in m/s, and whether the feet drive it. What is told of it in the status.
    pub fn spin_down(&mut self, now: Instant, speed: f64, driven: bool) -> Option<SpinDownStatus> {
        self.spin_down
            .step(now, self.parameters.spin_down, speed, driven)
    }

    /// Whether the feet were told to stop.
    pub const fn is_coasting(&self) -> bool {
        self.spin_down.is_coasting()
    }

    /// Takes control away, as when the link drops or another program takes over.
    pub fn revoke(&mut self) {
        self.granted = false;
    }

    /// Forgets the connection: its grant and the procedure that ran.
    pub fn drop_link(&mut self) {
        self.granted = false;
        self.busy_until = None;
        self.spin_down.drop_it();
    }

    /// The level to which the brake falls when it is stopped or reset.
    pub fn lowest(&self) -> Setting {
        Setting::Level(self.parameters.resistance_range.range().least)
    }

    /// Takes a write.
    ///
    /// # Errors
    /// The ATT error code with which the write is refused: then no procedure starts and no indication comes.
    pub fn write(
        &mut self,
        now: Instant,
        answer_after: Span,
        indications: bool,
        bytes: &[u8],
    ) -> Result<Answer, u8> {
        if !indications {
            return Err(INDICATIONS_OFF);
        }
        if self.busy_until.is_some_and(|until| now < until) {
            return Err(PROCEDURE_IN_PROGRESS);
        }
        let &[code, ..] = bytes else {
            return Err(INVALID_LENGTH);
        };
        self.busy_until = Some(now + answer_after);
        let (result, setting, status) = match self.judge(code, bytes) {
            Ok((setting, status)) => (ResultCode::Success, setting, status),
            Err(result) => (result, None, None),
        };
        let begins = code == op::SPIN_DOWN
            && result == ResultCode::Success
            && bytes == [op::SPIN_DOWN, SpinDown::Start.code()];
        Ok(Answer {
            response: if begins {
                Response::spin_down(SPEEDS)
            } else {
                Response::new(code, result)
            },
            setting,
            status,
        })
    }

    fn judge(
        &mut self,
        code: u8,
        bytes: &[u8],
    ) -> Result<(Option<Setting>, Option<Status>), ResultCode> {
        let known = [
            op::REQUEST_CONTROL,
            op::RESET,
            op::RESISTANCE,
            op::POWER,
            op::START_OR_RESUME,
            op::STOP_OR_PAUSE,
            op::SIMULATION,
        ];
        let spins = code == op::SPIN_DOWN && self.parameters.spin_down != SpinDownManner::None;
        if !known.contains(&code) && !spins {
            return Err(ResultCode::NotSupported);
        }
        if code != op::REQUEST_CONTROL && !self.granted {
            return Err(ResultCode::NotPermitted);
        }
        let takes = self.parameters.takes;
        let known = match code {
            op::POWER => takes.power,
            op::RESISTANCE => takes.levels,
            op::SIMULATION => takes.slopes,
            _ => true,
        };
        if !known {
            return Err(ResultCode::NotSupported);
        }
        // Each request has one length; the codec writes no other.
        let request = Request::decode(bytes)
            .ok()
            .filter(|request| request.encode() == bytes)
            .ok_or(ResultCode::InvalidParameter)?;
        self.carry_out(&request)
    }

    fn carry_out(
        &mut self,
        request: &Request,
    ) -> Result<(Option<Setting>, Option<Status>), ResultCode> {
        match request {
            Request::RequestControl => {
                self.granted = true;
                Ok((None, None))
            }
            Request::Reset => {
                self.granted = false;
                self.session = Session::Idle;
                Ok((Some(self.lowest()), Some(Status::Reset)))
            }
            Request::Power(watts) => {
                let range = self.parameters.power_range.range();
                let asked = within(f64::from(*watts), range)?;
                let setting = if self.parameters.heeds_power {
                    Setting::Power(asked)
                } else {
                    Setting::Level(HEEDLESS_LEVEL)
                };
                Ok((Some(setting), Some(Status::Power(*watts))))
            }
            Request::Resistance(level) => {
                let form = self.parameters.resistance_range;
                let wide = matches!(level, crate::gatt::Resistance::Word(_));
                let fits = match form {
                    // Up to 255 either width can say the level, and a trainer takes both.
                    ResistanceRange::Words { most, .. } => wide || most <= 255,
                    ResistanceRange::Octets { .. } => !wide,
                };
                if !fits {
                    return Err(ResultCode::InvalidParameter);
                }
                let asked = within(level.level().0, form.range())?;
                let status = Status::Resistance(*level);
                Ok((Some(Setting::Level(asked)), Some(status)))
            }
            Request::Simulation(road) => {
                let setting = Setting::Road(Road {
                    slope: f64::from(road.grade) / 10_000.0,
                    head_wind: f64::from(road.wind) / 1000.0,
                    rolling: f64::from(road.rolling) / 10_000.0,
                    drag: f64::from(road.drag) / 100.0,
                });
                Ok((Some(setting), Some(Status::Simulation(*road))))
            }
            Request::StartOrResume => {
                if self.session == Session::Running {
                    return Err(ResultCode::Failed);
                }
                self.session = Session::Running;
                Ok((None, Some(Status::StartedOrResumed)))
            }
            Request::StopOrPause(Halt::Other(_)) => Err(ResultCode::InvalidParameter),
            Request::StopOrPause(halt) => {
                // A paused session can still be stopped; a stopped one neither paused nor stopped.
                if self.session == Session::Halted(*halt)
                    || self.session == Session::Halted(Halt::Stop)
                {
                    return Err(ResultCode::Failed);
                }
                self.session = Session::Halted(*halt);
                let status = Status::StoppedOrPaused(*halt);
                Ok((Some(self.lowest()), Some(status)))
            }
            Request::SpinDown(SpinDown::Start) => {
                if self.parameters.spin_down == SpinDownManner::Refuses {
                    return Err(ResultCode::Failed);
                }
                self.spin_down.begin();
                Ok((Some(self.lowest()), None))
            }
            Request::SpinDown(SpinDown::Ignore) => {
                self.spin_down.drop_it();
                Ok((None, None))
            }
            Request::SpinDown(SpinDown::Other(_)) => Err(ResultCode::InvalidParameter),
            _ => Err(ResultCode::NotSupported),
        }
    }
}

/// The value rounded down to the range's step, where it lies inside the range.
fn within(value: f64, range: crate::units::BrakeRange) -> Result<f64, ResultCode> {
    if value < range.least || value > range.most {
        return Err(ResultCode::InvalidParameter);
    }
    Ok(range.round_down(value))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    const DELAY: Span = Span::from_millis(60);

    fn server(resistance_range: ResistanceRange, granted: bool) -> ControlServer {
        let mut server = ControlServer::new(TrainerParameters {
            resistance_range,
            spin_down: SpinDownManner::None,
            ..TrainerParameters::default()
        });
        server.granted = granted;
        server
    }

    fn words() -> ResistanceRange {
        ResistanceRange::Words {
            least: 0,
            most: 1000,
            step: 10,
        }
    }

    #[test]
    fn each_request_gets_the_result_that_the_standard_gives_it() {
        // Fitness Machine Service 1.0, 4.16.1 and table 4.24: 1 success, 2 not supported, 3 invalid parameter,
        // 4 failed, 5 control not permitted. The octets are written by hand.
        let octets = ResistanceRange::Octets {
            least: 0,
            most: 200,
            step: 1,
        };
        let cases: &[(&str, ResistanceRange, bool, &[u8], u8)] = &[
            ("request control", words(), false, &[0x00], 1),
            ("request control twice", words(), true, &[0x00], 1),
            (
                "request control with a surplus octet",
                words(),
                true,
                &[0x00, 0x01],
                3,
            ),
            ("reset", words(), true, &[0x01], 1),
            ("reset without control", words(), false, &[0x01], 5),
            ("speed", words(), true, &[0x02, 0x10, 0x0e], 2),
            ("inclination", words(), true, &[0x03, 0x10, 0x00], 2),
            ("level 12.0", words(), true, &[0x04, 0x78, 0x00], 1),
            (
                "level 12.0 without control",
                words(),
                false,
                &[0x04, 0x78, 0x00],
                5,
            ),
            (
                "level in one octet where words are needed",
                words(),
                true,
                &[0x04, 0x78],
                3,
            ),
            (
                "level over the range",
                words(),
                true,
                &[0x04, 0xe9, 0x03],
                3,
            ),
            (
                "level under the range",
                words(),
                true,
                &[0x04, 0xff, 0xff],
                3,
            ),
            ("level of an octet trainer", octets, true, &[0x04, 0x78], 1),
            (
                "level as a word to an octet trainer",
                octets,
                true,
                &[0x04, 0x78, 0x00],
                3,
            ),
            (
                "level over an octet trainer's range",
                octets,
                true,
                &[0x04, 0xc9],
                3,
            ),
            ("250 W", words(), true, &[0x05, 0xfa, 0x00], 1),
            (
                "250 W without control",
                words(),
                false,
                &[0x05, 0xfa, 0x00],
                5,
            ),
            ("power cut short", words(), true, &[0x05, 0xfa], 3),
            (
                "power with a surplus octet",
                words(),
                true,
                &[0x05, 0xfa, 0x00, 0x00],
                3,
            ),
            (
                "power over the range",
                words(),
                true,
                &[0x05, 0xdd, 0x05],
                3,
            ),
            (
                "power under the range",
                words(),
                true,
                &[0x05, 0xff, 0xff],
                3,
            ),
            ("heart rate", words(), true, &[0x06, 0x80], 2),
            ("start", words(), true, &[0x07], 1),
            ("start without control", words(), false, &[0x07], 5),
            ("stop", words(), true, &[0x08, 0x01], 1),
            ("pause", words(), true, &[0x08, 0x02], 1),
            ("stop of a third sort", words(), true, &[0x08, 0x03], 3),
            ("stop without its parameter", words(), true, &[0x08], 3),
            (
                "road",
                words(),
                true,
                &[0x11, 0, 0, 0x26, 0x02, 0x28, 0x33],
                1,
            ),
            (
                "road without control",
                words(),
                false,
                &[0x11, 0, 0, 0x26, 0x02, 0x28, 0x33],
                5,
            ),
            (
                "road cut short",
                words(),
                true,
                &[0x11, 0, 0, 0x26, 0x02, 0x28],
                3,
            ),
            ("wheel", words(), true, &[0x12, 0x08, 0x52], 2),
            ("spin-down", words(), true, &[0x13, 0x01], 2),
            ("cadence", words(), true, &[0x14, 0xb4, 0x00], 2),
            ("a reserved op code", words(), true, &[0x15], 2),
            (
                "a reserved op code without control",
                words(),
                false,
                &[0x7f],
                2,
            ),
            ("the response code", words(), true, &[0x80, 0x05, 0x01], 2),
        ];
        for &(what, range, granted, bytes, result) in cases {
            let mut server = server(range, granted);
            let answer = server.write(Instant(0), DELAY, true, bytes).unwrap();
            assert_eq!(answer.response.encode(), [0x80, bytes[0], result], "{what}");
            assert!(result == 1 || answer.setting.is_none(), "{what}");
        }
    }

    #[test]
    fn the_brake_is_set_to_what_was_written() {
        let road = Road {
            slope: 0.055,
            head_wind: 0.0,
            rolling: 0.004,
            drag: 0.51,
        };
        for (bytes, setting) in [
            (&[0x05, 0xfa, 0x00][..], Setting::Power(250.0)),
            (&[0x04, 0x78, 0x00], Setting::Level(12.0)),
            (&[0x04, 0x7d, 0x00], Setting::Level(12.0)),
            (&[0x11, 0, 0, 0x26, 0x02, 0x28, 0x33], Setting::Road(road)),
            (&[0x01], Setting::Level(0.0)),
            (&[0x08, 0x01], Setting::Level(0.0)),
        ] {
            let answer = server(words(), true).write(Instant(0), DELAY, true, bytes);
            assert_eq!(answer.unwrap().setting, Some(setting));
        }
    }

    #[test]
    fn one_procedure_runs_at_a_time_and_only_with_indications() {
        let mut server = server(words(), false);
        let at = |ms: u64| Instant(ms * 1000);
        assert_eq!(server.write(at(0), DELAY, false, &[0x00]), Err(0xFD));
        assert_eq!(server.write(at(0), DELAY, true, &[]), Err(0x0D));
        assert!(server.write(at(0), DELAY, true, &[0x00]).is_ok());
        assert_eq!(server.write(at(59), DELAY, true, &[0x07]), Err(0xFE));
        assert!(server.write(at(60), DELAY, true, &[0x07]).is_ok());
        // A dropped link takes the procedure and the grant with it.
        server.drop_link();
        let answer = server.write(at(61), DELAY, true, &[0x07]).unwrap();
        assert_eq!(answer.response.encode(), [0x80, 0x07, 0x05]);
    }

    #[test]
    fn a_start_when_running_and_a_stop_when_stopped_fail() {
        let mut server = server(words(), true);
        let mut now = Instant(0);
        for (bytes, result) in [
            (&[0x07][..], 1),
            (&[0x07], 4),
            (&[0x08, 0x02], 1),
            (&[0x08, 0x02], 4),
            (&[0x08, 0x01], 1),
            (&[0x08, 0x01], 4),
            (&[0x08, 0x02], 4),
            (&[0x07], 1),
            // Reset gives control up.
            (&[0x01], 1),
            (&[0x07], 5),
        ] {
            let answer = server.write(now, DELAY, true, bytes).unwrap();
            assert_eq!(answer.response.encode(), [0x80, bytes[0], result]);
            now += DELAY;
        }
    }
}
