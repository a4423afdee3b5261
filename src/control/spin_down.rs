//! The guide through a spin-down: what the trainer asks of the rider while it measures its own friction.
//!
//! Fitness Machine Service 1.0, 4.16.2.20 and 4.17: the answer to op 13 gives a low and a high target speed; the rider
//! brings the wheel between them; the trainer says *stop pedalling*, times the wheel as it runs down, and says whether
//! that went well. The service gives no time limits for it: those here are our own choice, no source.
//!
//! ```text
//! Asking → Speeding → Coasting → Over
//!    └────────┴──────────┴────────↑   refused, timed out, an error, cancelled
//! ```

use crate::gatt::control_point::SpinDownSpeeds;
use crate::gatt::status::SpinDownStatus;
use crate::time::{Instant, Span};
use crate::units::MetresPerSecond;

/// The trainer's answer is waited for by the procedures themselves, half a minute; this is for what they never sent.
const ASKED_WITHIN: Span = Span::from_seconds(40);
/// A wheel that has not turned for so long means that nobody pedals.
const PEDALS_WITHIN: Span = Span::from_seconds(45);
/// So long from the start until the trainer has said to stop.
const STOP_WITHIN: Span = Span::from_seconds(180);
/// So long from there until the wheel has run down and the trainer has said how it went.
const VERDICT_WITHIN: Span = Span::from_seconds(120);
/// Below this the wheel stands, m/s.
const TURNS: f64 = 1.0;

/// Why a spin-down came to nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SpinDownFailure {
    /// The trainer refused it, or its answer was no answer.
    Refused,
    /// The trainer did not answer the request.
    Unanswered,
    /// Nobody turned the pedals.
    NobodyPedals,
    /// The trainer never said to stop pedalling.
    NeverStopped,
    /// The trainer never said how it went.
    NoVerdict,
    /// The trainer says that it went wrong.
    Error,
    /// The link or the control of the brake was lost.
    Lost,
    /// The rider left it.
    Left,
}

/// Where it stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SpinDownStage {
    /// The trainer is asked.
    Asking,
    /// The wheel is to be brought between the target speeds.
    Speeding,
    /// The feet are to be still while the wheel runs down.
    Coasting,
    /// It went well.
    Done,
    /// It came to nothing.
    Failed(SpinDownFailure),
}

impl SpinDownStage {
    /// Whether nothing more comes.
    pub const fn is_over(self) -> bool {
        matches!(self, Self::Done | Self::Failed(_))
    }
}

/// One spin-down, from the request to its end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SpinDownGuide {
    stage: SpinDownStage,
    since: Instant,
    /// When the wheel was last seen to turn while it is to be sped up, or when that began.
    turned: Instant,
    window: Option<(MetresPerSecond, MetresPerSecond)>,
}

impl SpinDownGuide {
    /// The trainer is asked now.
    pub const fn begin(now: Instant) -> Self {
        Self {
            stage: SpinDownStage::Asking,
            since: now,
            turned: now,
            window: None,
        }
    }

    /// Where it stands.
    pub const fn stage(&self) -> SpinDownStage {
        self.stage
    }

    /// The target speeds, low and high, where the trainer gave them and they make sense.
    pub const fn window(&self) -> Option<(MetresPerSecond, MetresPerSecond)> {
        self.window
    }

    fn to(&mut self, now: Instant, stage: SpinDownStage) {
        if !self.stage.is_over() {
            self.stage = stage;
            self.since = now;
            self.turned = now;
        }
    }

    /// The trainer agreed, and perhaps gave its target speeds.
    pub fn accepted(&mut self, now: Instant, speeds: Option<SpinDownSpeeds>) {
        if self.stage != SpinDownStage::Asking {
            return;
        }
        self.window = speeds
            .filter(|speeds| speeds.high > 0 && speeds.low <= speeds.high)
            .map(|speeds| {
                let kmh = |raw: u16| MetresPerSecond::from_kmh(f64::from(raw) / 100.0);
                (kmh(speeds.low), kmh(speeds.high))
            });
        self.to(now, SpinDownStage::Speeding);
    }

    /// The trainer says how it goes. Said before the request was answered it belongs to another one.
    pub fn said(&mut self, now: Instant, status: SpinDownStatus) {
        if self.stage == SpinDownStage::Asking {
            return;
        }
        match status {
            SpinDownStatus::StopPedalling => self.to(now, SpinDownStage::Coasting),
            SpinDownStatus::Success => self.to(now, SpinDownStage::Done),
            SpinDownStatus::Error => self.to(now, SpinDownStage::Failed(SpinDownFailure::Error)),
            SpinDownStatus::Requested | SpinDownStatus::Other(_) => {}
        }
    }

