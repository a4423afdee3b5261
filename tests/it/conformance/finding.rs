//! Finding the machine, and what it has: rows C1 to C12 and C73. Sections are those of the Fitness Machine Profile 1.0 (P)
//! and Service 1.0.1 (S).

use stillroad::engine::input::Input;
use stillroad::engine::snapshot::Link;
use stillroad::engine::{Command, Role};
use stillroad::memory::Memory;
use stillroad::ride::{Mode, RideMode};

use super::peripheral::{
    BIKE_DATA, FEATURE, Peripheral, asked, beside, heard, id, riding, row, using,
};
use crate::world::{Ride, rider, session, tap};

/// P 5.2, 3.1.1.1: it advertises its name alone, and has 1826 among its services.
#[test]
fn c1_a_machine_that_advertises_only_its_name_can_be_chosen_and_works() {
    let trainer = Peripheral::trainer();
    let mut ride = beside(&trainer);
    heard(&mut ride, &[], None);
    assert!(row(&ride).can.contains(&Role::Trainer));
    ride.command(Command::Use(Role::Trainer, Some(id())));
    ride.to(5.0);
    assert_eq!(row(&ride).link, Link::Connected);
    assert!(ride.snapshot().brake_in_hand);
    assert_eq!(row(&ride).live, "100 W, 85 rpm");
}

/// P 5.2.2, S 3.1.2: type bit 0 is a treadmill, bit 5 an indoor bike; flags and type are sent low octet first.
#[test]
fn c2_only_a_machine_whose_type_names_a_bike_is_offered_as_one() {
    let mut ride = beside(&Peripheral::trainer());
    heard(&mut ride, &[0x1826], Some("010100"));
    assert_eq!(row(&ride).can, []);
    assert!(matches!(row(&ride).link, Link::Unusable(why) if why.contains("a treadmill")));
    heard(&mut ride, &[0x1826], Some("012100"));
    assert_eq!(row(&ride).can, [Role::Trainer]);
    assert_eq!(row(&ride).link, Link::Heard);
}

/// P 5.1.4: flags bit 0 is clear while the machine is not available. It was used before, so that it is taken by itself.
#[test]
fn c3_a_busy_machine_is_not_connected_by_itself_until_it_is_free() {
    let mut memory = Memory::default();
    memory
        .devices
        .insert("trainer".to_owned(), id().to_string());
    memory
        .services
        .insert(id().to_string(), vec!["1826".to_owned()]);
    let mut ride = Ride::new(vec![tap(Peripheral::trainer())]);
    ride.input(Input::Remembered(Box::new(memory)));
    let plan = session("[[block]]\nkind = \"hold\"\ntime = \"20:00\"\nwatts = 150\n");
    ride.choose(&plan, &rider(), RideMode::TargetPower);
    ride.command(Command::Scan(true));
    heard(&mut ride, &[0x1826], Some("002000"));
    ride.to(30.0);
    assert!(matches!(row(&ride).link, Link::Unusable(why) if why.contains("busy")));
    assert_eq!(asked(&ride), Vec::<String>::new());
    heard(&mut ride, &[0x1826], Some("012000"));
    ride.to(35.0);
    assert_eq!(row(&ride).link, Link::Connected);
    assert_eq!(asked(&ride)[0], "connect");
}

/// S 3.1: flags FF and type E0FF, in which bit 5 stands; then data that is cut.
#[test]
fn c4_reserved_bits_of_service_data_and_data_that_is_cut_do_no_harm() {
    for data in [Some("ffe0ff"), Some("0120"), Some("01"), Some(""), None] {
        let mut ride = beside(&Peripheral::trainer());
        heard(&mut ride, &[0x1826], data);
        assert_eq!(row(&ride).can, [Role::Trainer], "{data:?}");
        assert_eq!(row(&ride).link, Link::Heard, "{data:?}");
    }
}

/// P 4.2.
#[test]
fn c5_without_the_service_the_link_is_closed_with_a_sentence() {
    let other = Peripheral::having(&[(0x180A, 0x2A29), (0x180F, 0x2A19)]);
    let ride = using(&other, Role::Trainer);
    // What is not found is looked for anew twice, each time on a new link; nothing else is asked of it.
    assert_eq!(asked(&ride), ["connect", "disconnect"].repeat(3));
    assert!(
        ride.notice().contains("it has no Fitness Machine service"),
        "{}",
        ride.notice()
    );
    assert!(matches!(row(&ride).link, Link::Unusable(_)));
    // The usual trainer here has no 180A, and works.
    let ride = using(&Peripheral::trainer(), Role::Trainer);
    assert_eq!(ride.mode(), Mode::Ready);
    assert!(ride.snapshot().brake_in_hand);
}

