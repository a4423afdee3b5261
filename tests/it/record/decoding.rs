//! The columns: every value comes back, a torn tail costs one line, a bad line costs itself.

use proptest::prelude::*;
use stillroad::plan::Kind;
use stillroad::record::columns::{LONGEST_RIDE_S, SOURCES};
use stillroad::record::{
    EventLine, InputLine, NoteLine, Row, Table, decode, encode, encode_header, table,
};
use stillroad::ride::RideMode;
use stillroad::units::{
    Bpm, BrakeTarget, Effort, Grade, Joules, Level, Metres, MetresPerSecond, Rpm, Watts,
};

use super::row;

fn file<T: Table>(records: &[T]) -> Vec<u8> {
    let mut bytes = Vec::new();
    encode_header::<T>(&mut bytes).unwrap();
    for record in records {
        encode(record, &mut bytes).unwrap();
    }
    bytes
}

/// A number that stands exactly on `decimals` decimals.
fn decimal(least: i64, most: i64, decimals: i32) -> impl Strategy<Value = f64> {
    (least..=most).prop_map(move |whole| whole as f64 / 10f64.powi(decimals))
}

fn maybe<T: std::fmt::Debug + Clone>(
    inner: impl Strategy<Value = T>,
) -> impl Strategy<Value = Option<T>> {
    proptest::option::of(inner)
}

fn any_brake() -> impl Strategy<Value = BrakeTarget> {
    prop_oneof![
        decimal(0, 200_000, 2).prop_map(|x| BrakeTarget::Power(Watts(x))),
        decimal(0, 20_000, 2).prop_map(|x| BrakeTarget::Resistance(Level(x))),
        decimal(-4000, 4000, 2).prop_map(|x| BrakeTarget::Slope(Grade(x))),
    ]
}

fn source() -> impl Strategy<Value = &'static str> {
    proptest::sample::select(SOURCES.to_vec())
}

prop_compose! {
    fn any_row()(
        (ridden_s, plan_s, utc_ms, block) in
            (0..=LONGEST_RIDE_S, decimal(-1000, 360_000_000, 3), 0..4_000_000_000_000_i64, 0..=u32::MAX),
        kind in proptest::sample::select(Kind::ALL.to_vec()),
        effort_only in any::<bool>(),
        released in any::<bool>(),
        effort in maybe(decimal(0, 1000, 2)),
        lane in maybe(decimal(0, 20_000, 1)),
        brake in maybe(any_brake()),
        (could, power) in (maybe(decimal(0, 20_000, 1)), maybe(decimal(-500, 30_000, 1))),
        cadence in maybe(decimal(0, 2500, 1)),
        heart_rate in maybe(decimal(0, 250, 0)),
        kmh in maybe(decimal(0, 12_000, 2)),
        (distance, w_balance) in (maybe(decimal(0, 2_000_000, 1)), maybe(decimal(-9000, 60_000, 0))),
        (power_from, cadence_from, heart_rate_from) in (maybe(source()), maybe(source()), maybe(source())),
    ) -> Row {
        Row {
            ridden_s,
            plan_s,
            utc_ms,
            block,
            kind,
            mode: if effort_only { RideMode::EffortOnly } else { RideMode::TargetPower },
            effort: effort.map(Effort),
            lane: lane.map(Watts),
            brake,
            released: Some(released),
            could: could.map(Watts),
            power: power.map(Watts),
            cadence: cadence.map(Rpm),
            heart_rate: heart_rate.map(Bpm),
            speed: kmh.map(MetresPerSecond::from_kmh),
            distance: distance.map(Metres),
            w_balance: w_balance.map(Joules),
            power_from,
            cadence_from,
            heart_rate_from,
        }
    }
}

