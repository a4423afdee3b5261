//! When the window draws itself again without being woken by a key, the pointer or the engine.

use std::time::Duration;

use crate::engine::Snapshot;
use crate::time::{Instant, Span};

/// While the ride runs, the next frame begins so long after this one began, or when the screen has shown this one,
/// whichever comes later: presenting waits for the screen. So a screen of 60 Hz sets the pace itself, a faster one is
/// served about sixty times a second, and where nothing waits for the screen (drawing without a graphics card) the
/// window does not run away with the processor. In sixty frames a second the strip moves by a tenth of a point each.
pub(super) const FRAME: Duration = Duration::from_millis(16);

/// Where nothing may move smoothly the strip goes in steps of a second, and the figures with the engine's snapshots.
const STEPS: Duration = Duration::from_millis(250);

/// So often it is looked whether the system has answered the wish to stay awake; it is given three seconds to.
const ASKING: Duration = Duration::from_millis(250);

/// Up to this age a device was "heard now"; from then on its age is counted in whole seconds.
const HEARD_NOW: Span = Span::from_seconds(2);

/// How long until the next frame is due although nothing happens; none where the picture stays as it is.
///
/// `prepares` says whether the devices' ages are on the screen, `asking` whether an answer of the system is
/// awaited, `smoothly` whether the strip moves with every frame.
pub(super) fn next(
    now: Instant,
    snapshot: &Snapshot,
    prepares: bool,
    asking: bool,
    smoothly: bool,
) -> Option<Duration> {
    let counts = prepares || snapshot.mode.under_way();
    let countdown = snapshot.group.as_ref().filter(|_| counts).map(|group| {
        // To the next whole second, before the beginning or after it.
        let second = 1_000_000;
        let now = i64::try_from(now.0).unwrap_or(i64::MAX);
        let into = now
            .saturating_sub(group.zero_us.unwrap_or(0))
            .rem_euclid(second);
        Duration::from_micros((second - into).unsigned_abs())
    });
    if snapshot.mode.runs() {
        return Some(if smoothly { FRAME } else { STEPS });
    }
    let ages = snapshot.devices.iter().filter(|_| prepares);
    let ages = ages.filter_map(|row| row.last_heard).map(|heard| {
        let age = now.since(heard);
        let next = if age < HEARD_NOW {
            HEARD_NOW
        } else {
            Span::from_seconds(age.whole_seconds() + 1)
        };
        Duration::from_micros(next.less(age).0)
    });
    ages.chain(countdown).chain(asking.then_some(ASKING)).min()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::core::Core;
    use crate::ride::Mode;

    fn snapshot(mode: Mode) -> Snapshot {
        let mut snapshot = Core::new(0).snapshot(Instant::ZERO);
        snapshot.mode = mode;
        snapshot
    }

    #[test]
    fn a_ride_that_runs_is_drawn_at_the_screen_s_rate_and_a_pause_not_at_all() {
        let paused = Mode::Paused(crate::ride::PauseCause::Rider);
        for (mode, expected) in [
            (Mode::Riding, Some(FRAME)),
            (paused, None),
            (Mode::Idle, None),
        ] {
            let snapshot = snapshot(mode);
            assert_eq!(
                next(Instant(77), &snapshot, true, false, true),
                expected,
                "{mode:?}"
            );
        }
        // Due before a screen of 60 Hz is ready for the next, so that the screen sets the pace and not this.
        assert!(FRAME.as_micros() * 60 < 1_000_000);
    }

    #[test]
    fn an_answer_that_is_awaited_is_looked_for() {
        let snapshot = snapshot(Mode::Ready);
        assert_eq!(next(Instant(0), &snapshot, true, true, true), Some(ASKING));
    }
}
