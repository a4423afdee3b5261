//! The detector on ratios reckoned from teeth and a wheel.

#![allow(clippy::unwrap_used, clippy::expect_used)]

use super::*;

/// Development of a gear by its teeth on a wheel of 2.1 m, as on a 25 mm tyre of a 700C rim (circumference 2.105 m by the
/// tables that come with bicycle computers).
fn metres(chainring: f64, sprocket: f64) -> f64 {
    2.1 * chainring / sprocket
}

struct Rig {
    watch: GearWatch,
    now: Instant,
    /// Whether the brake holds watts.
    held: bool,
}

impl Rig {
    fn new() -> Self {
        Self {
            watch: GearWatch::default(),
            now: Instant::ZERO,
            held: false,
        }
    }

    /// Seconds in a gear at a cadence and a power.
    fn ride(&mut self, seconds: u64, development: f64, rpm: f64, watts: f64) {
        for _ in 0..seconds * 4 {
            self.now += steady::LOOK;
            let speed = MetresPerSecond(development * rpm / 60.0);
            let held = self.held;
            self.watch.see(
                self.now,
                held,
                Some(speed),
                Some(Rpm(rpm)),
                Some(Watts(watts)),
            );
        }
    }

    /// A load that changes in one gear shows the wheel, and a second gear shows steps.
    fn known(mut self) -> Self {
        self.ride(20, metres(50.0, 21.0), 88.0, 100.0);
        self.ride(30, metres(50.0, 21.0), 88.0, 150.0);
        self.ride(10, metres(50.0, 19.0), 88.0, 160.0);
        self.watch.block = Vec::new();
        assert_eq!(self.watch.wheel_speed(), WheelSpeed::Real);
        self
    }

    fn now_words(&self) -> String {
        self.watch.words(Some(Kind::Hold), None).now
    }
}

#[test]
fn the_gear_is_wheel_metres_for_a_turn_of_the_cranks() {
    let mut rig = Rig::new().known();
    // 50 × 17 on 2.1 m: 6.176 m; at 90 rpm 9.26 m/s, 33.4 km/h.
    rig.ride(5, metres(50.0, 17.0), 90.0, 180.0);
    assert!((rig.watch.gear().unwrap() - 6.176).abs() < 0.001);
    // Whatever the cadence.
    rig.ride(5, metres(50.0, 17.0), 70.0, 130.0);
    assert!((rig.watch.gear().unwrap() - 6.176).abs() < 0.001);
}

#[test]
fn the_gear_of_the_last_hold_is_said_in_the_next() {
    let mut rig = Rig::new().known();
    rig.ride(60, metres(50.0, 17.0), 88.0, 200.0);
    rig.watch.block_ends(Kind::Hold);
    rig.ride(30, metres(50.0, 21.0), 80.0, 90.0);
    rig.watch.block_ends(Kind::Recovery);
    // 17 is two sprockets harder than 21: nobody has told which sprockets there are, so that none are counted.
    assert_eq!(rig.now_words(), "Harder for the last hold's gear.");
    let ahead = rig.watch.words(Some(Kind::Recovery), Some(Kind::Hold));
    assert_eq!(ahead.next, "Next hold: harder for the last hold's gear.");
    rig.ride(5, metres(50.0, 19.0), 88.0, 150.0);
    assert_eq!(rig.now_words(), "Harder for the last hold's gear.");
    rig.ride(5, metres(50.0, 17.0), 88.0, 200.0);
    assert_eq!(rig.now_words(), "This is the last hold's gear.");
    rig.ride(5, metres(50.0, 15.0), 80.0, 200.0);
    assert_eq!(rig.now_words(), "Easier for the last hold's gear.");
    rig.ride(5, metres(50.0, 12.0), 80.0, 250.0);
    assert_eq!(rig.now_words(), "Easier for the last hold's gear.");
}

fn bike(chainrings: &[u16], sprockets: &[u16]) -> Drivetrain {
    Drivetrain {
        chainrings: chainrings.to_vec(),
        sprockets: sprockets.to_vec(),
    }
}

/// A cassette that is sold as 12 to 28 in ten.
const TEN: [u16; 10] = [12, 13, 14, 15, 17, 19, 21, 23, 25, 28];

