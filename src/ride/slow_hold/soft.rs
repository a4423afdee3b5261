//! Legs that go along without pushing, against a wheel that coasts: the power of a moment, and none of the brake's.
//!
//! An anchor at such a power would make the level climb as far as it takes to have the watts at it, and the legs that push
//! again would find twice as much. A shift by many gears looks the same; it lasts.

use super::scale::{Anchor, Scale};
use super::{Asked, Sample};
use crate::ride::level::Fixed;
use crate::time::{Instant, Span};

/// An anchor is doubted where its power is under this share of what the one before it says of its level: more than a
/// shift by four sprockets takes away. Our own choice.
const SOFT: f64 = 0.5;

/// It is believed once a window so much later agrees with it within this share. Our own choice.
const LASTS: Span = Span::from_seconds(12);
const AGREES: f64 = 0.1;

/// Until then the level goes no higher than what by the anchor before makes the watts that are asked for and this factor.
const OVER: f64 = 1.25;

/// A doubt.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Soft {
    /// The anchor from before.
    before: Anchor,
    /// The low one, and since when.
    low: Anchor,
    since: Instant,
}

impl Soft {
    /// Whether a new anchor is to be doubted. Not by a slope: what the anchor before says of it hangs on a speed that
    /// may be reckoned from the power itself.
    pub(super) fn of(
        before: &Anchor,
        low: &Anchor,
        now: Instant,
        scale: &Scale,
        asked: &Asked,
    ) -> Option<Self> {
        let soft = matches!(asked.fixed, Fixed::Level(_))
            && low.power < SOFT * scale.watts_at(before, low.share, asked);
        soft.then_some(Self {
            before: *before,
            low: *low,
            since: now,
        })
    }

    /// After a steady window of so many watts: the anchor from before where the legs push again, else whether the doubt
    /// still stands.
    pub(super) fn after(
        &mut self,
        now: Instant,
        last: &Sample,
        power: f64,
        scale: &Scale,
        asked: &Asked,
    ) -> After {
        if power >= SOFT * scale.watts_at(&self.before, last.share, asked) {
            return After::Pushes(self.before);
        }
        let expected = scale.watts_at(&self.low, last.share, asked);
        if (power - expected).abs() > AGREES * expected {
            self.low = last.anchor(power);
            self.since = now;
        } else if now.since(self.since) >= LASTS {
            return After::Lasts;
        }
        After::Doubted
    }

    /// The most that may be asked for, a share of the range.
    pub(super) fn most(&self, scale: &Scale, asked: &Asked) -> f64 {
        scale.share_at(&self.before, (asked.watts * OVER).min(asked.cap), asked)
    }
}

/// What became of a doubt.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum After {
    /// The legs push again: this anchor tells the scale, the low one does not.
    Pushes(Anchor),
    /// It lasts: the gear is another.
    Lasts,
    /// Neither is known.
    Doubted,
}