proptest! {
    #[test]
    fn every_column_comes_back(rows in proptest::collection::vec(any_row(), 0..20)) {
        let decoded = decode::<Row>(file(&rows).as_slice()).unwrap();
        prop_assert_eq!(decoded.records, rows);
        prop_assert_eq!(decoded.bad_lines, 0);
        prop_assert_eq!(decoded.torn_line, None);
    }

    #[test]
    fn any_text_comes_back_on_one_line(text in "\\PC*|[=+\\-@'\",\t;\\\\ \n]{0,12}") {
        let event = EventLine {
            ridden_s: 1.5,
            plan_s: 2.25,
            utc_ms: 7,
            what: "remark".into(),
            detail: text,
        };
        let bytes = file(std::slice::from_ref(&event));
        prop_assert_eq!(bytes.iter().filter(|&&byte| byte == b'\n').count(), 2);
        let back = decode::<EventLine>(bytes.as_slice()).unwrap();
        // The page on the recording: this letter stands for a line break.
        let detail = event.detail.replace('\u{2028}', "\n");
        prop_assert_eq!(back.records, [EventLine { detail, ..event }]);
    }

    #[test]
    fn any_bytes_are_read_without_panic(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
        let with_header = [file::<NoteLine>(&[]), bytes.clone()].concat();
        for input in [bytes, with_header] {
            let decoded = decode::<NoteLine>(input.as_slice()).unwrap();
            prop_assert_eq!(decoded.bad_lines, decoded.problems.len() as u64);
        }
    }
}

#[test]
fn the_lines_are_as_the_page_says() {
    // Written out by hand from docs/recording.md.
    let row = Row {
        brake: Some(BrakeTarget::Slope(Grade(-1.5))),
        power: Some(Watts(-5.0)),
        effort: Some(Effort(4.5)),
        ..row(4)
    };
    let text = String::from_utf8(file(&[row])).unwrap();
    assert_eq!(
        text,
        "ridden_s,plan_s,utc,block,kind,mode,effort,lane_w,brake_target,brake_unit,released,brake_could_w,power_w,cadence_rpm,\
         heart_rate_bpm,speed_kmh,distance_m,w_balance_j,power_from,cadence_from,heart_rate_from\n\
         4,4.125,2026-11-24T18:30:04.000Z,1,cool-down,target-power,4.50,154.0,-1.50,%,false,148.5,-5.0,86.5,140,36.00,40.0,\
         11996,meter,trainer,second-heart\n"
    );
}

#[test]
fn a_file_cut_off_anywhere_in_its_last_line_loses_that_line_alone() {
    let rows = [row(1), row(2), row(3)];
    let whole = file(&rows);
    let last = file(&rows[..2]).len();
    for cut in last..whole.len() {
        let decoded = decode::<Row>(&whole[..cut]).unwrap();
        assert_eq!(decoded.records, rows[..2], "cut at {cut}");
        assert_eq!(decoded.bad_lines, 0);
        let torn = (cut > last).then_some(4);
        assert_eq!(decoded.torn_line, torn, "cut at {cut}");
        // After a loss of power a file may have its length but not its content.
        let mut zeros = whole[..cut].to_vec();
        zeros.resize(whole.len() + 100, 0);
        let decoded = decode::<Row>(zeros.as_slice()).unwrap();
        assert_eq!(decoded.records, rows[..2], "zeros from {cut}");
        assert_eq!(decoded.torn_line, Some(4));
    }
}

#[test]
fn a_cut_in_the_header_is_a_torn_file_without_rows() {
    let header = file::<Row>(&[]);
    for cut in 1..header.len() {
        let decoded = decode::<Row>(&header[..cut]).unwrap();
        assert_eq!(decoded.records, []);
        assert_eq!(decoded.torn_line, Some(1));
    }
    assert_eq!(decode::<Row>(&b""[..]).unwrap().torn_line, None);
}

