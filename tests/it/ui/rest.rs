//! When the window is drawn: at the screen's rate while the ride runs, and at rest only when there is news.
//!
//! A screen in virtual time stands in for the window's event loop: it draws a frame when the last one asked for it, as
//! egui's integration does, and counts.

use std::time::Duration;

use egui::ViewportId;
use stillroad::device::DeviceId;
use stillroad::engine::Snapshot;
use stillroad::ride::{Mode, PauseCause, Reading};
use stillroad::time::{Instant, Span};
use stillroad::units::{Rpm, Watts};

use super::hand::Window;
use super::states;

/// More rooms than this settle at once: a click's echo, a scroll area that measures itself.
const SETTLES_WITHIN: usize = 10;

struct Screen {
    window: Window,
    due: Option<Instant>,
    frames: usize,
}

impl Screen {
    /// A window over a snapshot, after the few frames in which egui settles.
    fn on(snapshot: Snapshot) -> Self {
        let mut screen = Self {
            window: Window::open(snapshot, 1280, 800),
            due: None,
            frames: 0,
        };
        for _ in 0..SETTLES_WITHIN {
            screen.draw();
        }
        screen.frames = 0;
        screen
    }

    fn draw(&mut self) {
        self.window.harness.step();
        self.frames += 1;
        let delay = self.window.harness.output().viewport_output[&ViewportId::ROOT].repaint_delay;
        let now = self.window.hand.now.get();
        let micros = u64::try_from(delay.as_micros()).unwrap_or(u64::MAX);
        self.due = (delay < Duration::from_secs(3600)).then(|| now + Span(micros.max(1)));
    }

    /// Draws for so long as the frames ask for it, and gives how many there were.
    fn frames_in(&mut self, span: Span) -> usize {
        let before = self.frames;
        let until = self.window.hand.now.get() + span;
        while let Some(due) = self.due.filter(|due| *due <= until) {
            self.window.hand.now.set(due);
            self.draw();
        }
        self.window.hand.now.set(until);
        self.frames - before
    }
}

#[test]
fn at_rest_no_frame_is_drawn_in_any_state() {
    for (name, snapshot) in states::all() {
        if snapshot.mode.runs() {
            continue;
        }
        let heard = snapshot.devices.iter().any(|row| row.last_heard.is_some());
        let prepares = !snapshot.mode.under_way() && !matches!(snapshot.mode, Mode::Finished(_));
        let mut screen = Screen::on(snapshot);
        let frames = screen.frames_in(Span::from_seconds(60));
        if prepares && heard {
            // "Heard 3 s ago" moves on once a second; two devices may do so at different moments of it.
            assert!((55..=125).contains(&frames), "{name}: {frames} frames");
        } else {
            assert_eq!(frames, 0, "{name}");
        }
    }
}

#[test]
fn prepare_without_devices_stands_still() {
    let mut snapshot = states::idle();
    snapshot.devices = std::sync::Arc::from([]);
    assert_eq!(Screen::on(snapshot).frames_in(Span::from_seconds(600)), 0);
}

#[test]
fn while_the_ride_runs_frames_follow_the_clock_and_not_the_snapshots() {
    for (name, snapshot) in states::all() {
        if !snapshot.mode.runs() {
            continue;
        }
        let mut screen = Screen::on(snapshot);
        // A frame each 16 ms, though the snapshot stays the same.
        assert_eq!(screen.frames_in(Span::from_seconds(2)), 125, "{name}");
    }
}

#[test]
fn a_pause_ends_the_frames_and_the_ride_brings_them_back() {
    let mut screen = Screen::on(states::riding());
    assert!(screen.frames_in(Span::from_seconds(1)) >= 60);
    screen.window.hand.show(Snapshot {
        mode: Mode::Paused(PauseCause::Rider),
        ..states::riding()
    });
    let settling = screen.frames_in(Span::from_seconds(1));
    assert!(settling <= SETTLES_WITHIN, "{settling} frames");
    assert_eq!(screen.frames_in(Span::from_seconds(60)), 0);
    // The engine wakes the window for a snapshot that differs.
    screen.window.hand.show(states::riding());
    screen.draw();
    assert!(screen.frames_in(Span::from_seconds(1)) >= 60);
}

/// What the engine takes for news: every field by itself, but not the stamp.
#[test]
fn a_snapshot_that_differs_in_its_stamp_alone_is_no_news() {
    let old = states::ready();
    let later = |change: &dyn Fn(&mut Snapshot)| {
        let mut new = states::ready();
        new.at = Instant(new.at.0 + 700_000);
        change(&mut new);
        old.is_outdated_by(&new)
    };
    let row = |change: &dyn Fn(&mut stillroad::engine::snapshot::DeviceRow)| {
        later(&|new| {
            let mut rows = new.devices.to_vec();
            change(&mut rows[1]);
            new.devices = rows.into();
        })
    };
    assert!(!later(&|_| {}));
    assert!(later(&|new| new.mode = Mode::Connecting));
    assert!(later(&|new| new.waits_for_pedals = true));
    assert!(later(&|new| new.session = Span(1)));
    assert!(later(&|new| new.power = Reading::Fresh(Watts(1.0))));
    assert!(later(&|new| new.cadence = Reading::Stale(Rpm(1.0))));
    assert!(later(&|new| new.notice = Some("Said.".into())));
    assert!(later(&|new| new.missing.push("A strap.".into())));
    assert!(later(&|new| new.devices = [].into()));
    assert!(later(&|new| new.devices = [states::practice(true)].into()));
    assert!(row(&|row| row.live = "1 W".into()));
    assert!(row(&|row| row.rssi = Some(-62)));
    assert!(row(&|row| row.bad_records += 1));
    assert!(row(&|row| row.id = DeviceId::new("another")));
    // A device heard again: news once a second, since its age is shown in whole seconds.
    let heard = old.devices[1].last_heard.unwrap();
    assert!(!row(
        &|row| row.last_heard = Some(heard + Span::from_millis(999))
    ));
    assert!(row(
        &|row| row.last_heard = Some(heard + Span::from_seconds(1))
    ));
    assert!(row(&|row| row.last_heard = None));
}