#[test]
fn shifts_are_counted_where_the_rider_entered_the_gears() {
    let mut rig = Rig::new();
    rig.watch.fit(&bike(&[50], &TEN));
    let mut rig = rig.known();
    // 21 and 15 alone might be 17 and 12 on a smaller wheel: the third gear tells.
    rig.ride(12, metres(50.0, 19.0), 88.0, 160.0);
    rig.watch.block = Vec::new();
    rig.ride(60, metres(50.0, 15.0), 88.0, 200.0);
    rig.watch.block_ends(Kind::Hold);
    rig.ride(30, metres(50.0, 21.0), 80.0, 90.0);
    // 21, 19, 17, 15.
    let ahead = rig.watch.words(Some(Kind::Recovery), Some(Kind::Hold));
    assert_eq!(
        ahead.next,
        "Next hold: three harder for the last hold's gear."
    );
    rig.ride(12, metres(50.0, 17.0), 88.0, 150.0);
    assert_eq!(rig.now_words(), "One harder for the last hold's gear.");
    rig.ride(12, metres(50.0, 15.0), 88.0, 200.0);
    assert_eq!(rig.now_words(), "This is the last hold's gear.");
    // 15, 14, 13.
    rig.ride(12, metres(50.0, 13.0), 80.0, 200.0);
    assert_eq!(rig.now_words(), "Two easier for the last hold's gear.");
}

#[test]
fn no_number_is_told_where_two_wheels_or_two_chainrings_would_tell_another() {
    // Even steps of a tenth: any two neighbours explain any other two, and still every one of them counts the same.
    let mut teeth = Teeth::new(&bike(&[40], &[10, 11, 12, 13, 14, 15]));
    let seen = |sprocket: f64| Seen {
        development: metres(40.0, sprocket),
        ridden: Span::from_seconds(30),
    };
    teeth.explain(&[seen(12.0)]);
    assert_eq!(
        teeth.shifts(metres(40.0, 12.0), metres(40.0, 13.0)),
        None,
        "one gear tells no wheel"
    );
    // 28:14 and 40:20 go equally far: from there two sprockets harder on one chainring is 28:12, on the other 40:18.
    let rings = bike(&[40, 28], &[12, 14, 18, 20]);
    let mut teeth = Teeth::new(&rings);
    teeth.explain(&[seen(20.0), seen(18.0), seen(12.0)]);
    assert_eq!(teeth.shifts(metres(40.0, 20.0), metres(40.0, 18.0)), None);
    // From 40:18 nothing of the kind: 28:12 lies 5 % away.
    assert_eq!(
        teeth.shifts(metres(40.0, 18.0), metres(40.0, 14.0)),
        Some(1)
    );
    // Sprockets that the rider does not have: no wheel explains what was ridden.
    let mut teeth = Teeth::new(&bike(&[50], &[11, 21, 36]));
    teeth.explain(&[seen(20.0), seen(18.0), seen(12.0)]);
    assert_eq!(teeth.shifts(metres(40.0, 20.0), metres(40.0, 18.0)), None);
    // Half a drivetrain counts nothing.
    let mut teeth = Teeth::new(&bike(&[], &TEN));
    teeth.explain(&[seen(15.0), seen(17.0), seen(12.0)]);
    assert_eq!(teeth.shifts(metres(40.0, 15.0), metres(40.0, 17.0)), None);
}

#[test]
fn coasting_and_missing_readings_are_no_gear() {
    let mut rig = Rig::new().known();
    rig.ride(5, metres(50.0, 19.0), 88.0, 150.0);
    assert!(rig.watch.gear().is_some());
    // The wheel runs on, feet slow and without power: 8 m/s at 45 rpm would be a gear of 10.7 m.
    for _ in 0..40 {
        rig.now += steady::LOOK;
        rig.watch.see(
            rig.now,
            false,
            Some(MetresPerSecond(8.0)),
            Some(Rpm(45.0)),
            Some(Watts(0.0)),
        );
        assert_eq!(rig.watch.gear(), None);
    }
    rig.ride(5, metres(50.0, 19.0), 88.0, 150.0);
    rig.now += steady::LOOK;
    rig.watch
        .see(rig.now, false, None, Some(Rpm(88.0)), Some(Watts(150.0)));
    assert_eq!(rig.watch.gear(), None);
}

#[test]
fn a_speed_that_follows_power_never_speaks() {
    // Speed from power by the cube root, at once: every gear, level and cadence.
    let mut rig = Rig::new();
    for (rpm, watts) in [
        (88.0, 100.0),
        (88.0, 150.0),
        (88.0, 220.0),
        (75.0, 220.0),
        (88.0, 100.0),
        (95.0, 100.0),
    ] {
        let speed = (watts / 0.3_f64).cbrt();
        rig.ride(30, speed * 60.0 / rpm, rpm, watts);
        assert_eq!(rig.watch.wheel_speed(), WheelSpeed::Unknown);
        rig.watch.block_ends(Kind::Hold);
        assert_eq!(
            rig.watch.words(Some(Kind::Hold), Some(Kind::Hold)),
            GearWords::default()
        );
        assert_eq!(rig.watch.gear(), None);
        assert_eq!(rig.watch.middle(), None);
    }
}

