//! Links that are lost and closed, and a control point that wants a pairing: rows C63, C68, C71 and C72.

use stillroad::engine::snapshot::Link;
use stillroad::engine::{Command, Role};
use stillroad::ride::Mode;
use stillroad::time::Instant;

use super::peripheral::{Peripheral, asked_since, riding, row, using, writes_since};

/// Fitness Machine Profile 1.0, 5.2.1: back after 2, 40 and 120 s, and nobody lifts a hand.
#[test]
fn c63_a_machine_that_comes_back_is_connected_unaided() {
    for away in [2.0, 40.0, 120.0] {
        let trainer = Peripheral::trainer();
        let mut ride = riding(&trainer);
        trainer.state().away = true;
        trainer.drop_link(&mut ride);
        ride.pass(away);
        assert_ne!(row(&ride).link, Link::Connected);
        trainer.state().away = false;
        // Tries come half a minute apart at most, and a load builds up over six seconds.
        ride.pass(45.0);
        assert_eq!(row(&ride).link, Link::Connected, "{away} s");
        assert_eq!(ride.mode(), Mode::Riding, "{away} s");
        assert_eq!(ride.snapshot().brake.unwrap().value(), 150.0, "{away} s");
    }
}

/// Profile 6.1, Service table 4.1: errors 05 and 0F are the machine's want of a pairing. The program pairs nothing by itself;
/// the rider is told, data goes on, and once the machine is paired, control is asked for and granted.
#[test]
fn c68_a_control_point_that_wants_pairing_is_used_once_it_is_paired() {
    for code in [0x05, 0x0F] {
        let trainer = Peripheral::trainer();
        trainer.state().write_errors = vec![code; 8];
        let mut ride = using(&trainer, Role::Trainer);
        assert!(
            ride.notice().contains("wants to be paired"),
            "{code:02X}: {}",
            ride.notice()
        );
        ride.pass(600.0);
        let asked = writes_since(&ride, Instant::ZERO);
        assert_eq!(asked, ["00"], "{code:02X}: asked once");
        assert!(!ride.snapshot().brake_in_hand);
        assert_eq!(row(&ride).live, "100 W, 85 rpm");
        // Paired, and chosen again.
        trainer.state().write_errors.clear();
        let from = ride.now();
        ride.command(Command::Use(Role::Trainer, None));
        ride.pass(1.0);
        ride.command(Command::Use(Role::Trainer, Some(super::peripheral::id())));
        ride.pass(5.0);
        assert_eq!(writes_since(&ride, from)[0], "00", "{code:02X}");
        assert!(ride.snapshot().brake_in_hand, "{code:02X}");
    }
}

/// Profile 5.2.
#[test]
fn c71_the_link_is_closed_when_the_program_ends() {
    let trainer = Peripheral::trainer();
    let mut ride = riding(&trainer);
    let from = ride.now();
    ride.command(Command::Close);
    ride.pass(6.0);
    let asked = asked_since(&ride, from);
    assert_eq!(asked.last().unwrap(), "disconnect");
    assert!(
        asked.iter().any(|word| word == "write 050000"),
        "let off first: {asked:?}"
    );
}

/// Profile 5.1: a machine that closes an idle link is connected again without an alarm.
#[test]
fn c72_an_idle_link_that_the_machine_closes_is_no_alarm() {
    let trainer = Peripheral::trainer();
    let mut ride = using(&trainer, Role::Trainer);
    trainer.drop_link(&mut ride);
    let words = ride.notice();
    assert!(
        !words.contains("may hold") && !words.contains("ease off"),
        "{words}"
    );
    assert!(
        words.is_empty() || words.contains("Trying again"),
        "{words}"
    );
    ride.pass(10.0);
    assert_eq!(ride.mode(), Mode::Ready);
    assert_eq!(row(&ride).link, Link::Connected);
    assert!(ride.snapshot().brake_in_hand);
}

crate::conformance::trials![
    c63_a_machine_that_comes_back_is_connected_unaided,
    c68_a_control_point_that_wants_pairing_is_used_once_it_is_paired,
    c71_the_link_is_closed_when_the_program_ends,
    c72_an_idle_link_that_the_machine_closes_is_no_alarm,
];