#[test]
fn a_bad_line_is_named_and_costs_itself_alone() {
    let rows: Vec<_> = (1..=5).map(row).collect();
    let lines: Vec<_> = String::from_utf8(file(&rows))
        .unwrap()
        .lines()
        .map(str::to_owned)
        .collect();
    let damaged = |line: String| {
        let mut lines = lines.clone();
        lines[3] = line;
        let decoded = decode::<Row>((lines.join("\n") + "\n").as_bytes()).unwrap();
        let mut expected = rows.clone();
        expected.remove(2);
        assert_eq!(decoded.records, expected, "with {}", lines[3]);
        assert_eq!(decoded.torn_line, None);
        decoded.problems[0].to_string()
    };
    let good = &lines[3];
    assert_eq!(
        damaged(good.replace(",86.5,", ",fast,").replace(",-2.0,", ",lots,")),
        "line 4, power_w: “lots” is not a number"
    );
    assert_eq!(
        damaged(good.replace("sprint", "dash")),
        "line 4, kind: “dash” is none of warm-up, hold, recovery, sprint, cool-down, free"
    );
    assert_eq!(
        damaged(good.replacen("3,", ",", 1)),
        "line 4, ridden_s: is empty"
    );
    assert_eq!(
        damaged(good.replace("false", "perhaps")),
        "line 4, released: “perhaps” is neither true nor false"
    );
    assert_eq!(
        damaged(good.replace("2026-11-24T", "24.11.2026 ")),
        "line 4, utc: “24.11.2026 18:30:03.000Z” is not a time such as 2026-11-24T18:30:05.000Z"
    );
    assert_eq!(
        damaged(good.replace("target-power,4.50,153.0,,", "target-power,4.50,153.0,9,")),
        "line 4, brake_unit: is empty although there is a brake_target"
    );
    assert_eq!(
        damaged(good.replace("target-power,4.50,153.0,,", "target-power,4.50,153.0,,W")),
        "line 4, brake_unit: stands without a brake_target"
    );
    assert_eq!(
        damaged(good[..30].to_owned()),
        "line 4: has 3 cells where the header has 21"
    );
    assert_eq!(
        damaged(format!("{good},1")),
        "line 4: has 22 cells where the header has 21"
    );
    // A stray quote may not swallow the lines that follow.
    assert_eq!(
        damaged(format!("\"{good}")),
        "line 4: has 1 cells where the header has 21"
    );
    assert_eq!(
        damaged("x".repeat(3 << 20)),
        "line 4: is longer than any line of a recording"
    );
}

#[test]
fn a_line_that_is_no_text_is_named_too() {
    let mut bytes = file(&[row(1)]);
    bytes.extend_from_slice(b"\xFF\xFE\n");
    encode(&row(2), &mut bytes).unwrap();
    let decoded = decode::<Row>(bytes.as_slice()).unwrap();
    assert_eq!(decoded.records, [row(1), row(2)]);
    assert_eq!(decoded.problems[0].to_string(), "line 3: is not UTF-8 text");
}

#[test]
fn a_file_saved_by_a_spreadsheet_is_read() {
    let text = String::from_utf8(file(&[row(1), row(2)])).unwrap();
    let saved = format!(
        "\u{FEFF}{}",
        text.replace('\n', "\r\n").replace("false", "FALSE")
    );
    assert_eq!(
        decode::<Row>(saved.as_bytes()).unwrap().records,
        [row(1), row(2)]
    );
}

#[test]
fn columns_are_found_by_name_and_new_ones_passed_over() {
    let text = "new,what,utc,text,block,rating\n9,rating,1970-01-01T00:00:01Z,'=ouch,3,7.5\n";
    let decoded = decode::<NoteLine>(text.as_bytes()).unwrap();
    let expected = NoteLine {
        utc_ms: 1000,
        block: Some(3),
        what: "rating".into(),
        rating: Some(Effort(7.5)),
        text: "=ouch".to_owned(),
    };
    assert_eq!(decoded.records, [expected]);
    let lacking = decode::<NoteLine>(&b"what,text\nrating,good\n"[..]).unwrap();
    assert_eq!(lacking.records, []);
    assert_eq!(
        lacking.problems[0].to_string(),
        "line 1, utc: the header has no such column, so notes.csv cannot be read"
    );
}

#[test]
fn many_bad_lines_are_counted_and_the_first_are_told() {
    let mut bytes = file::<InputLine>(&[]);
    bytes.extend(b"not,enough\n".repeat(250));
    let decoded = decode::<InputLine>(bytes.as_slice()).unwrap();
    assert_eq!(decoded.bad_lines, 250);
    assert_eq!(decoded.problems.len(), table::PROBLEMS_KEPT);
}

#[test]
fn the_page_holds_the_table_of_every_file() {
    let page = include_str!("../../../docs/recording.md").replace("\r\n", "\n");
    for (file, table) in [
        (Row::FILE, table::describe::<Row>()),
        (EventLine::FILE, table::describe::<EventLine>()),
        (NoteLine::FILE, table::describe::<NoteLine>()),
        (InputLine::FILE, table::describe::<InputLine>()),
    ] {
        assert!(
            page.contains(&table),
            "docs/recording.md should hold this table of {file}:\n{table}"
        );
    }
}
