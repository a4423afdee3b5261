//! How the practice trainer calibrates itself: it times its own wheel as it runs down.
//!
//! Fitness Machine Service 1.0, 4.16.2.20 and 4.17: the answer to op 13 gives the speeds, status 14 says to stop
//! pedalling and how it went. Speeds and patience are the model's own choice.

use crate::gatt::control_point::SpinDownSpeeds;
use crate::gatt::status::SpinDownStatus;
use crate::time::{Instant, Span};

/// The speeds that the practice trainer asks for: 25 to 34 km/h, which the practice rider's middle gear makes.
pub const SPEEDS: SpinDownSpeeds = SpinDownSpeeds {
    low: 2_500,
    high: 3_400,
};
/// The wheel must be fast enough for so long before the feet may stop.
const STEADY: Span = Span::from_seconds(2);
/// Feet that drive for longer than this after they were told to stop spoil the run.
const GRACE: Span = Span::from_seconds(6);
/// The run is timed down to this speed, m/s.
const RUN_DOWN_TO: f64 = 3.0;

/// What the practice trainer makes of a spin-down.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum SpinDownManner {
    /// It does as the service says.
    #[default]
    Works,
    /// It does not offer one at all.
    None,
    /// It offers one and refuses it: operation failed.
    Refuses,
    /// It takes the request and never answers.
    Unanswered,
    /// It never says to stop pedalling.
    NeverStops,
    /// It finds an error at the end of the run.
    Errs,
}

/// Where it stands.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
enum State {
    #[default]
    Idle,
    /// Fast enough since then, where it is.
    Speeding(Option<Instant>),
    /// The feet were told to stop then.
    Coasting(Instant),
}

/// The trainer's own side of a spin-down.
#[derive(Clone, Copy, Debug, Default)]
pub struct SpinDownRun {
    state: State,
}

impl SpinDownRun {
    /// The request was granted.
    pub const fn begin(&mut self) {
        self.state = State::Speeding(None);
    }

    /// Whatever was under way is dropped: a lost link, another target, a reset.
    pub const fn drop_it(&mut self) {
        self.state = State::Idle;
    }

    /// Whether the feet were told to stop and the wheel runs down.
    pub const fn is_coasting(&self) -> bool {
        matches!(self.state, State::Coasting(_))
    }

    /// On to `now` with the wheel's speed in m/s and whether the feet drive it; what it has to say.
    pub fn step(
        &mut self,
        now: Instant,
        manner: SpinDownManner,
        speed: f64,
        driven: bool,
    ) -> Option<SpinDownStatus> {
        match self.state {
            State::Idle => None,
            State::Speeding(since) => {
                let fast = speed * 360.0 >= f64::from(SPEEDS.low);
                let since = fast.then(|| since.unwrap_or(now));
                self.state = State::Speeding(since);
                let steady = since.is_some_and(|since| now.since(since) >= STEADY);
                if !steady || manner == SpinDownManner::NeverStops {
                    return None;
                }
                self.state = State::Coasting(now);
                Some(SpinDownStatus::StopPedalling)
            }
            State::Coasting(since) => {
                let spoilt = driven && now.since(since) >= GRACE;
                if !spoilt && speed > RUN_DOWN_TO {
                    return None;
                }
                self.state = State::Idle;
                Some(if spoilt || manner == SpinDownManner::Errs {
                    SpinDownStatus::Error
                } else {
                    SpinDownStatus::Success
                })
            }
        }
    }
}