#[test]
fn a_note_is_kept_with_or_without_a_figure() {
    let mut rig = Rig::new();
    rig.ride(20, metres(50.0, 19.0), 88.0, 150.0);
    rig.watch.note(Kind::Hold);
    assert_eq!(rig.now_words(), "The gear you noted.");
    let next = rig.watch.words(None, Some(Kind::Hold)).next;
    assert_eq!(next, "Next hold: the gear you noted.");
    // With a figure it is compared, and no later block takes its place.
    let mut rig = Rig::new().known();
    rig.ride(10, metres(50.0, 17.0), 88.0, 150.0);
    rig.watch.note(Kind::Hold);
    rig.ride(30, metres(50.0, 19.0), 88.0, 150.0);
    rig.watch.block_ends(Kind::Hold);
    assert_eq!(rig.now_words(), "Harder for the gear you noted.");
}

#[test]
fn gears_are_bounded() {
    let mut list = Vec::new();
    for step in 0..200 {
        count(&mut list, 2.0 * 1.03_f64.powi(step), Span::from_seconds(1));
    }
    assert!(list.len() <= MOST_GEARS);
}

/// A rig of a trainer that holds watts, and of which an earlier ride said that its speed is the wheel's.
fn believed() -> Rig {
    let mut rig = Rig::new();
    rig.watch.know(WheelSpeed::Real);
    rig.held = true;
    rig
}

#[test]
fn a_speed_that_follows_power_after_all_is_not_believed_any_more() {
    // On a level road P = 0.255·v³ (0.5·ρCdA of 0.51 kg/m, Martin et al. 1998, less rolling): at once, and with the inertia
    // of 85 kg. The legs turn at 88 and at 80 rpm by turns under 200 W.
    for inertia in [false, true] {
        let mut rig = believed();
        let mut speed = (200.0 / 0.255_f64).cbrt();
        for quarter in 0..4 * 360 {
            let rpm = if quarter / 240 % 2 == 0 { 88.0 } else { 80.0 };
            let watts = 200.0 + (f64::from(quarter) / 5.0).sin();
            speed = if inertia {
                speed + (watts / speed - 0.255 * speed * speed) / 85.0 * 0.25
            } else {
                (watts / 0.255).cbrt()
            };
            rig.now += steady::LOOK;
            let shown = Some(MetresPerSecond(speed));
            rig.watch
                .see(rig.now, true, shown, Some(Rpm(rpm)), Some(Watts(watts)));
        }
        assert_eq!(
            rig.watch.wheel_speed(),
            WheelSpeed::FollowsPower,
            "inertia: {inertia}"
        );
        assert_eq!((rig.watch.gear(), rig.watch.middle()), (None, None));
        // For the rest of the ride, whatever it does now.
        rig.ride(30, metres(50.0, 21.0), 88.0, 100.0);
        rig.ride(60, metres(50.0, 21.0), 88.0, 200.0);
        assert_eq!(rig.watch.wheel_speed(), WheelSpeed::FollowsPower);
    }
}

#[test]
fn a_wheel_is_believed_however_the_rider_shifts() {
    // One gear and two cadences under the same watts.
    let mut rig = believed();
    for _ in 0..6 {
        rig.ride(40, metres(50.0, 19.0), 88.0, 200.0);
        rig.ride(40, metres(50.0, 19.0), 80.0, 200.0);
    }
    assert_eq!(rig.watch.wheel_speed(), WheelSpeed::Real);
    // Harder under a greater load, and slower legs in another gear, again and again.
    let mut rig = believed();
    for _ in 0..6 {
        rig.ride(40, metres(50.0, 21.0), 88.0, 100.0);
        rig.ride(40, metres(50.0, 17.0), 90.0, 200.0);
        rig.ride(40, metres(50.0, 14.0), 80.0, 200.0);
    }
    assert_eq!(rig.watch.wheel_speed(), WheelSpeed::Real);
    // At a level, where the same watts are the same speed whatever the gear: 50 × 19 at 90 rpm, 50 × 17 at 80 rpm.
    let mut rig = believed();
    rig.held = false;
    for _ in 0..6 {
        rig.ride(40, metres(50.0, 19.0), 90.0, 200.0);
        rig.ride(40, metres(50.0, 17.0), 80.0, 200.0);
    }
    assert_eq!(rig.watch.wheel_speed(), WheelSpeed::Real);
    // Held, a rider who shifts so that the wheel stands each time cannot be told from the other sort: silence.
    let mut rig = believed();
    for _ in 0..3 {
        rig.ride(40, metres(50.0, 19.0), 90.0, 200.0);
        rig.ride(40, metres(50.0, 17.0), 80.0, 200.0);
    }
    assert_eq!(rig.watch.wheel_speed(), WheelSpeed::FollowsPower);
}