    /// It is over, for this reason; after an end nothing changes any more.
    pub fn fail(&mut self, now: Instant, why: SpinDownFailure) {
        self.to(now, SpinDownStage::Failed(why));
    }

    /// Takes the wheel's speed, where it is known, and looks at the time.
    pub fn see(&mut self, now: Instant, speed: Option<MetresPerSecond>) {
        if self.stage == SpinDownStage::Speeding && speed.is_some_and(|speed| speed.0 > TURNS) {
            self.turned = now;
        }
        if let Some((due, why)) = self.deadline()
            && now >= due
        {
            self.fail(now, why);
        }
    }

    /// When [`see`](Self::see) next ends it by time alone.
    pub fn poll_timeout(&self) -> Option<Instant> {
        self.deadline().map(|(due, _)| due)
    }

    fn deadline(&self) -> Option<(Instant, SpinDownFailure)> {
        match self.stage {
            SpinDownStage::Asking => Some((self.since + ASKED_WITHIN, SpinDownFailure::Unanswered)),
            SpinDownStage::Speeding => {
                let nobody = (self.turned + PEDALS_WITHIN, SpinDownFailure::NobodyPedals);
                let never = (self.since + STOP_WITHIN, SpinDownFailure::NeverStopped);
                Some(if nobody.0 <= never.0 { nobody } else { never })
            }
            SpinDownStage::Coasting => {
                Some((self.since + VERDICT_WITHIN, SpinDownFailure::NoVerdict))
            }
            SpinDownStage::Done | SpinDownStage::Failed(_) => None,
        }
    }

    /// What the rider is told now, at this speed and with the feet driving or not: one sentence or two.
    pub fn sentence(&self, speed: Option<MetresPerSecond>, driven: bool) -> String {
        match self.stage {
            SpinDownStage::Asking => entry!("Asking the trainer. Keep the legs turning easily.").to_owned(),
            SpinDownStage::Speeding => match (self.window, speed) {
                (Some((_, high)), Some(speed)) if speed.0 > high.0 => {
                    kept!("A little slower: under {high}.", high = kmh(high))
                }
                (Some((low, _)), Some(speed)) if speed.0 >= low.0 => {
                    entry!("Hold this speed until the trainer says to stop.").to_owned()
                }
                (Some((low, high)), _) => {
                    kept!(
                        "Pedal faster: between {low} and {high}.",
                        low = kmh(low),
                        high = kmh(high)
                    )
                }
                (None, _) => entry!("Pedal faster, until the trainer says to stop.").to_owned(),
            },
            SpinDownStage::Coasting if driven => {
                entry!("Stop pedalling now, feet still, and let the wheel run down.").to_owned()
            }
            SpinDownStage::Coasting => {
                entry!("Feet still. Let the wheel run down by itself; do not brake.").to_owned()
            }
            SpinDownStage::Done => {
                entry!("The trainer is calibrated. Its next rides are measured by this; nothing more to do.")
                    .to_owned()
            }
            SpinDownStage::Failed(why) => {
                kept!("The trainer was not calibrated. {why}", why = why.words())
            }
        }
    }
}

impl SpinDownFailure {
    /// What happened and what to do; what it means, that nothing was calibrated, is said before it.
    const fn words(self) -> &'static str {
        match self {
            Self::Refused => {
                entry!(
                    "It refused to begin. Ride ten minutes to warm it, stop, and try again; its own app may be needed."
                )
            }
            Self::Unanswered => {
                entry!(
                    "It did not answer. Switch it off and on, wait until it is connected, and try again."
                )
            }
            Self::NobodyPedals => {
                entry!("Nobody turned the pedals. Try again when you sit on the bike.")
            }
            Self::NeverStopped => {
                entry!("It never said to stop. Try again, and hold the speed that it asks for.")
            }
            Self::NoVerdict => {
                entry!(
                    "It never said how the run went. Its old calibration stands; try again, with the feet still until the wheel stops."
                )
            }
            Self::Error => {
                entry!(
                    "It found an error. Try again: speed up, stop pedalling when told, and touch neither brake nor shifter."
                )
            }
            Self::Lost => {
                entry!(
                    "The link to it was lost. Its old calibration stands; try again when it is connected."
                )
            }
            Self::Left => entry!("It was left before its end, and the old calibration stands."),
        }
    }
}