/// P 4.3: characteristics that nobody knows, before, between and behind, and the known ones the other way round.
#[test]
fn c6_characteristics_that_are_not_known_and_an_odd_order_change_nothing() {
    let usual = riding(&Peripheral::trainer());
    let odd = Peripheral::trainer();
    let mut has = odd.state().has.clone();
    has.reverse();
    has.insert(3, (0x1826, 0xFD01));
    has.insert(0, (0xFD00, 0xFD02));
    has.push((0x1826, 0xFD03));
    odd.state().has = has;
    let odd = riding(&odd);
    assert_eq!(odd.requests(), usual.requests());
    assert!(asked(&odd).iter().any(|word| word == "write 059600"));
}

/// P table 4.3, S table 4.1.
#[test]
fn c8_with_features_and_bike_data_alone_figures_are_shown_and_nothing_is_set() {
    let bare = Peripheral::having(&[(0x1826, FEATURE), (0x1826, BIKE_DATA)])
        .reading(FEATURE, "0240000000000000");
    bare.state().report = crate::gatt::octets("4400990caa006400");
    let ride = riding(&bare);
    assert_eq!(row(&ride).link, Link::Connected);
    assert_eq!(row(&ride).live, "100 W, 85 rpm");
    assert_eq!(row(&ride).bad_records, 0);
    assert!(!ride.snapshot().brake_in_hand);
    assert_eq!(asked(&ride), ["connect", "read 2acc", "subscribe 2ad2"]);
    assert_eq!(ride.rows().len(), 30);
}

/// P 4.4.1: target bit 3 is power alone; without any bit control is not even asked for.
#[test]
fn c10_features_are_read_before_control_and_decide_what_is_offered() {
    let power = Peripheral::trainer().reading(FEATURE, "0240000008000000");
    let ride = riding(&power);
    let asked = asked(&ride);
    let place = |word: &str| asked.iter().position(|each| each == word);
    assert!(
        place("read 2acc").unwrap() < place("write 00").unwrap(),
        "{asked:?}"
    );
    let ops: Vec<&str> = asked
        .iter()
        .filter_map(|word| word.strip_prefix("write "))
        .collect();
    assert!(
        ops.iter().all(|op| ["00", "05", "07"].contains(&&op[..2])),
        "{ops:?}"
    );
    assert_eq!(ops.last(), Some(&"059600"));

    let nothing = Peripheral::trainer().reading(FEATURE, "0240000000000000");
    let ride = riding(&nothing);
    assert_eq!(ride.writes(), []);
    assert!(!ride.snapshot().brake_in_hand);
    assert_eq!(row(&ride).live, "100 W, 85 rpm");
}

/// P 4.4.1: bits 17 to 31 of both words are reserved.
#[test]
fn c11_reserved_feature_bits_change_nothing() {
    let plain = riding(&Peripheral::trainer());
    let noisy = riding(&Peripheral::trainer().reading(FEATURE, "0240feff0c20feff"));
    assert_eq!(noisy.requests(), plain.requests());
}

/// P 4.4.1: feature bits 1 and 14, cadence and power, are clear, and both are sent.
#[test]
fn c12_figures_whose_feature_bit_is_clear_do_no_harm() {
    let trainer = Peripheral::trainer().reading(FEATURE, "000000000c200000");
    let ride = riding(&trainer);
    assert_eq!(row(&ride).live, "100 W, 85 rpm");
    assert_eq!(row(&ride).bad_records, 0);
    assert_eq!(ride.mode(), Mode::Riding);
}

/// P 4.5, 4.7, 4.8: User Data (181C) refuses whatever is asked of it; nothing is.
#[test]
fn c73_user_data_is_left_alone_and_data_and_control_work() {
    let usual = riding(&Peripheral::trainer());
    let with_users = Peripheral::trainer();
    // First Name, Age, Database Change Increment, User Control Point.
    for found in [0x2A8A, 0x2A80, 0x2A99, 0x2A9F] {
        with_users.state().has.push((0x181C, found));
    }
    let ride = riding(&with_users);
    assert_eq!(ride.requests(), usual.requests());
    assert_eq!(row(&ride).live, "100 W, 85 rpm");
    assert_eq!(ride.snapshot().brake.unwrap().value(), 150.0);
}

crate::conformance::trials![
    c1_a_machine_that_advertises_only_its_name_can_be_chosen_and_works,
    c2_only_a_machine_whose_type_names_a_bike_is_offered_as_one,
    c3_a_busy_machine_is_not_connected_by_itself_until_it_is_free,
    c4_reserved_bits_of_service_data_and_data_that_is_cut_do_no_harm,
    c5_without_the_service_the_link_is_closed_with_a_sentence,
    c6_characteristics_that_are_not_known_and_an_odd_order_change_nothing,
    c8_with_features_and_bike_data_alone_figures_are_shown_and_nothing_is_set,
    c10_features_are_read_before_control_and_decide_what_is_offered,
    c11_reserved_feature_bits_change_nothing,
    c12_figures_whose_feature_bit_is_clear_do_no_harm,
    c73_user_data_is_left_alone_and_data_and_control_work,
];