fn kmh(speed: MetresPerSecond) -> String {
    format!("{:.0} km/h", speed.0 * 3.6)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::gatt::control_point::Response;

    fn at(seconds: u64) -> Instant {
        Instant::ZERO + Span::from_seconds(seconds)
    }

    /// 80130120033c0f: accepted, 8.00 and 39.00 km/h, laid out by hand from Fitness Machine Service 1.0, 4.16.2.20.
    fn speeds() -> Option<SpinDownSpeeds> {
        Response::decode(&[0x80, 0x13, 0x01, 0x20, 0x03, 0x3c, 0x0f])
            .unwrap()
            .spin_down_speeds()
    }

    fn of(kmh: f64) -> Option<MetresPerSecond> {
        Some(MetresPerSecond::from_kmh(kmh))
    }

    #[test]
    fn a_rider_is_led_through_all_of_it() {
        let mut guide = SpinDownGuide::begin(at(0));
        guide.accepted(at(1), speeds());
        assert_eq!(guide.stage(), SpinDownStage::Speeding);
        let (low, high) = guide.window().unwrap();
        // 8.00 km/h is 2.2222 m/s, 39.00 km/h is 10.8333 m/s.
        assert!((low.0 - 2.2222).abs() < 1e-4 && (high.0 - 10.8333).abs() < 1e-4);
        assert!(
            guide
                .sentence(of(5.0), true)
                .contains("between 8 km/h and 39 km/h")
        );
        assert!(guide.sentence(None, true).contains("Pedal faster"));
        assert!(guide.sentence(of(20.0), true).contains("Hold"));
        assert!(guide.sentence(of(40.0), true).contains("slower"));
        guide.said(at(20), SpinDownStatus::StopPedalling);
        assert!(
            guide
                .sentence(of(30.0), true)
                .contains("Stop pedalling now")
        );
        assert!(guide.sentence(of(30.0), false).contains("Feet still"));
        guide.said(at(40), SpinDownStatus::Success);
        assert_eq!(guide.stage(), SpinDownStage::Done);
        assert_eq!(guide.poll_timeout(), None);
        // What is over stays as it is.
        guide.said(at(41), SpinDownStatus::Error);
        guide.fail(at(42), SpinDownFailure::Lost);
        assert_eq!(guide.stage(), SpinDownStage::Done);
    }

    #[test]
    fn every_wait_ends() {
        let failed = |guide: &SpinDownGuide, why| guide.stage() == SpinDownStage::Failed(why);
        let mut unanswered = SpinDownGuide::begin(at(0));
        unanswered.see(at(39), None);
        assert_eq!(unanswered.stage(), SpinDownStage::Asking);
        unanswered.see(at(40), None);
        assert!(failed(&unanswered, SpinDownFailure::Unanswered));

        let mut still = SpinDownGuide::begin(at(0));
        still.accepted(at(1), speeds());
        still.see(at(10), of(8.0));
        still.see(at(54), of(0.0));
        assert_eq!(still.stage(), SpinDownStage::Speeding);
        assert_eq!(still.poll_timeout(), Some(at(55)));
        still.see(at(55), of(0.0));
        assert!(failed(&still, SpinDownFailure::NobodyPedals));

        let mut never = SpinDownGuide::begin(at(0));
        never.accepted(at(1), None);
        for second in 2..181 {
            never.see(at(second), of(50.0));
        }
        assert_eq!(never.stage(), SpinDownStage::Speeding);
        never.see(at(181), of(50.0));
        assert!(failed(&never, SpinDownFailure::NeverStopped));

        let mut silent = SpinDownGuide::begin(at(0));
        silent.accepted(at(1), speeds());
        silent.said(at(2), SpinDownStatus::StopPedalling);
        silent.see(at(122), of(0.0));
        assert!(failed(&silent, SpinDownFailure::NoVerdict));
    }

    #[test]
    fn what_was_said_before_the_answer_counts_for_nothing() {
        let mut guide = SpinDownGuide::begin(at(0));
        guide.said(at(0), SpinDownStatus::Success);
        guide.said(at(0), SpinDownStatus::Error);
        assert_eq!(guide.stage(), SpinDownStage::Asking);
        guide.accepted(
            at(1),
            Some(SpinDownSpeeds {
                low: 900,
                high: 100,
            }),
        );
        assert_eq!(guide.window(), None, "a window upside down is none");
        assert!(
            guide
                .sentence(of(50.0), true)
                .contains("until the trainer says")
        );
    }
}
